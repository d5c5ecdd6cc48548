//! Resonances of an air column with its reed or jet: where the note can sound, how strong, how sharp.
//!
//! A note sounds where the imaginary part of what the drive works against rises through zero, next to its
//! smallest magnitude ([`Column::driven_load`]). SI units and hertz. Must not know names, targets or files.

use std::f64::consts::PI;

use num_complex::Complex64;

use crate::acoustics::circuit::Circuit;
use crate::acoustics::column::{Column, Top};
use crate::acoustics::scan::rising_brackets;
use crate::acoustics::zero::{Load, rising_zero};

/// One resonance of column and drive together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Resonance {
    /// Frequency, hertz.
    pub hz: f64,
    /// Height: |Z| with the reed's give in units of ρc/S at the top; for an air jet |1/Z| with the
    /// embouchure in units of S/ρc.
    pub magnitude: f64,
    /// Sharpness: half the frequency times the slope of the load's phase.
    pub q: f64,
}

/// The lowest `count` resonances below `highest_hz`, rising. Fewer when there are no more.
#[must_use]
pub fn resonances(column: &Column, count: usize, highest_hz: f64) -> Vec<Resonance> {
    let circuit = Circuit::new(column);
    let load = |hz: f64| circuit.driven_load(hz);
    let mut found: Vec<Resonance> = rising_brackets(&load, half_wave_hz(column), count, highest_hz)
        .into_iter()
        .map(|(low, high)| {
            let (hz, beside) = rising_zero(&load, low, high);
            Resonance { hz, ..described(&load, beside) }
        })
        .collect();
    found.retain(|resonance| resonance.hz < highest_hz);
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

/// The rising zero nearest to `from_hz` in the direction that the load there points to: the same
/// resonance after a small change of the column. `None` when it has gone farther than four semitones.
///
/// Far quicker than [`playing_hz`], and it cannot swap resonances when one vanishes.
#[must_use]
pub fn follow(column: &Column, from_hz: f64) -> Option<f64> {
    follow_in(&Circuit::new(column), from_hz)
}

/// [`follow`] in a column that is ready for evaluation.
#[must_use]
pub fn follow_in(circuit: &Circuit, from_hz: f64) -> Option<f64> {
    let load = |hz: f64| circuit.driven_load(hz);
    let start = Load::at(&load, from_hz);
    close_by(&load, start).or_else(|| march(&load, start))
}

/// Height and sharpness of the resonance at `hz` (as found by [`follow`] or [`playing_hz`]).
#[must_use]
pub fn describe(column: &Column, hz: f64) -> Resonance {
    let circuit = Circuit::new(column);
    let load = |hz: f64| circuit.driven_load(hz);
    described(&load, Load::at(&load, hz))
}

/// The height of the resonance at `hz`, as [`describe`] has it, in a column that is ready for evaluation.
#[must_use]
pub fn height_in(circuit: &Circuit, hz: f64) -> f64 {
    1.0 / circuit.driven_load(hz).norm()
}

fn described(load: &impl Fn(f64) -> Complex64, here: Load) -> Resonance {
    // The slope from one side of a millionth: in error by a millionth of Q.
    let small = here.hz * 1e-6;
    let phase_slope = (load(here.hz + small) / here.load).arg() / small;
    Resonance { hz: here.hz, magnitude: 1.0 / here.load.norm(), q: (0.5 * here.hz * phase_slope).abs() }
}

/// Spacing of the tube's modes, hertz.
fn half_wave_hz(column: &Column) -> f64 {
    let at_the_top = match column.top {
        Top::Reed { give_volume } => give_volume / (PI * column.top_radius.powi(2)),
        Top::AirJet { end_length } => end_length,
    };
    // However much a reed gives, it adds one mode and no more.
    let length = column.length();
    column.air.speed / (2.0 * (length + at_the_top.min(length)).max(1e-3))
}

/// Farthest that [`close_by`] may go, as a share of the frequency: 26 cents.
const CLOSE: f64 = 0.015;

/// The rising zero close to `start` by the secant rule; `None` when it is not plain to see. Nearly every
/// small change ends here, after three or four evaluations of the column.
fn close_by(load: &impl Fn(f64) -> Complex64, start: Load) -> Option<f64> {
    let toward = if start.load.im < 0.0 { 1.0 } else { -1.0 };
    let mut before = start;
    let mut last = Load::at(load, start.hz * (1.0 + 1e-4 * toward));
    for _ in 0..6 {
        let slope = (last.load.im - before.load.im) / (last.hz - before.hz);
        let step = -last.load.im / slope;
        let next_hz = last.hz + step;
        let gone = (next_hz - start.hz) * toward;
        if slope.is_nan() || slope <= 0.0 || gone < -1e-9 * start.hz || gone > CLOSE * start.hz {
            return None;
        }
        // The secant's next error is about the product of the last two.
        if step.abs() < 3e-7 * start.hz {
            return Some(next_hz);
        }
        before = last;
        last = Load::at(load, next_hz);
    }
    None
}

/// Goes from `start` the way that the load points, in growing steps, until the zero is passed.
fn march(load: &impl Fn(f64) -> Complex64, start: Load) -> Option<f64> {
    let below_zero = start.load.im < 0.0;
    let mut near = start;
    let mut ratio: f64 = 1.001;
    loop {
        let far_hz = if below_zero { near.hz * ratio } else { near.hz / ratio };
        if far_hz > start.hz * FARTHEST || far_hz < start.hz / FARTHEST {
            return None;
        }
        let far = Load::at(load, far_hz);
        if (far.load.im < 0.0) != below_zero {
            let (low, high) = if below_zero { (near, far) } else { (far, near) };
            return Some(rising_zero(load, low, high).0);
        }
        near = far;
        ratio = (ratio * ratio).min(1.02);
    }
}
