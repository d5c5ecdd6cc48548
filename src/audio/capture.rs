//! Sound as it arrives: what a recording is, why there is none, and raw samples from a pipe.
//!
//! The sound card is in `sound_card.rs`. Must not know instruments, prompts or where takes are kept.

use std::io::Read;
use std::str::FromStr;

use super::decode::swing;
use super::take::{Origin, Take};

/// Why nothing could be recorded.
#[derive(Debug, thiserror::Error)]
pub enum CaptureError {
    /// The program was built without recording.
    #[error(
        "this program was built without recording from the sound card.\n  Two ways out: install \
         libasound2-dev and pkg-config and build again: cargo build --release --features live\n  or pipe a \
         recorder into it: arecord -t raw -f FLOAT_LE -r 48000 -c 1 | borescribe record … --raw f32le:48000:1"
    )]
    NotBuiltIn,
    /// The system has no input.
    #[error(
        "no microphone or sound card was found.\n  Plug one in, or choose an input in the system's sound settings"
    )]
    NoDevice,
    /// The system has an input but does not hand it over.
    #[error(
        "the sound card can't be used: {0}\n  Close other programs that record, and check that this one may"
    )]
    Refused(String),
    /// The input stopped in the middle.
    #[error("the sound card stopped: {0}\n  Check its cable, and record this note again")]
    Stopped(String),
    /// The pipe broke.
    #[error("reading the samples failed: {0}")]
    Pipe(#[from] std::io::Error),
}

/// Sound that has been recorded, its channels still apart.
#[derive(Debug, Clone, PartialEq)]
pub struct Recorded {
    /// Samples of each channel, full scale ±1.
    pub channels: Vec<Vec<f64>>,
    /// Samples per second.
    pub rate_hz: u32,
    /// Stretches that the system lost.
    pub gaps: usize,
}

impl Recorded {
    /// Takes interleaved samples apart; what is no number becomes silence.
    #[must_use]
    pub fn from_interleaved(samples: &[f64], channels: usize, rate_hz: u32) -> Recorded {
        let usable = |sample: &f64| if sample.is_finite() { *sample } else { 0.0 };
        let channel = |c: usize| samples.iter().skip(c).step_by(channels).map(usable).collect();
        Recorded { channels: (0..channels).map(channel).collect(), rate_hz, gaps: 0 }
    }

    /// The channel with the most sound, as of a file: two microphones must not be mixed.
    #[must_use]
    pub fn into_take(self) -> Take {
        let count = self.channels.len();
        let peak = self.channels.iter().flatten().fold(0.0_f64, |peak, s| peak.max(s.abs()));
        // The first of equals: the last of equals is what `max_by` keeps.
        let samples = self.channels.into_iter().rev().max_by(|a, b| swing(a).total_cmp(&swing(b)));
        let damage = (self.gaps > 0).then(|| format!("the system lost sound {} times", self.gaps));
        let codec = "live".to_string();
        let origin = Origin { codec, lossy: false, channels: count, bits_per_sample: None, damage, peak };
        Take { samples: samples.unwrap_or_default(), rate_hz: f64::from(self.rate_hz), origin }
    }
}

/// Full scale of 32-bit samples.
const I32_FULL_SCALE: f64 = 2_147_483_648.0;

/// How one raw sample is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Coding {
    F32,
    S16,
    S24,
    S32,
}

impl Coding {
    const ALL: [(&'static str, Coding, usize); 4] = [
        ("f32le", Coding::F32, 4),
        ("s16le", Coding::S16, 2),
        ("s24le", Coding::S24, 3),
        ("s32le", Coding::S32, 4),
    ];

    fn bytes(self) -> usize {
        Coding::ALL.iter().find(|(_, coding, _)| *coding == self).map_or(4, |known| known.2)
    }

    /// One sample, full scale ±1, from exactly as many bytes as it has.
    fn value(self, bytes: &[u8]) -> f64 {
        let mut word = [0_u8; 4];
        // Whole numbers fill the word from the top, so that all have one full scale.
        word.iter_mut().rev().zip(bytes.iter().rev()).for_each(|(to, from)| *to = *from);
        match self {
            Coding::F32 => f64::from(f32::from_le_bytes(word)),
            Coding::S16 | Coding::S24 | Coding::S32 => f64::from(i32::from_le_bytes(word)) / I32_FULL_SCALE,
        }
    }
}

/// What raw samples in a pipe are; written `f32le:48000:1`: coding, rate in hertz, channels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RawFormat {
    coding: Coding,
    rate_hz: u32,
    channels: usize,
}

/// Rates that make sense for sound, hertz.
const RATES_HZ: std::ops::RangeInclusive<u32> = 1_000..=768_000;
/// The most channels that are taken apart.
const MOST_CHANNELS: usize = 64;

/// A raw format was written wrongly.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "{0}: write coding, rate and channels like f32le:48000:1; the coding is f32le, s16le, s24le or s32le"
)]
pub struct RawFormatError(String);

impl FromStr for RawFormat {
    type Err = RawFormatError;

