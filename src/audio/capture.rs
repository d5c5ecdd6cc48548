//! Sound as it arrives: what a recording is, why there is none, and raw samples from a pipe.
//!
//! The sound card is in `sound_card.rs`. Must not know instruments, prompts or where takes are kept.

use std::io::Read;
use std::str::FromStr;

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
    /// No input is called so.
    #[error("no input is called {name}.\n  There are: {known}")]
    NoSuchDevice {
        /// As typed.
        name: String,
        /// All inputs.
        known: String,
    },
    /// A WAV in a pipe that can't be used as it comes.
    #[error("standard input: {0}.\n  Send a WAV of plain samples, or raw ones with --raw f32le:48000:1")]
    Wav(String),
    /// The pipe broke.
    #[error("reading the samples failed: {0}")]
    Pipe(#[from] std::io::Error),
}

/// An input of this machine.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Input {
    /// What the system calls it.
    pub name: String,
    /// Whether the system's sound settings name it.
    pub is_default: bool,
}

/// Which of `inputs` is meant by a number from 1 or a part of a name; the first that fits.
///
/// # Errors
/// [`CaptureError::NoSuchDevice`] with all inputs when none fits.
pub fn chosen(inputs: &[Input], wanted: &str) -> Result<usize, CaptureError> {
    let by_number = wanted.parse::<usize>().ok().and_then(|number| number.checked_sub(1));
    let part = wanted.to_lowercase();
    let by_name = || inputs.iter().position(|input| input.name.to_lowercase().contains(&part));
    by_number.filter(|index| *index < inputs.len()).or_else(by_name).ok_or_else(|| {
        let names: Vec<String> = (1..).zip(inputs).map(|(n, input)| format!("{n} {}", input.name)).collect();
        CaptureError::NoSuchDevice { name: wanted.to_string(), known: names.join(", ") }
    })
}

/// Sound as it comes, the samples of all channels in turn.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Block {
    /// Whole frames, full scale ±1; what was no number is silence.
    pub samples: Vec<f64>,
    /// Channels.
    pub channels: usize,
    /// Samples per second and channel.
    pub rate_hz: u32,
    /// Stretches that the system lost since the block before.
    pub gaps: usize,
}

impl Block {
    /// Frames in it.
    #[must_use]
    pub fn frames(&self) -> usize {
        self.samples.len() / self.channels.max(1)
    }

    /// The samples of one channel, from 0.
    #[must_use]
    pub fn channel(&self, channel: usize) -> Vec<f64> {
        self.samples.iter().skip(channel).step_by(self.channels.max(1)).copied().collect()
    }
}

/// Finds, of several channels, the one with the most sound so far. Two microphones must not be mixed.
#[derive(Debug, Clone, Default)]
pub struct Loudest {
    frames: usize,
    /// Sum and sum of squares of each channel.
    sums: Vec<(f64, f64)>,
}

impl Loudest {
    /// Takes in more of the sound.
    pub fn hear(&mut self, block: &Block) {
        self.sums.resize(block.channels, (0.0, 0.0));
        self.frames += block.frames();
        for frame in block.samples.chunks_exact(block.channels.max(1)) {
            for ((sum, squares), sample) in self.sums.iter_mut().zip(frame) {
                *sum += sample;
                *squares += sample * sample;
            }
        }
    }

    /// The channel, from 0; the first of equals. A constant offset counts for nothing.
    #[must_use]
    pub fn channel(&self) -> usize {
        let swing = |&(sum, squares): &(f64, f64)| squares - sum * sum / self.frames.max(1) as f64;
        let of_channels = self.sums.iter().map(swing).enumerate();
        of_channels.rev().max_by(|a, b| a.1.total_cmp(&b.1)).map_or(0, |(channel, _)| channel)
    }

    /// Takes in more of the sound; its part of that channel.
    pub fn of(&mut self, block: &Block) -> Vec<f64> {
        self.hear(block);
        block.channel(self.channel())
    }
}

/// Full scale of 32-bit samples.
const I32_FULL_SCALE: f64 = 2_147_483_648.0;

/// How one raw sample is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Coding {
    U8,
    S16,
    S24,
    S32,
    F32,
    F64,
}

