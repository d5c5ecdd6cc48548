//! From measured takes to one figure per fingering: which takes count, which belong to another
//! fingering, which jumped to another register.
//!
//! Must not know causes or cuts.

use crate::analysis::measurement::Measurement;
use crate::diagnosis::takes::judge::Judge;
use crate::instrument::model::Instrument;
use crate::instrument::prediction::PredictedNote;
use crate::units::cents_between;

/// Spread of one player's repeats when the takes do not tell it, cents (common practice: 2 to 5 for a
/// practised player; no source).
pub const PLAYER_SPREAD_CENTS: f64 = 3.0;

/// Spreads that are believed before anything was heard, with their shares: most practised players lie at
/// 2 to 5 cents (common practice, no source).
const SPREADS: [(f64, f64); 3] = [(1.7, 0.3), (PLAYER_SPREAD_CENTS, 0.45), (5.0, 0.25)];

/// One take as it was filed and measured.
#[derive(Debug, Clone, PartialEq)]
pub struct FiledTake {
    /// Name of its file.
    pub file: String,
    /// Index of the fingering that it was filed under.
    pub fingering: usize,
    /// What was measured.
    pub measurement: Measurement,
    /// What it was played under: 0 for the instrument as it is, else the number of the condition, from 1.
    pub condition: usize,
}

/// What a take is worth.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// Counts for its fingering.
    Used,
    /// No note in it, or it could not be read.
    NoNote,
    /// Fits this other fingering better than its own.
    OtherFingering(usize),
    /// The right holes, but this resonance sounded (from 1).
    OtherRegister(usize),
    /// More breath than tone, while others are clear: it did not speak.
    Breath,
    /// Overtones only, and none that hold: it did not speak either.
    Unsettled,
    /// A note that fits neither this fingering nor any other.
    Stranger,
}

/// One fingering with what its takes say.
#[derive(Debug, Clone, PartialEq)]
pub struct NoteEvidence {
    /// Index into [`Instrument::fingerings`].
    pub fingering: usize,
    /// Takes filed under it: index into the list of takes, and what each is worth.
    pub takes: Vec<(usize, Standing)>,
    /// Mean pitch of the takes that count, hertz.
    pub measured_hz: Option<f64>,
    /// Standard uncertainty of that mean, cents, the player's spread included.
    pub sd_cents: Option<f64>,
    /// Mean tone over breath and background of the takes that count, dB.
    pub tone_over_noise_db: Option<f64>,
    /// How many takes count.
    pub used: usize,
    /// Which resonance sounded, when one did.
    pub sounded_register: Option<usize>,
}

impl NoteEvidence {
    /// Whether the wanted resonance spoke: `Some(false)` when another one sounded instead, `None` when the
    /// takes don't tell (none, or no note in them).
    #[must_use]
    pub fn spoke(&self) -> Option<bool> {
        let failed = self.takes.iter().any(|(_, standing)| {
            matches!(standing, Standing::OtherRegister(_) | Standing::Breath | Standing::Unsettled)
        });
        if self.measured_hz.is_some() { Some(true) } else { failed.then_some(false) }
    }
}

/// All evidence of one step.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// One entry a fingering, in the file's order.
    pub notes: Vec<NoteEvidence>,
    /// Spread of single takes about their fingering's mean, cents.
    pub player_spread_cents: f64,
    /// True when the spread was estimated from repeats.
    pub spread_from_repeats: bool,
}

impl Evidence {
    /// The player's spreads to reckon with, cents, and their shares: one when repeats tell it.
    #[must_use]
    pub fn spreads(&self) -> Vec<(f64, f64)> {
        if self.spread_from_repeats { vec![(self.player_spread_cents, 1.0)] } else { SPREADS.to_vec() }
    }
}

/// Judges every take against the predictions and averages the ones that count.
#[must_use]
pub fn gather(instrument: &Instrument, predicted: &[PredictedNote], takes: &[FiledTake]) -> Evidence {
    let standings = Judge::new(instrument, predicted, takes).judge_all();
    let (player_spread_cents, spread_from_repeats) = player_spread(predicted.len(), takes, &standings);
    let notes = (0..predicted.len())
        .map(|fingering| note_evidence(&predicted[fingering], takes, &standings, player_spread_cents))
        .collect();
    Evidence { notes, player_spread_cents, spread_from_repeats }
}

