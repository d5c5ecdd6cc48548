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
/// Parts of the way that are weighed up.
const SHARES: [f64; 11] = [0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0];
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

/// Cents by which a note moves for each mm of bore that is put in at the top; `None` without a predicted pitch.
pub(in crate::diagnosis) fn cents_a_mm(instrument: &Instrument, note: &PredictedNote) -> Option<f64> {
    let mut longer = instrument.clone();
    trim_top(&mut longer, -TRIAL_MM);
    let fingering = instrument.fingerings.get(note.fingering)?;
    let hz = note.predicted_hz?;
    Some(cents_between(follow(&column(&longer, &fingering.open, &[]), hz)?, hz) / TRIAL_MM)
}

/// How far the mouthpiece is to be moved so that what all notes share, `shared_cents` above their targets, meets them. `None` while that is good enough,
/// and without a mouthpiece.
#[must_use]
pub fn adjustment(
    instrument: &Instrument,
    predicted: &[PredictedNote],
    aim: &Aim,
    shared_cents: f64,
) -> Option<Adjustment> {
    if shared_cents.abs() <= aim.within_cents {
        return None;
    }
    instrument.mouthpiece?;
    let slope = |note: &PredictedNote| {
        aim.notes[note.fingering]?;
        cents_a_mm(instrument, note)
    };
    let is_first = |note: &&PredictedNote| instrument.fingerings[note.fingering].register == 1;
    let gains: Vec<f64> = predicted.iter().filter(is_first).filter_map(slope).collect();
    let a_mm = gains.iter().sum::<f64>() / gains.len().max(1) as f64;
    if a_mm >= 0.0 {
        return None;
    }
    let wanted_mm = (-shared_cents / a_mm).clamp(-MOST_IN_MM, MOST_OUT_MM);
    // Short notes move more than long ones, and so do the registers: no farther than serves all notes together.
    let slopes: Vec<f64> = predicted.iter().map(|note| slope(note).unwrap_or(0.0)).collect();
    let missed = |share: &f64| {
        let moves: Vec<f64> = slopes.iter().map(|slope| slope * share * wanted_mm).collect();
        aim.missed(&moves)
    };
    let serves = SHARES.into_iter().min_by(|a, b| missed(a).total_cmp(&missed(b))).unwrap_or(0.0);
    let out_mm = round_to(serves * wanted_mm, STEP_MM);
    let left_cents = shared_cents + a_mm * out_mm;
    (out_mm != 0.0).then_some(Adjustment { out_mm, shared_cents, left_cents })
}
