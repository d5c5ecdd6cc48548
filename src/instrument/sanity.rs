//! Whether what was measured can be so: questions about the file, each with what is likely meant, before any cent of it
//! is believed.
//!
//! Asked only where the geometry misses its targets by so much that no bench does that, and about what would mend it
//! alone: another zero, another unit, a hole's digit. Must not know recordings, findings or words.

use super::model::Instrument;
use super::prediction::PredictedNote;
use super::suspects::{Suspects, mended_as_a_whole, mended_by_one_measure};
use super::twelfth::open_tone_holes;

/// A note that is predicted farther from its target than this is asked about, cents: a semitone and a half.
const FAR_CENTS: f64 = 150.0;
/// … or when all notes are farther off than this to the same side, and on average …
const ALL_OFF_CENTS: f64 = 40.0;
/// … farther than this, cents: more than reed, air and a wrong wall bring together (our choice).
const ALL_MEAN_CENTS: f64 = 75.0;
/// Fewer notes than this don't show what all have in common.
const FEWEST_FOR_ALL: usize = 3;
/// A fingering that opens one hole more than another has that hole out of order when it rises by less than this share of
/// what is wanted …
const OUT_OF_ORDER_SHARE: f64 = 0.3;
/// … of a step of this much at least, cents, and the other note is off by …
const LEAST_STEP_CENTS: f64 = 80.0;
/// … as much as this, cents.
const OUT_OF_ORDER_FROM_CENTS: f64 = 60.0;
/// At most this many measures are asked about one by one; more wrong numbers than that have another reason.
const MOST_MEASURES: usize = 3;

/// What is asked, and which notes gave rise to it.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// What may be otherwise than the file says.
    pub about: Doubt,
    /// Indices into [`Instrument::fingerings`] of the notes that can't be so, the farthest off first; never empty.
    pub fingerings: Vec<usize>,
    /// How far the first of these is off as the file has it, cents.
    pub off_cents: f64,
}

/// What may be otherwise than the file says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Doubt {
    /// All places are this much too large (or, below 0, too small), mm; with the open end, or those of holes only.
    Zero {
        /// By how much, mm.
        shift_mm: f64,
        /// Whether the open end is meant as well.
        with_end: bool,
    },
    /// The places of holes were measured from the open end.
    OtherEnd,
    /// Lengths are in this unit, not in millimetres; along the tube only, or all of them.
    Unit {
        /// The unit.
        unit: LengthUnit,
        /// Whether bore and holes' diameters are meant as well.
        all: bool,
    },
    /// All notes are off by about this many semitones: their names may be written ones.
    Interval {
        /// How much higher they sound than they are called.
        semitones: i32,
    },
    /// The chamber holds another volume, ml.
    Chamber {
        /// What is likely meant, ml.
        likely_ml: f64,
    },
    /// Two holes have each other's place.
    Swapped {
        /// Indices into [`Instrument::holes`].
        holes: [usize; 2],
    },
    /// One hole lies elsewhere.
    Hole {
        /// Index into [`Instrument::holes`].
        hole: usize,
        /// Where its notes want it, mm; `None` for a vent.
        wanted_mm: Option<f64>,
        /// The number that was likely meant, a slip of the pen away from the one in the file, mm.
        likely_mm: Option<f64>,
    },
    /// The open end lies elsewhere.
    End {
        /// Where the notes without an open hole want it, mm.
        wanted_mm: f64,
        /// The number that was likely meant, mm.
        likely_mm: Option<f64>,
    },
    /// Nothing simple mends this note.
    Note,
}

/// A unit that a length may have been written in instead of millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)] // each is its own word
pub enum LengthUnit {
    Inches,
    Centimetres,
    Metres,
}

impl LengthUnit {
    /// All of them.
    pub const ALL: [LengthUnit; 3] = [LengthUnit::Inches, LengthUnit::Centimetres, LengthUnit::Metres];

    /// Millimetres in one.
    #[must_use]
    pub fn mm(self) -> f64 {
        match self {
            LengthUnit::Inches => 25.4,
            LengthUnit::Centimetres => 10.0,
            LengthUnit::Metres => 1000.0,
        }
    }
}