impl Coding {
    const ALL: [(&'static str, Coding, usize); 6] = [
        ("u8", Coding::U8, 1),
        ("f64le", Coding::F64, 8),
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
        if let Coding::F64 = self {
            return bytes.try_into().map_or(0.0, f64::from_le_bytes);
        }
        if let Coding::U8 = self {
            return bytes.first().map_or(0.0, |byte| f64::from(*byte) / 128.0 - 1.0);
        }
        let mut word = [0_u8; 4];
        // Whole numbers fill the word from the top, so that all have one full scale.
        word.iter_mut().rev().zip(bytes.iter().rev()).for_each(|(to, from)| *to = *from);
        match self {
            Coding::F32 => f64::from(f32::from_le_bytes(word)),
            _ => f64::from(i32::from_le_bytes(word)) / I32_FULL_SCALE,
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
    "{0}: write coding, rate and channels like f32le:48000:1; the coding is f32le, f64le, u8, s16le, s24le or s32le"
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
        RawFormat::new(coding, rate_hz, channels).ok_or_else(wrong)
    }
}

impl RawFormat {
    /// `None` for a rate or a number of channels that no sound has.
    pub(super) fn new(coding: Coding, rate_hz: u32, channels: usize) -> Option<RawFormat> {
        let is_possible = RATES_HZ.contains(&rate_hz) && (1..=MOST_CHANNELS).contains(&channels);
        is_possible.then_some(RawFormat { coding, rate_hz, channels })
    }

    /// Bytes of one frame: a sample of every channel.
    pub(super) fn frame_bytes(&self) -> usize {
        self.coding.bytes() * self.channels
    }

    /// Samples per second.
    #[must_use]
    pub fn rate_hz(&self) -> u32 {
        self.rate_hz
    }

    /// Reads up to `frames` of sound from `pipe`; less where it ends, nothing where it has ended.
    ///
    /// # Errors
    /// [`CaptureError::Pipe`] when reading fails.
    pub fn read(&self, pipe: &mut impl Read, frames: usize) -> Result<Option<Block>, CaptureError> {
        let frame_bytes = self.frame_bytes();
        let mut bytes = Vec::new();
        pipe.by_ref().take((frames * frame_bytes) as u64).read_to_end(&mut bytes)?;
        // A torn frame at the end is no sound.
        bytes.truncate(bytes.len() - bytes.len() % frame_bytes);
        let usable = |sample: f64| if sample.is_finite() { sample } else { 0.0 };
        let samples: Vec<f64> =
            bytes.chunks_exact(self.coding.bytes()).map(|sample| usable(self.coding.value(sample))).collect();
        let block = Block { samples, channels: self.channels, rate_hz: self.rate_hz, gaps: 0 };
        Ok((!block.samples.is_empty()).then_some(block))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(format: &str, bytes: &[u8]) -> Vec<Vec<f64>> {
        let format: RawFormat = format.parse().unwrap();
        let Some(block) = format.read(&mut &bytes[..], 80_000).unwrap() else { return Vec::new() };
        (0..block.channels).map(|channel| block.channel(channel)).collect()
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
        while let Some(block) = format.read(&mut pipe, 8).unwrap() {
            lengths.push(block.frames());
        }
        assert_eq!(lengths, [8, 8, 4]);
    }

    #[test]
    fn the_channel_with_the_most_sound_is_chosen_whatever_its_offset() {
        let mut loudest = Loudest::default();
        for _ in 0..100 {
            let samples = vec![0.9, 0.5, 0.5, 0.9, -0.5, -0.5];
            loudest.hear(&Block { samples, channels: 3, rate_hz: 8000, gaps: 0 });
        }
        assert_eq!(loudest.channel(), 1);
    }

    #[test]
    fn an_input_is_chosen_by_its_number_or_a_part_of_its_name() {
        let input = |name: &str| Input { name: name.into(), is_default: false };
        let inputs = [input("Built-in Audio"), input("USB Mic 2")];
        assert_eq!(chosen(&inputs, "2").unwrap(), 1);
        assert_eq!(chosen(&inputs, "usb").unwrap(), 1);
        let told = chosen(&inputs, "line").unwrap_err().to_string();
        assert!(told.contains("1 Built-in Audio, 2 USB Mic 2"), "{told}");
    }

    #[test]
    fn a_format_that_is_written_wrongly_is_refused_with_an_example() {
        for wrong in
            ["", "f32le", "f32le:48000", "f16le:48000:1", "f32le:48 kHz:1", "f32le:0:1", "s16le:48000:0"]
        {
            let told = wrong.parse::<RawFormat>().unwrap_err().to_string();
            assert!(told.contains("f32le:48000:1"), "{told}");
        }
    }
}
