//! Why the notes sound as they do: the causes of pitch weighed against each other, and what is left of each
//! note when they are taken out.
//!
//! Must not know cuts' order, tone, files or the terminal.

use crate::diagnosis::beliefs::{EAR_UNCHANGED, FEELER_LEAKS, FEELER_TIGHT};
use crate::diagnosis::causes::catalogue::Cause;
use crate::diagnosis::causes::effect::{Candidates, candidates};
use crate::diagnosis::expectation::blowing::Blowing;
use crate::diagnosis::expectation::gaussian::Gaussian;
use crate::diagnosis::expectation::noise::Noise;
use crate::diagnosis::expectation::speaking::{Speaking, TriedNote};
use crate::diagnosis::findings::one_cause::{Account, accounts};
use crate::diagnosis::findings::ranking::{Finding, Weighed, pitch_findings};
use crate::diagnosis::findings::telling_note::{TellingNote, telling_note};
use crate::diagnosis::takes::condition::{Bench, Found, FoundPlace};
use crate::diagnosis::takes::evidence::Evidence;
use crate::diagnosis::weigh::posterior::{Evening, Posterior, weigh};
use crate::diagnosis::work::cuts::OwnOffset;
use crate::instrument::model::Instrument;

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
    /// Every cause that was weighed, reported or not.
    pub accounts: Vec<Account>,
    /// The note that would best tell the likeliest fault from its rival.
    pub telling: Option<TellingNote>,
    /// How everything was weighed; `None` without comparable notes.
    pub weighing: Option<Weighing>,
}

/// The causes with the evenings that they were weighed in.
pub struct Weighing {
    /// What was weighed.
    pub candidates: Candidates,
    /// How the evening may have gone.
    pub evenings: Vec<Evening>,
    /// The result.
    pub posterior: Posterior,
}

/// Explains the notes' pitches: findings, and what they leave.
#[must_use]
pub fn explain(bench: &Bench<'_>, evidence: &Evidence, noise: &Noise, found: &[Found]) -> Explained {
    let nothing = Explained {
        findings: Vec::new(),
        shift_cents: Vec::new(),
        common_cents: Vec::new(),
        rest_cents: Vec::new(),
        own: Vec::new(),
        shared_cents: 0.0,
        accounts: Vec::new(),
        telling: None,
        weighing: None,
    };
    if noise.fingerings.is_empty() {
        return nothing;
    }
    let Some(gaussian) = Gaussian::new(&noise.covariance(evidence.player_spread_cents)) else {
        return nothing;
    };
    let tried = Speaking::new(tried_notes(bench, evidence, found));
    let mut candidates = candidates(bench, &tried);
    for candidate in &mut candidates.all {
        candidate.odds *= found_ratio(candidate.cause, found);
    }
    let speaking = tried.log_chance_healthy();
    let evenings = evenings(noise, &evidence.spreads());
    let posterior = weigh(&evenings, &noise.takes, speaking, &candidates.all);
    let weighed = Weighed {
        instrument: bench.instrument,
        noise,
        gaussian: &gaussian,
        candidates: &candidates.all,
        posterior: &posterior,
    };
    let mut caused = vec![0.0; noise.fingerings.len()];
    for &(candidate, shift) in &posterior.best {
        let cents = candidates.all[candidate].shifts[shift].cents(posterior.best_blowing);
        for (sum, cents) in caused.iter_mut().zip(cents) {
            *sum += cents;
        }
    }
    let drawn = noise.expected_cents(posterior.best_blowing.usual());
    let left = minus(&minus(&noise.offsets_cents, &drawn), &caused);
    let shared = gaussian.conditional_mean(&noise.common, &left);
    let rest_cents = left.iter().zip(&shared).map(|(l, c)| l - c).collect();
    let common_cents: Vec<f64> = shared.iter().zip(&drawn).map(|(c, drawn)| c + drawn).collect();
    let shift_cents = caused.iter().zip(&common_cents).map(|(a, b)| a + b).collect();
    let (own, shared_cents) = own_and_shared(bench.instrument, noise, &gaussian, &posterior);
    let findings = pitch_findings(&weighed);
    let telling = telling_note(&weighed, &findings, bench.predicted, evidence);
    let accounts = accounts(&weighed, speaking);
    Explained {
        findings,
        telling,
        shift_cents,
        common_cents,
        rest_cents,
        own,
        shared_cents,
        accounts,
        weighing: Some(Weighing { candidates, evenings, posterior }),
    }
}

