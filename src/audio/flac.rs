//! What a FLAC begins with. Only the description of its stream is needed: comments, cues and pictures are passed
//! over, whatever they hold.
//!
//! Source: RFC 9639. Must not know how frames are decoded.

use super::chunks::big_endian;
use super::decode::AudioError;
use super::pieces::{Piece, Pieces};
use super::source::{Kind, Sound, Source, bytes_at};
use super::spool::Bytes;

/// Bytes of the description of a stream.
const STREAM_INFO_BYTES: u64 = 34;
/// Blocks before the sound; more are none.
const MOST_BLOCKS: usize = 1000;
/// The last kind of block that is defined.
const LAST_KIND: u8 = 6;

/// A heading with a stream's description and nothing else.
pub(super) fn heading(stream_info: &[u8]) -> Piece {
    Piece::Own([b"fLaC\x80\0\0\x22", stream_info].concat())
}

/// Finds the sound of a FLAC.
///
/// # Errors
/// [`AudioError`] when it ends before any.
pub(super) fn read(mut bytes: Box<dyn Bytes>, length: u64) -> Result<Source, AudioError> {
    let mut at = 4;
    let mut stream_info = Vec::new();
    let mut is_last = false;
    for _ in 0..MOST_BLOCKS {
        let head = bytes_at(&mut bytes, at, 4)?;
        let Some((first, size)) = head.split_first().filter(|_| head.len() == 4) else { break };
        let size = big_endian(size);
        // A damaged size leads astray. The decoder then looks for the first frame from here on.
        if first & 0x7f > LAST_KIND || at + 4 + size > length {
            break;
        }
        if first & 0x7f == 0 && size == STREAM_INFO_BYTES {
            stream_info = bytes_at(&mut bytes, at + 4, size)?;
        }
        at += 4 + size;
        is_last = first & 0x80 != 0;
        if is_last {
            break;
        }
    }
    if stream_info.is_empty() {
        let is_cut = length < 8 + STREAM_INFO_BYTES;
        return Err(if is_cut { AudioError::HeaderCutShort } else { super::refuse::damaged("a FLAC file") });
    }
    if at >= length {
        return Err(if is_last { AudioError::NoSamples } else { AudioError::HeaderCutShort });
    }
    // 36 bits at the end of four fields; 0 when the writer could not know.
    let frames = stream_info.get(13..18).map_or(0, big_endian) & 0xf_ffff_ffff;
    let pieces = vec![heading(&stream_info), Piece::Part { from: at, length: length - at }];
    let sound = Sound::Stream { bytes: Pieces::new(bytes, pieces), kind: Kind::Flac };
    Ok(Source { sound, cut_short: false, frames: (frames > 0).then_some(frames) })
}
