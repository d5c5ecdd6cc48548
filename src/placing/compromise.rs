//! The compromise between two registers that share their holes: what a plan leaves them off, as the offset that is
//! wanted from then on, so that nothing is cut later to undo it.
//!
//! Must not know how the layout was found.

use super::limits::Limits;
use super::unmet::{partner, reason};
use crate::instrument::model::{Fingering, Instrument};
use crate::instrument::prediction::PredictedNote;

/// Wanted offsets lie within this, cents (the file's own limit).
const WIDEST_CENTS: f64 = 200.0;

/// A fingering that a plan leaves off its target because its twin in another register needs the same holes
/// elsewhere.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Split {
    /// Index into [`Instrument::fingerings`].
    pub fingering: usize,
    /// How far the plan leaves it from its target, to 1 cent.
    pub off_cents: f64,
}

impl Split {
    /// What `fingering`, which is the one that is left off, wants in the plan: cents from equal temperament.
    #[must_use]
    pub fn planned_cents(&self, fingering: &Fingering) -> f64 {
        (fingering.cents + self.off_cents).clamp(-WIDEST_CENTS, WIDEST_CENTS)
    }
}

/// Every fingering that is left off by more than is good enough, and whose twin would be if this one were met.
pub(super) fn splits(layout: &Instrument, limits: &Limits, notes: &[PredictedNote]) -> Vec<Split> {
    notes.iter().filter_map(|note| split(layout, limits, notes, note)).collect()
}

fn split(
    layout: &Instrument,
    limits: &Limits,
    notes: &[PredictedNote],
    note: &PredictedNote,
) -> Option<Split> {
    let within_cents = layout.goal.within_cents;
    let off_cents = note.cents()?;
    let twin_cents = partner(layout, notes, note)?.cents()?;
    if off_cents.abs() <= within_cents || (off_cents - twin_cents).abs() <= within_cents {
        return None;
    }
    // Both sharp or both flat against a rule of the bench: that rule is to blame, not the other register.
    if off_cents * twin_cents > 0.0 && reason(layout, limits, note).is_some() {
        return None;
    }
    Some(Split { fingering: note.fingering, off_cents: off_cents.round() })
}

/// Fingerings that want what the plan settled on.
pub(super) fn settled(mut fingerings: Vec<Fingering>, splits: &[Split]) -> Vec<Fingering> {
    for split in splits {
        if let Some(fingering) = fingerings.get_mut(split.fingering) {
            fingering.cents = split.planned_cents(fingering);
        }
    }
    fingerings
}