/// How much likelier what was found without recordings makes a leak at its place, beside no leak there.
fn found_ratio(cause: Cause, found: &[Found]) -> f64 {
    let Cause::Leak(place) = cause else { return 1.0 };
    let here = found.iter().filter_map(|found| match found {
        Found::Place(other, what) if *other == place => Some(*what),
        _ => None,
    });
    here.map(|what| {
        let (leaks, sound) = match what {
            FoundPlace::Leaks => FEELER_LEAKS,
            FoundPlace::Tight => FEELER_TIGHT,
            FoundPlace::Unchanged => EAR_UNCHANGED,
        };
        leaks / sound
    })
    .product()
}

/// All playing scenarios (the player's spread × how strongly the notes were blown) with their prior shares.
pub(in crate::diagnosis) fn evenings(noise: &Noise, spreads: &[(f64, f64)]) -> Vec<Evening> {
    let mut evenings = Vec::new();
    for &(spread_cents, spread_share) in spreads {
        for (blowing, blowing_share) in Blowing::with_shares() {
            let Some(gaussian) = Gaussian::new(&noise.covariance(spread_cents)) else { continue };
            evenings.push(Evening {
                spread_cents,
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

/// The notes that spoke or failed to: first the instrument as it is, then the tests.
fn tried_notes(bench: &Bench<'_>, evidence: &Evidence, found: &[Found]) -> Vec<TriedNote> {
    let tried = evidence.notes.iter().chain(&evidence.tests);
    tried
        .filter_map(|note| {
            let base_hz = bench.predicted_under(note.condition).get(note.fingering)?.predicted_hz?;
            // Without a prediction of its own a note is not compared either.
            bench.predicted[note.fingering].predicted_hz?;
            let is_heard = |found: &Found| {
                note.condition == 0
                    && matches!(found, Found::Note(fingering, _) if *fingering == note.fingering)
            };
            Some(TriedNote {
                fingering: note.fingering,
                condition: note.condition,
                register: bench.instrument.fingerings[note.fingering].register,
                base_hz,
                spoke: note.spoke()?,
                tone_over_noise_db: note.tone_over_noise_db,
                heard_badly: found.iter().any(is_heard),
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
    let rest_shared = first_register_mean(instrument, noise, &rest) * first_register / (first_register + 1.0);
    let shared_cents = rest_shared + first_register_mean(instrument, noise, &passing);
    let alone = without_own_take(noise, gaussian, &minus(&minus(&noise.offsets_cents, &drawn), &passing));
    let sd_cents = gaussian.conditional_sd(&noise.instrument);
    let own = (0..noise.ordinary())
        .map(|i| OwnOffset {
            cents: to_cut.mean_cents[i] + rest[i] - rest_shared,
            sd_cents: sd_cents[i].hypot(to_cut.sd_cents[i]),
            takes: noise.takes[i],
            without_its_take: (alone[i].0 + drawn[i] - rest_shared, alone[i].1),
        })
        .collect();
    (own, shared_cents)
}

/// What all other notes expect of each note, and how surely, cents: a Gaussian's leave-one-out prediction
/// (C. E. Rasmussen & C. K. I. Williams, *Gaussian Processes for Machine Learning*, 2006, eq. 5.12, from memory).
fn without_own_take(noise: &Noise, gaussian: &Gaussian, cents: &[f64]) -> Vec<(f64, f64)> {
    let solved = gaussian.unwhiten(&gaussian.whiten(cents));
    let precision = gaussian.precision_diagonal();
    let notes = cents.iter().zip(&solved).zip(&precision);
    notes.take(noise.ordinary()).map(|((cents, solved), q)| (cents - solved / q, q.recip().sqrt())).collect()
}

/// Arithmetic mean; 0 of nothing.
#[must_use]
pub(in crate::diagnosis) fn mean(values: &[f64]) -> f64 {
    if values.is_empty() { 0.0 } else { values.iter().sum::<f64>() / values.len() as f64 }
}
