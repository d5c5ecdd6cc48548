//! From measured takes to one figure per fingering: which takes count, which belong to another
//! fingering, which jumped to another register.
//!
//! Must not know causes or cuts.

use std::collections::BTreeSet;

use crate::analysis::measurement::{Measurement, PlayerSpread, player_spread};
use crate::diagnosis::beliefs::takes::PLAYER_SPREADS;
use crate::diagnosis::beliefs::{SLIP_CENTS, SLIP_CHANCE};
use crate::diagnosis::takes::condition::Bench;
use crate::diagnosis::takes::judge::Judge;
use crate::units::{cents_between, shift_by_cents};

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
    /// The evening that it was played on, from 0; 0 for all where nobody knows.
    pub evening: usize,
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
    /// Index into the instrument's fingerings.
    pub fingering: usize,
    /// What it was played under: 0 for the instrument as it is.
    pub condition: usize,
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
    /// The share of them that was played on each evening, from evening 0 on; empty without any.
    pub evening_shares: Vec<f64>,
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
    /// The instrument as it is: one entry a fingering, in the file's order.
    pub notes: Vec<NoteEvidence>,
    /// What was played under conditions, by condition and then in the file's order; only fingerings with takes.
    pub tests: Vec<NoteEvidence>,
    /// Spread of single takes about their fingering's mean, cents.
    pub player_spread_cents: f64,
    /// True when the spread was estimated from repeats.
    pub spread_from_repeats: bool,
    /// On how many evenings the takes that count were played.
    pub evenings: usize,
}

impl Evidence {
    /// The spreads of the player's takes that are possible, cents, with their prior shares: one spread where repeated takes
    /// measure it.
    #[must_use]
    pub fn spreads(&self) -> Vec<(f64, f64)> {
        if self.spread_from_repeats { vec![(self.player_spread_cents, 1.0)] } else { PLAYER_SPREADS.to_vec() }
    }
}

/// Judges every take against what it should sound under its condition, and averages the ones that count.
#[must_use]
pub fn gather(bench: &Bench<'_>, takes: &[FiledTake]) -> Evidence {
    let mut standings = vec![Standing::NoNote; takes.len()];
    for condition in 0..=bench.conditions.len() {
        let own: Vec<usize> = (0..takes.len()).filter(|&take| takes[take].condition == condition).collect();
        let played: Vec<&FiledTake> = own.iter().map(|&take| &takes[take]).collect();
        let instrument = bench.instrument_under(condition);
        let judged = Judge::new(instrument, bench.predicted_under(condition), &played).judge_all();
        for (&take, standing) in own.iter().zip(judged) {
            standings[take] = standing;
        }
    }
    let PlayerSpread { cents: player_spread_cents, from_repeats: spread_from_repeats } =
        spread_of_repeats(bench, takes, &standings);
    let note = |fingering: usize, condition: usize| {
        note_evidence(fingering, condition, takes, &standings, player_spread_cents)
    };
    let fingerings = 0..bench.predicted.len();
    let notes = fingerings.clone().map(|fingering| note(fingering, 0)).collect();
    let tests = (1..=bench.conditions.len())
        .flat_map(|condition| fingerings.clone().map(move |fingering| (fingering, condition)))
        .map(|(fingering, condition)| note(fingering, condition))
        .filter(|note| !note.takes.is_empty())
        .collect();
    let used = takes.iter().zip(&standings).filter(|(_, standing)| **standing == Standing::Used);
    let evenings = used.map(|(take, _)| take.evening).collect::<BTreeSet<usize>>().len();
    Evidence { notes, tests, player_spread_cents, spread_from_repeats, evenings }
}

/// Mean tone over breath of a fingering's takes that count, dB.
fn mean_tone_db(takes: &[FiledTake], filed: &[(usize, Standing)]) -> Option<f64> {
    let used = filed.iter().filter(|(_, standing)| *standing == Standing::Used);
    let db: Vec<f64> = used.filter_map(|&(take, _)| takes[take].measurement.tone_over_noise_db).collect();
    (!db.is_empty()).then(|| db.iter().sum::<f64>() / db.len() as f64)
}

/// The player's spread: repeats of one fingering under one condition on one evening are meant to sound the same.
fn spread_of_repeats(bench: &Bench<'_>, takes: &[FiledTake], standings: &[Standing]) -> PlayerSpread {
    let last_evening = takes.iter().map(|take| take.evening).max().unwrap_or(0);
    let fingerings = 0..bench.predicted.len();
    let played = (0..=bench.conditions.len())
        .flat_map(|condition| fingerings.clone().map(move |fingering| (fingering, condition)))
        .flat_map(|note| (0..=last_evening).map(move |evening| (note, evening)));
    player_spread(played.map(|((fingering, condition), evening)| {
        let own = used_pitches(takes, standings, fingering, condition);
        own.filter(|pitch| pitch.evening == evening).map(|pitch| pitch.hz).collect()
    }))
}

/// What a take that counts says.
struct UsedPitch {
    hz: f64,
    /// Standard uncertainty of the take by itself, cents.
    sd_cents: f64,
    evening: usize,
}

