//! The note's spectrum in orders: frequencies as multiples of its own pitch, whatever way the
//! pitch moves. Everything locked to the note then stands on one spot.
//!
//! Must not know which orders are undertones.

use std::f64::consts::{PI, TAU};

use num_complex::Complex64;

use super::band::Band;
use super::spectrum::{fast_length, hann, transform};
use super::track::Track;

/// Samples on each side that a value between samples is made from.
const REACH: i64 = 12;
/// The spectrum is padded so far that a line is never more than an eighth of a resolution off.
const PADDING: usize = 4;

/// A spectrum over orders, one resolution being one over the number of periods.
pub struct Orders {
    /// Moments at which the phase has advanced by even steps, seconds.
    times_s: Vec<f64>,
    samples: Vec<f64>,
    spectrum: Vec<Complex64>,
    bins_an_order: f64,
    scale: f64,
    /// Periods in the stretch.
    pub periods: f64,
}

impl Orders {
    /// Of the stretch of `track` from block `first` on, whose smooth phase is `cycles` (one value
    /// a block), up to `top_order`. `None` when it holds fewer than six periods.
    #[must_use]
    pub fn of(band: &Band, track: &Track, first: usize, cycles: &[f64], top_order: f64) -> Option<Orders> {
        let blocks = cycles.len();
        let from_s = track.at_s(first);
        let phase = |place: f64| track.base_hz * place * track.hop_s + curve(cycles, place);
        let start = phase(0.0);
        let periods = (phase((blocks - 1) as f64) - start).floor();
        if blocks < 2 || periods < 6.0 {
            return None;
        }
        // As many samples a period as the band has: fewer would fold its highest partials back onto
        // the lowest orders.
        let samples_a_period = (2.5 * top_order).max(band.rate_hz / track.base_hz);
        let count = fast_length((periods * samples_a_period) as usize);
        let mut place = 0.0;
        let times_s: Vec<f64> = (0..count)
            .map(|i| {
                let wanted = start + periods * i as f64 / count as f64;
                // Newton with the base pitch as slope: the phase hardly bends.
                for _ in 0..3 {
                    place += (wanted - phase(place)) / (track.base_hz * track.hop_s);
                }
                from_s + place * track.hop_s
            })
            .collect();
        let samples: Vec<f64> = times_s.iter().map(|t| between(&band.samples, t * band.rate_hz)).collect();
        let window = hann(count);
        let length = fast_length(PADDING * count);
        let spectrum = transform(&samples, &window, length);
        let scale = 2.0 / window.iter().sum::<f64>();
        Some(Orders {
            bins_an_order: length as f64 / count as f64 * periods,
            times_s,
            samples,
            spectrum,
            scale,
            periods,
        })
    }

    /// Orders from one bin to the next.
    #[must_use]
    pub fn step(&self) -> f64 {
        1.0 / self.bins_an_order
    }

    /// Complex amplitude at the bin nearest to `order`.
    #[must_use]
    pub fn at(&self, order: f64) -> Complex64 {
        let bin = (order * self.bins_an_order).round().max(0.0) as usize;
        self.spectrum.get(bin).copied().unwrap_or_default() * self.scale
    }

