//! How well each cause, alone or with a second, explains the notes: posterior weights.
//!
//! Every explanation is one cause, a pair, or nothing at all. Its marginal likelihood integrates over
//! the causes' sizes, so that a cause that could have made any pattern earns less than one that
//! could only have made this (D. J. C. MacKay, *Information Theory, Inference, and Learning
//! Algorithms*, 2003, ch. 28; from memory). Knows of the causes only which are
//! leaks.

use crate::diagnosis::beliefs::expectation::LEAST_INEXACT_CENTS;
use crate::diagnosis::causes::catalogue::Cause;
use crate::diagnosis::causes::effect::Candidate;
use crate::diagnosis::expectation::blowing::Blowing;
use crate::diagnosis::expectation::gaussian::Gaussian;
use crate::diagnosis::weigh::abreast::{ABREAST, Abreast};
use crate::diagnosis::weigh::slips::Slips;

/// One way the evening may have gone, whatever is wrong with the instrument.
pub struct Evening {
    /// Spread of the player's single takes, cents.
    pub spread_cents: f64,
    /// How strongly was blown: causes leave other marks on soft notes.
    pub blowing: Blowing,
    /// How far the notes may be off.
    pub noise: Gaussian,
    /// Share of prior belief.
    pub share: f64,
    /// Measured minus what is expected of an instrument with nothing wrong, cents.
    pub cents: Vec<f64>,
}

/// Posterior of all explanations.
#[derive(Debug, Clone, PartialEq)]
pub struct Posterior {
    /// That nothing is wrong.
    pub healthy: f64,
    /// For each candidate: that it is at work, alone or with another.
    pub weights: Vec<f64>,
    /// For each candidate: mean size, given that it is at work.
    pub amounts: Vec<f64>,
    /// That any leak is at work.
    pub any_leak: f64,
    /// The single best explanation: candidates with the index of their best shift …
    pub best: Vec<(usize, usize)>,
    /// … and how it has the notes blown.
    pub best_blowing: Blowing,
    /// That the notes were blown as usual, not softly.
    pub usual: f64,
    /// What all causes together do to each compared note, cents, the mean of all explanations.
    pub caused_cents: Vec<f64>,
    /// Explanations drawn from the posterior, each once; their weights add up to 1.
    pub sample: Vec<Explanation>,
}

/// One explanation of the notes.
#[derive(Debug, Clone, PartialEq)]
pub struct Explanation {
    /// Share of the draws.
    pub weight: f64,
    /// Index of the evening.
    pub evening: usize,
    /// Candidates, each with the index of its shift; none: nothing is wrong.
    pub causes: Vec<(usize, usize)>,
}

/// Weighs all explanations in each of the `evenings` (at least one, all of the same notes); `takes` are the numbers of
/// takes of each note, `log_speaking` is the log chance of how the notes spoke when nothing is wrong.
#[must_use]
pub fn weigh(evenings: &[Evening], takes: &[f64], log_speaking: f64, candidates: &[Candidate]) -> Posterior {
    let mut tally = Tally::new(candidates, evenings.first().map_or(0, |evening| evening.cents.len()));
    for (index, evening) in evenings.iter().enumerate() {
        tally.evening = index;
        tally.blowing = evening.blowing;
        weigh_in(evening, takes, log_speaking, candidates, &mut tally);
    }
    tally.posterior()
}

/// One cause at one size in one evening.
struct Single {
    candidate: usize,
    shift: usize,
    /// Log of prior and likelihood against "nothing is wrong", without slips.
    log: f64,
}

