//! What every fingering should sound, from the geometry alone.
//!
//! Must not know recordings or findings.

use rayon::prelude::*;

use crate::acoustics::resonance::{Resonance, follow, resonances};
use crate::instrument::column::{column, highest_hz, playing_hz};
use crate::instrument::model::{Fingering, Instrument};
use crate::units::cents_between;

/// At least this many resonances are told of each fingering.
const TOLD_RESONANCES: usize = 4;

/// What one fingering should sound.
#[derive(Debug, Clone, PartialEq)]
pub struct PredictedNote {
    /// Index into [`Instrument::fingerings`].
    pub fingering: usize,
    /// Target, hertz.
    pub target_hz: f64,
    /// Predicted pitch of the wanted register, hertz; `None` when the column has no such resonance.
    pub predicted_hz: Option<f64>,
    /// Resonances, rising, reed included.
    pub resonances: Vec<Resonance>,
}

impl PredictedNote {
    /// Cents of the prediction above the target.
    #[must_use]
    pub fn cents(&self) -> Option<f64> {
        self.predicted_hz.map(|hz| cents_between(hz, self.target_hz))
    }
}

/// Predicts all fingerings, in the file's order.
#[must_use]
pub fn predict(instrument: &Instrument) -> Vec<PredictedNote> {
    (0..instrument.fingerings.len()).into_par_iter().map(|index| predict_one(instrument, index)).collect()
}

/// Cents of every fingering's prediction above its target, as [`PredictedNote::cents`] has them, without looking for
/// resonances above the wanted ones.
#[must_use]
pub fn cents(instrument: &Instrument) -> Vec<Option<f64>> {
    let one = |fingering: &Fingering| {
        let hz = playing_hz(instrument, &fingering.open, fingering.register, &[])?;
        Some(cents_between(hz, instrument.target_hz(fingering)))
    };
    instrument.fingerings.par_iter().map(one).collect()
}

/// The same as [`cents`] for a body that is nearly one whose notes are at `near_hz`, hertz: those are followed, which is far
/// quicker, and `None` looks for the note from the bottom.
#[must_use]
pub fn cents_near(instrument: &Instrument, near_hz: &[Option<f64>]) -> Vec<Option<f64>> {
    let one = |(fingering, near_hz): (&Fingering, &Option<f64>)| {
        let followed = near_hz.and_then(|near_hz| follow(&column(instrument, &fingering.open, &[]), near_hz));
        let hz = followed.or_else(|| playing_hz(instrument, &fingering.open, fingering.register, &[]))?;
        Some(cents_between(hz, instrument.target_hz(fingering)))
    };
    instrument.fingerings.par_iter().zip(near_hz).map(one).collect()
}

fn predict_one(instrument: &Instrument, index: usize) -> PredictedNote {
    let fingering = &instrument.fingerings[index];
    let column = column(instrument, &fingering.open, &[]);
    let count = fingering.register.max(TOLD_RESONANCES);
    let resonances = resonances(&column, count, highest_hz(&column));
    let predicted_hz =
        fingering.register.checked_sub(1).and_then(|register| resonances.get(register)).map(|r| r.hz);
    PredictedNote { fingering: index, target_hz: instrument.target_hz(fingering), predicted_hz, resonances }
}
