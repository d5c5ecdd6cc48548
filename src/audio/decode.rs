//! Reads recordings of every usual kind into a [`Take`]: as much as the file holds, with a
//! sentence about what was lost.
//!
//! One of the two files that know a codec crate (the other is `encode.rs`). Must not know
//! instruments nor how samples are analysed.

use std::fs::File;
use std::io::{Cursor, Read};
use std::path::Path;

use symphonia::core::codecs::audio::well_known as codecs;
use symphonia::core::codecs::audio::{AudioCodecId, AudioCodecParameters, AudioDecoder, AudioDecoderOptions};
use symphonia::core::errors::Error as CodecError;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, FormatReader, TrackType};
use symphonia::core::io::MediaSourceStream;
use symphonia::core::meta::MetadataOptions;

use super::refuse;
use super::take::{Origin, Take};

/// Bytes read of one file: more than [`MAX_SAMPLES`] of the widest samples. A bound, so that a
/// device file or a film can't fill the memory.
const MAX_BYTES: u64 = 600 << 20;

/// Samples kept of one file, all channels together: 23 minutes of one channel at 48 kHz.
const MAX_SAMPLES: usize = 1 << 26;

/// Sampling rates that make sense for sound, hertz.
const RATE_RANGE_HZ: std::ops::RangeInclusive<u32> = 1_000..=768_000;

