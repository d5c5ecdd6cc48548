//! Why the notes sound as they do: the causes of pitch weighed against each other, and what is left of each
//! note when they are taken out.
//!
//! Must not know cuts' order, tone, files or the terminal.

use crate::diagnosis::beliefs::{EAR_UNCHANGED, FEELER_LEAKS, FEELER_TIGHT};
use crate::diagnosis::causes::catalogue::Cause;
use crate::diagnosis::causes::effect::{Candidates, Progress, candidates};
use crate::diagnosis::expectation::blowing::Blowing;
use crate::diagnosis::expectation::gaussian::Gaussian;
use crate::diagnosis::expectation::noise::Noise;
use crate::diagnosis::expectation::speaking::{Speaking, TriedNote};
use crate::diagnosis::findings::one_cause::{Account, accounts};
use crate::diagnosis::findings::ranking::{Finding, Weighed, pitch_findings};
use crate::diagnosis::findings::telling_note::{TellingNote, telling_note};
use crate::diagnosis::takes::condition::{Bench, Found, FoundPlace};
use crate::diagnosis::takes::evidence::Evidence;
use crate::diagnosis::weigh::lists::minus;
use crate::diagnosis::weigh::own::{OwnOffsets, own_offsets};
use crate::diagnosis::weigh::posterior::{Evening, Posterior, weigh};

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
    /// Where each note lies by itself.
    pub own: OwnOffsets,
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
pub fn explain(
    bench: &Bench<'_>,
    evidence: &Evidence,
    noise: &Noise,
    found: &[Found],
    progress: Option<Progress<'_>>,
) -> Explained {
    let nothing = Explained {
        findings: Vec::new(),
        shift_cents: Vec::new(),
        common_cents: Vec::new(),
        rest_cents: Vec::new(),
        own: OwnOffsets::default(),
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
    let mut candidates = candidates(bench, &tried, progress);
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
    let own = own_offsets(bench.instrument, noise, &evenings, &candidates, &posterior);
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
