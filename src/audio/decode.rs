//! Decodes recordings of every usual kind, a block at a time or whole into a [`Take`]: as much as the
//! file holds, with a sentence about what was lost.
//!
//! One of the three files that know a codec crate (the others are `packets.rs` and `encode.rs`). Must not know
//! instruments nor how samples are analysed.

use std::io::Cursor;

use symphonia::core::codecs::audio::well_known as codecs;
use symphonia::core::codecs::audio::{AudioCodecId, AudioCodecParameters, AudioDecoder, AudioDecoderOptions};
use symphonia::core::errors::Error as CodecError;

use super::capture::Block;
use super::kept::Kept;
use super::packets::Packets;
use super::refuse;
use super::source::Source;
use super::spool::Spool;
use super::take::{Origin, Take};

/// Samples held of one recording, all channels together: 23 minutes of one channel at 48 kHz.
pub(super) const MOST_HELD: usize = 1 << 26;
/// Samples decoded of one recording, all channels together: six hours of one channel at 48 kHz, three of two. A file
/// of less than a megabyte can claim days of silence; nobody waits for that.
const MOST_DECODED: u64 = 1 << 30;

/// Sampling rates that make sense for sound, hertz.
const RATE_RANGE_HZ: std::ops::RangeInclusive<u32> = 1_000..=768_000;

/// Why a recording can't be read. The texts don't repeat the file's name: whoever prints has it.
#[derive(Debug, thiserror::Error)]
pub enum AudioError {
    /// The file can't be opened or read at all.
    #[error("can't be opened: {0}. Check the name and that you may read it")]
    Open(#[from] std::io::Error),
    /// What comes through a pipe can't be kept.
    #[error(
        "what comes through the pipe can't be kept in {folder}: {reason}. Make room there, name another folder \
         with TMPDIR, or save the recording as a file first"
    )]
    NoRoom {
        /// Where it was to be kept.
        folder: String,
        /// What the system said.
        reason: String,
    },
    /// A folder was given.
    #[error("it is a folder. Give the recordings in it")]
    Folder,
    /// A kind of file that is known and not supported, or no sound at all; the text says which
    /// and what to do.
    #[error("{0}")]
    Refused(String),
    /// The beginning is that of a sound file, but it ends before any sound.
    #[error("the file ends inside its header: no sound was saved. Copy it again or record it again")]
    HeaderCutShort,
    /// The heading is whole, but the file ends before any of its sound is.
    #[error("the file ends before the first stretch of its sound is whole. Copy it again or record it again")]
    SoundCutShort,
    /// A sound file without a single sample.
    #[error("the file holds no samples. Record it again")]
    NoSamples,
}

/// Reads a recording that is already in memory; `extension` (`wav`, `mp3` …, may be empty) helps
/// to guess what it is.
///
/// # Errors
/// [`AudioError`] when it is of a kind that can't be read, or without sound. What is cut off or damaged is read
/// as far as it goes, with [`Origin::damage`] set.
pub fn read_bytes<B>(bytes: B, extension: &str) -> Result<Take, AudioError>
where
    B: AsRef<[u8]> + Send + Sync + 'static,
{
    let mut decoding = Decoding::of(Source::of_bytes(Box::new(Cursor::new(bytes)))?, extension)?;
    let mut kept = Kept::default();
    while let Some(block) = decoding.next()? {
        kept.add(&block);
        if kept.samples_held() >= MOST_HELD {
            decoding.stop();
        }
    }
    Ok(kept.into_take(decoding.origin()?))
}

/// Refuses a pipe by its first part, when that is surely not the beginning of sound.
pub(super) fn refuse_head(head: &[u8]) -> Result<(), AudioError> {
    if let Some(reason) = refuse::reason(head) {
        return Err(AudioError::Refused(reason));
    }
    if refuse::begins_as_sound(head) {
        return Ok(());
    }
    Decoding::of(Source::of_bytes(Box::new(Cursor::new(head.to_vec())))?, "").map(drop)
}

/// A recording while it is decoded, a block at a time.
pub struct Decoding {
    packets: Packets,
    decoder: Box<dyn AudioDecoder>,
    parameters: AudioCodecParameters,
    /// Bits of a sample that count.
    bits: Option<u32>,
    /// The heading promises more than is there.
    cut_short: bool,
    /// Frames that the heading promises at least.
    frames_told: Option<u64>,
    unfinished: bool,
    end: Option<End>,
    /// Of the first block: those that differ are damaged.
    rate_hz: u32,
    channels: usize,
    frames: u64,
    /// Samples of all channels after which nothing more is decoded.
    most_samples: u64,
    bad_packets: usize,
    not_numbers: usize,
}

