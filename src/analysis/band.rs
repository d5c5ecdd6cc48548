//! The part of a take that pitch lives in: slowed down to a rate that still holds the partials.
//!
//! Must not know pitch or notes.

use std::f64::consts::PI;

/// Samples at a rate lower than the take's.
#[derive(Debug, Clone)]
pub struct Band {
    /// Samples, same scale as the take.
    pub samples: Vec<f64>,
    /// Samples per second.
    pub rate_hz: f64,
}

/// Share of half the rate that is passed without loss; above it the filter falls.
const PASSED: f64 = 0.8;

/// Length of the filter on each side in samples of the slow rate. With a Blackman window the
/// stop band lies 74 dB down and the fall is 5.5 / (2 × 14) = 0.2 of the slow rate wide (from
/// memory), so that what folds back lands above the passed part.
const HALF_LENGTH: usize = 14;

impl Band {
    /// Brings `samples` to the lowest rate, by a whole number, that keeps `needed_hz` in the passed
    /// part. The mean is taken off.
    #[must_use]
    pub fn of(samples: &[f64], rate_hz: f64, needed_hz: f64) -> Band {
        let mean = samples.iter().sum::<f64>() / samples.len().max(1) as f64;
        let factor = (rate_hz * PASSED / (2.0 * needed_hz)).floor().max(1.0) as usize;
        if factor == 1 {
            return Band { samples: samples.iter().map(|s| s - mean).collect(), rate_hz };
        }
        let taps = low_pass(factor);
        let half = taps.len() / 2;
        let slow = (0..samples.len().div_ceil(factor))
            .map(|i| {
                let centre = i * factor;
                let first_tap = half.saturating_sub(centre);
                let start = centre.saturating_sub(half);
                let used = taps.get(first_tap..).unwrap_or_default();
                let end = (start + used.len()).min(samples.len());
                let part = samples.get(start..end).unwrap_or_default();
                let used = used.get(..part.len()).unwrap_or_default();
                // All taps together weigh one.
                let weight = if used.len() == taps.len() { 1.0 } else { used.iter().sum() };
                sum_of_products(part, used) - mean * weight
            })
            .collect();
        Band { samples: slow, rate_hz: rate_hz / factor as f64 }
    }

    /// Highest frequency that is passed without loss, hertz.
    #[must_use]
    pub fn top_hz(&self) -> f64 {
        self.rate_hz / 2.0 * PASSED
    }

    /// The samples from `from_s` to `to_s`.
    #[must_use]
    pub fn part(&self, from_s: f64, to_s: f64) -> &[f64] {
        let start = ((from_s * self.rate_hz).round().max(0.0) as usize).min(self.samples.len());
        let end = ((to_s * self.rate_hz).round().max(0.0) as usize).clamp(start, self.samples.len());
        self.samples.get(start..end).unwrap_or_default()
    }
}

/// Sum of products of two lists of one length, in eight sums side by side: one alone would wait for itself at every step.
pub(super) fn sum_of_products(a: &[f64], b: &[f64]) -> f64 {
    let mut sums = [0.0; 8];
    let (a, b) = (a.chunks_exact(8), b.chunks_exact(8));
    let rest: f64 = a.remainder().iter().zip(b.remainder()).map(|(a, b)| a * b).sum();
    for (a, b) in a.zip(b) {
        for ((sum, a), b) in sums.iter_mut().zip(a).zip(b) {
            *sum += a * b;
        }
    }
    sums.iter().sum::<f64>() + rest
}

/// A windowed-sinc low pass for dividing the rate by `factor`, gain 1.
fn low_pass(factor: usize) -> Vec<f64> {
    let half = (HALF_LENGTH * factor) as f64;
    // Half way down at half the slow rate: the fall lies evenly about it.
    let cut = 1.0 / factor as f64;
    let mut taps: Vec<f64> = (0..=2 * HALF_LENGTH * factor)
        .map(|i| {
            let x = i as f64 - half;
            let sinc = if x == 0.0 { cut } else { (PI * cut * x).sin() / (PI * x) };
            let turn = PI * x / half;
            sinc * (0.42 + 0.5 * turn.cos() + 0.08 * (2.0 * turn).cos())
        })
        .collect();
    let sum: f64 = taps.iter().sum();
    taps.iter_mut().for_each(|t| *t /= sum);
    taps
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sine(hz: f64, rate_hz: f64, n: usize) -> Vec<f64> {
        (0..n).map(|i| (2.0 * PI * hz * i as f64 / rate_hz).sin()).collect()
    }

    fn rms(samples: &[f64]) -> f64 {
        (samples.iter().map(|s| s * s).sum::<f64>() / samples.len() as f64).sqrt()
    }

    #[test]
    fn what_is_needed_passes_and_what_would_fold_onto_it_does_not() {
        for (hz, least, most) in [(20.0, 0.999, 1.001), (4_400.0, 0.99, 1.01), (7_700.0, 0.0, 0.001)] {
            let band = Band::of(&sine(hz, 48_000.0, 48_000), 48_000.0, 4_400.0);
            let gain = rms(band.part(0.1, 0.9)) / 0.5_f64.sqrt();
            assert!(gain > least && gain < most, "{hz} Hz: {gain} at {}", band.rate_hz);
        }
    }
}
