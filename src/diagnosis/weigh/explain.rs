//! Why the notes sound as they do: the causes of pitch weighed against each other, and what is left of each
//! note when they are taken out.
//!
//! Must not know cuts' order, tone, files or the terminal.

use crate::diagnosis::causes::catalogue::{Candidate, Cause, candidates};
use crate::diagnosis::expectation::blowing::Blowing;
use crate::diagnosis::expectation::gaussian::Gaussian;
use crate::diagnosis::expectation::noise::Noise;
use crate::diagnosis::expectation::speaking::{Speaking, TriedNote};
use crate::diagnosis::findings::one_cause::{Account, accounts};
use crate::diagnosis::findings::ranking::{Finding, Weighed, pitch_findings};
use crate::diagnosis::findings::telling_note::{TellingNote, telling_note};
use crate::diagnosis::takes::evidence::Evidence;
use crate::diagnosis::weigh::posterior::{Evening, Posterior, weigh};
use crate::diagnosis::work::cuts::OwnOffset;
use crate::instrument::column::LeakPlace;
use crate::instrument::model::Instrument;
use crate::instrument::prediction::PredictedNote;

/// Two places closer than this share of the tube are neighbours when a leak is sought.
const NEAR_SHARE: f64 = 0.05;

/// A leak is worth a bench test from this share of the weight of "nothing is wrong" on: on healthy
/// instruments the share lies about 0.3 (our own simulations), and a test costs a minute.
const WORTH_A_TEST: f64 = 0.4;

/// Findings about pitch and what they leave unexplained.
pub struct Explained {
    /// In falling weight.
    pub findings: Vec<Finding>,
    /// Findings and common part, cents, one a compared note.
    pub shift_cents: Vec<f64>,
    /// The common part alone.
    pub common_cents: Vec<f64>,
    /// What neither explains.
    pub rest_cents: Vec<f64>,
    /// Each compared note's own offset from its prediction and the uncertainty of that, cents: without what
    /// all notes share, and the player's scatter taken out as well as all notes together allow.
    pub own: Vec<OwnOffset>,
    /// What the first register's notes share, cents, causes that pass or can be mended without a cut among
    /// it.
    pub shared_cents: f64,
    /// Where a leak would be likeliest, and how likely any leak is.
    pub leak: Option<(LeakPlace, f64)>,
    /// That anything leaks.
    pub any_leak: f64,
    /// That nothing is wrong with the pitch.
    pub healthy: f64,
    /// Every cause that was weighed, told or not.
    pub accounts: Vec<Account>,
    /// The note that would best tell the likeliest fault from its rival.
    pub telling: Option<TellingNote>,
}

/// Explains the notes' pitches: findings, and what they leave. Nothing leaks at the places that are `tight`.
#[must_use]
pub fn explain(
    instrument: &Instrument,
    predicted: &[PredictedNote],
    evidence: &Evidence,
    noise: &Noise,
    tight: &[LeakPlace],
) -> Explained {
    let nothing = Explained {
        findings: Vec::new(),
        shift_cents: Vec::new(),
        common_cents: Vec::new(),
        rest_cents: Vec::new(),
        own: Vec::new(),
        shared_cents: 0.0,
        leak: None,
        any_leak: 0.0,
        healthy: 0.0,
        accounts: Vec::new(),
        telling: None,
    };
    if noise.fingerings.is_empty() {
        return nothing;
    }
    let Some(gaussian) = Gaussian::new(&noise.covariance(evidence.player_spread_cents)) else {
        return nothing;
    };
    let tried = Speaking::new(tried_notes(instrument, predicted, evidence));
    let mut candidates = candidates(instrument, &tried);
    candidates.retain(|candidate| !matches!(candidate.cause, Cause::Leak(place) if tight.contains(&place)));
    let speaking = tried.log_chance_healthy();
    let posterior = weigh(&evenings(noise, &evidence.spreads()), speaking, &candidates);
    let weighed =
        Weighed { instrument, noise, gaussian: &gaussian, candidates: &candidates, posterior: &posterior };
    let mut caused = vec![0.0; noise.fingerings.len()];
    for &(candidate, shift) in &posterior.best {
        for (sum, cents) in
            caused.iter_mut().zip(candidates[candidate].shifts[shift].cents(posterior.best_blowing))
        {
            *sum += cents;
        }
    }
    let drawn = noise.expected_cents(posterior.best_blowing.usual());
    let left = minus(&minus(&noise.offsets_cents, &drawn), &caused);
    let shared = gaussian.conditional_mean(&noise.common, &left);
    let rest_cents = left.iter().zip(&shared).map(|(l, c)| l - c).collect();
    let common_cents: Vec<f64> = shared.iter().zip(&drawn).map(|(c, drawn)| c + drawn).collect();
    let shift_cents = caused.iter().zip(&common_cents).map(|(a, b)| a + b).collect();
    let (own, shared_cents) = own_and_shared(instrument, noise, &gaussian, &posterior);
    let leak = likeliest_leak(instrument, &candidates, &posterior);
    let findings = pitch_findings(&weighed);
    let telling = telling_note(&weighed, &findings, predicted, evidence);
    Explained {
        findings,
        telling,
        shift_cents,
        common_cents,
        rest_cents,
        own,
        shared_cents,
        leak,
        any_leak: posterior.any_leak,
        healthy: posterior.healthy,
        accounts: accounts(&weighed, speaking),
    }
}

