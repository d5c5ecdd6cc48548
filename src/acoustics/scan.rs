//! Brackets around every frequency at which the imaginary part of a load rises through zero, from the bottom
//! up, none left out.
//!
//! Must not know columns: a load is any smooth complex function of frequency.

use num_complex::Complex64;

use crate::acoustics::zero::Load;

/// Samples per spacing of the tube's modes.
const SAMPLES_PER_MODE: f64 = 12.0;
/// Pieces into which a doubtful stretch between two samples is cut.
const FINER: usize = 8;
/// How far the load may stray between samples, in fourth differences of its reflection.
const STRAY: f64 = 0.7;

/// Brackets of the lowest `count` rising zeros (and sometimes one more) below `highest_hz`, rising.
/// `spacing_hz`: distance of the modes of a plain tube of that length.
pub fn rising_brackets(
    load: &impl Fn(f64) -> Complex64,
    spacing_hz: f64,
    count: usize,
    highest_hz: f64,
) -> Vec<(Load, Load)> {
    let step = spacing_hz / SAMPLES_PER_MODE;
    let mut brackets = Vec::new();
    let mut samples: Vec<Load> = Vec::new();
    let mut done = 0;
    while brackets.len() < count {
        let hz = step * (samples.len() + 1) as f64;
        if done + 1 < samples.len() && samples[done].hz >= highest_hz {
            break;
        }
        samples.push(Load::at(load, hz));
        if samples.len() < done + 4 {
            continue;
        }
        if samples[done + 1].load.im >= 0.0 && samples[done].load.im < 0.0 || doubtful(&samples, done) {
            closer(load, samples[done], samples[done + 1], &mut brackets, doubtful(&samples, done));
        }
        done += 1;
    }
    brackets.retain(|bracket| bracket.0.hz < highest_hz);
    brackets
}

fn doubtful(samples: &[Load], i: usize) -> bool {
    let r: Vec<Complex64> = (0..6)
        .filter_map(|k| (i + k).checked_sub(2))
        .filter_map(|k| samples.get(k))
        .map(Load::reflected)
        .collect();
    let stray = r
        .windows(5)
        .map(|w| (w[0] - 4.0 * w[1] + 6.0 * w[2] - 4.0 * w[3] + w[4]).norm())
        .fold(0.0, f64::max)
        * STRAY;
    let (a, b) = (samples[i].reflected().im, samples[i + 1].reflected().im);
    if (a < 0.0) == (b < 0.0) { a.abs().min(b.abs()) < stray } else { (a - b).abs() < 2.0 * stray }
}

fn closer(load: &impl Fn(f64) -> Complex64, low: Load, high: Load, brackets: &mut Vec<(Load, Load)>, fine: bool) {
    if !fine {
        brackets.push((low, high));
        return;
    }
    let mut before = low;
    for i in 1..=FINER {
        let next = if i == FINER {
            high
        } else {
            Load::at(load, low.hz + (high.hz - low.hz) * i as f64 / FINER as f64)
        };
        if before.load.im < 0.0 && next.load.im >= 0.0 {
            brackets.push((before, next));
        }
        before = next;
    }
}
