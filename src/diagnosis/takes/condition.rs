//! The condition under which takes were played: changes that are undone afterwards, such as a pad pressed hard,
//! film round a post, or tape on a rim; and what the maker's ear, eye or feeler found besides the recordings.
//!
//! Must not know causes, pitch or files.

use crate::instrument::alter::Altered;
use crate::instrument::change::{Change, ChangeError, Operation, Target};
use crate::instrument::column::{Leak, LeakPlace};
use crate::instrument::model::Instrument;

/// Changes that hold while some takes are played and are undone afterwards.
#[derive(Debug, Clone, PartialEq)]
pub struct Condition {
    /// The changes as the maker wrote them.
    pub written: Vec<String>,
    /// Places where nothing can leak meanwhile (`leak.v=0`).
    pub sealed: Vec<LeakPlace>,
    /// Leaks that are made on purpose (`leak.v=0.8`).
    pub leaks: Vec<Leak>,
    /// The instrument with all other changes; `None` when its geometry stays as it is.
    pub changed: Option<Instrument>,
}

impl Condition {
    /// What the changes make of an instrument. No changes at all: the instrument as it is.
    ///
    /// # Errors
    /// [`ChangeError`] for values that nothing can have, and for parts that the instrument lacks.
    pub fn of(instrument: &Instrument, changes: &[Change]) -> Result<Condition, ChangeError> {
        let mut altered = Altered::unchanged(instrument);
        let mut sealed = Vec::new();
        for change in changes {
            if let (Target::Leak(place), Operation::Set(0.0)) = (change.target, change.operation) {
                sealed.push(place);
            }
            let step = altered.settle(change)?;
            altered = altered.after(&step, 1.0);
        }
        altered.leaks.retain(|leak| leak.diameter_mm > 0.0);
        Ok(Condition {
            written: changes.iter().map(|change| change.written.clone()).collect(),
            sealed,
            leaks: altered.leaks,
            changed: (altered.instrument != *instrument).then_some(altered.instrument),
        })
    }

    /// Whether nothing is changed.
    #[must_use]
    pub fn is_plain(&self) -> bool {
        self.sealed.is_empty() && self.leaks.is_empty() && self.changed.is_none()
    }
}

/// What the maker found by ear, eye or feeler; weaker than recordings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Found {
    /// What a bench test showed at a place that may leak.
    Place(LeakPlace, FoundPlace),
    /// What was heard of a fingering (index into [`Instrument::fingerings`]).
    Note(usize, FoundNote),
}

/// What a bench test without a recording showed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FoundPlace {
    /// Air comes out there.
    Leaks,
    /// No air comes out there.
    Tight,
    /// The notes stayed as they were while it was closed.
    Unchanged,
}

impl FoundPlace {
    /// Every word with what it means.
    pub const WORDS: [(&'static str, FoundPlace); 3] =
        [("leaks", FoundPlace::Leaks), ("tight", FoundPlace::Tight), ("unchanged", FoundPlace::Unchanged)];
}

/// How a note came out, as the player heard it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FoundNote {
    /// It jumps to a higher register.
    Squeals,
    /// It speaks late.
    Slow,
    /// More breath than tone.
    Hissy,
    /// Dull and weak.
    Stuffy,
}

impl FoundNote {
    /// Every word with what it means.
    pub const WORDS: [(&'static str, FoundNote); 4] = [
        ("squeals", FoundNote::Squeals),
        ("slow", FoundNote::Slow),
        ("hissy", FoundNote::Hissy),
        ("stuffy", FoundNote::Stuffy),
    ];
}
