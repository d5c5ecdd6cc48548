//! What every fingering should sound, from the geometry alone, with warnings in the maker's words.
//!
//! Must not know recordings or findings.

use rayon::prelude::*;

use crate::acoustics::resonance::{Resonance, resonances};
use crate::instrument::column::{column, highest_hz};
use crate::instrument::model::Instrument;
use crate::units::cents_between;

/// At least this many resonances are told of each fingering.
const TOLD_RESONANCES: usize = 4;

/// A pad should open a third of its hole's diameter (a repairer's page on clarinet keys, read) …
const LEAST_LIFT_SHARE: f64 = 1.0 / 3.0;
/// … and is warned of from a tenth below that: nobody measures a lift better.
const WARN_BELOW: f64 = 0.9;

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

/// Something about the geometry that the maker should know before playing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Warning {
    /// Short word for programs.
    pub code: &'static str,
    /// What is the matter and what to do.
    pub text: String,
}

/// Predicts all fingerings, in the file's order.
#[must_use]
pub fn predict(instrument: &Instrument) -> Vec<PredictedNote> {
    (0..instrument.fingerings.len()).into_par_iter().map(|index| predict_one(instrument, index)).collect()
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

/// What in the geometry is likely to make trouble whatever the pitch.
#[must_use]
pub fn warnings(instrument: &Instrument, notes: &[PredictedNote]) -> Vec<Warning> {
    let mut warnings = Vec::new();
    warn_of_mouthpiece(instrument, &mut warnings);
    for hole in instrument.holes.iter().filter(|hole| !hole.vent) {
        let Some(pad) = hole.pad else { continue };
        let name = &hole.name;
        if pad.lift_mm < WARN_BELOW * LEAST_LIFT_SHARE * hole.diameter_mm {
            warnings.push(Warning {
                code: "low-lift",
                text: format!(
                    "{name}: the pad opens {:.1} mm, less than a third of the hole ({:.1} mm). The note will be \
                     flat and stuffy. Raise the pad to {:.1} mm or more before you drill anything.",
                    pad.lift_mm,
                    hole.diameter_mm,
                    LEAST_LIFT_SHARE * hole.diameter_mm
                ),
            });
        }
        let needed_mm = hole.diameter_mm + 2.0 * hole.rim_mm;
        if pad.diameter_mm < needed_mm {
            warnings.push(Warning {
                code: "pad-too-small",
                text: format!(
                    "{name}: a {:.1} mm pad does not cover the rim, which is {needed_mm:.1} mm across. It will leak. \
                     Fit a pad of {:.1} mm or more.",
                    pad.diameter_mm,
                    needed_mm + 2.0
                ),
            });
        }
    }
    for note in notes.iter().filter(|note| note.predicted_hz.is_none()) {
        let fingering = &instrument.fingerings[note.fingering];
        warnings.push(Warning {
            code: "no-resonance",
            text: format!(
                "{}: the air column has no resonance number {} that could sound. Check which holes are open.",
                fingering.name, fingering.register
            ),
        });
    }
    warnings
}

fn warn_of_mouthpiece(instrument: &Instrument, warnings: &mut Vec<Warning>) {
    let Some([narrowest, widest]) = instrument.mouthpiece.and_then(|m| m.suits_bore_mm) else { return };
    let bore_mm = instrument.bore_at_mm(0.0);
    if bore_mm > widest {
        warnings.push(Warning {
            code: "bore-too-wide",
            text: format!(
                "The bore is {bore_mm:.1} mm; the mouthpiece was made for {narrowest:.0} to {widest:.0} mm. Expect hard \
                 blowing and undertones in the upper register. Try a tapered adaptor, a larger mouthpiece, or a \
                 larger vent."
            ),
        });
    } else if bore_mm < narrowest {
        warnings.push(Warning {
            code: "bore-too-narrow",
            text: format!(
                "The bore is {bore_mm:.1} mm; the mouthpiece was made for {narrowest:.0} to {widest:.0} mm. The top of \
                 the scale may be flat and dull. Weigh the water it holds and compare."
            ),
        });
    }
}
