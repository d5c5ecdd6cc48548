//! What a WAV's own heading says, read with no trust in its sizes.
//!
//! Sources: Microsoft and IBM, Multimedia Programming Interface and Data Specifications 1.0 (1991), chapter RIFF;
//! WAVEFORMATEXTENSIBLE; EBU Tech 3306 (RF64). All from memory. Must not know how blocks are decoded.

use super::blocks::{Blocks, Coding, Layout, unreadable};
use super::chunks::{Chunk, Chunks, Sizes, little_endian};
use super::decode::AudioError;
use super::named;
use super::pieces::{Piece, Pieces};
use super::refuse;
use super::source::{Kind, Sound, Source, bytes_at};
use super::spool::Bytes;

const PCM: u16 = 1;
const ADPCM_MS: u16 = 2;
const FLOAT: u16 = 3;
const A_LAW: u16 = 6;
const MU_LAW: u16 = 7;
const ADPCM_IMA: u16 = 0x11;
const MPEG: u16 = 0x50;
const MP3: u16 = 0x55;
const FLAC: u16 = 0xf1ac;
const EXTENSIBLE: u16 = 0xfffe;

/// True for what is read here.
pub(super) fn is_wav(head: &[u8]) -> bool {
    let mark = head.get(..4).unwrap_or_default();
    let is_riff = mark == b"RIFF" || mark == b"RF64" || mark == b"BW64";
    // Where even the form is missing the file is a WAV cut short; other forms are other things.
    is_riff && head.get(8..12).is_none_or(|form| form == b"WAVE")
}

/// Finds the sound of a WAV.
///
/// # Errors
/// [`AudioError`] when it holds none or in a coding that can't be read.
pub(super) fn read(mut bytes: Box<dyn Bytes>, length: u64) -> Result<Source, AudioError> {
    let chunks = Chunks::of(&mut bytes, 12, length, Sizes::Riff)?;
    let Some(data) = chunks.named(b"data") else {
        let told = little_endian(&bytes_at(&mut bytes, 4, 4)?);
        // Where all the bytes are there that the heading promises, none were cut off.
        return Err(if length < 12 || told.saturating_add(8) > length {
            AudioError::HeaderCutShort
        } else {
            refuse::damaged("a WAV")
        });
    };
    let heading = chunks.named(b"fmt ").map(|chunk| chunks.contents(&mut bytes, chunk)).transpose()?;
    let format = heading.as_deref().and_then(Format::of).ok_or_else(|| refuse::damaged("a WAV"))?;
    let (here, told) = chunks.sound(with_large_size(&mut bytes, &chunks, data)?);
    if let Some(stream) = format.stream(&mut bytes, data.at)? {
        let pieces = [stream, vec![Piece::Part { from: data.at, length: here }]].concat();
        let kind = if format.tag == FLAC { Kind::Flac } else { Kind::Mpeg };
        let sound = Sound::Stream { bytes: Pieces::new(bytes, pieces), kind };
        return Ok(Source { sound, cut_short: told > here, frames: None });
    }
    let layout = format.layout()?;
    Source::of_blocks(Blocks::new(layout, bytes, data.at, here), here, told)
}

/// The chunk of the sound with the size that an RF64 tells elsewhere, in 64 bits.
fn with_large_size(bytes: &mut Box<dyn Bytes>, chunks: &Chunks, data: Chunk) -> Result<Chunk, AudioError> {
    let Some(sizes) = chunks.named(b"ds64").filter(|_| data.told == u64::from(u32::MAX)) else {
        return Ok(data);
    };
    let sizes = chunks.contents(bytes, sizes)?;
    let told = sizes.get(8..16).and_then(|size| size.try_into().ok()).map(u64::from_le_bytes);
    Ok(told.filter(|told| *told > 0).map_or(data, |told| Chunk { told, ..data }))
}

/// The chunk `fmt `.
struct Format<'a> {
    tag: u16,
    channels: u16,
    rate_hz: u32,
    block_bytes: u16,
    /// Bits that a sample's place has, and those of them that count.
    bits: u16,
    bits_that_count: u16,
    /// What follows for this coding alone.
    extra: &'a [u8],
}

impl<'a> Format<'a> {
    fn of(body: &'a [u8]) -> Option<Format<'a>> {
        let short = |at: usize| Some(u16::from_le_bytes(body.get(at..at + 2)?.try_into().ok()?));
        let bits = short(14)?;
        let (tag, extensible) = match short(0)? {
            EXTENSIBLE => (short(24)?, true),
            tag => (tag, false),
        };
        let told = if extensible { short(18)? } else { bits };
        Some(Format {
            tag,
            channels: short(2)?,
            rate_hz: u32::from_le_bytes(body.get(4..8)?.try_into().ok()?),
            block_bytes: short(12)?,
            bits,
            bits_that_count: if (1..=bits).contains(&told) { told } else { bits },
            extra: body.get(18..).unwrap_or_default(),
        })
    }

    /// What stands before the sound where that is a stream of its own: nothing before MP3, FLAC's own heading
    /// before FLAC; `None` for blocks.
    fn stream(&self, bytes: &mut Box<dyn Bytes>, at: u64) -> Result<Option<Vec<Piece>>, AudioError> {
        Ok(match self.tag {
            MPEG | MP3 => Some(Vec::new()),
            FLAC if bytes_at(bytes, at, 4)? == b"fLaC" => Some(Vec::new()),
            FLAC => self.extra.get(..34).map(|info| vec![super::flac::heading(info)]),
            _ => None,
        })
    }

    fn layout(&self) -> Result<Layout, AudioError> {
        let bits = u32::from(self.bits_that_count);
        // The bytes of a sample follow from its block where that is told, from its bits where not.
        let of_block = self.block_bytes.checked_div(self.channels).filter(|bytes| *bytes > 0);
        let divides = self.channels > 0 && self.block_bytes.is_multiple_of(self.channels);
        let of_bits = self.bits.div_ceil(8);
        let bytes = u64::from(of_block.filter(|bytes| divides && *bytes >= of_bits).unwrap_or(of_bits));
        let coding = match self.tag {
            PCM => Coding::Whole { bytes, unsigned: bytes == 1, big: false },
            FLOAT => Coding::Float { bytes, big: false },
            A_LAW => Coding::ALaw,
            MU_LAW => Coding::MuLaw,
            ADPCM_MS => Coding::AdpcmMs,
            ADPCM_IMA => Coding::AdpcmImaWav,
            tag => return Err(AudioError::Refused(named::in_wav(tag))),
        };
        let layout = match coding {
            Coding::AdpcmMs | Coding::AdpcmImaWav => {
                Layout::adpcm(coding, self.channels, self.rate_hz, u64::from(self.block_bytes))
            }
            _ => Layout::plain(coding, self.channels, self.rate_hz, bits),
        };
        layout.map_err(|what| AudioError::Refused(unreadable("a WAV", &what)))
    }
}
