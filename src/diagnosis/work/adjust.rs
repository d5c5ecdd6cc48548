//! What all notes share above or below their targets, taken back where it can be undone: the mouthpiece pulled out or
//! pushed in.
//!
//! Must not know causes, files or the terminal.

use crate::acoustics::resonance::follow;
use crate::diagnosis::beliefs::{MOST_IN_MM, MOST_OUT_MM};
use crate::diagnosis::words::trimmed;
use crate::diagnosis::work::aim::Aim;
use crate::diagnosis::work::cuts::round_to;
use crate::instrument::alter::trim_top;
use crate::instrument::column::column;
use crate::instrument::model::Instrument;
use crate::instrument::prediction::PredictedNote;
use crate::units::cents_between;

/// Lengths that are tried, mm, to learn by how much a note moves for each.
const TRIAL_MM: f64 = 1.0;
/// The mouthpiece is set in steps of this length, mm.
const STEP_MM: f64 = 0.5;

/// One setting of the mouthpiece.
#[derive(Debug, Clone, PartialEq)]
pub struct Adjustment {
    /// How far it is pulled out, mm; negative: pushed in.
    pub out_mm: f64,
    /// What all notes share before it, cents above target.
    pub shared_cents: f64,
    /// What is left of that, cents.
    pub left_cents: f64,
}

impl Adjustment {
    /// In the spelling of `try`.
    #[must_use]
    pub fn change(&self) -> String {
        format!("mouthpiece.out={}", trimmed(self.out_mm))
    }
}

/// How far the mouthpiece is to be moved so that what all notes share meets the target. `None` while that is good enough,
/// and without a mouthpiece.
#[must_use]
pub fn adjustment(instrument: &Instrument, predicted: &[PredictedNote], aim: &Aim) -> Option<Adjustment> {
    let shared_cents = aim.not_of_holes_cents;
    if shared_cents.abs() <= aim.within_cents {
        return None;
    }
    instrument.mouthpiece?;
    let mut longer = instrument.clone();
    trim_top(&mut longer, -TRIAL_MM);
    let gain = |note: &PredictedNote| {
        aim.notes[note.fingering]?;
        let fingering = instrument.fingerings.get(note.fingering).filter(|f| f.register == 1)?;
        let hz = note.predicted_hz?;
        Some(cents_between(follow(&column(&longer, &fingering.open, &[]), hz)?, hz) / TRIAL_MM)
    };
    let gains: Vec<f64> = predicted.iter().filter_map(gain).collect();
    let a_mm = gains.iter().sum::<f64>() / gains.len().max(1) as f64;
    if a_mm >= 0.0 {
        return None;
    }
    let out_mm = round_to((-shared_cents / a_mm).clamp(-MOST_IN_MM, MOST_OUT_MM), STEP_MM);
    let left_cents = shared_cents + a_mm * out_mm;
    (out_mm != 0.0).then_some(Adjustment { out_mm, shared_cents, left_cents })
}
