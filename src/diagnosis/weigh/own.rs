//! Where each note lies by itself: what the instrument does to it, over all explanations of the takes, without the player's
//! scatter and without what all notes share.
//!
//! Must not know targets, cuts' order, files or the terminal.

use crate::diagnosis::causes::effect::Candidates;
use crate::diagnosis::expectation::gaussian::Gaussian;
use crate::diagnosis::expectation::noise::Noise;
use crate::diagnosis::weigh::lists::{mean, minus};
use crate::diagnosis::weigh::posterior::{Evening, Explanation, Posterior};
use crate::instrument::model::Instrument;

/// How far a note stays from its prediction by itself, without what all notes share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OwnOffset {
    /// Cents above the prediction.
    pub cents: f64,
    /// Standard uncertainty of that, cents.
    pub sd_cents: f64,
    /// What its takes alone say, with the player's scatter and what all notes share, cents above the prediction.
    pub played_cents: f64,
    /// How many takes it rests on.
    pub takes: f64,
    /// What all other notes alone expect of it: cents and standard uncertainty.
    pub without_its_take: (f64, f64),
}

/// Where all notes lie.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct OwnOffsets {
    /// One entry a note that was compared on the instrument as it is.
    pub notes: Vec<OwnOffset>,
    /// What the first register's notes share, cents, with what passes or can be mended without a cut.
    pub shared_cents: f64,
}

/// One explanation's account of the notes, cents.
struct Told {
    weight: f64,
    /// Index of the evening.
    evening: usize,
    /// Without what the first register shares of the rest.
    own_cents: Vec<f64>,
    /// Without all that the first register shares: whether a cause or the rest explains that is no matter for a cut.
    beside_others_cents: Vec<f64>,
    /// What passes or can be mended without a cut.
    passing_cents: Vec<f64>,
    /// What the first register shares of the rest.
    rest_shared_cents: f64,
}

/// The mean over all explanations, since a cut can't be taken back, and how far they differ. A cause that is put down and
/// one that is not often tell the same of a note: what the one leaves to the rest, the other explains.
#[must_use]
pub fn own_offsets(
    instrument: &Instrument,
    noise: &Noise,
    evenings: &[Evening],
    candidates: &Candidates,
    posterior: &Posterior,
) -> OwnOffsets {
    let variances: Vec<Vec<f64>> = evenings
        .iter()
        .map(|evening| evening.noise.conditional_sd(&noise.instrument).iter().map(|sd| sd * sd).collect())
        .collect();
    let told: Vec<Told> = posterior
        .sample
        .iter()
        .map(|explanation| told(instrument, noise, &evenings[explanation.evening], candidates, explanation))
        .collect();
    let over_all = |of: &dyn Fn(&Told) -> f64| told.iter().map(|one| one.weight * of(one)).sum::<f64>();
    let passing: Vec<f64> =
        (0..noise.fingerings.len()).map(|i| over_all(&|one| one.passing_cents[i])).collect();
    let rest_shared_cents = over_all(&|one| one.rest_shared_cents);
    let shared_cents = rest_shared_cents + first_register_mean(instrument, noise, &passing);
    let alone = without_own_take(noise, evenings, posterior, &passing);
    let notes = (0..noise.ordinary())
        .map(|i| {
            let cents = over_all(&|one| one.own_cents[i]);
            let beside = over_all(&|one| one.beside_others_cents[i]);
            let variance =
                over_all(&|one| (one.beside_others_cents[i] - beside).powi(2) + variances[one.evening][i]);
            let sd_cents = variance.sqrt();
            let (alone_cents, alone_sd_cents) = alone[i];
            let without_its_take = (alone_cents - rest_shared_cents, alone_sd_cents);
            let played_cents = noise.offsets_cents[i];
            OwnOffset { cents, sd_cents, played_cents, takes: noise.takes[i], without_its_take }
        })
        .collect();
    OwnOffsets { notes, shared_cents }
}