impl Decoding {
    /// Opens a recording at its beginning.
    ///
    /// # Errors
    /// [`AudioError`] when it is not there any more or of a kind that can't be read.
    pub fn open(spool: &Spool) -> Result<Decoding, AudioError> {
        let decoding = Decoding::of(Source::of_bytes(spool.bytes()?)?, spool.extension())?;
        Ok(Decoding { unfinished: spool.unfinished, ..decoding })
    }

    fn of(source: Source, extension: &str) -> Result<Decoding, AudioError> {
        let Source { sound, cut_short, frames: frames_told } = source;
        let (packets, parameters, bits) = Packets::open(sound, extension)?;
        must_be_possible(&parameters)?;
        refuse_spectral_replication(&parameters)?;
        let decoder = symphonia::default::get_codecs()
            .make_audio_decoder(&parameters, &AudioDecoderOptions::default())
            .map_err(|_| AudioError::Refused(refuse::convert("in a coding")))?;
        Ok(Decoding {
            packets,
            decoder,
            parameters,
            bits,
            cut_short,
            frames_told,
            end: None,
            unfinished: false,
            rate_hz: 0,
            channels: 0,
            frames: 0,
            most_samples: MOST_DECODED,
            bad_packets: 0,
            not_numbers: 0,
        })
    }

    /// The next block; `None` at the end.
    ///
    /// # Errors
    /// [`AudioError::Refused`] for a rate or a number of channels that no sound has.
    #[allow(clippy::should_implement_trait)] // it can fail, and what was read stays told afterwards
    pub fn next(&mut self) -> Result<Option<Block>, AudioError> {
        while self.end.is_none() {
            if self.frames * self.channels as u64 >= self.most_samples {
                self.end = Some(End::Full);
                break;
            }
            let packet = match self.packets.next() {
                Ok(Some(packet)) => packet,
                Ok(None) => {
                    self.end = Some(End::Clean);
                    break;
                }
                Err(_) => {
                    self.end = Some(End::Broken);
                    break;
                }
            };
            match self.decoder.decode(&packet) {
                Ok(buffer) => {
                    let mut samples: Vec<f64> = Vec::new();
                    buffer.copy_to_vec_interleaved(&mut samples);
                    let (rate_hz, channels) = (buffer.spec().rate(), buffer.spec().channels().count());
                    if let Some(block) = self.taken_in(samples, rate_hz, channels)? {
                        return Ok(Some(block));
                    }
                }
                Err(CodecError::DecodeError(_) | CodecError::IoError(_)) => self.bad_packets += 1,
                Err(_) => self.end = Some(End::Broken),
            }
        }
        Ok(None)
    }

    /// A decoded packet, when it fits those before.
    fn taken_in(
        &mut self,
        mut samples: Vec<f64>,
        rate_hz: u32,
        channels: usize,
    ) -> Result<Option<Block>, AudioError> {
        if !RATE_RANGE_HZ.contains(&rate_hz) || channels == 0 {
            return Err(impossible(rate_hz, channels));
        }
        if self.channels == 0 {
            (self.rate_hz, self.channels) = (rate_hz, channels);
        }
        if (self.rate_hz, self.channels) != (rate_hz, channels) {
            self.bad_packets += 1;
            return Ok(None);
        }
        for sample in &mut samples {
            if !sample.is_finite() || sample.abs() >= 1e6 {
                self.not_numbers += 1;
                *sample = 0.0;
            }
        }
        self.frames += (samples.len() / channels) as u64;
        Ok((!samples.is_empty()).then_some(Block { samples, channels, rate_hz, gaps: 0 }))
    }

    /// Ends it here, because nobody can hold more; the [`Origin`] tells.
    pub fn stop(&mut self) {
        self.end = Some(End::Full);
    }

    /// Seconds that have been decoded.
    #[must_use]
    pub fn seconds(&self) -> f64 {
        self.frames as f64 / f64::from(self.rate_hz.max(1))
    }

    /// Where the sound came from and what was lost so far. Its peak is for whoever keeps the samples.
    ///
    /// # Errors
    /// [`AudioError`] when there was no sound in it, or sound at a rate that the file does not tell.
    pub fn origin(&self) -> Result<Origin, AudioError> {
        if self.frames == 0 {
            return Err(match self.end {
                Some(End::Broken) if self.bad_packets == 0 => AudioError::SoundCutShort,
                _ if self.bad_packets > 0 => refuse::damaged_frames("a recording"),
                _ => AudioError::NoSamples,
            });
        }
        // The core of an HE-AAC stream without its mark comes at half the rate the container tells.
        if self.parameters.sample_rate.is_some_and(|told| told >= 2 * self.rate_hz) {
            return Err(he_aac());
        }
        Ok(Origin {
            codec: self.decoder.codec_info().short_name.to_string(),
            lossy: is_lossy(self.parameters.codec),
            channels: self.channels,
            bits_per_sample: self.bits,
            damage: self.damage(),
            peak: 0.0,
        })
    }

