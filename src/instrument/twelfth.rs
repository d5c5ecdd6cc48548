//! How wide the twelfths are: the second register against the first of the same holes.
//!
//! Must not know recordings or findings.

use super::model::Instrument;
use super::prediction::PredictedNote;
use crate::units::cents_between;

/// A pure twelfth, 3:1, in cents: `1200 log2 3`.
pub const PURE_CENTS: f64 = 1_901.955;
/// A tempered twelfth, nineteen semitones, in cents.
pub const TEMPERED_CENTS: f64 = 1_900.0;
/// An interval farther from a twelfth than this is none (an air jet or a cone overblows to the octave).
const STILL_A_TWELFTH_CENTS: f64 = 300.0;

/// The interval between two fingerings of the same tone holes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Twelfth {
    /// First register: index into [`Instrument::fingerings`].
    pub lower: usize,
    /// Second register: index into [`Instrument::fingerings`]. `None`: no fingering of the file sounds it,
    /// and the interval is to the second resonance of the lower one.
    pub upper: Option<usize>,
    /// Predicted interval, cents.
    pub cents: f64,
}

/// The twelfths of all first-register fingerings, in the file's order.
#[must_use]
pub fn twelfths(instrument: &Instrument, notes: &[PredictedNote]) -> Vec<Twelfth> {
    let register = |note: &&PredictedNote| instrument.fingerings.get(note.fingering).map(|f| f.register);
    let uppers: Vec<(&PredictedNote, usize)> = notes
        .iter()
        .filter(|note| register(note) == Some(2))
        .filter_map(|note| Some((note, same_holes_below(instrument, notes, note)?.fingering)))
        .collect();
    let mut found = Vec::new();
    for lower in notes.iter().filter(|note| register(note) == Some(1)) {
        let Some(lower_hz) = lower.predicted_hz else { continue };
        let served: Vec<&PredictedNote> =
            uppers.iter().filter(|(_, below)| *below == lower.fingering).map(|(note, _)| *note).collect();
        if served.is_empty() {
            let second = lower.resonances.get(1).map(|resonance| cents_between(resonance.hz, lower_hz));
            found.extend(second.map(|cents| Twelfth { lower: lower.fingering, upper: None, cents }));
        }
        for upper in served {
            let cents = upper.predicted_hz.map(|hz| cents_between(hz, lower_hz));
            let pair = |cents| Twelfth { lower: lower.fingering, upper: Some(upper.fingering), cents };
            found.extend(cents.map(pair));
        }
    }
    found.retain(|twelfth| (twelfth.cents - PURE_CENTS).abs() < STILL_A_TWELFTH_CENTS);
    found
}

/// The first-register note that has the same tone holes open as `upper`; vents don't count.
#[must_use]
pub fn same_holes_below<'n>(
    instrument: &Instrument,
    notes: &'n [PredictedNote],
    upper: &PredictedNote,
) -> Option<&'n PredictedNote> {
    let wanted = open_tone_holes(instrument, upper.fingering);
    notes.iter().find(|note| {
        instrument.fingerings.get(note.fingering).is_some_and(|fingering| fingering.register == 1)
            && open_tone_holes(instrument, note.fingering) == wanted
    })
}

/// The open holes of a fingering that are no vents, rising.
#[must_use]
pub fn open_tone_holes(instrument: &Instrument, fingering: usize) -> Vec<usize> {
    let open = instrument.fingerings.get(fingering).map(|f| f.open.as_slice()).unwrap_or_default();
    let is_vent = |index: &usize| instrument.holes.get(*index).is_some_and(|hole| hole.vent);
    let mut holes: Vec<usize> = open.iter().copied().filter(|index| !is_vent(index)).collect();
    holes.sort_unstable();
    holes
}