/// Adds all explanations of one evening.
fn weigh_in(
    evening: &Evening,
    takes: &[f64],
    log_speaking: f64,
    candidates: &[Candidate],
    tally: &mut Tally<'_>,
) {
    let Evening { blowing, noise, share, cents, .. } = evening;
    let nothing = share.ln() + noise.log_density(cents);
    let offsets = noise.whiten(cents);
    let slips = Slips::new(noise, cents, takes);
    let mut singles: Vec<Single> = Vec::new();
    // Whitened shifts, and the pull of each on the notes' own residuals.
    let (mut whitened, mut pulls): (Vec<Vec<f64>>, Vec<Vec<f64>>) = (Vec::new(), Vec::new());
    for (c, candidate) in candidates.iter().enumerate() {
        for (k, shift) in candidate.shifts.iter().enumerate() {
            let weight = shift.weight(*blowing);
            if weight <= 0.0 {
                continue;
            }
            let marks = noise.whiten(shift.cents(*blowing));
            // Prior × likelihood ratio against "nothing": y·s − s·s/2.
            let log = (candidate.odds * weight).ln() + shift.log_speaking - log_speaking
                + dot(&offsets, &marks)
                - 0.5 * dot(&marks, &marks);
            singles.push(Single { candidate: c, shift: k, log });
            pulls.push(slips.scaled(&noise.unwhiten(&marks)));
            whitened.push(marks);
        }
    }
    tally.add(&[], nothing + slips.after(&[]));
    for (single, pull) in singles.iter().zip(&pulls) {
        let cause = candidates[single.candidate].cause;
        let shift = candidates[single.candidate].shifts[single.shift].cents(*blowing);
        let gain = inexact(noise, cents, shift, cause.model_share());
        // What is put down to inexact marks is not put down to a slip as well.
        let doubts = gain.max(slips.after(&[pull]));
        tally.add(&[(single.candidate, single.shift)], nothing + single.log + doubts);
    }
    let (whitened_rows, pull_rows) = (Abreast::new(&whitened), Abreast::new(&pulls));
    for (i, a) in singles.iter().enumerate() {
        let left = slips.left_by(&pulls[i]);
        for rank in i / ABREAST..whitened_rows.ranks() {
            let products = whitened_rows.products(rank, &whitened[i]);
            let most = slips.most(&left, pull_rows.of(rank));
            let first = rank * ABREAST;
            for (j, b) in
                singles.iter().enumerate().skip((i + 1).max(first)).take_while(|(j, _)| *j < first + ABREAST)
            {
                if a.candidate == b.candidate {
                    continue;
                }
                // |s1 + s2|² has twice their product besides their own squares.
                let log = nothing + a.log + b.log - products[j - first];
                if log + most[j - first] > tally.largest_log - NEGLIGIBLE {
                    let causes = [(a.candidate, a.shift), (b.candidate, b.shift)];
                    tally.add(&causes, log + slips.after(&[&pulls[i], &pulls[j]]));
                }
            }
        }
    }
}

/// What it adds to the log likelihood of one cause that its marks are known to a share of themselves only, note by note:
/// `cents` are the notes, `shift` the marks. Marks that are small beside the noise make no difference.
fn inexact(noise: &Gaussian, cents: &[f64], shift: &[f64], share: f64) -> f64 {
    let largest = shift.iter().map(|cents| cents.abs()).fold(0.0, f64::max);
    if share * largest < LEAST_INEXACT_CENTS {
        return 0.0;
    }
    let scales: Vec<f64> = shift.iter().map(|cents| share * cents).collect();
    let rest: Vec<f64> = cents.iter().zip(shift).map(|(cents, shift)| cents - shift).collect();
    noise.with_scatter(&scales).map_or(0.0, |wider| wider.log_density(&rest) - noise.log_density(&rest))
}

/// An explanation whose log weight lies this far below the best so far is left out: a hundred thousand of them would not
/// add a thousandth.
const NEGLIGIBLE: f64 = 18.0;

/// An explanation whose weight is below this share of the best one's so far adds nothing to the notes' means.
const LIGHT: f64 = 1e-7;

/// Sums explanations by the causes they hold, scaled by the largest seen so far.
struct Tally<'a> {
    candidates: &'a [Candidate],
    /// The evening whose explanations are being added.
    evening: usize,
    blowing: Blowing,
    largest_log: f64,
    total: f64,
    healthy: f64,
    usual: f64,
    weights: Vec<f64>,
    amounts: Vec<f64>,
    any_leak: f64,
    best: (f64, Vec<(usize, usize)>, Blowing),
    caused: Vec<f64>,
    /// The explanations so far that are heavy enough to be drawn.
    kept: Vec<Kept>,
}

/// An explanation with its log; at most two causes.
#[derive(Clone, Copy)]
struct Kept {
    log: f64,
    evening: usize,
    count: usize,
    causes: [(usize, usize); 2],
}

/// Explanations whose log weight lies farther than this below the best are never drawn.
const KEPT_DEPTH: f64 = 7.0;
/// Number of explanations that are drawn.
const DRAWN: usize = 320;
/// Each time this many were kept, those too light to be drawn are dropped.
const MOST_KEPT: usize = 100_000;

