//! Writes takes as WAV files.
//!
//! Must not know where the samples came from nor what they are for.

use std::fs::File;
use std::io::BufWriter;
use std::path::{Path, PathBuf};

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
    let mut wav = WavFile::create(path, rate_hz, 1, depth)?;
    wav.put(samples)?;
    wav.finish()
}

/// One channel of samples (full scale ±1; beyond it they are clipped) at `rate_hz` as a WAV of 16 bits in memory.
///
/// # Errors
/// [`WriteError`] when they are too many for a WAV.
pub fn wav_bytes(samples: &[f64], rate_hz: u32) -> Result<Vec<u8>, WriteError> {
    let refuse = |source| WriteError::Wav { path: "a take's sound".to_string(), source };
    let mut bytes = std::io::Cursor::new(Vec::new());
    let mut writer = hound::WavWriter::new(&mut bytes, spec(rate_hz, 1, Depth::Bits16)).map_err(refuse)?;
    for sample in samples {
        writer.write_sample(step(*sample, full_scale(Depth::Bits16))).map_err(refuse)?;
    }
    writer.finalize().map_err(refuse)?;
    Ok(bytes.into_inner())
}

fn bits(depth: Depth) -> u16 {
    match depth {
        Depth::Bits16 => 16,
        Depth::Bits24 => 24,
    }
}

fn full_scale(depth: Depth) -> f64 {
    f64::from(1_i32 << (bits(depth) - 1))
}

fn spec(rate_hz: u32, channels: usize, depth: Depth) -> hound::WavSpec {
    hound::WavSpec {
        channels: channels as u16,
        sample_rate: rate_hz,
        bits_per_sample: bits(depth),
        sample_format: hound::SampleFormat::Int,
    }
}

/// A sample as the whole number that a file holds.
fn step(sample: f64, full_scale: f64) -> i32 {
    (sample * full_scale).round().clamp(-full_scale, full_scale - 1.0) as i32
}

/// A WAV file that is written while the sound comes. At every [`WavFile::sync`] it is a whole file on the disk.
pub struct WavFile {
    writer: hound::WavWriter<BufWriter<File>>,
    /// The same file, to have the system put it on the disk.
    file: File,
    path: PathBuf,
    full_scale: f64,
}

impl WavFile {
    /// Makes the file.
    ///
    /// # Errors
    /// [`WriteError`] when it can't be made.
    pub fn create(path: &Path, rate_hz: u32, channels: usize, depth: Depth) -> Result<WavFile, WriteError> {
        let spec = spec(rate_hz, channels, depth);
        let refuse = |source| WriteError::Wav { path: path.display().to_string(), source };
        let file = File::create(path).map_err(|error| refuse(error.into()))?;
        let twin = file.try_clone().map_err(|error| refuse(error.into()))?;
        let writer = hound::WavWriter::new(BufWriter::new(twin), spec).map_err(refuse)?;
        Ok(WavFile { writer, file, path: path.to_path_buf(), full_scale: full_scale(depth) })
    }

    /// Adds samples, those of all channels in turn; beyond full scale they are clipped.
    ///
    /// # Errors
    /// [`WriteError`] when the disk refuses.
    pub fn put(&mut self, samples: &[f64]) -> Result<(), WriteError> {
        for sample in samples {
            let written = self.writer.write_sample(step(*sample, self.full_scale));
            written.map_err(|source| self.refused(source))?;
        }
        Ok(())
    }

    /// Writes the heading for what is there and has all of it put on the disk.
    ///
    /// # Errors
    /// [`WriteError`] when the disk refuses.
    pub fn sync(&mut self) -> Result<(), WriteError> {
        let flushed = self.writer.flush();
        flushed.map_err(|source| self.refused(source))?;
        self.file.sync_data().map_err(|error| self.refused(error.into()))
    }

    /// Ends the file; it is on the disk when this returns.
    ///
    /// # Errors
    /// [`WriteError`] when the disk refuses.
    pub fn finish(self) -> Result<(), WriteError> {
        let refuse = |source| WriteError::Wav { path: self.path.display().to_string(), source };
        self.writer.finalize().map_err(refuse)?;
        self.file.sync_all().map_err(|error| refuse(error.into()))
    }

    fn refused(&self, source: hound::Error) -> WriteError {
        WriteError::Wav { path: self.path.display().to_string(), source }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_that_is_never_ended_is_whole_up_to_the_last_sync() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.wav");
        let mut wav = WavFile::create(&path, 8000, 2, Depth::Bits24).unwrap();
        wav.put(&[0.25, -0.5]).unwrap();
        wav.sync().unwrap();
        wav.put(&[0.5, 0.5]).unwrap();
        let mut reader = hound::WavReader::open(&path).unwrap();
        let samples: Vec<i32> = reader.samples().map(Result::unwrap).collect();
        assert_eq!(samples, [1 << 21, -(1 << 22)]);
        // As a power cut does it: nothing is ended.
        std::mem::forget(wav);
    }
}
