//! The condition under which takes were played: changes that are undone afterwards, such as a pad pressed hard,
//! film round a post, or tape on a rim; and what the maker's ear, eye or feeler found besides the recordings.
//!
//! Must not know causes, pitch or files.

use crate::instrument::alter::Altered;
use crate::instrument::change::{Change, ChangeError, Operation, Target};
use crate::instrument::column::LeakPlace;
use crate::instrument::model::Instrument;
use crate::instrument::prediction::{PredictedNote, predict};

/// Changes that hold while some takes are played and are undone afterwards.
#[derive(Debug, Clone, PartialEq)]
pub struct Condition {
    /// The changes as the maker wrote them.
    pub written: Vec<String>,
    /// Places where nothing can leak meanwhile (`leak.v=0`).
    pub sealed: Vec<LeakPlace>,
    /// The instrument with all other changes; `None` when its geometry stays as it is.
    pub changed: Option<Changed>,
}

/// An instrument as it is for the time of a test.
#[derive(Debug, Clone, PartialEq)]
pub struct Changed {
    /// Its geometry.
    pub instrument: Instrument,
    /// What its fingerings should sound then.
    pub predicted: Vec<PredictedNote>,
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
            if let Target::Leak(place) = change.target {
                if change.operation != Operation::Set(0.0) {
                    return Err(ChangeError::Impossible {
                        written: change.written.clone(),
                        value: "a leak".to_string(),
                        limits: "a test can only stop a leak: leak.NAME=0".to_string(),
                    });
                }
                altered.settle(change)?;
                sealed.push(place);
                continue;
            }
            let step = altered.settle(change)?;
            altered = altered.after(&step, 1.0);
        }
        let changed = (altered.instrument != *instrument)
            .then(|| Changed { predicted: predict(&altered.instrument), instrument: altered.instrument });
        Ok(Condition {
            written: changes.iter().map(|change| change.written.clone()).collect(),
            sealed,
            changed,
        })
    }
}

/// The instrument as it is and under every condition, with what each fingering should sound.
pub struct Bench<'a> {
    /// The maker's file.
    pub instrument: &'a Instrument,
    /// What its fingerings should sound.
    pub predicted: &'a [PredictedNote],
    /// The conditions, the first of which has number 1.
    pub conditions: &'a [Condition],
}

impl<'a> Bench<'a> {
    /// Brings them together.
    #[must_use]
    pub fn new(
        instrument: &'a Instrument,
        predicted: &'a [PredictedNote],
        conditions: &'a [Condition],
    ) -> Bench<'a> {
        Bench { instrument, predicted, conditions }
    }

    /// The condition of this number; `None` for 0, the instrument as it is.
    #[must_use]
    pub fn condition(&self, number: usize) -> Option<&'a Condition> {
        self.conditions.get(number.checked_sub(1)?)
    }

    fn changed(&self, number: usize) -> Option<&'a Changed> {
        self.condition(number)?.changed.as_ref()
    }

    /// The geometry under a condition.
    #[must_use]
    pub fn instrument_under(&self, number: usize) -> &'a Instrument {
        self.changed(number).map_or(self.instrument, |changed| &changed.instrument)
    }

    /// What the fingerings should sound under a condition.
    #[must_use]
    pub fn predicted_under(&self, number: usize) -> &'a [PredictedNote] {
        self.changed(number).map_or(self.predicted, |changed| &changed.predicted)
    }

    /// Whether nothing can leak at a place under a condition.
    #[must_use]
    pub fn seals(&self, number: usize, place: LeakPlace) -> bool {
        self.condition(number).is_some_and(|condition| condition.sealed.contains(&place))
    }

    /// Number of the first condition with the same geometry: 0 where only leaks are stopped.
    #[must_use]
    pub fn geometry_of(&self, number: usize) -> usize {
        if self.changed(number).is_some() { number } else { 0 }
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