/// What is to be asked before these predictions are believed; empty as a rule. `notes`: as
/// [`predict`](super::prediction::predict) made them of this instrument. Notes of holes that are only planned are left
/// out: their places are guesses.
#[must_use]
pub fn questions(instrument: &Instrument, notes: &[PredictedNote]) -> Vec<Question> {
    let heard: Vec<(usize, f64)> = notes
        .iter()
        .filter(|note| instrument.playable(&instrument.fingerings[note.fingering]))
        .filter_map(|note| Some((note.fingering, note.cents()?)))
        .collect();
    let far = far_notes(instrument, &heard);
    let as_a_whole = if all_off(&heard) { &heard } else { &far };
    if as_a_whole.is_empty() {
        return Vec::new();
    }
    if let Some(about) = mended_as_a_whole(&Suspects::new(instrument, &heard, as_a_whole)) {
        return vec![asked(about, as_a_whole)];
    }
    let mut suspects = Suspects::new(instrument, &heard, &far);
    let mut found = Vec::new();
    while found.len() < MOST_MEASURES {
        let Some((about, mended)) = mended_by_one_measure(&mut suspects) else { break };
        found.push(asked(about, &mended));
    }
    if !suspects.far.is_empty() {
        found.push(asked(Doubt::Note, &suspects.far));
    }
    found
}

/// Whether all notes are off to one side, and much so on average.
fn all_off(heard: &[(usize, f64)]) -> bool {
    let to_one_side = |sign: f64| heard.iter().all(|(_, cents)| sign * cents > ALL_OFF_CENTS);
    let mean = heard.iter().map(|(_, cents)| cents).sum::<f64>() / heard.len().max(1) as f64;
    heard.len() >= FEWEST_FOR_ALL && mean.abs() > ALL_MEAN_CENTS && (to_one_side(1.0) || to_one_side(-1.0))
}

fn asked(about: Doubt, far: &[(usize, f64)]) -> Question {
    let mut far = far.to_vec();
    far.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
    let off_cents = far.first().map_or(0.0, |(_, cents)| *cents);
    Question { about, fingerings: far.into_iter().map(|(fingering, _)| fingering).collect(), off_cents }
}

/// The notes that can't be so, with their cents.
fn far_notes(instrument: &Instrument, heard: &[(usize, f64)]) -> Vec<(usize, f64)> {
    let out_of_order = |&(fingering, cents): &(usize, f64)| {
        cents.abs() > OUT_OF_ORDER_FROM_CENTS
            && heard
                .iter()
                .any(|&(other, others)| opens_one_out_of_order(instrument, fingering, other, others - cents))
    };
    heard.iter().copied().filter(|note| note.1.abs() > FAR_CENTS || out_of_order(note)).collect()
}

/// Whether `upper` opens all that `lower` opens and one tone hole more, which lies below the uppermost of those and so
/// hardly raises the note. `nearer_cents`: how much more `upper` is off than `lower`.
fn opens_one_out_of_order(instrument: &Instrument, lower: usize, upper: usize, nearer_cents: f64) -> bool {
    let (low, high) = (&instrument.fingerings[lower], &instrument.fingerings[upper]);
    let (below, above) = (open_tone_holes(instrument, lower), open_tone_holes(instrument, upper));
    if low.register != high.register || above.len() != below.len() + 1 {
        return false;
    }
    let mut added = above.iter().filter(|hole| !below.contains(hole));
    let (Some(&added), None) = (added.next(), added.next()) else { return false };
    let Some(first) = instrument.first_open_hole(lower) else { return false };
    let wanted_cents = crate::units::cents_between(instrument.target_hz(high), instrument.target_hz(low));
    let predicted_cents = wanted_cents + nearer_cents;
    instrument.holes[added].at_mm > instrument.holes[first].at_mm
        && wanted_cents >= LEAST_STEP_CENTS
        && predicted_cents < OUT_OF_ORDER_SHARE * wanted_cents
}
