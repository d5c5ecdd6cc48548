//! The frequency in a bracket at which the imaginary part of a load rises through zero.
//!
//! Must not know columns: a load is any smooth complex function of frequency.

use std::f64::consts::PI;

use num_complex::Complex64;

/// A load without dimension at one frequency.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Load {
    /// Frequency, hertz.
    pub hz: f64,
    /// The load there.
    pub load: Complex64,
}

impl Load {
    /// Evaluates `load` at `hz`.
    pub fn at(load: &impl Fn(f64) -> Complex64, hz: f64) -> Load {
        Load { hz, load: load(hz) }
    }

    /// What a wave that meets the load sends back: −1 … 1 in size, and it turns evenly with frequency where
    /// the load itself runs through steep peaks.
    #[must_use]
    pub fn reflected(&self) -> Complex64 {
        (1.0 - self.load) / (1.0 + self.load)
    }

    /// Minus the phase of [`Self::reflected`], −π … π: same sign as the load's imaginary part, and nearly a
    /// straight line over frequency.
    fn phase(&self) -> f64 {
        (2.0 * self.load.im).atan2(1.0 - self.load.norm_sqr())
    }
}

/// Relative accuracy of a zero (well below 0.001 cent).
const RELATIVE_ACCURACY: f64 = 1e-9;

/// The zero between `low` (imaginary part below zero) and `high` (not below): the secant rule on the phase,
/// held inside the bracket. Where the phase jumps, halving. With it the last load that was looked at, a ten-millionth
/// of the frequency away at most.
#[must_use]
pub fn rising_zero(load: &impl Fn(f64) -> Complex64, mut low: Load, mut high: Load) -> (f64, Load) {
    let (mut before, mut last) = (low, high);
    for round in 0..80 {
        let jumps = high.phase() - low.phase() > PI;
        let slope = (last.phase() - before.phase()) / (last.hz - before.hz);
        let secant = last.hz - last.phase() / slope;
        let inside = secant > low.hz && secant < high.hz;
        // A secant that keeps missing is cut short by halving.
        let hz = if inside && !jumps && round < 12 { secant } else { 0.5 * (low.hz + high.hz) };
        if (hz - last.hz).abs() < 100.0 * RELATIVE_ACCURACY * hz && inside && !jumps {
            // The secant's next error is about the product of the last two.
            return (hz, last);
        }
        if high.hz - low.hz < RELATIVE_ACCURACY * hz {
            return (hz, last);
        }
        before = last;
        last = Load::at(load, hz);
        if last.load.im < 0.0 { low = last } else { high = last }
    }
    (0.5 * (low.hz + high.hz), last)
}
