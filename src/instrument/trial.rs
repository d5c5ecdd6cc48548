//! What changes would do to every note that can be played, before anything is cut.
//!
//! Each note is followed from its pitch before to its pitch after, in small steps where it moves far, so
//! that registers can't be mixed up. Must not know recordings or findings.

use rayon::prelude::*;

use super::advice::{Warning, warnings as standing_warnings};
use super::alter::{Altered, Step};
use super::change::{Change, ChangeError};
use super::column::column;
use super::model::Instrument;
use super::prediction::{PredictedNote, predict};
use super::work;
use crate::acoustics::resonance::follow;
use crate::units::cents_between;

/// A resonance that moves less than this in one short stretch is surely the same one, cents: others are far.
const SURELY_SAME_CENTS: f64 = 25.0;
/// The first stretch of a step, as a share of it …
const FIRST_STRETCH: f64 = 1.0 / 64.0;
/// … and the shortest that is tried before the resonance is called lost.
const LAST_STRETCH: f64 = 1.0 / 4096.0;

/// Changes and what they do.
#[derive(Debug, Clone, PartialEq)]
pub struct Trial {
    /// The instrument as it is.
    pub before: Altered,
    /// The instrument as it would be.
    pub after: Altered,
    /// The changes in the order given.
    pub steps: Vec<Step>,
    /// Every playable fingering, in the file's order.
    pub notes: Vec<TriedNote>,
    /// How many fingerings open a hole that is only planned; they are left out.
    pub planned: usize,
    /// What can't be cut or is lost.
    pub warnings: Vec<Warning>,
}

/// What the changes do to one fingering.
#[derive(Debug, Clone, PartialEq)]
pub struct TriedNote {
    /// Index into [`Instrument::fingerings`].
    pub fingering: usize,
    /// Target, hertz.
    pub target_hz: f64,
    /// The wanted register before and after.
    pub wanted: Moved,
    /// For a first-register fingering: its second resonance before and after, with the same holes open.
    pub second: Option<Moved>,
}

/// A resonance before and after.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moved {
    /// Hertz before; `None` when there is no such resonance.
    pub before_hz: Option<f64>,
    /// Hertz after; `None` when there was none or it is lost.
    pub after_hz: Option<f64>,
}

impl Moved {
    /// By how much it rises, cents.
    #[must_use]
    pub fn change_cents(&self) -> Option<f64> {
        Some(cents_between(self.after_hz?, self.before_hz?))
    }
}

impl TriedNote {
    /// Cents above the target afterwards.
    #[must_use]
    pub fn from_target_cents(&self) -> Option<f64> {
        Some(cents_between(self.wanted.after_hz?, self.target_hz))
    }
}

/// Tries changes one after the other.
///
/// # Errors
/// [`ChangeError`] for values that nothing can have.
pub fn try_changes(instrument: &Instrument, changes: &[Change]) -> Result<Trial, ChangeError> {
    let before = Altered::unchanged(instrument);
    let mut stages = vec![before.clone()];
    let mut steps = Vec::new();
    let mut after = before.clone();
    for change in changes {
        let step = after.settle(change)?;
        after = after.after(&step, 1.0);
        stages.push(after.clone());
        steps.push(step);
    }
    let predicted = predict(instrument);
    let playable = |note: &&PredictedNote| instrument.playable(&instrument.fingerings[note.fingering]);
    let notes: Vec<TriedNote> = predicted
        .par_iter()
        .filter(playable)
        .map(|note| try_note(&stages, &steps, instrument, note))
        .collect();
    let mut warnings = work::warnings(&before, &after, &steps);
    warn_of_notes(instrument, &after, &predicted, &notes, &mut warnings);
    let planned = predicted.len() - notes.len();
    Ok(Trial { before, after, steps, notes, planned, warnings })
}

fn try_note(stages: &[Altered], steps: &[Step], instrument: &Instrument, note: &PredictedNote) -> TriedNote {
    let fingering = &instrument.fingerings[note.fingering];
    let moved = |before_hz: Option<f64>| {
        let mut after_hz = before_hz;
        for (stage, step) in stages.iter().zip(steps) {
            after_hz = after_hz.and_then(|hz| follow_step(stage, step, &fingering.open, hz));
        }
        Moved { before_hz, after_hz }
    };
    let second_hz = note.resonances.get(1).map(|resonance| resonance.hz);
    TriedNote {
        fingering: note.fingering,
        target_hz: note.target_hz,
        wanted: moved(note.predicted_hz),
        second: (fingering.register == 1).then(|| moved(second_hz)),
    }
}

/// The pitch after a step from the pitch before it; `None` when the resonance is lost on the way.
///
/// Goes in stretches that begin small and only grow while the note moves little: over a long stretch another
/// resonance may come to lie where this one was.
fn follow_step(stage: &Altered, step: &Step, open: &[usize], from_hz: f64) -> Option<f64> {
    let mut hz = from_hz;
    let mut share = 0.0;
    let mut stretch = FIRST_STRETCH;
    while share < 1.0 {
        let next = f64::min(share + stretch, 1.0);
        let altered = stage.after(step, next);
        let found = follow(&column(&altered.instrument, open, &altered.leaks), hz);
        let moved_cents = found.map_or(f64::INFINITY, |found| cents_between(found, hz).abs());
        if moved_cents < SURELY_SAME_CENTS {
            hz = found?;
            share = next;
            if moved_cents < 0.25 * SURELY_SAME_CENTS {
                stretch *= 2.0;
            }
        } else if stretch > LAST_STRETCH {
            stretch *= 0.5;
        } else {
            return None;
        }
    }
    Some(hz)
}

/// Notes that are lost, and vents that serve their notes worse than before.
fn warn_of_notes(
    instrument: &Instrument,
    after: &Altered,
    predicted: &[PredictedNote],
    notes: &[TriedNote],
    warnings: &mut Vec<Warning>,
) {
    let name = |note: &TriedNote| instrument.fingerings[note.fingering].name.as_str();
    for note in notes.iter().filter(|note| note.wanted.after_hz.is_none()) {
        let text = match note.wanted.before_hz {
            Some(_) => format!(
                "{}: its resonance is lost on the way, so the note would no longer speak in this register.",
                name(note)
            ),
            None => format!("{}: the air column has no resonance for it, before or after.", name(note)),
        };
        warnings.push(Warning { code: "resonance-lost", text });
    }
    let known = standing_warnings(instrument, predicted);
    let standing = standing_warnings(&after.instrument, &predict(&after.instrument));
    let is_new = |warning: &Warning| warning.code.starts_with("vent-") && !known.contains(warning);
    warnings.extend(standing.into_iter().filter(is_new));
}
