//! How near the ear comes to the best that is possible on a steady tone in white noise.

use std::f64::consts::TAU;

use borescribe::audio::take::Take;

use crate::{Noise, RATE_HZ, blind, odd, take};

/// Cramér–Rao bound of the pitch of a tone of harmonics with free amplitudes and phases, cents:
/// variance of f ≥ 24 s² / ((2π)² T² N Σ k² A_k²) for N samples in T seconds and noise of variance s².
///
/// Source: J. Tabrikian, S. Dubnov, Y. Dickalov, IEEE Trans. Speech Audio Process. 12 (2004) 76 (from memory);
/// for one partial D. C. Rife & R. R. Boorstyn, IEEE Trans. Inf. Theory 20 (1974) 591.
fn bound_cents(hz: f64, seconds: f64, partials: &[(f64, f64)], noise: f64) -> f64 {
    let weight: f64 = partials.iter().map(|(k, a)| (k * a).powi(2)).sum();
    let variance = 24.0 * noise.powi(2) / (TAU * TAU * seconds.powi(3) * RATE_HZ * weight);
    1200.0 / std::f64::consts::LN_2 * variance.sqrt() / hz
}

/// Sixteen tones at each of six pitches: their errors together, root mean square, in units of the bound of
/// the steady part that is told. Half a block on either side of it is used as well, so that a little under
/// one is possible.
#[test]
fn clean_tones_in_white_noise_come_within_half_more_than_the_bound() {
    for snr_db in [40.0, 20.0, 10.0] {
        let (mut sum, mut count) = (0.0, 0.0);
        for (place, hz) in [12.0, 31.0, 73.0, 165.0, 440.0, 1200.0].into_iter().enumerate() {
            let partials: Vec<(f64, f64)> =
                odd(hz, 1.0).into_iter().filter(|(n, _)| *n < 2.0 || n * hz < 2000.0).collect();
            let clean = take(hz, f64::max(1.5, 24.0 / hz), &partials, 0.0);
            let power: f64 = partials.iter().map(|(_, a)| (0.1 * a).powi(2) / 2.0).sum();
            let noise = (power * 10f64.powf(-snr_db / 10.0)).sqrt();
            for trial in 0..16 {
                let mut scatter = Noise(100 * place as u64 + trial + 5000);
                let samples = clean.samples.iter().map(|s| s + noise * scatter.next()).collect();
                let found = blind(&Take { samples, ..clean.clone() });
                let (from_s, to_s) = found.steady_s.unwrap();
                let error = 1200.0 * (found.pitch_hz.unwrap() / hz).log2();
                let louder: Vec<(f64, f64)> = partials.iter().map(|(n, a)| (*n, 0.1 * a)).collect();
                sum += (error / bound_cents(hz, to_s - from_s, &louder, noise)).powi(2);
                count += 1.0;
            }
        }
        let ratio = f64::sqrt(sum / count);
        assert!((0.7..1.5).contains(&ratio), "{snr_db} dB: {ratio}");
    }
}
