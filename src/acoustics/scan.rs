//! Brackets around every frequency at which the imaginary part of a load rises through zero, from the bottom
//! up, none left out.
//!
//! Leaks, vents and forked fingerings put two resonances close together, or a dip that just reaches zero,
//! between two samples. The load's reflection is smooth where the load is steep; where its fourth differences
//! say that it could reach zero between two samples, the stretch is looked at more closely. Must not know
//! columns: a load is any smooth complex function of frequency.

use num_complex::Complex64;

use crate::acoustics::zero::Load;

/// Samples per spacing of the tube's modes.
const SAMPLES_PER_MODE: f64 = 12.0;
/// Pieces into which a doubtful stretch between two samples is cut.
const FINER: usize = 8;
/// How far the reflection may stray between two samples, as a share of its fourth differences. For a cubic
/// through four samples of a smooth curve it is 0.023; far more where a narrow loop lies between them.
const STRAY: f64 = 1.0;

/// Parabolas that are tried at one turning point before it is taken to stay on its side of zero.
const MOST_VERTICES: usize = 6;

/// Brackets of the lowest `count` rising zeros or more, as far as `highest_hz`, rising. `spacing_hz`: distance
/// of the modes of a plain tube of that length.
///
/// Of 8000 random columns with vents and leaks none lost a resonance that steps of half a cent find
/// (`tests/properties/resonances.rs` keeps the hardest). Measured: 20 to 25 evaluations of the column a
/// resonance, its zero included; golden sections on twice as many samples took 50.
pub fn rising_brackets(
    load: &impl Fn(f64) -> Complex64,
    spacing_hz: f64,
    count: usize,
    highest_hz: f64,
) -> Vec<(Load, Load)> {
    let step = spacing_hz / SAMPLES_PER_MODE;
    let mut samples = vec![Sample::of(Load::at(load, step))];
    // A wide vessel with a narrow neck resonates far below a tube of its length.
    let mut brackets: Vec<(Load, Load)> =
        rises(Load::at(load, 0.01 * step), samples[0].load).into_iter().collect();
    let mut first = 0;
    while brackets.len() < count && samples[first].load.hz <= highest_hz {
        // Two samples on either side of the stretch from `first` to the next one.
        while samples.len() < first + 4 {
            let hz = step * (samples.len() + 1) as f64;
            samples.push(Sample::of(Load::at(load, hz)));
        }
        let (low, high) = (samples[first], samples[first + 1]);
        let around = &samples[first.saturating_sub(2)..first + 4];
        if !doubtful(around, low.reflected.im, high.reflected.im) {
            brackets.extend(rises(low.load, high.load));
        } else {
            let before = first.checked_sub(1).map(|before| samples[before].load);
            look_closer(load, before, [low.load, high.load, samples[first + 2].load], &mut brackets);
        }
        first += 1;
    }
    brackets
}

#[derive(Clone, Copy)]
struct Sample {
    load: Load,
    reflected: Complex64,
}

impl Sample {
    fn of(load: Load) -> Sample {
        Sample { load, reflected: load.reflected() }
    }
}

fn rises(low: Load, high: Load) -> Option<(Load, Load)> {
    (low.load.im < 0.0 && high.load.im >= 0.0).then_some((low, high))
}

/// Whether zeros may hide between two samples whose reflections have imaginary parts `low` and `high`.
fn doubtful(around: &[Sample], low: f64, high: f64) -> bool {
    let stray = around
        .windows(5)
        .map(|w| {
            (w[0].reflected + w[4].reflected - 4.0 * (w[1].reflected + w[3].reflected) + 6.0 * w[2].reflected)
                .norm()
        })
        .fold(0.0, f64::max)
        * STRAY;
    let same_sign = (low < 0.0) == (high < 0.0);
    if same_sign { low.abs().min(high.abs()) < stray } else { (low - high).abs() < 2.0 * stray }
}

/// Adds the rising zeros between `low` and `high`; `before` and `after` are the samples beside them.
fn look_closer(
    load: &impl Fn(f64) -> Complex64,
    before: Option<Load>,
    [low, high, after]: [Load; 3],
    brackets: &mut Vec<(Load, Load)>,
) {
    let width = (high.hz - low.hz) / FINER as f64;
    let mut fine: Vec<Load> = before.into_iter().chain([low]).collect();
    fine.extend((1..FINER).map(|i| Load::at(load, low.hz + width * i as f64)));
    fine.extend([high, after]);
    for three in fine.windows(3) {
        let [left, middle, right] = [three[0], three[1], three[2]];
        // Every stretch once: the one below the middle sample, and none beyond `high`.
        if left.hz >= low.hz {
            brackets.extend(rises(left, middle));
        }
        if let Some(beyond) = turning_point_beyond_zero(load, [left, middle, right])
            && beyond.hz >= low.hz
            && beyond.hz < high.hz
        {
            let (below, above) = if beyond.hz < middle.hz { (left, middle) } else { (middle, right) };
            brackets.extend(rises(below, beyond).or_else(|| rises(beyond, above)));
        }
    }
    brackets.sort_by(|a, b| a.0.hz.total_cmp(&b.0.hz));
}

/// Of three samples of one sign whose middle is nearest to zero: a point between them that lies beyond zero,
/// looked for at the vertices of parabolas through the reflection's imaginary part.
fn turning_point_beyond_zero(load: &impl Fn(f64) -> Complex64, three: [Load; 3]) -> Option<Load> {
    let sign = if three[1].load.im < 0.0 { 1.0 } else { -1.0 };
    let height = |at: Load| (at, sign * at.reflected().im);
    let mut three = three.map(height);
    for _ in 0..MOST_VERTICES {
        let [(left, y0), (middle, y1), (right, y2)] = three;
        if y0 < 0.0 || y2 < 0.0 || y1 >= y0 || y1 > y2 {
            return None;
        }
        let (h0, h2) = (middle.hz - left.hz, right.hz - middle.hz);
        let (d0, d2) = ((y1 - y0) / h0, (y2 - y1) / h2);
        let curvature = (d2 - d0) / (h0 + h2);
        let move_by = -0.5 * (d0 + curvature * h0) / curvature;
        if move_by.abs() < 1e-6 * middle.hz {
            return None;
        }
        let vertex = height(Load::at(load, middle.hz + move_by));
        if vertex.1 < 0.0 {
            return Some(vertex.0);
        }
        three = match (move_by < 0.0, vertex.1 < y1) {
            (true, true) => [three[0], vertex, three[1]],
            (true, false) => [vertex, three[1], three[2]],
            (false, true) => [three[1], vertex, three[2]],
            (false, false) => [three[0], three[1], vertex],
        };
    }
    None
}
