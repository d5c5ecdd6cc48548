//! The boxes of an MP4 or M4A, as far as they say whether its sound can be read.
//!
//! Source: ISO/IEC 14496-12, from memory. Must not know how sound is decoded.

use super::chunks::big_endian;
use super::decode::AudioError;
use super::named;
use super::pieces::{Piece, Pieces};
use super::source::{Kind, Sound, Source, bytes_at};
use super::spool::Bytes;

/// An index of some hours of sound is under a tenth of this.
const MOST_INDEX_BYTES: u64 = 16 << 20;
/// Boxes looked through for the index: a recorder that writes in pieces makes thousands.
const MOST_BOXES: usize = 100_000;
/// A larger box is none: no disk holds it.
const MOST_BOX_BYTES: u64 = 1 << 45;
/// Codings of sound that the demuxer and the decoders know.
const READABLE: [&[u8; 4]; 12] = [
    b"mp4a", b"alac", b"fLaC", b"lpcm", b"sowt", b"twos", b"in24", b"in32", b"fl32", b"fl64", b"alaw",
    b"ulaw",
];

/// True for what is read here.
pub(super) fn is_mp4(head: &[u8]) -> bool {
    head.get(4..8) == Some(b"ftyp")
}

/// One box.
struct Found {
    name: [u8; 4],
    at: u64,
    /// With its head; `None` for "to the end".
    size: Option<u64>,
    is_long: bool,
}

/// Finds the sound of an MP4.
///
/// # Errors
/// [`AudioError`] when its index is missing or its coding can't be read.
pub(super) fn read(mut bytes: Box<dyn Bytes>, length: u64) -> Result<Source, AudioError> {
    let (boxes, last) = boxes(&mut bytes)?;
    let unfinished = |what: &str| {
        AudioError::Refused(format!(
            "the recording was never finished: the file's index is {what}. The sound can't be saved; copy it again \
             or record it again"
        ))
    };
    let index = boxes.ok_or_else(|| unfinished("missing"))?;
    if index.size.is_some_and(|size| index.at + size > length) {
        return Err(unfinished("cut off"));
    }
    let index = bytes_at(&mut bytes, index.at, index.size.unwrap_or(length).min(MOST_INDEX_BYTES))?;
    if let Some(foreign) = foreign_coding(&index) {
        return Err(AudioError::Refused(named::in_container("an MP4", foreign)));
    }
    // A last box that is cut off is told as long as what is there of it.
    let overrun = last.filter(|last| last.size.is_some_and(|size| last.at + size > length));
    let cut_short = overrun.is_some();
    let pieces = match overrun {
        Some(last) => {
            let here = length - last.at;
            let size = match last.is_long {
                true => [&1_u32.to_be_bytes()[..], &last.name, &here.to_be_bytes()].concat(),
                false => [&u32::try_from(here).unwrap_or(0).to_be_bytes()[..], &last.name].concat(),
            };
            let behind = last.at + size.len() as u64;
            vec![
                Piece::Part { from: 0, length: last.at },
                Piece::Own(size),
                Piece::Part { from: behind, length: length.saturating_sub(behind) },
            ]
        }
        None => vec![Piece::Part { from: 0, length }],
    };
    let sound = Sound::Stream { bytes: Pieces::new(bytes, pieces), kind: Kind::Mp4 };
    Ok(Source { sound, cut_short, frames: None })
}

/// The index, and the last box that there is.
fn boxes(bytes: &mut impl Bytes) -> std::io::Result<(Option<Found>, Option<Found>)> {
    let (mut index, mut last) = (None, None);
    let mut at = 0_u64;
    for _ in 0..MOST_BOXES {
        let head = bytes_at(bytes, at, 16)?;
        let (Some(short), Some(name)) = (head.get(..4).map(big_endian), head.get(4..8)) else { break };
        let name: [u8; 4] = name.try_into().unwrap_or_default();
        // 1: the size follows in 64 bits. 0: to the end of the file.
        let size = match short {
            0 => None,
            1 => head.get(8..16).map(big_endian),
            short => Some(short),
        };
        if size.is_some_and(|size| !(8..MOST_BOX_BYTES).contains(&size)) {
            break;
        }
        let found = Found { name, at, size, is_long: short == 1 };
        at += size.unwrap_or(0);
        if name == *b"moov" && index.is_none() {
            index = Some(found);
            last = None;
        } else {
            last = Some(found);
        }
        if size.is_none() {
            break;
        }
    }
    Ok((index, last))
}

/// The contents of the box `mvhd` in an index: version, then times.
pub(super) fn movie_header(index: &[u8]) -> Option<&[u8]> {
    index.get(index.windows(4).position(|name| name == b"mvhd")? + 4..)
}

/// The index itself, for whoever wants to know more of it.
pub(super) fn index(bytes: &mut impl Bytes) -> std::io::Result<Option<Vec<u8>>> {
    let Some(found) = boxes(bytes)?.0 else { return Ok(None) };
    bytes_at(bytes, found.at, found.size.unwrap_or(MOST_INDEX_BYTES).min(MOST_INDEX_BYTES)).map(Some)
}

/// The coding of the first track of sound, when none of them can be read. A table of codings (`stsd`) tells, behind
/// its version and a count, the size and the name of each.
fn foreign_coding(index: &[u8]) -> Option<[u8; 4]> {
    let tables = index.windows(4).enumerate().filter(|(_, name)| *name == b"stsd");
    let codings = tables.filter_map(|(at, _)| index.get(at + 16..at + 20)?.try_into().ok());
    let codings: Vec<[u8; 4]> = codings.collect();
    if codings.iter().any(|coding| READABLE.contains(&coding)) {
        return None;
    }
    codings.into_iter().find(|coding| named::is_sound(*coding))
}
