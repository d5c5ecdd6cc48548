//! How well each cause, alone or with a second, explains the notes: posterior weights.
//!
//! Every explanation is one cause, a pair, or nothing at all. Its marginal likelihood integrates over
//! the causes' sizes, so that a cause that could have made any pattern earns less than one that
//! could only have made this (D. J. C. MacKay, *Information Theory, Inference, and Learning
//! Algorithms*, 2003, ch. 28; from memory). Knows of the causes only which are leaks.

use crate::diagnosis::causes::{Candidate, Cause};
use crate::diagnosis::gaussian::Gaussian;

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
    /// The single best explanation: candidates with the index of their best shift.
    pub best: Vec<(usize, usize)>,
}

/// Weighs all explanations of the offsets `cents` under each distribution of `noises` (with the share of
/// prior belief that it has); `log_speaking` is the log chance of how the notes spoke when nothing is wrong.
#[must_use]
pub fn weigh(
    noises: &[(Gaussian, f64)],
    cents: &[f64],
    log_speaking: f64,
    candidates: &[Candidate],
) -> Posterior {
    let mut tally = Tally::new(candidates);
    for (noise, share) in noises {
        let nothing = share.ln() + noise.log_density(cents);
        weigh_under(noise, nothing, cents, log_speaking, candidates, &mut tally);
    }
    tally.posterior(candidates)
}

/// Adds all explanations under one distribution; `nothing` is the log weight of "nothing is wrong".
fn weigh_under(
    noise: &Gaussian,
    nothing: f64,
    cents: &[f64],
    log_speaking: f64,
    candidates: &[Candidate],
    tally: &mut Tally,
) {
    let offsets = noise.whiten(cents);
    let whitened: Vec<Vec<Vec<f64>>> = candidates
        .iter()
        .map(|candidate| candidate.shifts.iter().map(|shift| noise.whiten(&shift.cents)).collect())
        .collect();
    // log of prior × likelihood ratio against "nothing": y·s − s·s/2
    let single = |c: usize, k: usize| {
        let shift = &whitened[c][k];
        let prior = (candidates[c].odds * candidates[c].shifts[k].weight).ln();
        let speaking = candidates[c].shifts[k].log_speaking - log_speaking;
        prior + speaking + dot(&offsets, shift) - 0.5 * dot(shift, shift)
    };
    let singles: Vec<Vec<f64>> = (0..candidates.len())
        .map(|c| (0..candidates[c].shifts.len()).map(|k| single(c, k)).collect())
        .collect();
    tally.add(&[], nothing);
    for (c, row) in singles.iter().enumerate() {
        for (k, &log) in row.iter().enumerate() {
            tally.add(&[(c, k)], nothing + log);
        }
    }
    for a in 0..candidates.len() {
        for b in a + 1..candidates.len() {
            for (k, log_a) in singles[a].iter().enumerate() {
                for (m, log_b) in singles[b].iter().enumerate() {
                    // |s1 + s2|² has twice their product besides their own squares.
                    let together = log_a + log_b - dot(&whitened[a][k], &whitened[b][m]);
                    tally.add(&[(a, k), (b, m)], nothing + together);
                }
            }
        }
    }
}

/// Sums explanations by the causes they hold, scaled by the largest seen so far.
struct Tally {
    largest_log: f64,
    total: f64,
    healthy: f64,
    weights: Vec<f64>,
    amounts: Vec<f64>,
    any_leak: f64,
    is_leak: Vec<bool>,
    best: (f64, Vec<(usize, usize)>),
    candidate_amounts: Vec<Vec<f64>>,
}

impl Tally {
    fn new(candidates: &[Candidate]) -> Tally {
        Tally {
            largest_log: f64::NEG_INFINITY,
            total: 0.0,
            healthy: 0.0,
            weights: vec![0.0; candidates.len()],
            amounts: vec![0.0; candidates.len()],
            any_leak: 0.0,
            is_leak: candidates.iter().map(|c| matches!(c.cause, Cause::Leak(_))).collect(),
            best: (f64::NEG_INFINITY, Vec::new()),
            candidate_amounts: candidates
                .iter()
                .map(|c| c.shifts.iter().map(|shift| shift.amount).collect())
                .collect(),
        }
    }

    fn add(&mut self, explanation: &[(usize, usize)], log: f64) {
        if log > self.largest_log {
            let scale = (self.largest_log - log).exp();
            self.total *= scale;
            self.healthy *= scale;
            self.any_leak *= scale;
            for value in self.weights.iter_mut().chain(&mut self.amounts) {
                *value *= scale;
            }
            self.largest_log = log;
        }
        if log > self.best.0 {
            self.best = (log, explanation.to_vec());
        }
        let weight = (log - self.largest_log).exp();
        self.total += weight;
        if explanation.is_empty() {
            self.healthy += weight;
        }
        if explanation.iter().any(|&(candidate, _)| self.is_leak[candidate]) {
            self.any_leak += weight;
        }
        for &(candidate, shift) in explanation {
            self.weights[candidate] += weight;
            self.amounts[candidate] += weight * self.candidate_amounts[candidate][shift];
        }
    }

    fn posterior(self, candidates: &[Candidate]) -> Posterior {
        let amounts = (0..candidates.len())
            .map(|c| if self.weights[c] > 0.0 { self.amounts[c] / self.weights[c] } else { 0.0 })
            .collect();
        Posterior {
            healthy: self.healthy / self.total,
            weights: self.weights.iter().map(|weight| weight / self.total).collect(),
            amounts,
            any_leak: self.any_leak / self.total,
            best: self.best.1,
        }
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}