/// The takes that count for a fingering under a condition.
fn used_pitches<'a>(
    takes: &'a [FiledTake],
    standings: &'a [Standing],
    fingering: usize,
    condition: usize,
) -> impl Iterator<Item = UsedPitch> + 'a {
    takes.iter().zip(standings).filter_map(move |(take, standing)| {
        (take.fingering == fingering && take.condition == condition && *standing == Standing::Used)
            .then(|| {
                let sd_cents = take.measurement.sd_cents.unwrap_or(1.0);
                Some(UsedPitch { hz: take.measurement.pitch_hz?, sd_cents, evening: take.evening })
            })
            .flatten()
    })
}

fn note_evidence(
    fingering: usize,
    condition: usize,
    takes: &[FiledTake],
    standings: &[Standing],
    spread_cents: f64,
) -> NoteEvidence {
    let filed: Vec<(usize, Standing)> = (0..takes.len())
        .filter(|&take| takes[take].fingering == fingering && takes[take].condition == condition)
        .map(|take| (take, standings[take]))
        .collect();
    let pitches: Vec<UsedPitch> = used_pitches(takes, standings, fingering, condition).collect();
    let jumped_to = filed.iter().find_map(|(_, standing)| match standing {
        Standing::OtherRegister(register) => Some(*register),
        _ => None,
    });
    let mut note = NoteEvidence {
        fingering,
        condition,
        tone_over_noise_db: mean_tone_db(takes, &filed),
        takes: filed,
        measured_hz: None,
        sd_cents: None,
        used: pitches.len(),
        evening_shares: evening_shares(&pitches),
        sounded_register: jumped_to,
    };
    if let Some(reference_hz) = pitches.first().map(|pitch| pitch.hz) {
        let cents: Vec<(f64, f64)> =
            pitches.iter().map(|pitch| (cents_between(pitch.hz, reference_hz), pitch.sd_cents)).collect();
        let (mean_cents, sd_cents) = robust_mean(&cents, spread_cents);
        note.measured_hz = Some(shift_by_cents(reference_hz, mean_cents));
        note.sd_cents = Some(sd_cents);
        note.sounded_register = None;
    }
    note
}

/// The share of these takes that was played on each evening.
fn evening_shares(pitches: &[UsedPitch]) -> Vec<f64> {
    let evenings = pitches.iter().map(|pitch| pitch.evening + 1).max().unwrap_or(0);
    let count = |evening: usize| pitches.iter().filter(|pitch| pitch.evening == evening).count();
    (0..evenings).map(|evening| count(evening) as f64 / pitches.len() as f64).collect()
}

/// Mean of repeated takes and its standard uncertainty, cents, when each of them may be a slip: the posterior of a flat
/// prior under a mixture of the player's scatter and a wide distribution (the model of A. Gelman et al., *Bayesian Data
/// Analysis*, 3rd ed. 2013, ch. 17, from memory). `takes` are pitches and their own uncertainties, cents.
fn robust_mean(takes: &[(f64, f64)], spread_cents: f64) -> (f64, f64) {
    let sd = |take: &(f64, f64)| spread_cents.hypot(take.1);
    if let [take] = takes {
        return (take.0, sd(take));
    }
    let lowest = takes.iter().map(|take| take.0).fold(f64::INFINITY, f64::min) - 3.0 * spread_cents;
    let highest = takes.iter().map(|take| take.0).fold(f64::NEG_INFINITY, f64::max) + 3.0 * spread_cents;
    let step = spread_cents / 12.0;
    let count = ((highest - lowest) / step).ceil() as usize;
    let density = |off: f64, sd: f64| (-0.5 * (off / sd).powi(2)).exp() / sd;
    let log_likelihood = |at: f64| -> f64 {
        let one = |take: &(f64, f64)| {
            let (off, sd) = (take.0 - at, sd(take));
            (1.0 - SLIP_CHANCE) * density(off, sd) + SLIP_CHANCE * density(off, sd.hypot(SLIP_CENTS))
        };
        takes.iter().map(|take| one(take).max(f64::MIN_POSITIVE).ln()).sum()
    };
    let places: Vec<f64> = (0..=count).map(|i| lowest + step * i as f64).collect();
    let logs: Vec<f64> = places.iter().map(|&at| log_likelihood(at)).collect();
    let largest = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = logs.iter().map(|log| (log - largest).exp()).collect();
    let total: f64 = weights.iter().sum();
    let mean = places.iter().zip(&weights).map(|(at, weight)| at * weight).sum::<f64>() / total;
    let square = places.iter().zip(&weights).map(|(at, weight)| (at - mean).powi(2) * weight).sum::<f64>();
    (mean, (square / total).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_slip_among_three_takes_hardly_moves_their_mean() {
        let (mean, sd) = robust_mean(&[(0.0, 0.1), (1.0, 0.1), (40.0, 0.1)], 2.0);
        assert!((mean - 0.5).abs() < 0.3, "{mean}");
        assert!((1.2..2.0).contains(&sd), "{sd}");
    }

    #[test]
    fn without_slips_it_is_the_plain_mean_with_its_plain_uncertainty() {
        let (mean, sd) = robust_mean(&[(0.0, 0.0), (2.0, 0.0), (4.0, 0.0)], 3.0);
        assert!((mean - 2.0).abs() < 0.05, "{mean}");
        assert!((sd - 3.0 / 3.0_f64.sqrt()).abs() < 0.1, "{sd}");
    }
}
