//! The heading of a WAV file that comes through a pipe, so that its samples can be used as they come.
//!
//! Source: Microsoft and IBM, Multimedia Programming Interface and Data Specifications 1.0 (1991), chapter RIFF,
//! and WAVEFORMATEXTENSIBLE (both from memory). Must not know what the samples are for.

use std::io::Read;

use super::capture::{CaptureError, Coding, RawFormat};

/// What a heading said.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WavHead {
    /// What the samples are.
    pub format: RawFormat,
    /// Frames that follow; `None` when the writer could not know (a pipe).
    pub frames: Option<u64>,
}

/// Reads the heading up to where the samples begin.
///
/// # Errors
/// [`CaptureError`] when the pipe breaks, or the samples are of a kind that can't be used as they come.
pub fn read_head(pipe: &mut impl Read) -> Result<WavHead, CaptureError> {
    let refuse = |what: &str| Err(CaptureError::Wav(what.to_string()));
    let riff: [u8; 12] = bytes(pipe)?;
    if !riff.starts_with(b"RIFF") || !riff.ends_with(b"WAVE") {
        return refuse("it has no WAV heading");
    }
    let mut format = None;
    loop {
        let chunk: [u8; 8] = bytes(pipe)?;
        let [a, b, c, d, size @ ..] = chunk;
        let size = u32::from_le_bytes(size);
        match &[a, b, c, d] {
            b"fmt " if (16..=1024).contains(&size) => {
                let mut body = vec![0; size as usize];
                pipe.read_exact(&mut body)?;
                format = format_of(&body);
            }
            b"data" => {
                let Some(format) = format else {
                    return refuse("its samples are of a kind not read from a pipe");
                };
                let is_known = size != 0 && size < u32::MAX - 255;
                let frames = is_known.then(|| u64::from(size) / format.frame_bytes() as u64);
                return Ok(WavHead { format, frames });
            }
            _ if size > 64 * 1024 * 1024 => return refuse("its heading is damaged"),
            _ => skip(pipe, u64::from(size) + u64::from(size % 2))?,
        }
    }
}

fn bytes<const N: usize>(pipe: &mut impl Read) -> Result<[u8; N], CaptureError> {
    let mut bytes = [0; N];
    pipe.read_exact(&mut bytes)?;
    Ok(bytes)
}

fn skip(pipe: &mut impl Read, count: u64) -> Result<(), CaptureError> {
    std::io::copy(&mut pipe.by_ref().take(count), &mut std::io::sink())?;
    Ok(())
}

const PCM: u16 = 1;
const FLOAT: u16 = 3;
const EXTENSIBLE: u16 = 0xfffe;

fn format_of(body: &[u8]) -> Option<RawFormat> {
    let short = |at: usize| Some(u16::from_le_bytes(body.get(at..at + 2)?.try_into().ok()?));
    let rate_hz = u32::from_le_bytes(body.get(4..8)?.try_into().ok()?);
    let kind = match short(0)? {
        EXTENSIBLE => short(24)?,
        kind => kind,
    };
    let coding = match (kind, short(14)?) {
        (PCM, 8) => Coding::U8,
        (PCM, 16) => Coding::S16,
        (PCM, 24) => Coding::S24,
        (PCM, 32) => Coding::S32,
        (FLOAT, 32) => Coding::F32,
        (FLOAT, 64) => Coding::F64,
        _ => return None,
    };
    RawFormat::new(coding, rate_hz, usize::from(short(2)?))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn wav(spec: hound::WavSpec) -> Vec<u8> {
        let mut file = std::io::Cursor::new(Vec::new());
        let mut writer = hound::WavWriter::new(&mut file, spec).unwrap();
        for i in 0..12 {
            match spec.sample_format {
                hound::SampleFormat::Int => writer.write_sample(i * 10).unwrap(),
                hound::SampleFormat::Float => writer.write_sample(i as f32 / 128.0).unwrap(),
            }
        }
        writer.finalize().unwrap();
        file.into_inner()
    }

    #[test]
    fn every_usual_kind_is_read_as_another_program_wrote_it() {
        use hound::SampleFormat::{Float, Int};
        for (bits_per_sample, sample_format) in [(8, Int), (16, Int), (24, Int), (32, Int), (32, Float)] {
            let spec = hound::WavSpec { channels: 2, sample_rate: 44_100, bits_per_sample, sample_format };
            let bytes = wav(spec);
            let mut pipe = bytes.as_slice();
            let head = read_head(&mut pipe).unwrap();
            assert_eq!((head.frames, head.format.rate_hz()), (Some(6), 44_100), "{spec:?}");
            let block = head.format.read(&mut pipe, 100).unwrap().unwrap();
            let full_scale =
                if sample_format == Float { 1280.0 } else { 2_f64.powi(i32::from(bits_per_sample) - 1) };
            let back: Vec<i32> = block.samples.iter().map(|s| (s * full_scale).round() as i32).collect();
            assert_eq!(back, (0..12).map(|i| i * 10).collect::<Vec<_>>(), "{spec:?}");
        }
    }

    #[test]
    fn a_length_that_the_writer_could_not_know_is_unknown() {
        let spec = hound::WavSpec {
            channels: 1,
            sample_rate: 8000,
            bits_per_sample: 16,
            sample_format: hound::SampleFormat::Int,
        };
        let mut bytes = wav(spec);
        for size in [0_u32, u32::MAX] {
            bytes[40..44].copy_from_slice(&size.to_le_bytes());
            assert_eq!(read_head(&mut bytes.as_slice()).unwrap().frames, None);
        }
    }

    proptest! {
        #[test]
        fn no_bytes_whatever_stop_the_program(mut bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
            let _ = read_head(&mut bytes.as_slice());
            let mut riff = b"RIFF\0\0\0\0WAVEfmt ".to_vec();
            riff.append(&mut bytes);
            let _ = read_head(&mut riff.as_slice());
        }
    }
}
