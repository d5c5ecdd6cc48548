//! How well each cause, alone or with a second, explains the notes: posterior weights.
//!
//! Every explanation is one cause, a pair, or nothing at all. Its marginal likelihood integrates over
//! the causes' sizes, so that a cause that could have made any pattern earns less than one that
//! could only have made this (D. J. C. MacKay, *Information Theory, Inference, and Learning
//! Algorithms*, 2003, ch. 28; from memory). Knows of the causes only which are leaks
//! and which a cut may serve.

use crate::diagnosis::causes::catalogue::{Candidate, Cause};
use crate::diagnosis::expectation::blowing::Blowing;
use crate::diagnosis::expectation::gaussian::Gaussian;

/// One way the evening may have gone, whatever is wrong with the instrument.
pub struct Evening {
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
    /// The same of the causes that a cut may serve.
    pub to_cut: Spread,
}

/// A figure for each compared note, as all explanations together give it.
#[derive(Debug, Clone, PartialEq)]
pub struct Spread {
    /// Means, cents.
    pub mean_cents: Vec<f64>,
    /// How far the explanations differ from that, root mean square, cents.
    pub sd_cents: Vec<f64>,
}

/// Weighs all explanations in each of the `evenings` (at least one, all of the same notes); `log_speaking` is
/// the log chance of how the notes spoke when nothing is wrong.
#[must_use]
pub fn weigh(evenings: &[Evening], log_speaking: f64, candidates: &[Candidate]) -> Posterior {
    let mut tally = Tally::new(candidates, evenings.first().map_or(0, |evening| evening.cents.len()));
    for evening in evenings {
        tally.blowing = evening.blowing;
        weigh_in(evening, log_speaking, candidates, &mut tally);
    }
    tally.posterior()
}

/// Adds all explanations of one evening.
fn weigh_in(evening: &Evening, log_speaking: f64, candidates: &[Candidate], tally: &mut Tally<'_>) {
    let Evening { blowing, noise, share, cents } = evening;
    let nothing = share.ln() + noise.log_density(cents);
    let offsets = noise.whiten(cents);
    let whiten = |candidate: &Candidate| -> Vec<Vec<f64>> {
        candidate.shifts.iter().map(|shift| noise.whiten(shift.cents(*blowing))).collect()
    };
    let whitened: Vec<Vec<Vec<f64>>> = candidates.iter().map(whiten).collect();
    // log of prior × likelihood ratio against "nothing": y·s − s·s/2
    let single = |c: usize, k: usize| {
        let shift = &whitened[c][k];
        let prior = (candidates[c].odds * candidates[c].shifts[k].weight(*blowing)).ln();
        let speaking = candidates[c].shifts[k].log_speaking - log_speaking;
        prior + speaking + dot(&offsets, shift) - 0.5 * dot(shift, shift)
    };
    let counts = |&(c, k): &(usize, usize)| candidates[c].shifts[k].weight(*blowing) > 0.0;
    let singles: Vec<Vec<(usize, f64)>> = (0..candidates.len())
        .map(|c| {
            let shifts = (0..candidates[c].shifts.len()).map(|k| (c, k)).filter(counts);
            shifts.map(|(c, k)| (k, single(c, k))).collect()
        })
        .collect();
    tally.add(&[], nothing);
    for (c, row) in singles.iter().enumerate() {
        for &(k, log) in row {
            tally.add(&[(c, k)], nothing + log);
        }
    }
    for a in 0..candidates.len() {
        for b in a + 1..candidates.len() {
            for &(k, log_a) in &singles[a] {
                for &(m, log_b) in &singles[b] {
                    // |s1 + s2|² has twice their product besides their own squares.
                    let together = log_a + log_b - dot(&whitened[a][k], &whitened[b][m]);
                    tally.add(&[(a, k), (b, m)], nothing + together);
                }
            }
        }
    }
}

/// An explanation lighter than this beside the best so far adds nothing to the notes' means.
const LIGHT: f64 = 1e-7;

/// Sums explanations by the causes they hold, scaled by the largest seen so far.
struct Tally<'a> {
    candidates: &'a [Candidate],
    /// Of the evening whose explanations are being added.
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
    to_cut: Vec<f64>,
    to_cut_squares: Vec<f64>,
}

impl<'a> Tally<'a> {
    fn new(candidates: &'a [Candidate], notes: usize) -> Tally<'a> {
        Tally {
            candidates,
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
            to_cut: vec![0.0; notes],
            to_cut_squares: vec![0.0; notes],
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
    }

    fn add_notes(&mut self, explanation: &[(usize, usize)], weight: f64) {
        for note in 0..self.caused.len() {
            let (mut all, mut to_cut) = (0.0, 0.0);
            for &(candidate, shift) in explanation {
                let cents = self.candidates[candidate].shifts[shift].cents(self.blowing)[note];
                all += cents;
                if self.candidates[candidate].cause.is_served_by_cuts() {
                    to_cut += cents;
                }
            }
            self.caused[note] += weight * all;
            self.to_cut[note] += weight * to_cut;
            self.to_cut_squares[note] += weight * to_cut * to_cut;
        }
    }

    fn scale(&mut self, by: f64) {
        self.total *= by;
        self.healthy *= by;
        self.usual *= by;
        self.any_leak *= by;
        let sums = [&mut self.weights, &mut self.amounts, &mut self.caused, &mut self.to_cut];
        for value in sums.into_iter().flatten().chain(&mut self.to_cut_squares) {
            *value *= by;
        }
    }

    fn posterior(self) -> Posterior {
        let share = |sums: &[f64]| -> Vec<f64> { sums.iter().map(|sum| sum / self.total).collect() };
        let amount = |(amount, weight): (&f64, &f64)| if *weight > 0.0 { amount / weight } else { 0.0 };
        let mean_cents = share(&self.to_cut);
        let squares = share(&self.to_cut_squares);
        let sd = |(square, mean): (&f64, &f64)| (square - mean * mean).max(0.0).sqrt();
        let sd_cents = squares.iter().zip(&mean_cents).map(sd).collect();
        Posterior {
            healthy: self.healthy / self.total,
            weights: share(&self.weights),
            amounts: self.amounts.iter().zip(&self.weights).map(amount).collect(),
            any_leak: self.any_leak / self.total,
            best: self.best.1,
            best_blowing: self.best.2,
            usual: self.usual / self.total,
            caused_cents: share(&self.caused),
            to_cut: Spread { mean_cents, sd_cents },
        }
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}
