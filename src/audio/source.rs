//! Opens a recording as a stream of bytes that decoders can read and jump about in, its length mended
//! where the recorder never wrote it.
//!
//! Must not know how sound is coded.

use std::io::{Read, Seek, SeekFrom};

use super::decode::AudioError;
use super::refuse;
use super::spool::Bytes;

/// A WAV has a handful of chunks before its sound; more are no WAV.
const MOST_CHUNKS: usize = 1000;

/// Bytes to decode, and what is known of them before.
pub(super) struct Source {
    pub bytes: Mended<Box<dyn Bytes>>,
    /// The beginning is that of a sound file, with too little after it for sound.
    pub header_cut_short: bool,
}

impl Source {
    /// Bytes that can be read from anywhere.
    pub fn of_bytes(mut bytes: Box<dyn Bytes>) -> Result<Source, AudioError> {
        if let Some(reason) = refuse::reason(&mut bytes)? {
            return Err(AudioError::Refused(reason));
        }
        let length = bytes.seek(SeekFrom::End(0))?;
        let header_cut_short = refuse::header_cut_short(&bytes_at(&mut bytes, 0, 4)?);
        let mends = match unset_data_size(&mut bytes, length)? {
            Some(at) => [4, at].map(|at| (at, size_from(at, length))).to_vec(),
            None => Vec::new(),
        };
        bytes.rewind()?;
        Ok(Source { bytes: Mended { bytes, at: 0, length, mends }, header_cut_short })
    }
}

/// Up to `count` bytes from a place on.
pub(super) fn bytes_at(bytes: &mut impl Bytes, at: u64, count: u64) -> std::io::Result<Vec<u8>> {
    bytes.seek(SeekFrom::Start(at))?;
    let mut found = Vec::new();
    bytes.take(count).read_to_end(&mut found)?;
    Ok(found)
}

/// A 32-bit length as written at `at`: of what follows it.
fn size_from(at: u64, length: u64) -> [u8; 4] {
    u32::try_from(length.saturating_sub(at + 4)).unwrap_or(u32::MAX).to_le_bytes()
}

/// Where the length of a WAV's sound stands, when it is none: the mark of a program that wrote
/// into a pipe and couldn't come back to fill it in, or nought because the recorder died first.
fn unset_data_size(bytes: &mut impl Bytes, length: u64) -> std::io::Result<Option<u64>> {
    let head = bytes_at(bytes, 0, 12)?;
    if !head.starts_with(b"RIFF") || !head.ends_with(b"WAVE") {
        return Ok(None);
    }
    let mut at = 12;
    for _ in 0..MOST_CHUNKS {
        let chunk = bytes_at(bytes, at, 8)?;
        let Some((id, size)) = chunk.split_at_checked(4).filter(|(_, size)| size.len() == 4) else { break };
        let size = size.iter().rev().fold(0_u64, |n, &b| (n << 8) | u64::from(b));
        if id == b"data" {
            let follows = length.saturating_sub(at + 8);
            // Writers into a pipe use 2^32 − 1, 2^31 − 1 or numbers a header below them.
            let unset = (size == 0 && follows > 8) || (size >= 0x7fff_0000 && follows < size);
            return Ok(unset.then_some(at + 4));
        }
        at += 8 + size + (size & 1);
    }
    Ok(None)
}

/// Bytes of which some are replaced while they are read.
pub(super) struct Mended<B> {
    bytes: B,
    at: u64,
    /// How many there are.
    pub length: u64,
    /// Places, and what stands there.
    mends: Vec<(u64, [u8; 4])>,
}

impl<B: Read> Read for Mended<B> {
    fn read(&mut self, to: &mut [u8]) -> std::io::Result<usize> {
        let count = self.bytes.read(to)?;
        for (place, right) in &self.mends {
            for (byte, at) in right.iter().zip(*place..) {
                let inside = at.checked_sub(self.at).and_then(|i| usize::try_from(i).ok());
                if let Some(slot) = inside.filter(|i| *i < count).and_then(|i| to.get_mut(i)) {
                    *slot = *byte;
                }
            }
        }
        self.at += count as u64;
        Ok(count)
    }
}

impl<B: Seek> Seek for Mended<B> {
    fn seek(&mut self, to: SeekFrom) -> std::io::Result<u64> {
        self.at = self.bytes.seek(to)?;
        Ok(self.at)
    }
}