/// Every way to reckon with: how far the player scatters, how strongly the notes were blown.
pub(in crate::diagnosis) fn evenings(noise: &Noise, spreads: &[(f64, f64)]) -> Vec<Evening> {
    let mut evenings = Vec::new();
    for &(spread_cents, spread_share) in spreads {
        for (blowing, blowing_share) in Blowing::with_shares() {
            let Some(gaussian) = Gaussian::new(&noise.covariance(spread_cents)) else { continue };
            evenings.push(Evening {
                blowing,
                noise: gaussian,
                share: spread_share * blowing_share,
                cents: minus(&noise.offsets_cents, &noise.expected_cents(blowing.usual())),
            });
        }
    }
    evenings
}

pub(in crate::diagnosis) fn minus(a: &[f64], b: &[f64]) -> Vec<f64> {
    a.iter().zip(b).map(|(a, b)| a - b).collect()
}

/// The place with most of the leaks' weight on itself and its near neighbours, and the weight of all leaks.
/// `None` while nothing wrong at all is much likelier than any leak.
fn likeliest_leak(
    instrument: &Instrument,
    candidates: &[Candidate],
    posterior: &Posterior,
) -> Option<(LeakPlace, f64)> {
    let leaks: Vec<(LeakPlace, f64)> = candidates
        .iter()
        .zip(&posterior.weights)
        .filter_map(|(candidate, &weight)| match candidate.cause {
            Cause::Leak(place) => Some((place, weight)),
            _ => None,
        })
        .collect();
    let at_mm = |place: LeakPlace| match place {
        LeakPlace::Hole(index) => instrument.holes[index].at_mm,
        LeakPlace::Site(index) => instrument.leak_sites[index].at_mm,
    };
    let near_mm = NEAR_SHARE * instrument.length_mm();
    let around = |place: LeakPlace| -> f64 {
        leaks.iter().filter(|(other, _)| (at_mm(*other) - at_mm(place)).abs() <= near_mm).map(|l| l.1).sum()
    };
    let likely = posterior.any_leak > WORTH_A_TEST * posterior.healthy;
    leaks
        .iter()
        .filter(|_| likely)
        .max_by(|a, b| (a.1 + around(a.0)).total_cmp(&(b.1 + around(b.0))))
        .map(|&(place, _)| (place, posterior.any_leak))
}

/// The notes that spoke or failed to, in the file's order.
fn tried_notes(instrument: &Instrument, predicted: &[PredictedNote], evidence: &Evidence) -> Vec<TriedNote> {
    evidence
        .notes
        .iter()
        .filter_map(|note| {
            let base_hz = predicted[note.fingering].predicted_hz?;
            Some(TriedNote {
                fingering: note.fingering,
                register: instrument.fingerings[note.fingering].register,
                base_hz,
                spoke: note.spoke()?,
                tone_over_noise_db: note.tone_over_noise_db,
            })
        })
        .collect()
}

/// Mean over the notes that cuts are judged by, cents.
fn first_register_mean(instrument: &Instrument, noise: &Noise, cents: &[f64]) -> f64 {
    let first = noise.fingerings.iter().zip(cents);
    let first = first.filter(|(f, _)| instrument.fingerings[**f].register == 1);
    mean(&first.map(|(_, cents)| *cents).collect::<Vec<f64>>())
}

/// What each note does by itself with the uncertainty of that, and what the first register shares, cents: the
/// mean of all explanations, not the best one alone, since a cut can't be taken back.
fn own_and_shared(
    instrument: &Instrument,
    noise: &Noise,
    gaussian: &Gaussian,
    posterior: &Posterior,
) -> (Vec<OwnOffset>, f64) {
    let to_cut = &posterior.to_cut;
    let drawn = noise.expected_cents(posterior.usual);
    let left = minus(&minus(&noise.offsets_cents, &drawn), &posterior.caused_cents);
    let passing = minus(&posterior.caused_cents, &to_cut.mean_cents);
    let steady = gaussian.conditional_mean(&noise.instrument, &left);
    let rest: Vec<f64> = steady.iter().zip(&drawn).map(|(rest, drawn)| rest + drawn).collect();
    // What one note says may as well be its own as everyone's; many notes say what is everyone's.
    let first_register =
        noise.fingerings.iter().filter(|f| instrument.fingerings[**f].register == 1).count() as f64;
    let alike = first_register_mean(instrument, noise, &rest) * first_register / (first_register + 1.0);
    let shared_cents = alike + first_register_mean(instrument, noise, &passing);
    let own = to_cut
        .mean_cents
        .iter()
        .zip(&to_cut.sd_cents)
        .zip(&rest)
        .zip(gaussian.conditional_sd(&noise.instrument))
        .zip(&noise.takes)
        .map(|((((cause, cause_sd), rest), sd), &takes)| OwnOffset {
            cents: cause + rest - alike,
            sd_cents: sd.hypot(*cause_sd),
            takes,
        })
        .collect();
    (own, shared_cents)
}

/// Arithmetic mean; 0 of nothing.
#[must_use]
pub(in crate::diagnosis) fn mean(values: &[f64]) -> f64 {
    if values.is_empty() { 0.0 } else { values.iter().sum::<f64>() / values.len() as f64 }
}