    fn damage(&self) -> Option<String> {
        let mut parts = Vec::new();
        let ends_early = match self.end {
            Some(End::Broken) => true,
            Some(End::Clean) => self.cut_short || self.frames_told.is_some_and(|told| told > self.frames),
            Some(End::Full) | None => false,
        };
        if ends_early {
            parts.push("the recording ends early".to_string());
        }
        if self.unfinished || matches!(self.end, Some(End::Full)) {
            parts.push(match (self.seconds() / 60.0).round() as u64 {
                0 | 1 => "only the first minute was read".to_string(),
                minutes => format!("only the first {minutes} minutes were read"),
            });
        }
        if self.bad_packets > 0 {
            parts.push(match self.bad_packets {
                1 => "a damaged stretch was left out".to_string(),
                count => format!("{count} damaged stretches were left out"),
            });
        }
        if self.not_numbers > 0 {
            parts.push(match self.not_numbers {
                1 => "one sample is no number and was taken as silence".to_string(),
                count => format!("{count} samples are no numbers and were taken as silence"),
            });
        }
        (!parts.is_empty()).then(|| parts.join("; "))
    }
}

/// What no decoder is asked to try.
fn must_be_possible(parameters: &AudioCodecParameters) -> Result<(), AudioError> {
    let (rate_hz, channels) = (parameters.sample_rate, parameters.channels.as_ref().map(|all| all.count()));
    if rate_hz.is_some_and(|rate_hz| !RATE_RANGE_HZ.contains(&rate_hz)) || channels == Some(0) {
        return Err(impossible(rate_hz.unwrap_or(0), channels.unwrap_or(0)));
    }
    Ok(())
}

fn impossible(rate_hz: u32, channels: usize) -> AudioError {
    AudioError::Refused(format!(
        "the file says {rate_hz} samples a second in {channels} channels, which can't be. Record it again"
    ))
}

/// How the stream of packets ended.
enum End {
    /// As it should.
    Clean,
    /// In the middle of something.
    Broken,
    /// Where the caller wanted no more.
    Full,
}

fn is_lossy(codec: AudioCodecId) -> bool {
    [
        codecs::CODEC_ID_AAC,
        codecs::CODEC_ID_MP1,
        codecs::CODEC_ID_MP2,
        codecs::CODEC_ID_MP3,
        codecs::CODEC_ID_VORBIS,
        codecs::CODEC_ID_ADPCM_MS,
        codecs::CODEC_ID_ADPCM_IMA_WAV,
        codecs::CODEC_ID_ADPCM_IMA_QT,
        codecs::CODEC_ID_ADPCM_G722,
        codecs::CODEC_ID_ADPCM_G726,
    ]
    .contains(&codec)
}

/// HE-AAC makes its treble up by spectral band replication, and its container tells twice the
/// rate of what can be decoded here: a pitch read from it could be an octave off.
/// Object types 5 (SBR) and 29 (PS): ISO/IEC 14496-3, from memory.
fn refuse_spectral_replication(parameters: &AudioCodecParameters) -> Result<(), AudioError> {
    let object_type = parameters.extra_data.as_ref().and_then(|d| d.first()).map(|b| b >> 3);
    if parameters.codec == codecs::CODEC_ID_AAC && matches!(object_type, Some(5 | 29)) {
        return Err(he_aac());
    }
    Ok(())
}

fn he_aac() -> AudioError {
    AudioError::Refused(refuse::convert("an HE-AAC recording"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_recording_beyond_the_limit_is_read_so_far_and_says_so() {
        let samples = vec![0.25; 8_000 * 90];
        let wav = crate::audio::encode::wav_bytes(&samples, 8_000).unwrap();
        let mut decoding =
            Decoding::of(Source::of_bytes(Box::new(Cursor::new(wav))).unwrap(), "wav").unwrap();
        decoding.most_samples = 8_000 * 60;
        while decoding.next().unwrap().is_some() {}
        assert!((60.0..61.0).contains(&decoding.seconds()), "{}", decoding.seconds());
        assert_eq!(decoding.origin().unwrap().damage.unwrap(), "only the first minute was read");
    }
}
