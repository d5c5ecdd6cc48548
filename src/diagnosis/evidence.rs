//! From measured takes to one figure per fingering: which takes count, which belong to another
//! fingering, which jumped to another register.
//!
//! Must not know causes or cuts.

use crate::analysis::measurement::Measurement;
use crate::instrument::model::Instrument;
use crate::instrument::prediction::PredictedNote;
use crate::units::cents_between;

/// Spread of one player's repeats when the takes do not tell it, cents (common practice: 2 to 5 for a
/// practised player; no source).
pub const PLAYER_SPREAD_CENTS: f64 = 3.0;

/// Spreads that are believed before anything was heard, with their shares: most practised players lie at
/// 2 to 5 cents (common practice, no source).
const SPREADS: [(f64, f64); 3] = [(1.7, 0.3), (PLAYER_SPREAD_CENTS, 0.45), (5.0, 0.25)];

/// A take this far from its own prediction may be another fingering …
const FAR_CENTS: f64 = 70.0;
/// … when it lies this close to the other's prediction.
const CLOSE_CENTS: f64 = 25.0;
/// A neighbour this far off in the same direction speaks for a fault of the instrument instead.
const NEIGHBOUR_OFF_CENTS: f64 = 40.0;
/// Farther than this from its own prediction, and alone in that, a take says nothing of the instrument.
const STRANGER_CENTS: f64 = 150.0;
/// Within this of another resonance of its own fingering, a take has jumped there.
const JUMP_CENTS: f64 = 80.0;

/// One take as it was filed and measured.
#[derive(Debug, Clone, PartialEq)]
pub struct FiledTake {
    /// Name of its file.
    pub file: String,
    /// Index of the fingering that it was filed under.
    pub fingering: usize,
    /// What was measured.
    pub measurement: Measurement,
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
        let failed = self.takes.iter().any(|(_, standing)| matches!(standing, Standing::OtherRegister(_)));
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
    let common_cents = common_offset(predicted, takes);
    let offsets: Vec<Option<f64>> = takes.iter().map(|take| own_offset(predicted, take)).collect();
    let standings: Vec<Standing> =
        (0..takes.len()).map(|i| judge(instrument, predicted, takes, &offsets, common_cents, i)).collect();
    let (player_spread_cents, spread_from_repeats) = player_spread(predicted.len(), takes, &standings);
    let notes = (0..predicted.len())
        .map(|fingering| note_evidence(&predicted[fingering], takes, &standings, player_spread_cents))
        .collect();
    Evidence { notes, player_spread_cents, spread_from_repeats }
}

/// The fingering's predicted pitch is off by this much in this take, cents.
fn own_offset(predicted: &[PredictedNote], take: &FiledTake) -> Option<f64> {
    let hz = take.measurement.pitch_hz?;
    Some(cents_between(hz, predicted.get(take.fingering)?.predicted_hz?))
}

/// Median offset of all takes from their own predictions: air, player and model together.
fn common_offset(predicted: &[PredictedNote], takes: &[FiledTake]) -> f64 {
    let mut offsets: Vec<f64> = takes.iter().filter_map(|take| own_offset(predicted, take)).collect();
    offsets.sort_by(f64::total_cmp);
    offsets.get(offsets.len() / 2).copied().unwrap_or(0.0).clamp(-CLOSE_CENTS, CLOSE_CENTS)
}

fn judge(
    instrument: &Instrument,
    predicted: &[PredictedNote],
    takes: &[FiledTake],
    offsets: &[Option<f64>],
    common_cents: f64,
    index: usize,
) -> Standing {
    let take = &takes[index];
    let Some(hz) = take.measurement.pitch_hz else { return Standing::NoNote };
    let own = offsets[index].map(|cents| cents - common_cents);
    if own.is_some_and(|cents| cents.abs() < FAR_CENTS) {
        return Standing::Used;
    }
    let misfit = |expected_hz: f64| (cents_between(hz, expected_hz) - common_cents).abs();
    let register = instrument.fingerings[take.fingering].register;
    let jumped = predicted[take.fingering]
        .resonances
        .iter()
        .enumerate()
        .filter(|(i, _)| i + 1 != register)
        .map(|(i, resonance)| (i + 1, misfit(resonance.hz)))
        .min_by(|a, b| a.1.total_cmp(&b.1));
    let other = predicted
        .iter()
        .filter(|note| note.fingering != take.fingering)
        .filter_map(|note| Some((note.fingering, misfit(note.predicted_hz?))))
        .min_by(|a, b| a.1.total_cmp(&b.1));
    let alike = neighbours_off_alike(instrument, predicted, takes, offsets, common_cents, index);
    if let Some((fingering, cents)) = other
        && cents < CLOSE_CENTS
        && !alike
        && jumped.is_none_or(|(_, jump)| cents < jump)
    {
        return Standing::OtherFingering(fingering);
    }
    match jumped {
        Some((register, cents)) if cents < JUMP_CENTS => Standing::OtherRegister(register),
        _ if alike || own.is_some_and(|cents| cents.abs() < STRANGER_CENTS) => Standing::Used,
        _ => Standing::Stranger,
    }
}

/// Whether a take of the next note up or down in the same register is far off the same way: then a
/// leak or stuck pad is likelier than two wrong fingerings.
fn neighbours_off_alike(
    instrument: &Instrument,
    predicted: &[PredictedNote],
    takes: &[FiledTake],
    offsets: &[Option<f64>],
    common_cents: f64,
    index: usize,
) -> bool {
    let own = takes[index].fingering;
    let Some(own_cents) = offsets[index].map(|cents| cents - common_cents) else { return false };
    let register = instrument.fingerings[own].register;
    let target = |fingering: usize| predicted[fingering].target_hz;
    let mut same_register: Vec<usize> =
        (0..predicted.len()).filter(|&f| f != own && instrument.fingerings[f].register == register).collect();
    same_register
        .sort_by(|&a, &b| distance(target(a), target(own)).total_cmp(&distance(target(b), target(own))));
    let nearest = &same_register[..same_register.len().min(2)];
    takes.iter().zip(offsets).any(|(take, offset)| {
        nearest.contains(&take.fingering)
            && offset.is_some_and(|cents| {
                let cents = cents - common_cents;
                cents.signum() == own_cents.signum() && (NEIGHBOUR_OFF_CENTS..1000.0).contains(&cents.abs())
            })
    })
}

fn distance(a_hz: f64, b_hz: f64) -> f64 {
    cents_between(a_hz, b_hz).abs()
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
            used: 0,
            sounded_register: jumped_to,
        };
    };
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
        used: pitches.len(),
        sounded_register: None,
    }
}
