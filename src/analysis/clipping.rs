//! Flat tops: where the recorder ran out of range.
//!
//! Must not know pitch.

/// Samples within this share of the extreme count as lying on it: dither and a codec's rounding.
const FLAT: f64 = 0.002;
/// A flat top is at least so many samples long.
const SHORTEST: usize = 3;
/// Just beyond a top of a smooth wave, half its length further out on each side, the wave is
/// (1 + 2·½)² = 4 times as far down as at the top's ends; beyond a cut-off top it falls away. Three
/// times that is no smooth wave.
const FALL: f64 = 12.0;

/// Share of `samples` that lie on flat tops at the highest or the lowest value. `step` is the
/// smallest difference that the file can hold near full scale: a top within one step is only coarse.
#[must_use]
pub fn share(samples: &[f64], step: f64) -> f64 {
    let highest = samples.iter().fold(0.0_f64, |m, &s| m.max(s));
    let lowest = samples.iter().fold(0.0_f64, |m, &s| m.min(s));
    let flat = flat_samples(samples, highest, 1.0, step) + flat_samples(samples, -lowest, -1.0, step);
    flat as f64 / samples.len().max(1) as f64
}

fn flat_samples(samples: &[f64], extreme: f64, sign: f64, step: f64) -> usize {
    if extreme <= 0.0 {
        return 0;
    }
    let depth = (FLAT * extreme).max(0.6 * step);
    let below = |i: usize| samples.get(i).map(|s| extreme - sign * s);
    let (mut flat, mut i) = (0, 0);
    while i < samples.len() {
        if below(i).is_none_or(|b| b > depth) {
            i += 1;
            continue;
        }
        let start = i;
        while below(i).is_some_and(|b| b <= depth) {
            i += 1;
        }
        let length = i - start;
        let out = (length / 2).max(1);
        let falls = |place: Option<usize>| place.and_then(below).is_some_and(|b| b > FALL * depth);
        if length >= SHORTEST && (falls(start.checked_sub(out)) || falls(Some(i + out - 1))) {
            flat += length;
        }
    }
    flat
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sine(periods: f64, limit: f64) -> Vec<f64> {
        (0..48_000)
            .map(|i| (std::f64::consts::TAU * periods * f64::from(i) / 48_000.0).sin().clamp(-limit, limit))
            .collect()
    }

    #[test]
    fn smooth_waves_of_any_pitch_have_no_flat_tops() {
        for hz in [12.0, 31.0, 100.0, 440.0, 1500.0] {
            assert!(share(&sine(hz, 1.0), 0.0) < 1e-3, "{hz}");
        }
    }

    #[test]
    fn coarse_steps_are_no_flat_tops() {
        let step = 1.0 / 128.0;
        for hz in [31.0, 100.0, 440.0] {
            let coarse: Vec<f64> = sine(hz, 1.0).iter().map(|s| (0.2 * s / step).round() * step).collect();
            assert!(share(&coarse, step) < 1e-3, "{hz}");
        }
    }

    #[test]
    fn cut_off_waves_of_any_pitch_have() {
        for hz in [12.0, 31.0, 100.0, 440.0] {
            assert!(share(&sine(hz, 0.8), 0.0) > 0.1, "{hz}: {}", share(&sine(hz, 0.8), 0.0));
        }
    }
}