/// Why a recording can't be read. The texts don't repeat the file's name: whoever prints has it.
#[derive(Debug, thiserror::Error)]
pub enum AudioError {
    /// The file can't be opened or read at all.
    #[error("can't be opened: {0}. Check the name and that you may read it")]
    Open(#[from] std::io::Error),
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
    /// A sound file without a single sample.
    #[error("the file holds no samples. Record it again")]
    NoSamples,
}

/// Reads one recording.
///
/// # Errors
/// [`AudioError`] when the file is missing, of a kind that can't be read, or without sound. A
/// file that is cut off or damaged is read as far as it goes, with [`Origin::damage`] set.
pub fn read(path: &Path) -> Result<Take, AudioError> {
    let file = File::open(path)?;
    if file.metadata()?.is_dir() {
        return Err(AudioError::Folder);
    }
    let mut bytes = Vec::new();
    file.take(MAX_BYTES).read_to_end(&mut bytes)?;
    let extension = path.extension().and_then(|e| e.to_str()).unwrap_or_default();
    read_bytes(bytes, extension)
}

/// Reads a recording that is already in memory; `extension` (`wav`, `mp3` …, may be empty) helps
/// to guess what it is.
///
/// # Errors
/// As [`read`].
pub fn read_bytes<B>(bytes: B, extension: &str) -> Result<Take, AudioError>
where
    B: AsRef<[u8]> + Send + Sync + 'static,
{
    let head = bytes.as_ref();
    if let Some(reason) = refuse::reason(head) {
        return Err(AudioError::Refused(reason));
    }
    let unfinished = head.len() as u64 >= MAX_BYTES;
    match unset_data_size(head) {
        Some(at) => decode(with_true_sizes(head, at), extension, unfinished),
        None => decode(bytes, extension, unfinished),
    }
}

/// Where the length of a WAV's sound stands, when it is none: the mark of a program that wrote
/// into a pipe and couldn't come back to fill it in, or nought because the recorder died first.
fn unset_data_size(bytes: &[u8]) -> Option<usize> {
    if !bytes.starts_with(b"RIFF") || bytes.get(8..12) != Some(b"WAVE") {
        return None;
    }
    let mut at = 12;
    while let (Some(id), Some(size)) = (bytes.get(at..at + 4), bytes.get(at + 4..at + 8)) {
        let size = size.iter().rev().fold(0_usize, |n, &b| (n << 8) | usize::from(b));
        if id == b"data" {
            let follows = bytes.len() - (at + 8);
            // Writers into a pipe use 2^32 − 1, 2^31 − 1 or numbers a header below them.
            let unset = (size == 0 && follows > 8) || (size >= 0x7fff_0000 && follows < size);
            return unset.then_some(at + 4);
        }
        at += 8 + size + (size & 1);
    }
    None
}

/// The same WAV with its lengths as they really are.
fn with_true_sizes(bytes: &[u8], data_size_at: usize) -> Vec<u8> {
    let mut bytes = bytes.to_vec();
    for at in [4, data_size_at] {
        let size = u32::try_from(bytes.len() - at - 4).unwrap_or(u32::MAX);
        if let Some(place) = bytes.get_mut(at..at + 4) {
            place.copy_from_slice(&size.to_le_bytes());
        }
    }
    bytes
}

fn decode<B>(bytes: B, extension: &str, unfinished: bool) -> Result<Take, AudioError>
where
    B: AsRef<[u8]> + Send + Sync + 'static,
{
    let too_short_for_sound = refuse::header_cut_short(bytes.as_ref());
    let not_sound = move || {
        if too_short_for_sound {
            AudioError::HeaderCutShort
        } else {
            AudioError::Refused(
                "it is no recording of a kind that this program reads (WAV, FLAC, MP3, M4A, Ogg \
                 Vorbis, AIFF, CAF). Convert it: ffmpeg -i in.file out.flac"
                    .into(),
            )
        }
    };
    let stream = MediaSourceStream::new(Box::new(Cursor::new(bytes)), Default::default());
    let mut hint = Hint::new();
    hint.with_extension(extension);
    let mut format = symphonia::default::get_probe()
        .probe(&hint, stream, FormatOptions::default(), MetadataOptions::default())
        .map_err(|_| not_sound())?;

    let track = format.default_track(TrackType::Audio).or_else(|| format.first_track(TrackType::Audio));
    let track = track.ok_or_else(not_sound)?;
    let track_id = track.id;
    let parameters = track.codec_params.as_ref().and_then(|p| p.audio()).ok_or_else(not_sound)?.clone();
    refuse_spectral_replication(&parameters)?;
    let mut decoder = symphonia::default::get_codecs()
        .make_audio_decoder(&parameters, &AudioDecoderOptions::default())
        .map_err(|_| AudioError::Refused(refuse::convert("in a coding")))?;

    let mut sound = Channels::default();
    let end = pull(format.as_mut(), decoder.as_mut(), track_id, &mut sound)?;
    if sound.frames() == 0 {
        return Err(if too_short_for_sound && matches!(end, End::Broken) {
            AudioError::HeaderCutShort
        } else if too_short_for_sound {
            AudioError::NoSamples
        } else {
            not_sound()
        });
    }
    // The core of an HE-AAC stream without its mark comes at half the rate the container tells.
    if parameters.sample_rate.is_some_and(|told| told >= 2 * sound.rate_hz) {
        return Err(he_aac());
    }
    let damage = sound.damage(matches!(end, End::Broken), unfinished || matches!(end, End::Full));
    let codec = decoder.codec_info().short_name.to_string();
    Ok(sound.into_take(codec, is_lossy(parameters.codec), parameters.bits_per_sample, damage))
}

/// How the stream of packets ended.
enum End {
    /// As it should.
    Clean,
    /// In the middle of something.
    Broken,
    /// At our own bound.
    Full,
}

fn pull(
    format: &mut dyn FormatReader,
    decoder: &mut dyn AudioDecoder,
    track_id: u32,
    sound: &mut Channels,
) -> Result<End, AudioError> {
    let mut interleaved: Vec<f64> = Vec::new();
    loop {
        let packet = match format.next_packet() {
            Ok(Some(packet)) => packet,
            Ok(None) => return Ok(End::Clean),
            Err(_) => return Ok(End::Broken),
        };
        if packet.track_id != track_id {
            continue;
        }
        match decoder.decode(&packet) {
            Ok(buffer) => {
                buffer.copy_to_vec_interleaved(&mut interleaved);
                let (rate_hz, channels) = (buffer.spec().rate(), buffer.spec().channels().count());
                if !RATE_RANGE_HZ.contains(&rate_hz) || channels == 0 {
                    return Err(AudioError::Refused(format!(
                        "the file says {rate_hz} samples a second in {channels} channels, which can't be. \
                         Record it again"
                    )));
                }
                if !sound.push(&interleaved, rate_hz, channels) {
                    return Ok(End::Full);
                }
            }
            Err(CodecError::DecodeError(_) | CodecError::IoError(_)) => sound.bad_packets += 1,
            Err(_) => return Ok(End::Broken),
        }
    }
}

/// The channels of a file while it is being read.
#[derive(Default)]
struct Channels {
    samples: Vec<Vec<f64>>,
    rate_hz: u32,
    bad_packets: usize,
    not_numbers: usize,
}

impl Channels {
    fn frames(&self) -> usize {
        self.samples.first().map_or(0, Vec::len)
    }

