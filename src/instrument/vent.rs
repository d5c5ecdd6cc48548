//! How well a register vent parts the registers of each note that it serves.
//!
//! A rule of thumb, not a prediction: whether the upper register speaks depends on the player and on the
//! flow in the vent, which linear acoustics leaves out. Must not know recordings or findings.

use super::column::mouthpiece_length_mm;
use super::model::Instrument;
use super::prediction::PredictedNote;
use super::twelfth::same_holes_below;
use crate::air::{Air, ROOM_CO2};

/// With the vent open, the lower resonance should leave a third of the note by this much at least, cents.
/// A rule of thumb from our own tables of vents in plain tubes, no source.
const LEAST_SHIFT_CENTS: f64 = 150.0;
/// … and its peak should be no higher than this share of the upper one's (the same).
const MOST_HEIGHT_SHARE: f64 = 0.7;

/// One upper note with the vent that it opens.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VentedNote {
    /// Index into [`Instrument::fingerings`].
    pub fingering: usize,
    /// Index into [`Instrument::holes`].
    pub vent: usize,
    /// Second resonance over first, vent open; 3 in a plain tube.
    pub ratio: f64,
    /// Height of the first peak over that of the second, vent open.
    pub height_share: f64,
    /// Place of the vent as a share of the note's sounding length, mouthpiece included; a third is the
    /// still point of the second resonance. `None` without a lower fingering of the same holes.
    pub place_share: Option<f64>,
}

impl VentedNote {
    /// How far the lower resonance sits above a third of the note, cents.
    #[must_use]
    pub fn lower_shift_cents(&self) -> f64 {
        lower_shift_cents(self.ratio)
    }

    /// How much that is short of what keeps an undertone away, cents; 0 when it is enough.
    #[must_use]
    pub fn lacking_cents(&self) -> f64 {
        (LEAST_SHIFT_CENTS - self.lower_shift_cents()).max(0.0)
    }

    /// How doubtful it is that the note speaks, and speaks alone: 0 when both rules of thumb are met; 1 when the lower
    /// resonance stays where it was without a vent, or is twice as high as it may be.
    #[must_use]
    pub fn doubt(&self) -> f64 {
        doubt(self.ratio, self.height_share)
    }

    /// Whether the lower resonance stays so near a third of the note that it can sound with it.
    #[must_use]
    pub fn lower_stays(&self) -> bool {
        self.lacking_cents() > 0.0
    }

    /// Whether the lower resonance stays strong beside the upper one.
    #[must_use]
    pub fn lower_is_strong(&self) -> bool {
        self.height_share > MOST_HEIGHT_SHARE
    }
}

fn lower_shift_cents(ratio: f64) -> f64 {
    1200.0 * (3.0 / ratio).log2()
}

/// [`VentedNote::doubt`] from the second resonance over the first, and the first peak's height over the second's.
#[must_use]
pub fn doubt(ratio: f64, height_share: f64) -> f64 {
    let stays = (1.0 - lower_shift_cents(ratio) / LEAST_SHIFT_CENTS).max(0.0);
    (stays + (height_share / MOST_HEIGHT_SHARE).log2().max(0.0)).min(1.0)
}

/// Every second-register note that opens a vent, in the file's order; of several vents, the uppermost.
#[must_use]
pub fn vented_notes(instrument: &Instrument, notes: &[PredictedNote]) -> Vec<VentedNote> {
    notes.iter().filter_map(|note| vented_note(instrument, notes, note)).collect()
}

fn vented_note(instrument: &Instrument, notes: &[PredictedNote], note: &PredictedNote) -> Option<VentedNote> {
    let fingering = instrument.fingerings.get(note.fingering).filter(|f| f.register == 2)?;
    let place = |index: usize| instrument.holes.get(index).map_or(f64::INFINITY, |hole| hole.at_mm);
    let vent = fingering
        .open
        .iter()
        .copied()
        .filter(|&index| instrument.holes.get(index).is_some_and(|hole| hole.vent))
        .min_by(|&a, &b| place(a).total_cmp(&place(b)))?;
    let [lower, upper, ..] = note.resonances.as_slice() else { return None };
    let lower_hz = same_holes_below(instrument, notes, note).and_then(|below| below.predicted_hz);
    Some(VentedNote {
        fingering: note.fingering,
        vent,
        ratio: upper.hz / lower.hz,
        height_share: lower.magnitude / upper.magnitude,
        place_share: lower_hz.map(|hz| {
            let sounding_mm = quarter_wave_mm(instrument, hz);
            (place(vent) + mouthpiece_length_mm(instrument)) / sounding_mm
        }),
    })
}

/// Length of a plain closed tube that would sound `hz`, mm.
fn quarter_wave_mm(instrument: &Instrument, hz: f64) -> f64 {
    let humidity = instrument.air.humidity_percent / 100.0;
    1000.0 * Air::mixture(instrument.air.temperature_c, humidity, ROOM_CO2).speed / (4.0 * hz)
}
