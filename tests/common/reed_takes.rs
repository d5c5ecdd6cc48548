//! Synthetic takes of a reed.

use std::f64::consts::TAU;
use std::path::Path;

/// Samples a second of the synthetic takes.
pub const RATE_HZ: u32 = 16_000;

/// A steady reed note: odd harmonics that fall off, in a faint hiss, a breath of silence around it.
pub fn reed_tone(hz: f64, seconds: f64) -> Vec<f64> {
    let count = (seconds * f64::from(RATE_HZ)) as usize;
    let silence = RATE_HZ as usize / 4;
    let mut hiss = Hiss(1);
    let mut samples: Vec<f64> = (0..silence).map(|_| hiss.next()).collect();
    samples.extend((0..count).map(|i| {
        let t = i as f64 / f64::from(RATE_HZ);
        let swell = (t / 0.05).min((seconds - t) / 0.05).clamp(0.0, 1.0);
        let odd = (1..24).step_by(2).filter(|n| f64::from(*n) * hz < 0.4 * f64::from(RATE_HZ));
        let tone: f64 = odd.map(|n| (TAU * f64::from(n) * hz * t).sin() / f64::from(n)).sum();
        0.4 * swell * tone + hiss.next()
    }));
    samples.extend((0..silence).map(|_| hiss.next()));
    samples
}

/// Noise at −80 dBFS, the same every time.
struct Hiss(u32);

impl Hiss {
    fn next(&mut self) -> f64 {
        // Numerical Recipes' quick generator (from memory); any would do.
        self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (f64::from(self.0) / f64::from(u32::MAX) - 0.5) * 2e-4
    }
}

pub fn write_wav(path: &Path, samples: &[f64]) {
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: RATE_HZ,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(path, spec).unwrap();
    for sample in samples {
        writer.write_sample((sample * 32_768.0).round().clamp(-32_768.0, 32_767.0) as i16).unwrap();
    }
    writer.finalize().unwrap();
}