    /// What a line of fixed frequency and amplitude 1 (a cosine and a sine at time 0) looks like
    /// here.
    pub fn response(&self, hz: f64) -> impl Fn(f64) -> Complex64 + '_ {
        let length = (self.spectrum.len() - 1) * 2;
        let window = hann(self.times_s.len());
        let part = |shift: f64| -> Vec<Complex64> {
            let wave: Vec<f64> = self.times_s.iter().map(|t| (TAU * hz * t + shift).cos()).collect();
            transform(&wave, &window, length)
        };
        let (even, odd) = (part(0.0), part(-PI / 2.0));
        move |order| {
            let bin = (order * self.bins_an_order).round().max(0.0) as usize;
            // cos + i sin turns forward: what a real line leaves in the upper half.
            let value = |v: &[Complex64]| v.get(bin).copied().unwrap_or_default();
            (value(&even) + Complex64::I * value(&odd)) * self.scale / 2.0
        }
    }

    /// What a line of amplitude 1 that follows the note at `order` looks like here: the window's
    /// own transform.
    pub fn response_locked(&self, order: f64) -> impl Fn(f64) -> Complex64 + '_ {
        let count = self.samples.len() as f64;
        let sum_of = move |bins: f64| -> Complex64 {
            // Dirichlet kernel of `count` points.
            let x = PI * bins / count;
            let size = if x.abs() < 1e-12 { count } else { (x * count).sin() / x.sin() };
            Complex64::from_polar(size, -PI * bins * (count - 1.0) / count)
        };
        move |at| {
            let bin = (at * self.bins_an_order).round() / self.bins_an_order;
            let bins = (bin - order) * self.periods;
            let hann = sum_of(bins) * 0.5 - (sum_of(bins - 1.0) + sum_of(bins + 1.0)) * 0.25;
            hann * self.scale / 2.0
        }
    }

    /// Amplitudes at `order` in the first and in the second half.
    #[must_use]
    pub fn halves(&self, order: f64) -> [f64; 2] {
        let half = self.samples.len() / 2;
        let window = hann(half);
        let scale = 2.0 / window.iter().sum::<f64>();
        let step = TAU * order * self.periods / self.samples.len() as f64;
        [0, half].map(|start| {
            let part = self.samples.get(start..start + half).unwrap_or_default();
            let turn = Complex64::from_polar(1.0, -step);
            let mut phase = Complex64::ONE;
            let mut sum = Complex64::ZERO;
            for (sample, w) in part.iter().zip(&window) {
                sum += phase * (sample * w);
                phase *= turn;
            }
            sum.norm() * scale
        })
    }
}

/// A smooth curve through evenly spaced values: cubic pieces whose slopes are those of their
/// neighbours (E. Catmull & R. Rom 1974, from memory); straight on beyond the ends.
fn curve(values: &[f64], place: f64) -> f64 {
    let last = values.len() - 1;
    let left = (place.max(0.0) as usize).min(last.saturating_sub(1));
    let value = |i: i64| -> f64 {
        let inside = values.get(i.clamp(0, last as i64) as usize).copied().unwrap_or(0.0);
        let (edge, next) = if i < 0 { (0, 1) } else { (last, last.saturating_sub(1)) };
        if i < 0 || i > last as i64 {
            let e = values.get(edge).copied().unwrap_or(0.0);
            2.0 * e - values.get(next).copied().unwrap_or(e)
        } else {
            inside
        }
    };
    let i = left as i64;
    let (a, b, c, d) = (value(i - 1), value(i), value(i + 1), value(i + 2));
    let t = place - left as f64;
    if !(0.0..=1.0).contains(&t) {
        return b + (c - b) * t;
    }
    b + 0.5 * t * (c - a + t * (2.0 * a - 5.0 * b + 4.0 * c - d + t * (3.0 * (b - c) + d - a)))
}

/// The value between samples, by a sinc under a Hann window.
fn between(samples: &[f64], at: f64) -> f64 {
    let nearest = at.round();
    let offset = at - nearest;
    let centre = nearest as i64;
    if offset.abs() < 1e-9 {
        return usize::try_from(centre).ok().and_then(|i| samples.get(i)).copied().unwrap_or(0.0);
    }
    // sin π(o − k) = (−1)^k sin πo: one sine for all.
    let sine = (PI * offset).sin() / PI;
    let width = (REACH + 1) as f64;
    let turn = Complex64::from_polar(1.0, -PI / width);
    let mut phase = Complex64::from_polar(1.0, PI * (offset + REACH as f64) / width);
    let mut sum = 0.0;
    for k in -REACH..=REACH {
        let distance = offset - k as f64;
        let sign = if k % 2 == 0 { 1.0 } else { -1.0 };
        let weight = sign * sine / distance * (0.5 + 0.5 * phase.re);
        if let Some(sample) = usize::try_from(centre + k).ok().and_then(|i| samples.get(i)) {
            sum += sample * weight;
        }
        phase *= turn;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_between_samples_lie_on_the_wave() {
        let wave = |t: f64| (0.31 * PI * t + 0.4).sin();
        let samples: Vec<f64> = (0..100).map(|i| wave(f64::from(i))).collect();
        for at in [40.3, 50.5, 61.9] {
            assert!((between(&samples, at) - wave(at)).abs() < 2e-3, "{at}");
        }
    }

    #[test]
    fn the_curve_passes_through_its_values_and_follows_a_parabola() {
        let values: Vec<f64> = (0..10).map(|i| f64::from(i * i)).collect();
        assert!((curve(&values, 4.0) - 16.0).abs() < 1e-12);
        assert!((curve(&values, 4.5) - 20.25).abs() < 1e-9);
    }
}