    fn from_str(text: &str) -> Result<RawFormat, RawFormatError> {
        let wrong = || RawFormatError(text.to_string());
        let [coding, rate, channels] = *text.split(':').collect::<Vec<_>>() else { return Err(wrong()) };
        let known = Coding::ALL.iter().find(|(name, ..)| name.eq_ignore_ascii_case(coding));
        let coding = known.ok_or_else(wrong)?.1;
        let rate_hz: u32 = rate.parse().map_err(|_| wrong())?;
        let channels: usize = channels.parse().map_err(|_| wrong())?;
        if !RATES_HZ.contains(&rate_hz) || !(1..=MOST_CHANNELS).contains(&channels) {
            return Err(wrong());
        }
        Ok(RawFormat { coding, rate_hz, channels })
    }
}

impl RawFormat {
    /// Reads up to `seconds` of sound from `pipe`; less where it ends, nothing where it has ended.
    ///
    /// # Errors
    /// [`CaptureError::Pipe`] when reading fails.
    pub fn read(&self, pipe: &mut impl Read, seconds: f64) -> Result<Option<Recorded>, CaptureError> {
        let frame_bytes = self.coding.bytes() * self.channels;
        let frames = (seconds * f64::from(self.rate_hz)).round() as usize;
        let mut bytes = Vec::new();
        pipe.by_ref().take((frames * frame_bytes) as u64).read_to_end(&mut bytes)?;
        // A torn frame at the end is no sound.
        bytes.truncate(bytes.len() - bytes.len() % frame_bytes);
        let samples: Vec<f64> =
            bytes.chunks_exact(self.coding.bytes()).map(|sample| self.coding.value(sample)).collect();
        let recorded = Recorded::from_interleaved(&samples, self.channels, self.rate_hz);
        Ok((!samples.is_empty()).then_some(recorded))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(format: &str, bytes: &[u8]) -> Vec<Vec<f64>> {
        let format: RawFormat = format.parse().unwrap();
        let recorded = format.read(&mut &bytes[..], 10.0).unwrap();
        recorded.map(|recorded| recorded.channels).unwrap_or_default()
    }

    #[test]
    fn every_coding_has_the_same_full_scale() {
        assert_eq!(read("f32le:8000:1", &(-0.5_f32).to_le_bytes()), [[-0.5]]);
        assert_eq!(read("s16le:8000:1", &(-16_384_i16).to_le_bytes()), [[-0.5]]);
        assert_eq!(read("s32le:8000:1", &(-1_073_741_824_i32).to_le_bytes()), [[-0.5]]);
        assert_eq!(read("s24le:8000:1", &[0x00, 0x00, 0xc0]), [[-0.5]]);
        assert_eq!(read("S16LE:8000:1", &i16::MIN.to_le_bytes()), [[-1.0]]);
    }

    #[test]
    fn channels_come_apart_and_a_torn_frame_is_left_out() {
        let bytes: Vec<u8> = [1_i16, 2, 3, 4, 5].iter().flat_map(|s| (s * 1024).to_le_bytes()).collect();
        let unit = 1024.0 / 32_768.0;
        assert_eq!(read("s16le:8000:2", &bytes), [[unit, 3.0 * unit], [2.0 * unit, 4.0 * unit]]);
        assert!(read("s16le:8000:2", &bytes[..3]).is_empty());
    }

    #[test]
    fn samples_that_are_no_numbers_become_silence() {
        let bytes: Vec<u8> = [f32::NAN, 0.25, f32::INFINITY].iter().flat_map(|s| s.to_le_bytes()).collect();
        assert_eq!(read("f32le:8000:1", &bytes), [[0.0, 0.25, 0.0]]);
    }

    #[test]
    fn a_pipe_that_trickles_is_read_in_the_same_pieces() {
        struct Trickle<'a>(&'a [u8]);
        impl Read for Trickle<'_> {
            fn read(&mut self, to: &mut [u8]) -> std::io::Result<usize> {
                let count = to.len().min(self.0.len()).min(3);
                to[..count].copy_from_slice(&self.0[..count]);
                self.0 = &self.0[count..];
                Ok(count)
            }
        }
        let bytes: Vec<u8> = (0..20_i16).flat_map(i16::to_le_bytes).collect();
        let format: RawFormat = "s16le:8000:1".parse().unwrap();
        let mut pipe = Trickle(&bytes);
        let mut lengths = Vec::new();
        while let Some(recorded) = format.read(&mut pipe, 0.001).unwrap() {
            lengths.push(recorded.channels[0].len());
        }
        assert_eq!(lengths, [8, 8, 4]);
    }

    #[test]
    fn the_channel_with_the_most_sound_is_kept_whole() {
        let loud = vec![0.5, -0.5, 0.5];
        let recorded = Recorded { channels: vec![vec![0.9; 3], loud.clone()], rate_hz: 8000, gaps: 0 };
        let take = recorded.into_take();
        assert_eq!((take.samples, take.origin.channels, take.origin.peak), (loud, 2, 0.9));
    }

    #[test]
    fn a_format_that_is_written_wrongly_is_refused_with_an_example() {
        for wrong in
            ["", "f32le", "f32le:48000", "f64le:48000:1", "f32le:48 kHz:1", "f32le:0:1", "s16le:48000:0"]
        {
            let told = wrong.parse::<RawFormat>().unwrap_err().to_string();
            assert!(told.contains("f32le:48000:1"), "{told}");
        }
    }
}