impl<'a> Tally<'a> {
    fn new(candidates: &'a [Candidate], notes: usize) -> Tally<'a> {
        Tally {
            candidates,
            evening: 0,
            blowing: Blowing::Usual,
            largest_log: f64::NEG_INFINITY,
            total: 0.0,
            healthy: 0.0,
            usual: 0.0,
            weights: vec![0.0; candidates.len()],
            amounts: vec![0.0; candidates.len()],
            any_leak: 0.0,
            best: (f64::NEG_INFINITY, Vec::new(), Blowing::Usual),
            caused: vec![0.0; notes],
            kept: Vec::new(),
        }
    }

    fn add(&mut self, explanation: &[(usize, usize)], log: f64) {
        if log > self.largest_log {
            self.scale((self.largest_log - log).exp());
            self.largest_log = log;
        }
        if log > self.best.0 {
            self.best = (log, explanation.to_vec(), self.blowing);
        }
        let weight = (log - self.largest_log).exp();
        self.total += weight;
        if self.blowing == Blowing::Usual {
            self.usual += weight;
        }
        if explanation.is_empty() {
            self.healthy += weight;
        }
        let is_leak = |&(c, _): &(usize, usize)| matches!(self.candidates[c].cause, Cause::Leak(_));
        if explanation.iter().any(is_leak) {
            self.any_leak += weight;
        }
        for &(candidate, shift) in explanation {
            self.weights[candidate] += weight;
            self.amounts[candidate] += weight * self.candidates[candidate].shifts[shift].amount;
        }
        if weight > LIGHT {
            self.add_notes(explanation, weight);
        }
        if log > self.largest_log - KEPT_DEPTH {
            let mut causes = [(0, 0); 2];
            causes.iter_mut().zip(explanation).for_each(|(slot, cause)| *slot = *cause);
            self.kept.push(Kept { log, evening: self.evening, count: explanation.len(), causes });
            if self.kept.len().is_multiple_of(MOST_KEPT) {
                let least = self.largest_log - KEPT_DEPTH;
                self.kept.retain(|kept| kept.log > least);
            }
        }
    }

    fn add_notes(&mut self, explanation: &[(usize, usize)], weight: f64) {
        for note in 0..self.caused.len() {
            let cents = |&(candidate, shift): &(usize, usize)| {
                self.candidates[candidate].shifts[shift].cents(self.blowing)[note]
            };
            self.caused[note] += weight * explanation.iter().map(cents).sum::<f64>();
        }
    }

    /// Draws from the kept explanations at even steps of their summed weight (systematic sampling: J. S. Liu & R. Chen,
    /// J. Am. Stat. Assoc. 93 (1998) 1032, from memory), so that the same takes give the same draws.
    fn sample(&self) -> Vec<Explanation> {
        let weight = |kept: &Kept| (kept.log - self.largest_log).exp();
        let total: f64 = self.kept.iter().map(weight).sum();
        let step = total / DRAWN as f64;
        let (mut below, mut next) = (0.0, 0.5 * step);
        let mut sample = Vec::new();
        for kept in &self.kept {
            below += weight(kept);
            let mut draws = 0;
            while next < below {
                draws += 1;
                next += step;
            }
            if draws > 0 {
                sample.push(Explanation {
                    weight: f64::from(draws) / DRAWN as f64,
                    evening: kept.evening,
                    causes: kept.causes[..kept.count].to_vec(),
                });
            }
        }
        sample
    }

    fn scale(&mut self, by: f64) {
        self.total *= by;
        self.healthy *= by;
        self.usual *= by;
        self.any_leak *= by;
        for value in [&mut self.weights, &mut self.amounts, &mut self.caused].into_iter().flatten() {
            *value *= by;
        }
    }

    fn posterior(self) -> Posterior {
        let sample = self.sample();
        let share = |sums: &[f64]| -> Vec<f64> { sums.iter().map(|sum| sum / self.total).collect() };
        let amount = |(amount, weight): (&f64, &f64)| if *weight > 0.0 { amount / weight } else { 0.0 };
        Posterior {
            healthy: self.healthy / self.total,
            weights: share(&self.weights),
            amounts: self.amounts.iter().zip(&self.weights).map(amount).collect(),
            any_leak: self.any_leak / self.total,
            best: self.best.1,
            best_blowing: self.best.2,
            usual: self.usual / self.total,
            caused_cents: share(&self.caused),
            sample,
        }
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}