fn told(
    instrument: &Instrument,
    noise: &Noise,
    evening: &Evening,
    candidates: &Candidates,
    explanation: &Explanation,
) -> Told {
    let drawn = noise.expected_cents(evening.blowing.usual());
    let (mut stays, mut passing) = (vec![0.0; drawn.len()], vec![0.0; drawn.len()]);
    for &(candidate, shift) in &explanation.causes {
        let candidate = &candidates.all[candidate];
        let sum = if candidate.cause.passes() { &mut passing } else { &mut stays };
        for (sum, cents) in sum.iter_mut().zip(candidate.shifts[shift].cents(evening.blowing)) {
            *sum += cents;
        }
    }
    let left = minus(&minus(&evening.cents, &stays), &passing);
    let steady = evening.noise.conditional_mean(&noise.instrument, &left);
    let rest: Vec<f64> = steady.iter().zip(&drawn).map(|(steady, drawn)| steady + drawn).collect();
    let lasting: Vec<f64> = rest.iter().zip(&stays).map(|(rest, stays)| rest + stays).collect();
    // What one note says may as well be its own as everyone's; many notes say what is everyone's.
    let notes = first_register(instrument, noise).count() as f64;
    let rest_shared = first_register_mean(instrument, noise, &rest) * notes / (notes + 1.0);
    let shared = first_register_mean(instrument, noise, &lasting);
    Told {
        weight: explanation.weight,
        evening: explanation.evening,
        beside_others_cents: lasting.iter().map(|cents| cents - shared).collect(),
        own_cents: lasting.iter().map(|cents| cents - rest_shared).collect(),
        passing_cents: passing,
        rest_shared_cents: rest_shared,
    }
}

/// The compared notes of the first register.
fn first_register<'a>(instrument: &'a Instrument, noise: &'a Noise) -> impl Iterator<Item = usize> + 'a {
    (0..noise.fingerings.len()).filter(|&i| instrument.fingerings[noise.fingerings[i]].register == 1)
}

/// Mean over the notes that cuts are judged by, cents.
fn first_register_mean(instrument: &Instrument, noise: &Noise, cents: &[f64]) -> f64 {
    mean(&first_register(instrument, noise).map(|i| cents[i]).collect::<Vec<f64>>())
}

/// What all other notes expect of each note, and how surely, cents: a Gaussian's leave-one-out prediction
/// (C. E. Rasmussen & C. K. I. Williams, *Gaussian Processes for Machine Learning*, 2006, eq. 5.12, from memory).
fn without_own_take(
    noise: &Noise,
    evenings: &[Evening],
    posterior: &Posterior,
    passing_cents: &[f64],
) -> Vec<(f64, f64)> {
    let Some(likeliest) = posterior.sample.iter().max_by(|a, b| a.weight.total_cmp(&b.weight)) else {
        return vec![(0.0, 0.0); noise.ordinary()];
    };
    let gaussian: &Gaussian = &evenings[likeliest.evening].noise;
    let drawn = noise.expected_cents(posterior.usual);
    let cents = minus(&minus(&noise.offsets_cents, &drawn), passing_cents);
    let solved = gaussian.unwhiten(&gaussian.whiten(&cents));
    let precision = gaussian.precision_diagonal();
    let spread_cents = evenings[likeliest.evening].spread_cents;
    // What the evening did to a note is none of the instrument's.
    let of_its_evening = |i: usize| {
        let between = &noise.between_evenings[i];
        if between.iter().all(|covariance| *covariance == 0.0) {
            return 0.0;
        }
        let unit: Vec<f64> = (0..cents.len()).map(|j| if i == j { 1.0 } else { 0.0 }).collect();
        let own = gaussian.unwhiten(&gaussian.whiten(&unit));
        let share = solved[i] / own[i];
        let of_others = solved.iter().zip(&own).map(|(solved, own)| solved - share * own);
        between.iter().zip(of_others).map(|(between, solved)| between * solved).sum::<f64>()
    };
    (0..noise.ordinary())
        .map(|i| {
            // The next take would scatter besides.
            let variance = precision[i].recip() - spread_cents * spread_cents / noise.takes[i];
            let expected_cents = cents[i] - solved[i] / precision[i] + drawn[i] - of_its_evening(i);
            (expected_cents, variance.max(0.0).sqrt())
        })
        .collect()
}
