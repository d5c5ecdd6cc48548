//! Writes takes as WAV files.
//!
//! Must not know where the samples came from nor what they are for.

use std::path::Path;

/// Bits of each written sample.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Depth {
    /// 16 bits: every program reads it.
    Bits16,
    /// 24 bits: what a good sound card gives.
    Bits24,
}

/// A WAV file could not be written.
#[derive(Debug, thiserror::Error)]
pub enum WriteError {
    /// The disk refused, or the file grew too large for a WAV.
    #[error("can't write {path}: {source}")]
    Wav {
        /// The file.
        path: String,
        /// What went wrong.
        source: hound::Error,
    },
}

/// Writes one channel of samples (full scale ±1; beyond it they are clipped) at `rate_hz`.
///
/// # Errors
/// [`WriteError`] when the file can't be made or written.
pub fn write_wav(path: &Path, samples: &[f64], rate_hz: u32, depth: Depth) -> Result<(), WriteError> {
    let bits = match depth {
        Depth::Bits16 => 16,
        Depth::Bits24 => 24,
    };
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: rate_hz,
        bits_per_sample: bits,
        sample_format: hound::SampleFormat::Int,
    };
    let refuse = |source| WriteError::Wav { path: path.display().to_string(), source };
    let full_scale = f64::from(1_i32 << (bits - 1));
    let mut writer = hound::WavWriter::create(path, spec).map_err(refuse)?;
    for sample in samples {
        let step = (sample * full_scale).round().clamp(-full_scale, full_scale - 1.0);
        writer.write_sample(step as i32).map_err(refuse)?;
    }
    writer.finalize().map_err(refuse)
}
