//! The chunks that WAV, AIFF and CAF are made of, walked through with no more trust than they deserve: a size is
//! what somebody wrote, the length of the file is what is there.
//!
//! Must not know what stands in a chunk.

use super::source::bytes_at;
use super::spool::Bytes;

/// A recording has a handful of chunks; more are none.
const MOST_CHUNKS: usize = 1000;
/// Bytes of a heading's chunk that are looked at: the longest that matters is a table of packets.
const MOST_CONTENTS: u64 = 64 << 20;
/// Programs that write into a pipe and can't come back leave 2^32 − 1, 2^31 − 1 or a header less as the size.
const UNSET_FROM: u64 = 0x7fff_0000;

/// How sizes are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sizes {
    /// WAV: 32 bits, the lowest first; chunks begin at even places.
    Riff,
    /// AIFF: 32 bits, the highest first; chunks begin at even places.
    Form,
    /// CAF: 64 bits, the highest first; −1 for "to the end".
    Caf,
}

/// One chunk.
#[derive(Debug, Clone, Copy)]
pub(super) struct Chunk {
    pub id: [u8; 4],
    /// Where its contents begin.
    pub at: u64,
    /// Its size by the heading, bytes.
    pub told: u64,
}

/// All chunks of a file.
pub(super) struct Chunks {
    pub found: Vec<Chunk>,
    /// The last one ends where the file ends.
    ends_with_file: bool,
    /// Length of the file, bytes.
    length: u64,
}

impl Chunks {
    /// The chunks from a place on, up to the first that can't be one.
    pub fn of(bytes: &mut impl Bytes, from: u64, length: u64, sizes: Sizes) -> std::io::Result<Chunks> {
        let mut chunks = Chunks { found: Vec::new(), ends_with_file: from == length, length };
        let mut at = from;
        let head = if sizes == Sizes::Caf { 12 } else { 8 };
        while chunks.found.len() < MOST_CHUNKS {
            let start = bytes_at(bytes, at, head)?;
            let Some((id, size)) = start.split_first_chunk::<4>() else { break };
            if start.len() < head as usize || !id.iter().all(|b| (0x20..0x7f).contains(b)) {
                break;
            }
            let told = match sizes {
                Sizes::Riff => little_endian(size),
                Sizes::Form | Sizes::Caf => big_endian(size),
            };
            chunks.found.push(Chunk { id: *id, at: at + head, told });
            let pad = if sizes == Sizes::Caf { 0 } else { told & 1 };
            at = (at + head).saturating_add(told).saturating_add(pad);
            chunks.ends_with_file = at == length || at == length + pad;
            if at >= length {
                break;
            }
        }
        Ok(chunks)
    }

    /// The first chunk of a name.
    pub fn named(&self, id: &[u8; 4]) -> Option<Chunk> {
        self.found.iter().find(|chunk| chunk.id == *id).copied()
    }

    /// Bytes of a chunk that are there.
    pub fn here(&self, chunk: Chunk) -> u64 {
        chunk.told.min(self.length.saturating_sub(chunk.at))
    }

    /// What a chunk holds, as far as it is there.
    pub fn contents(&self, bytes: &mut impl Bytes, chunk: Chunk) -> std::io::Result<Vec<u8>> {
        bytes_at(bytes, chunk.at, self.here(chunk).min(MOST_CONTENTS))
    }

    /// The extent of the chunk that holds the sound: how many bytes are there, and whether more were told. A size
    /// that was never filled in, because the writer could not come back or died, means all that follows.
    pub fn sound(&self, chunk: Chunk) -> (u64, u64) {
        let follows = self.length.saturating_sub(chunk.at);
        let never_filled_in = chunk.told == 0 && follows > 8 && !self.ends_with_file;
        if never_filled_in || (chunk.told >= UNSET_FROM && chunk.told > follows && is_unset(chunk.told)) {
            return (follows, follows);
        }
        (chunk.told.min(follows), chunk.told)
    }
}

/// In 64 bits only −1 is no size.
fn is_unset(told: u64) -> bool {
    told <= u64::from(u32::MAX) || told == u64::MAX
}

/// A number whose lowest byte comes first.
pub(super) fn little_endian(bytes: &[u8]) -> u64 {
    bytes.iter().rev().fold(0_u64, |n, &b| (n << 8) | u64::from(b))
}

/// A number whose highest byte comes first.
pub(super) fn big_endian(bytes: &[u8]) -> u64 {
    bytes.iter().fold(0_u64, |n, &b| (n << 8) | u64::from(b))
}