/// Mean tone over breath of a fingering's takes that count, dB.
fn mean_tone_db(takes: &[FiledTake], filed: &[(usize, Standing)]) -> Option<f64> {
    let used = filed.iter().filter(|(_, standing)| *standing == Standing::Used);
    let db: Vec<f64> = used.filter_map(|&(take, _)| takes[take].measurement.tone_over_noise_db).collect();
    (!db.is_empty()).then(|| db.iter().sum::<f64>() / db.len() as f64)
}

/// Pooled standard deviation of repeats about their means, or the default. With few repeats the
/// default keeps its say, as if it had been seen in four of them.
fn player_spread(fingerings: usize, takes: &[FiledTake], standings: &[Standing]) -> (f64, bool) {
    const DEFAULT_COUNTS_AS: f64 = 4.0;
    let mut sum_of_squares = 0.0;
    let mut freedoms = 0.0;
    for fingering in 0..fingerings {
        let pitches: Vec<f64> = used_pitches(takes, standings, fingering).map(|(hz, _)| hz).collect();
        if pitches.len() < 2 {
            continue;
        }
        let cents: Vec<f64> = pitches.iter().map(|&hz| cents_between(hz, pitches[0])).collect();
        let mean = cents.iter().sum::<f64>() / cents.len() as f64;
        sum_of_squares += cents.iter().map(|c| (c - mean).powi(2)).sum::<f64>();
        freedoms += cents.len() as f64 - 1.0;
    }
    let prior = DEFAULT_COUNTS_AS * PLAYER_SPREAD_CENTS.powi(2);
    let spread = ((sum_of_squares + prior) / (freedoms + DEFAULT_COUNTS_AS)).sqrt();
    (spread, freedoms > 0.0)
}

/// Pitch (hertz) and its uncertainty (cents) of the takes that count for a fingering.
fn used_pitches<'a>(
    takes: &'a [FiledTake],
    standings: &'a [Standing],
    fingering: usize,
) -> impl Iterator<Item = (f64, f64)> + 'a {
    takes.iter().zip(standings).filter_map(move |(take, standing)| {
        (take.fingering == fingering && *standing == Standing::Used)
            .then(|| Some((take.measurement.pitch_hz?, take.measurement.sd_cents.unwrap_or(1.0))))
            .flatten()
    })
}

fn note_evidence(
    predicted: &PredictedNote,
    takes: &[FiledTake],
    standings: &[Standing],
    spread_cents: f64,
) -> NoteEvidence {
    let fingering = predicted.fingering;
    let filed: Vec<(usize, Standing)> = standings
        .iter()
        .enumerate()
        .filter(|(i, _)| takes[*i].fingering == fingering)
        .map(|(i, standing)| (i, *standing))
        .collect();
    let pitches: Vec<(f64, f64)> = used_pitches(takes, standings, fingering).collect();
    let jumped_to = filed.iter().find_map(|(_, standing)| match standing {
        Standing::OtherRegister(register) => Some(*register),
        _ => None,
    });
    let Some(&(reference_hz, _)) = pitches.first() else {
        return NoteEvidence {
            fingering,
            takes: filed,
            measured_hz: None,
            sd_cents: None,
            tone_over_noise_db: None,
            used: 0,
            sounded_register: jumped_to,
        };
    };
    let tone_over_noise_db = mean_tone_db(takes, &filed);
    // Weights from the spread of single takes and each take's own uncertainty.
    let weights: Vec<f64> = pitches.iter().map(|(_, sd)| 1.0 / (spread_cents.powi(2) + sd.powi(2))).collect();
    let total: f64 = weights.iter().sum();
    let mean_cents =
        pitches.iter().zip(&weights).map(|((hz, _), w)| w * cents_between(*hz, reference_hz)).sum::<f64>()
            / total;
    NoteEvidence {
        fingering,
        takes: filed,
        measured_hz: Some(crate::units::shift_by_cents(reference_hz, mean_cents)),
        sd_cents: Some(total.recip().sqrt()),
        tone_over_noise_db,
        used: pitches.len(),
        sounded_register: None,
    }
}
