//! How far a note's pitch moves, with what the blocks smooth away given back: a block of six periods of a low
//! note lasts as long as one swing of a vibrato, and its phase is a mean over that.
//!
//! Must not know how the phases were found.

use std::f64::consts::{FRAC_PI_2, PI};

use super::spectrum::{fast_length, transform};

/// Movement of one frequency is given back when it stands so far over what noise does (power).
const OVER_NOISE: f64 = 5.0;

/// Variance of the pitch beyond its straight line, hertz squared. 0 when it may be noise.
///
/// `hz`: pitch from block to block; `noise_hz2`: the variance that noise alone gives it. Blocks are Hann windows
/// that overlap by half. Movement faster than one swing in two blocks' distances can't be told from slower, and
/// is given back as slower: then the result is a lower bound.
#[must_use]
pub fn variance_hz2(hz: &[f64], noise_hz2: f64) -> f64 {
    let steps = hz.len();
    let seen = mean_square(hz.iter().copied());
    // Five standard deviations of the mean of so many squares.
    if steps < 4 || seen <= noise_hz2 * (1.0 + 5.0 * (2.0 / steps as f64).sqrt()) {
        return 0.0;
    }
    let middle = (steps - 1) as f64 / 2.0;
    let line = |i: usize| i as f64 - middle;
    let width: f64 = (0..steps).map(|i| line(i).powi(2)).sum();
    let slope = hz.iter().enumerate().map(|(i, h)| h * line(i)).sum::<f64>() / width;
    let off: Vec<f64> = hz.iter().enumerate().map(|(i, h)| h - slope * line(i)).collect();
    let length = fast_length(steps);
    // Both signs of each frequency; the sum over all is the variance (Parseval).
    let scale = 2.0 / (length * steps) as f64;
    let spectrum = transform(&off, &vec![1.0; steps], length);
    let moved = spectrum.iter().enumerate().skip(1).map(|(bin, value)| {
        let swings_a_hop = bin as f64 / length as f64;
        let power = scale * value.norm_sqr();
        // Differences of phases that are as uncertain each.
        let noise = scale * noise_hz2 * steps as f64 * 2.0 * (PI * swings_a_hop).sin().powi(2);
        let left = if power > OVER_NOISE * noise { share_left(swings_a_hop).powi(2) } else { 1.0 };
        (power - noise) / left
    });
    (slope * slope * width / steps as f64 + moved.sum::<f64>()).max(0.0)
}

fn mean_square(values: impl ExactSizeIterator<Item = f64>) -> f64 {
    let count = values.len().max(1) as f64;
    values.map(|v| v * v).sum::<f64>() / count
}

/// Share of a swing's size that is left in pitches from block to block: the Hann window's mean over a block of
/// two hops, and the mean over one hop. Slow swings: 1; the fastest, half a swing a hop: 0.32.
#[must_use]
pub fn share_left(swings_a_hop: f64) -> f64 {
    let blocks = 2.0 * swings_a_hop;
    let near_one = (1.0 - blocks * blocks).abs() < 1e-6;
    let window = if near_one { 0.5 } else { sinc(PI * blocks) / (1.0 - blocks * blocks) };
    window * sinc(FRAC_PI_2 * blocks)
}

fn sinc(x: f64) -> f64 {
    if x.abs() < 1e-9 { 1.0 } else { x.sin() / x }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_swing_is_told_at_its_full_size_and_an_even_drift_as_it_is() {
        for swings_a_hop in [0.05, 0.2, 0.37, 0.45] {
            let swing = |i: u32| (2.0 * PI * swings_a_hop * f64::from(i) + 0.7).sin();
            let left_of = |share: f64| -> Vec<f64> {
                (0..80).map(|i| 0.4 * share * swing(i) + 0.01 * (f64::from(i) - 39.5)).collect()
            };
            // Four swings are not square to a drift: what both make together, not each alone.
            let whole = mean_square(left_of(1.0).into_iter());
            let found = variance_hz2(&left_of(share_left(swings_a_hop)), 1e-9);
            assert!((found / whole - 1.0).abs() < 0.06, "{swings_a_hop}: {found} {whole}");
        }
        assert_eq!(variance_hz2(&[0.1, -0.1, 0.1, -0.1, 0.1, -0.1], 0.01), 0.0);
    }
}
