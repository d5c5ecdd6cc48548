//! The packets of a recording, whichever way they are found: by a demuxer, or as blocks of one size.
//!
//! One of the three files that know a codec crate. Must not know what becomes of the samples.

use symphonia::core::audio::Channels;
use symphonia::core::codecs::audio::well_known as codecs;
use symphonia::core::codecs::audio::{AudioCodecId, AudioCodecParameters};
use symphonia::core::errors::Error as CodecError;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, FormatReader, TrackType};
use symphonia::core::io::{MediaSource, MediaSourceStream};
use symphonia::core::meta::MetadataOptions;
use symphonia::core::packet::Packet;
use symphonia::core::units::{Duration, Timestamp};

use super::blocks::{Blocks, Coding, Layout};
use super::decode::AudioError;
use super::pieces::Pieces;
use super::refuse;
use super::source::{Kind, Sound};

/// Where packets come from.
pub(super) enum Packets {
    Demuxed { format: Box<dyn FormatReader>, track_id: u32 },
    Blocks(Blocks),
}

impl Packets {
    /// Opens the sound of a recording; `extension` helps to guess what no mark tells. With what a decoder needs to
    /// know, and the bits of a sample.
    pub fn open(
        sound: Sound,
        extension: &str,
    ) -> Result<(Packets, AudioCodecParameters, Option<u32>), AudioError> {
        match sound {
            Sound::Blocks(blocks) => {
                let layout = blocks.layout;
                Ok((Packets::Blocks(blocks), parameters(&layout), layout.bits))
            }
            Sound::Stream { bytes, kind } => {
                let format = demuxer(bytes, kind, extension).map_err(|error| refused(kind, &error))?;
                let track =
                    format.default_track(TrackType::Audio).or_else(|| format.first_track(TrackType::Audio));
                let track = track.ok_or_else(|| unknown_or_damaged(kind))?;
                let parameters = track.codec_params.as_ref().and_then(|p| p.audio()).cloned();
                let parameters = parameters.ok_or_else(|| unknown_or_damaged(kind))?;
                let bits = parameters.bits_per_sample.filter(|bits| *bits > 0);
                let track_id = track.id;
                Ok((Packets::Demuxed { format, track_id }, parameters, bits))
            }
        }
    }

    /// The next packet of sound; `None` at the end, and an error where the rest can't be read.
    pub fn next(&mut self) -> Result<Option<Packet>, CodecError> {
        match self {
            Packets::Demuxed { format, track_id } => loop {
                match format.next_packet()? {
                    Some(packet) if packet.track_id != *track_id => {}
                    packet => return Ok(packet),
                }
            },
            Packets::Blocks(blocks) => {
                let packet = blocks.next()?;
                Ok(packet
                    .map(|(bytes, frames)| Packet::new(0, Timestamp::new(0), Duration::new(frames), bytes)))
            }
        }
    }
}

fn demuxer(bytes: Pieces, kind: Kind, extension: &str) -> Result<Box<dyn FormatReader>, CodecError> {
    let stream = MediaSourceStream::new(Box::new(bytes), Default::default());
    let mut hint = Hint::new();
    hint.with_extension(if kind == Kind::Unknown { extension } else { kind.extension(extension) });
    symphonia::default::get_probe().probe(&hint, stream, FormatOptions::default(), MetadataOptions::default())
}

/// What is told where a demuxer finds nothing that it knows. Only headings that reach to the end of the file are
/// called cut short.
fn refused(kind: Kind, error: &CodecError) -> AudioError {
    let is_end = matches!(error, CodecError::IoError(error)
        if error.kind() == std::io::ErrorKind::UnexpectedEof);
    match kind {
        Kind::Flac if is_end => refuse::damaged_frames("a FLAC file"),
        Kind::Ogg if is_end => AudioError::SoundCutShort,
        _ => unknown_or_damaged(kind),
    }
}

fn unknown_or_damaged(kind: Kind) -> AudioError {
    match kind {
        Kind::Unknown | Kind::Mpeg => refuse::not_sound(),
        Kind::Flac => refuse::damaged("a FLAC file"),
        Kind::Ogg => refuse::damaged("an Ogg file"),
        Kind::Mp4 => refuse::damaged("an M4A or MP4 file"),
        Kind::Caf => refuse::damaged("a CAF"),
    }
}

impl Kind {
    /// The ending that files of this kind have; MP3 and AAC begin alike, so that theirs may decide.
    fn extension(self, own: &str) -> &str {
        match self {
            Kind::Flac => "flac",
            Kind::Ogg => "ogg",
            Kind::Mp4 => "m4a",
            Kind::Caf => "caf",
            Kind::Mpeg | Kind::Unknown => own,
        }
    }
}

impl MediaSource for Pieces {
    fn is_seekable(&self) -> bool {
        true
    }

    fn byte_len(&self) -> Option<u64> {
        Some(self.length)
    }
}

/// What a decoder of blocks needs to know.
fn parameters(layout: &Layout) -> AudioCodecParameters {
    let mut parameters = AudioCodecParameters::new();
    parameters
        .for_codec(codec(layout.coding))
        .with_sample_rate(layout.rate_hz)
        .with_channels(Channels::Discrete(layout.channels))
        .with_max_frames_per_packet(layout.packet_frames())
        .with_frames_per_block(layout.block_frames);
    parameters
}

fn codec(coding: Coding) -> AudioCodecId {
    match coding {
        Coding::Whole { bytes: 1, unsigned: true, .. } => codecs::CODEC_ID_PCM_U8,
        Coding::Whole { bytes: 1, .. } => codecs::CODEC_ID_PCM_S8,
        Coding::Whole { bytes: 2, unsigned: true, .. } => codecs::CODEC_ID_PCM_U16BE,
        Coding::Whole { bytes: 2, big: false, .. } => codecs::CODEC_ID_PCM_S16LE,
        Coding::Whole { bytes: 2, .. } => codecs::CODEC_ID_PCM_S16BE,
        Coding::Whole { bytes: 3, big: false, .. } => codecs::CODEC_ID_PCM_S24LE,
        Coding::Whole { bytes: 3, .. } => codecs::CODEC_ID_PCM_S24BE,
        Coding::Whole { big: false, .. } => codecs::CODEC_ID_PCM_S32LE,
        Coding::Whole { .. } => codecs::CODEC_ID_PCM_S32BE,
        Coding::Float { bytes: 4, big: false } => codecs::CODEC_ID_PCM_F32LE,
        Coding::Float { bytes: 4, .. } => codecs::CODEC_ID_PCM_F32BE,
        Coding::Float { big: false, .. } => codecs::CODEC_ID_PCM_F64LE,
        Coding::Float { .. } => codecs::CODEC_ID_PCM_F64BE,
        Coding::ALaw => codecs::CODEC_ID_PCM_ALAW,
        Coding::MuLaw => codecs::CODEC_ID_PCM_MULAW,
        Coding::AdpcmMs => codecs::CODEC_ID_ADPCM_MS,
        Coding::AdpcmImaWav => codecs::CODEC_ID_ADPCM_IMA_WAV,
        Coding::AdpcmImaQt => codecs::CODEC_ID_ADPCM_IMA_QT,
    }
}