    /// Adds interleaved samples; false when no more are wanted.
    fn push(&mut self, interleaved: &[f64], rate_hz: u32, channels: usize) -> bool {
        if self.samples.is_empty() {
            self.samples = vec![Vec::new(); channels];
            self.rate_hz = rate_hz;
        }
        if self.samples.len() != channels || self.rate_hz != rate_hz {
            self.bad_packets += 1;
            return true;
        }
        for (c, channel) in self.samples.iter_mut().enumerate() {
            for &sample in interleaved.iter().skip(c).step_by(channels) {
                let usable = sample.is_finite() && sample.abs() < 1e6;
                self.not_numbers += usize::from(!usable);
                channel.push(if usable { sample } else { 0.0 });
            }
        }
        self.frames() * channels < MAX_SAMPLES
    }

    fn damage(&self, ends_early: bool, cut_by_us: bool) -> Option<String> {
        let mut parts = Vec::new();
        if ends_early {
            parts.push("the recording ends early".to_string());
        }
        if cut_by_us {
            let minutes = self.frames() as f64 / f64::from(self.rate_hz.max(1)) / 60.0;
            parts.push(format!("only the first {minutes:.0} minutes were read"));
        }
        if self.bad_packets > 0 {
            parts.push(format!("{} damaged stretches were left out", self.bad_packets));
        }
        if self.not_numbers > 0 {
            parts.push(format!("{} samples are no numbers and were taken as silence", self.not_numbers));
        }
        (!parts.is_empty()).then(|| parts.join("; "))
    }

    /// One channel for the analysis: the one with the most sound. Mixing would cancel channels of
    /// opposite sign, comb two microphones' treble and hide flat tops; one microphone does none.
    fn into_take(mut self, codec: String, lossy: bool, bits: Option<u32>, damage: Option<String>) -> Take {
        let channels = self.samples.len();
        let peak = self.samples.iter().flatten().fold(0.0_f64, |m, s| m.max(s.abs()));
        let loudest = (0..channels).max_by(|&a, &b| {
            let energy = |c: usize| self.samples.get(c).map_or(0.0, |s| swing(s));
            // The first of equals is kept.
            energy(a).total_cmp(&energy(b)).then(b.cmp(&a))
        });
        let samples = loudest.map(|c| self.samples.swap_remove(c)).unwrap_or_default();
        let origin = Origin { codec, lossy, channels, bits_per_sample: bits, damage, peak };
        Take { samples, rate_hz: f64::from(self.rate_hz), origin }
    }
}

/// Mean square about the mean, so that a constant offset counts for nothing.
pub(super) fn swing(samples: &[f64]) -> f64 {
    let n = samples.len().max(1) as f64;
    let mean = samples.iter().sum::<f64>() / n;
    samples.iter().map(|s| (s - mean) * (s - mean)).sum::<f64>() / n
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
