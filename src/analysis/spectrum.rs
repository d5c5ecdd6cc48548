//! Discrete Fourier transforms: the only file that knows the transform crate.
//!
//! Must not know what the spectra are for.

use std::cell::RefCell;
use std::collections::HashMap;
use std::sync::Arc;

use num_complex::Complex64;
use realfft::{RealFftPlanner, RealToComplex};

/// What transforms are made with and in.
#[derive(Default)]
struct Workshop {
    /// By length.
    plans: HashMap<usize, Arc<dyn RealToComplex<f64>>>,
    input: Vec<f64>,
    scratch: Vec<Complex64>,
}

impl Workshop {
    /// The plan of a length. Each comes from a planner of its own: one that has planned other lengths builds on
    /// those, and the last digits of a sum would tell which takes the thread had measured before.
    fn plan(&mut self, length: usize) -> Arc<dyn RealToComplex<f64>> {
        let new = || RealFftPlanner::new().plan_fft_forward(length);
        Arc::clone(self.plans.entry(length).or_insert_with(new))
    }
}

thread_local! {
    /// Plans and memory are costly to make and cheap to keep: one store a thread.
    static WORKSHOP: RefCell<Workshop> = RefCell::new(Workshop::default());
}

/// The smallest length of the form 2^a·3^b·5^c that is even and at least `n`: fast to transform.
#[must_use]
pub fn fast_length(n: usize) -> usize {
    let mut length = n.max(2).next_multiple_of(2);
    while !is_smooth(length) {
        length += 2;
    }
    length
}

fn is_smooth(mut n: usize) -> bool {
    for factor in [2, 3, 5] {
        while n.is_multiple_of(factor) {
            n /= factor;
        }
    }
    n == 1
}

/// The Hann window of `n` points, periodic (zero at the first point only).
#[must_use]
pub fn hann(n: usize) -> Vec<f64> {
    (0..n).map(|i| 0.5 - 0.5 * (std::f64::consts::TAU * i as f64 / n as f64).cos()).collect()
}

/// One-sided transform of windowed samples, padded with zeros to `length` points: bin `i` lies at
/// `i / length` of the sampling rate. Not scaled.
#[must_use]
pub fn transform(samples: &[f64], window: &[f64], length: usize) -> Vec<Complex64> {
    WORKSHOP.with_borrow_mut(|workshop| {
        let plan = workshop.plan(length);
        let Workshop { input, scratch, .. } = workshop;
        input.clear();
        input.extend(samples.iter().zip(window).map(|(sample, weight)| sample * weight));
        input.resize(length, 0.0);
        scratch.resize(plan.get_scratch_len().max(scratch.len()), Complex64::ZERO);
        let mut output = plan.make_output_vec();
        match plan.process_with_scratch(input, &mut output, scratch) {
            Ok(()) => output,
            // Only wrong buffer lengths are refused, and the plan made these buffers.
            Err(_) => vec![Complex64::ZERO; length / 2 + 1],
        }
    })
}

/// Mean power spectrum of overlapping frames (three quarters overlap, Hann window): P. D. Welch,
/// IEEE Trans. Audio Electroacoust. 15 (1967) 70.
#[derive(Debug, Clone)]
pub struct MeanSpectrum {
    /// Power of each bin; a sine of amplitude `a` on a bin centre gives `a²`.
    pub power: Vec<f64>,
    /// Hertz from one bin to the next.
    pub bin_hz: f64,
    /// Hertz by which one frame resolves (one over its length).
    pub resolution_hz: f64,
    /// Number of frames that are worth as much as independent ones.
    pub independent_frames: f64,
}

impl MeanSpectrum {
    /// Of `samples` at `rate_hz`, in frames of `frame_s` seconds (or all of it, when shorter).
    #[must_use]
    pub fn of(samples: &[f64], rate_hz: f64, frame_s: f64) -> MeanSpectrum {
        let frame = ((frame_s * rate_hz) as usize).clamp(16, samples.len().max(16));
        let length = fast_length(2 * frame);
        let window = hann(frame);
        let gain = window.iter().sum::<f64>() / 2.0;
        let hop = (frame / 4).max(1);
        let mut power = vec![0.0; length / 2 + 1];
        let mut frames = 0;
        let mut start = 0;
        loop {
            let end = (start + frame).min(samples.len());
            let part = samples.get(start..end).unwrap_or_default();
            for (sum, bin) in power.iter_mut().zip(transform(part, &window, length)) {
                *sum += bin.norm_sqr();
            }
            frames += 1;
            start += hop;
            if start + frame > samples.len() {
                break;
            }
        }
        let scale = 1.0 / (gain * gain * frames as f64);
        power.iter_mut().for_each(|p| *p *= scale);
        MeanSpectrum {
            power,
            bin_hz: rate_hz / length as f64,
            resolution_hz: rate_hz / frame as f64,
            // Neighbours at three quarters overlap are worth about half a frame each (Welch 1967).
            independent_frames: 1.0 + 0.5 * (frames - 1) as f64,
        }
    }

    /// Highest frequency in the spectrum, hertz.
    #[must_use]
    pub fn top_hz(&self) -> f64 {
        self.bin_hz * self.power.len().saturating_sub(1) as f64
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fast_lengths_have_small_factors_only() {
        for (n, want) in [(1, 2), (7, 8), (97, 100), (48_017, 48_600)] {
            assert_eq!(fast_length(n), want);
        }
    }

    #[test]
    fn a_spectrum_does_not_depend_on_what_its_thread_transformed_before() {
        let noise: Vec<f64> = (0..9600).map(|i| (f64::from(i) * 12.9898).sin() * 43.0 % 1.0).collect();
        let fresh = |lengths: &'static [usize]| {
            let noise = noise.clone();
            let last = move || lengths.iter().map(|&n| transform(&noise, &vec![1.0; 9600], n)).next_back();
            std::thread::spawn(last).join().unwrap()
        };
        assert!(fresh(&[9600]).is_some());
        assert_eq!(fresh(&[9600, 19_200, 28_800, 12_000, 48_600, 48_000, 24_000, 96_000]), fresh(&[96_000]));
        assert_eq!(fresh(&[27_000, 54_000, 81_000, 9600, 10_800, 16_200]), fresh(&[16_200]));
    }

    #[test]
    fn a_sine_of_known_amplitude_shows_its_square() {
        let rate_hz = 8000.0;
        let tone: Vec<f64> = (0..16_000)
            .map(|i| 0.3 * (std::f64::consts::TAU * 500.0 * f64::from(i) / rate_hz).sin())
            .collect();
        let spectrum = MeanSpectrum::of(&tone, rate_hz, 0.5);
        let peak = spectrum.power.iter().fold(0.0_f64, |a, &b| a.max(b));
        assert!((peak - 0.09).abs() < 0.001, "{peak}");
    }
}
