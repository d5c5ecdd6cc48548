//! A smooth curve through measured phases, as smooth as the data themselves ask for, and how sure
//! its slope is.
//!
//! Must not know what the phases belong to.

/// What [`smooth`] finds.
#[derive(Debug, Clone)]
pub struct Smoothed {
    /// The curve at each measurement.
    pub values: Vec<f64>,
    /// Mean slope from the first to the last measurement, a step.
    pub mean_slope: f64,
    /// Standard uncertainty of that slope from the scatter about the curve.
    pub slope_sd: f64,
}

/// Stiffness tried, from a curve that follows every point to a straight line, in half decades.
const STIFFEST: i32 = 16;
const SOFTEST: i32 = -4;

/// Fits evenly spaced `values` of relative `weights` by a curve that minimises
/// `Σ w (y − x)² + s Σ (x₊ − 2x + x₋)²`, with the stiffness `s` that makes the data likeliest.
///
/// Source: E. T. Whittaker, Proc. Edinb. Math. Soc. 41 (1923) 63, for the curve; G. Wahba, Ann.
/// Statist. 13 (1985) 1378, for the choice by generalised maximum likelihood; the slope's
/// uncertainty is that of the matching random-walk model, C. F. Ansley & R. Kohn (from memory).
/// `None` with fewer than four values or no weight.
#[must_use]
pub fn smooth(values: &[f64], weights: &[f64]) -> Option<Smoothed> {
    let n = values.len();
    let total: f64 = weights.iter().sum();
    if n < 4 || weights.len() != n || total <= 0.0 || total.is_nan() {
        return None;
    }
    let weights: Vec<f64> = weights.iter().map(|w| (w * n as f64 / total).max(1e-6)).collect();
    // What is left of the straight line is small, and stiff systems then lose nothing to rounding.
    let (start, slope) = straight_line(values, &weights);
    let values: Vec<f64> = values.iter().enumerate().map(|(i, v)| v - start - slope * i as f64).collect();
    let rounding = 1e-30 + 1e-26 * (start * start + slope * slope * (n * n) as f64);
    let mut best: Option<(f64, f64, Band)> = None;
    for half_decade in SOFTEST..=STIFFEST {
        let stiffness = 10f64.powf(f64::from(half_decade) / 2.0);
        let Some(system) = Band::new(&weights, stiffness) else { continue };
        let curve = system.solve(&weighted(&values, &weights));
        let misfit: f64 =
            values.iter().zip(&curve).zip(&weights).map(|((y, x), w)| w * (y - x).powi(2)).sum();
        let bend: f64 = curve.windows(3).map(|x| (x[0] - 2.0 * x[1] + x[2]).powi(2)).sum();
        let variance = (misfit + stiffness * bend).max(rounding) / (n - 2) as f64;
        let unlikely = (n - 2) as f64 * (variance.ln() - stiffness.ln()) + system.log_determinant();
        if best.as_ref().is_none_or(|b| unlikely < b.0) {
            best = Some((unlikely, variance, system));
        }
    }
    let (_, variance, system) = best?;
    let curve = system.solve(&weighted(&values, &weights));
    let steps = (n - 1) as f64;
    let mut ends = vec![0.0; n];
    if let [first, .., last] = ends.as_mut_slice() {
        (*first, *last) = (-1.0 / steps, 1.0 / steps);
    }
    let spread: f64 = system.solve(&ends).iter().zip(&ends).map(|(a, b)| a * b).sum();
    let mean_slope = slope + curve.iter().zip(&ends).map(|(x, e)| x * e).sum::<f64>();
    let curve = curve.iter().enumerate().map(|(i, x)| x + start + slope * i as f64).collect();
    Some(Smoothed { values: curve, mean_slope, slope_sd: (variance * spread.max(0.0)).sqrt() })
}

/// Start and slope of the weighted least-squares line.
fn straight_line(values: &[f64], weights: &[f64]) -> (f64, f64) {
    let total: f64 = weights.iter().sum();
    let place = weights.iter().enumerate().map(|(i, w)| w * i as f64).sum::<f64>() / total;
    let height = values.iter().zip(weights).map(|(v, w)| w * v).sum::<f64>() / total;
    let (mut up, mut down) = (0.0, 0.0);
    for (i, (v, w)) in values.iter().zip(weights).enumerate() {
        let x = i as f64 - place;
        up += w * x * (v - height);
        down += w * x * x;
    }
    let slope = up / down;
    (height - slope * place, slope)
}

fn weighted(values: &[f64], weights: &[f64]) -> Vec<f64> {
    values.iter().zip(weights).map(|(v, w)| v * w).collect()
}

/// `W + s D'D` (D: second differences) as `L L'` with two bands below the diagonal.
struct Band {
    diagonal: Vec<f64>,
    below: Vec<f64>,
    second: Vec<f64>,
}

