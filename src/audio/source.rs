//! Opens a recording: finds out what kind of file it is, and where in it the sound lies.
//!
//! Must not know how sound is decoded.

use std::io::{Read, Seek, SeekFrom};

use super::blocks::Blocks;
use super::decode::AudioError;
use super::pieces::Pieces;
use super::refuse;
use super::spool::Bytes;
use super::{aiff, caf, flac, mp3, mp4, riff};

/// Bytes by which a kind of file is known.
const HEAD: u64 = 1024;
/// Labels (ID3) before the sound; more are none.
const MOST_LABELS: usize = 100;

/// Pages of headings in an Ogg, pictures and all; what has more is damaged otherwise.
const MOST_PAGES: usize = 10_000;

/// A recording, ready to be decoded.
pub(super) struct Source {
    pub sound: Sound,
    /// The heading promises more than is there.
    pub cut_short: bool,
    /// Frames that the heading promises at least, where it is to be believed.
    pub frames: Option<u64>,
}

/// Where packets come from.
pub(super) enum Sound {
    /// Blocks of one size.
    Blocks(Blocks),
    /// A stream for a demuxer.
    Stream {
        /// Its bytes.
        bytes: Pieces,
        /// What it is.
        kind: Kind,
    },
}

/// The kinds of file that a demuxer takes apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Flac,
    Ogg,
    Mp4,
    Caf,
    Mpeg,
    /// No mark is known; it may still be sound.
    Unknown,
}

impl Source {
    /// Bytes that can be read from anywhere.
    pub fn of_bytes(mut bytes: Box<dyn Bytes>) -> Result<Source, AudioError> {
        let whole = bytes.seek(SeekFrom::End(0))?;
        let skipped = behind_labels(&mut bytes, whole)?;
        if skipped > whole {
            return Err(AudioError::HeaderCutShort);
        }
        if skipped > 0 {
            bytes = Box::new(Pieces::part(bytes, skipped, whole - skipped));
        }
        let length = whole - skipped;
        let head = bytes_at(&mut bytes, 0, HEAD)?;
        if let Some(reason) = refuse::reason(&head) {
            return Err(AudioError::Refused(reason));
        }
        if refuse::is_begun_mark(&head) {
            return Err(AudioError::HeaderCutShort);
        }
        if riff::is_wav(&head) {
            return riff::read(bytes, length);
        }
        if aiff::is_aiff(&head) {
            return aiff::read(bytes, length);
        }
        if head.starts_with(b"caff") {
            return caf::read(bytes, length);
        }
        if head.starts_with(b"fLaC") {
            return flac::read(bytes, length);
        }
        if mp4::is_mp4(&head) {
            return mp4::read(bytes, length);
        }
        if head.starts_with(b"OggS") && !ogg_has_sound(&mut bytes)? {
            return Err(AudioError::HeaderCutShort);
        }
        let kind = match &head[..] {
            [b'O', b'g', b'g', b'S', ..] => Kind::Ogg,
            // Eleven bits of one begin a frame of MP3 or AAC.
            [0xff, second, ..] if second & 0xe0 == 0xe0 => Kind::Mpeg,
            _ => Kind::Unknown,
        };
        let frames = mp3::least_frames(&head);
        let sound = Sound::Stream { bytes: Pieces::part(bytes, 0, length), kind };
        Ok(Source { sound, cut_short: false, frames })
    }

    /// Blocks with the number of bytes that are there and the number that the heading promises.
    pub fn of_blocks(blocks: Blocks, here: u64, told: u64) -> Result<Source, AudioError> {
        let block = blocks.layout.block_bytes.max(1);
        if blocks.layout.channels > 0 && here < block {
            return Err(AudioError::NoSamples);
        }
        let cut_short = told / block > here / block;
        Ok(Source { sound: Sound::Blocks(blocks), cut_short, frames: None })
    }
}

/// Where the first byte behind all labels lies: MP3 files carry titles and pictures of any size before their sound
/// (ID3v2: ten bytes, the last four a size of seven bits each; from memory).
fn behind_labels(bytes: &mut impl Bytes, length: u64) -> std::io::Result<u64> {
    let mut at = 0;
    for _ in 0..MOST_LABELS {
        let head = bytes_at(bytes, at, 10)?;
        let &[b'I', b'D', b'3', _, _, flags, a, b, c, d] = &head[..] else { break };
        let size = [a, b, c, d].iter().fold(0_u64, |n, &byte| (n << 7) | u64::from(byte & 0x7f));
        // Bit 4: the head stands at the end once more.
        at += 10 + size + if flags & 0x10 != 0 { 10 } else { 0 };
        if at > length {
            break;
        }
    }
    Ok(at)
}

/// Whether a page of sound begins in an Ogg: pages of headings stand at position 0, where sound has a later one or
/// −1 (RFC 3533: the position is at byte 6, the count of segments at 26, their sizes behind it).
fn ogg_has_sound(bytes: &mut impl Bytes) -> std::io::Result<bool> {
    let mut at = 0;
    for _ in 0..MOST_PAGES {
        let page = bytes_at(bytes, at, 27 + 255)?;
        let (Some(position), Some(count)) = (page.get(6..14), page.get(26)) else { return Ok(false) };
        if !page.starts_with(b"OggS") || position.iter().any(|byte| *byte != 0) {
            return Ok(true);
        }
        let sizes = page.iter().skip(27).take(usize::from(*count)).map(|size| u64::from(*size));
        at += 27 + u64::from(*count) + sizes.sum::<u64>();
    }
    Ok(true)
}

/// Up to `count` bytes from a place on.
pub(super) fn bytes_at(bytes: &mut impl Bytes, at: u64, count: u64) -> std::io::Result<Vec<u8>> {
    bytes.seek(SeekFrom::Start(at))?;
    let mut found = Vec::new();
    bytes.take(count).read_to_end(&mut found)?;
    Ok(found)
}
