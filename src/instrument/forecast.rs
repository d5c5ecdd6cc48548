//! Everything that the geometry alone can tell, gathered for one screen.
//!
//! Must not know recordings or findings.

use super::advice::{Warning, warnings};
use super::change::Target;
use super::column::{embouchure_mm, mouthpiece_length_mm, reed_give_ml};
use super::lattice::fingering_cutoff_hz;
use super::model::{Drive, Instrument};
use super::prediction::{PredictedNote, predict};
use super::sanity::{Question, questions};
use super::section_mouthpiece::CHAMBER;
use super::sensitivity::{Parameter, sensitivities};
use super::twelfth::{Twelfth, twelfths};
use super::vent::{VentedNote, vented_notes};

/// What the geometry tells of an instrument.
#[derive(Debug, Clone, PartialEq)]
pub struct Forecast {
    /// Every fingering, in the file's order.
    pub notes: Vec<PredictedNote>,
    /// What the notes that can be played now will be once every planned hole is there, cents from the target; in
    /// the order of `notes`. `None` for notes that are told so already, and without planned holes.
    pub finished_cents: Vec<Option<f64>>,
    /// Cutoff of the open holes of each fingering, hertz; in the order of `notes`.
    pub cutoffs_hz: Vec<Option<f64>>,
    /// How wide the twelfths are.
    pub twelfths: Vec<Twelfth>,
    /// How well vents part the registers.
    pub vents: Vec<VentedNote>,
    /// Bore and mouthpiece.
    pub top: Top,
    /// What is likely to make trouble.
    pub warnings: Vec<Warning>,
    /// What is asked about the measures before any of this is believed; empty as a rule.
    pub questions: Vec<Question>,
}

/// The bore where it begins, and what sits on it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Top {
    /// Bore where the mouthpiece ends, mm.
    pub bore_mm: f64,
    /// Narrowest and widest bore that the mouthpiece was made for, mm.
    pub suits_bore_mm: Option<[f64; 2]>,
    /// Water that the mouthpiece holds, ml; `None` without one.
    pub chamber_ml: Option<f64>,
    /// The chamber with which the notes, holes as they are, lie closest to their targets; `None` without a
    /// mouthpiece or notes, or when no chamber brings them there.
    pub chamber_wanted: Option<WantedChamber>,
    /// The length of this bore that holds as much, mm.
    pub chamber_mm: f64,
    /// The reed's give, ml.
    pub reed_ml: f64,
    /// The length of this bore that gives as much, mm.
    pub reed_mm: f64,
    /// Whether the reed's give is an assumption, not the maker's.
    pub reed_assumed: bool,
    /// An air jet's end correction as a length of bore, mm; `None` with a reed.
    pub embouchure_mm: Option<f64>,
    /// Whether the embouchure's length is a guess, not the maker's.
    pub embouchure_assumed: bool,
}

/// Rounds of the search for the wanted chamber; each is a linear step, and two come within a few hundredths of a ml.
const CHAMBER_ROUNDS: usize = 3;

/// What is left of doubt in a whole predicted instrument, cents: transfer matrices against finite elements
/// (A. Lefebvre, thesis, McGill University 2010; abstract read).
const DOUBT_CENTS: f64 = 10.0;

/// The chamber with which the notes lie closest to their targets, by least squares.
fn chamber_wanted(instrument: &Instrument, notes: &[PredictedNote]) -> Option<WantedChamber> {
    let mut changed = instrument.clone();
    let mut notes = notes.to_vec();
    let mut doubt_ml = f64::INFINITY;
    for _ in 0..CHAMBER_ROUNDS {
        let hz: Vec<Option<f64>> = notes.iter().map(|note| note.predicted_hz).collect();
        let table = sensitivities(&changed, vec![Parameter::Measure(Target::Chamber)], &hz);
        let row = table.cents.first()?;
        let pairs = || notes.iter().zip(row).filter_map(|(note, slope)| Some((note.cents()?, (*slope)?)));
        let steepness: f64 = pairs().map(|(_, slope)| slope * slope).sum();
        let wanted: f64 = pairs().map(|(cents, slope)| -cents * slope).sum();
        let mouthpiece = changed.mouthpiece.as_mut()?;
        mouthpiece.chamber_ml += wanted / steepness;
        doubt_ml = DOUBT_CENTS / (steepness / pairs().count() as f64).sqrt();
        if !CHAMBER.allow(mouthpiece.chamber_ml) {
            return None;
        }
        notes = predict(&changed);
    }
    changed.mouthpiece.map(|mouthpiece| WantedChamber { ml: mouthpiece.chamber_ml, doubt_ml })
}

/// A chamber that bore and holes want.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WantedChamber {
    /// The water that it holds, ml.
    pub ml: f64,
    /// What moves the notes as far as the geometry is in doubt, ml.
    pub doubt_ml: f64,
}

/// Forecasts all notes and what goes with them.
#[must_use]
pub fn forecast(instrument: &Instrument) -> Forecast {
    let notes = predict(instrument);
    Forecast {
        finished_cents: finished_cents(instrument),
        cutoffs_hz: notes.iter().map(|note| fingering_cutoff_hz(instrument, note.fingering)).collect(),
        twelfths: twelfths(instrument, &notes),
        vents: vented_notes(instrument, &notes),
        top: top(instrument, &notes),
        warnings: warnings(instrument, &notes),
        questions: questions(instrument, &notes),
        notes,
    }
}

fn finished_cents(instrument: &Instrument) -> Vec<Option<f64>> {
    if instrument.holes.iter().all(|hole| hole.drilled) {
        return vec![None; instrument.fingerings.len()];
    }
    let finished = instrument.finished();
    let cents = |note: &PredictedNote| {
        let playable = instrument.playable(&instrument.fingerings[note.fingering]);
        note.cents().filter(|_| playable)
    };
    predict(&finished).iter().map(cents).collect()
}

fn top(instrument: &Instrument, notes: &[PredictedNote]) -> Top {
    let chamber_ml = instrument.mouthpiece.map(|mouthpiece| mouthpiece.chamber_ml);
    let reed_ml = reed_give_ml(instrument);
    let volume_ml = chamber_ml.unwrap_or(0.0) + reed_ml;
    let length_mm = mouthpiece_length_mm(instrument);
    let is_jet = instrument.drive == Drive::AirJet;
    let reed_mm = if volume_ml > 0.0 { length_mm * reed_ml / volume_ml } else { 0.0 };
    Top {
        bore_mm: instrument.bore_at_mm(0.0),
        suits_bore_mm: instrument.mouthpiece.and_then(|mouthpiece| mouthpiece.suits_bore_mm),
        chamber_ml,
        chamber_wanted: chamber_wanted(instrument, notes),
        chamber_mm: length_mm - reed_mm,
        reed_ml,
        reed_mm,
        reed_assumed: instrument.mouthpiece.is_some_and(|mouthpiece| mouthpiece.reed_ml.is_none()),
        embouchure_mm: is_jet.then(|| embouchure_mm(instrument)),
        embouchure_assumed: is_jet && instrument.embouchure_mm.is_none(),
    }
}
