//! Resonances of an air column with its reed: where the note can sound, how strong, how sharp.
//!
//! A note sounds where the reactive part of column and reed together vanishes with the admittance
//! rising through zero: next to a peak of the impedance. SI units and hertz.
//! Must not know names, targets or files.

use std::f64::consts::PI;

use crate::acoustics::column::Column;

/// Samples of the admittance per half wave of the tube's length; closer where it nearly touches zero.
const SAMPLES_PER_MODE: f64 = 24.0;

/// Relative accuracy of a resonance frequency (well below 0.001 cent).
const RELATIVE_ACCURACY: f64 = 1e-9;

/// One resonance of column and reed together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Resonance {
    /// Frequency, hertz.
    pub hz: f64,
    /// Height: |Z| with the reed's give, in units of ρc/S at the top.
    pub magnitude: f64,
    /// Sharpness: half the frequency times the slope of the impedance's phase.
    pub q: f64,
}

/// The lowest `count` resonances below `highest_hz`, rising. Fewer when there are no more.
///
/// Scans `Im(Y + Y_reed)` for rising zeros on a grid much finer than the tube's modes, looks closer
/// wherever it has a turning point next to zero (near-merged resonances of leaks and vents), and
/// refines each inside its bracket.
#[must_use]
pub fn resonances(column: &Column, count: usize, highest_hz: f64) -> Vec<Resonance> {
    let effective_length = column.length() + column.reed_volume / (PI * column.top_radius.powi(2));
    let step = column.air.speed / (2.0 * effective_length.max(1e-3)) / SAMPLES_PER_MODE;
    let susceptance = |hz: f64| column.driven_admittance(hz).im;
    let mut found = Vec::new();
    let mut before: Option<(f64, f64)> = None;
    let mut last = (step, susceptance(step));
    while found.len() < count && last.0 < highest_hz {
        let next_hz = last.0 + step;
        let next = (next_hz, susceptance(next_hz));
        let mut brackets = Vec::new();
        if last.1 < 0.0 && next.1 >= 0.0 {
            brackets.push((last.0, next.0));
        }
        if let Some(earlier) = before
            && let Some(bracket) = hidden_crossing(&susceptance, earlier, last, next)
        {
            brackets.push(bracket);
        }
        for (low, high) in brackets {
            found.push(describe(column, rising_zero(&susceptance, low, high)));
        }
        before = Some(last);
        last = next;
    }
    found.sort_by(|a, b| a.hz.total_cmp(&b.hz));
    found.truncate(count);
    found
}

/// The frequency at which the `register`-th resonance lets the note sound (1 is the lowest), hertz;
/// `None` when the column has no such resonance below `highest_hz`.
#[must_use]
pub fn playing_hz(column: &Column, register: usize, highest_hz: f64) -> Option<f64> {
    resonances(column, register, highest_hz).get(register.checked_sub(1)?).map(|r| r.hz)
}

/// Farthest that [`follow`] looks on either side, as a frequency ratio (four semitones).
const FARTHEST: f64 = 1.26;

/// The rising zero nearest to `from_hz` in the direction that the admittance there points to: the same
/// resonance after a small change of the column. `None` when it has gone farther than four semitones.
///
/// Ten times quicker than [`playing_hz`], and it cannot swap resonances when one vanishes.
#[must_use]
pub fn follow(column: &Column, from_hz: f64) -> Option<f64> {
    let susceptance = |hz: f64| column.driven_admittance(hz).im;
    let mut near = from_hz;
    let below_zero = susceptance(near) < 0.0;
    let mut ratio: f64 = 1.001;
    loop {
        let far = if below_zero { near * ratio } else { near / ratio };
        if far > from_hz * FARTHEST || far < from_hz / FARTHEST {
            return None;
        }
        if (susceptance(far) < 0.0) != below_zero {
            let (low, high) = if below_zero { (near, far) } else { (far, near) };
            return Some(rising_zero(&susceptance, low, high));
        }
        near = far;
        ratio = (ratio * ratio).min(1.02);
    }
}

/// Height and sharpness of the resonance at `hz` (as found by [`follow`] or [`playing_hz`]).
#[must_use]
pub fn describe(column: &Column, hz: f64) -> Resonance {
    let admittance = column.driven_admittance(hz);
    let small = hz * 1e-5;
    let phase_slope =
        (column.driven_admittance(hz + small) / column.driven_admittance(hz - small)).arg() / (2.0 * small);
    Resonance {
        hz,
        magnitude: 1.0 / (admittance.norm() * column.top_impedance()),
        q: (0.5 * hz * phase_slope).abs(),
    }
}

/// A pair of zeros that the grid stepped over: three samples of one sign whose middle is nearest to
/// zero. Returns a bracket of the rising one.
fn hidden_crossing(
    f: &impl Fn(f64) -> f64,
    (x0, y0): (f64, f64),
    (x1, y1): (f64, f64),
    (x2, y2): (f64, f64),
) -> Option<(f64, f64)> {
    let sign = y1.signum();
    let turning = y0.signum() == sign && y2.signum() == sign && y1.abs() < y0.abs() && y1.abs() < y2.abs();
    if !turning {
        return None;
    }
    // Golden-section search for the point nearest to (or beyond) zero.
    const GOLDEN: f64 = 0.618_033_988_749_895;
    let (mut low, mut high) = (x0, x2);
    for _ in 0..40 {
        let (a, b) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
        let (fa, fb) = (sign * f(a), sign * f(b));
        for (x, value) in [(a, fa), (b, fb)] {
            if value < 0.0 {
                return Some(if sign > 0.0 { (x, x2) } else { (x0, x) });
            }
        }
        if fa < fb {
            high = b
        } else {
            low = a
        }
        if high - low < 1e-7 * x1 {
            break;
        }
    }
    None
}

/// The zero between `low` (negative) and `high` (positive) by false position with the Illinois
/// modification (M. Dowell & P. Jarratt, BIT 11 (1971) 168; from memory): never leaves the bracket.
fn rising_zero(f: &impl Fn(f64) -> f64, mut low: f64, mut high: f64) -> f64 {
    let (mut f_low, mut f_high) = (f(low), f(high));
    let mut x = low;
    for _ in 0..100 {
        let before = x;
        x = (low * f_high - high * f_low) / (f_high - f_low);
        if !x.is_finite() || (x - before).abs() < RELATIVE_ACCURACY * x {
            break;
        }
        let y = f(x);
        if y < 0.0 {
            if before == low {
                f_high *= 0.5;
            }
            (low, f_low) = (x, y);
        } else {
            if before == high {
                f_low *= 0.5;
            }
            (high, f_high) = (x, y);
        }
    }
    if x.is_finite() { x } else { 0.5 * (low + high) }
}