impl Band {
    fn new(weights: &[f64], stiffness: f64) -> Option<Band> {
        let n = weights.len();
        let (mut diagonal, mut below, mut second) = (weights.to_vec(), vec![0.0; n], vec![0.0; n]);
        // Row i of D is (1, −2, 1) from i on.
        for i in 0..n.saturating_sub(2) {
            for (offset, d) in [1.0, -2.0, 1.0].into_iter().enumerate() {
                *diagonal.get_mut(i + offset)? += stiffness * d * d;
            }
            *below.get_mut(i + 1)? += -2.0 * stiffness;
            *below.get_mut(i + 2)? += -2.0 * stiffness;
            *second.get_mut(i + 2)? += stiffness;
        }
        // Cholesky, row by row; `below[i]` is the element left of the diagonal, `second[i]` two left.
        for i in 0..n {
            let l2 = if i >= 2 { second.get(i)? / diagonal.get(i - 2)? } else { 0.0 };
            let l1 = if i >= 1 {
                let overlap = if i >= 2 { l2 * below.get(i - 1)? } else { 0.0 };
                (below.get(i)? - overlap) / diagonal.get(i - 1)?
            } else {
                0.0
            };
            let pivot = diagonal.get(i)? - l1 * l1 - l2 * l2;
            if pivot <= 0.0 || pivot.is_nan() {
                return None;
            }
            *diagonal.get_mut(i)? = pivot.sqrt();
            *below.get_mut(i)? = l1;
            *second.get_mut(i)? = l2;
        }
        Some(Band { diagonal, below, second })
    }

    fn log_determinant(&self) -> f64 {
        2.0 * self.diagonal.iter().map(|d| d.ln()).sum::<f64>()
    }

    fn solve(&self, right: &[f64]) -> Vec<f64> {
        let mut x = right.to_vec();
        let n = x.len();
        let at = |v: &[f64], i: usize| v.get(i).copied().unwrap_or(0.0);
        for i in 0..n {
            let left = if i >= 1 { at(&self.below, i) * at(&x, i - 1) } else { 0.0 };
            let far = if i >= 2 { at(&self.second, i) * at(&x, i - 2) } else { 0.0 };
            let value = (at(&x, i) - left - far) / at(&self.diagonal, i);
            if let Some(slot) = x.get_mut(i) {
                *slot = value;
            }
        }
        for i in (0..n).rev() {
            let right = at(&self.below, i + 1) * at(&x, i + 1);
            let far = at(&self.second, i + 2) * at(&x, i + 2);
            let value = (at(&x, i) - right - far) / at(&self.diagonal, i);
            if let Some(slot) = x.get_mut(i) {
                *slot = value;
            }
        }
        x
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Scatter that repeats on every machine: a linear congruential generator, summed to a bell.
    fn scatter(state: &mut u64) -> f64 {
        (0..12)
            .map(|_| {
                *state =
                    state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                (*state >> 11) as f64 / (1_u64 << 53) as f64
            })
            .sum::<f64>()
            - 6.0
    }

    #[test]
    fn a_straight_line_comes_back_with_its_slope() {
        let line: Vec<f64> = (0..20).map(|i| 3.0 + 0.25 * f64::from(i)).collect();
        let found = smooth(&line, &[1.0; 20]).unwrap();
        assert!((found.mean_slope - 0.25).abs() < 1e-9, "{found:?}");
    }

    #[test]
    fn the_told_uncertainty_of_the_slope_is_that_of_least_squares_on_a_noisy_line() {
        let mut state = 5;
        let (mut inside, n, trials) = (0, 40, 400);
        let expected = 0.1 / (f64::from(n * (n * n - 1)) / 12.0).sqrt();
        let mut mean_sd = 0.0;
        for _ in 0..trials {
            let noisy: Vec<f64> = (0..n).map(|_| 0.1 * scatter(&mut state)).collect();
            let found = smooth(&noisy, &vec![1.0; n as usize]).unwrap();
            inside += usize::from(found.mean_slope.abs() < found.slope_sd);
            mean_sd += found.slope_sd / f64::from(trials);
        }
        let share = inside as f64 / f64::from(trials);
        assert!((0.58..0.78).contains(&share), "{share}");
        assert!((0.9..1.6).contains(&(mean_sd / expected)), "{mean_sd} {expected}");
    }

    #[test]
    fn a_swinging_curve_is_followed() {
        let wave: Vec<f64> = (0..60).map(|i| (f64::from(i) * 0.4).sin()).collect();
        let found = smooth(&wave, &[1.0; 60]).unwrap();
        let worst = wave.iter().zip(&found.values).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        assert!(worst < 0.05, "{worst}");
    }
}
