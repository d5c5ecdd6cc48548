//! That a note may be a slip, which says nothing of the instrument: what it adds to every explanation.
//!
//! Must not know causes.

use crate::diagnosis::beliefs::{SLIP_CENTS, SLIP_CHANCE};
use crate::diagnosis::expectation::gaussian::Gaussian;
use crate::diagnosis::weigh::abreast::ABREAST;

/// That one of the notes may be a slip: its likelihood against none, for each note, by the update of rank one that a
/// wider variance of one note makes (M. S. Bartlett, Ann. Math. Stat. 22 (1951) 107, from memory).
pub(in crate::diagnosis) struct Slips {
    /// Residual of each note in units in which half its square is the gain in log likelihood.
    residuals: Vec<f64>,
    scales: Vec<f64>,
    /// Log of the chance of a slip, and of the price of a wider variance.
    prices: Vec<f64>,
}

impl Slips {
    pub(in crate::diagnosis) fn new(noise: &Gaussian, cents: &[f64], takes: &[f64]) -> Slips {
        let wide = SLIP_CENTS * SLIP_CENTS;
        let diagonal = noise.precision_diagonal();
        let scales: Vec<f64> = diagonal.iter().map(|q| (wide / (1.0 + wide * q)).sqrt()).collect();
        // Where takes were repeated, slips among them were found already: all of them would have to be wrong in the same way.
        let chance = |takes: f64| if takes > 1.2 { SLIP_CHANCE * SLIP_CHANCE } else { SLIP_CHANCE };
        let prices = diagonal
            .iter()
            .zip(takes)
            .map(|(q, &takes)| chance(takes).ln() - 0.5 * (1.0 + wide * q).ln())
            .collect();
        let mut slips = Slips { residuals: Vec::new(), scales, prices };
        slips.residuals = slips.scaled(&noise.unwhiten(&noise.whiten(cents)));
        slips
    }

    pub(in crate::diagnosis) fn scaled(&self, solved: &[f64]) -> Vec<f64> {
        solved.iter().zip(&self.scales).map(|(value, scale)| value * scale).collect()
    }

    /// The residuals when a cause with this pull is taken out.
    pub(in crate::diagnosis) fn left_by(&self, pull: &[f64]) -> Vec<f64> {
        self.residuals.iter().zip(pull).map(|(residual, pull)| residual - pull).collect()
    }

    /// An upper bound of what slips add when from the residuals `left` a second cause is taken out, for each of those
    /// whose pulls stand abreast; within the number of notes.
    pub(in crate::diagnosis) fn most(&self, left: &[f64], pulls: &[[f64; ABREAST]]) -> [f64; ABREAST] {
        let mut most = [0.0; ABREAST];
        for ((left, price), abreast) in left.iter().zip(&self.prices).zip(pulls) {
            for (most, pull) in most.iter_mut().zip(abreast) {
                let rest = left - pull;
                let ratio = price + 0.5 * rest * rest;
                *most = if ratio > *most { ratio } else { *most };
            }
        }
        most.map(|most| most + 3.0)
    }

    /// What slips add to the log likelihood when these causes are taken out: the log of one plus all notes' ratios.
    pub(in crate::diagnosis) fn after(&self, pulls: &[&[f64]]) -> f64 {
        let ratio = |i: usize| {
            let rest = self.residuals[i] - pulls.iter().map(|pull| pull[i]).sum::<f64>();
            self.prices[i] + 0.5 * rest * rest
        };
        let logs: Vec<f64> = (0..self.residuals.len()).map(ratio).filter(|log| *log > -4.0).collect();
        let largest = logs.iter().copied().fold(0.0, f64::max);
        let total = (-largest).exp() + logs.iter().map(|log| (log - largest).exp()).sum::<f64>();
        largest + total.ln()
    }
}
