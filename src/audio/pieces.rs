//! A stream of bytes put together: parts of a recording, with bytes of our own before and between them. So a
//! heading is mended without copying the sound behind it.
//!
//! Must not know how sound is coded, nor what is mended.

use std::io::{Read, Seek, SeekFrom};

use super::spool::Bytes;

/// One piece of the stream.
#[derive(Debug, Clone)]
pub(super) enum Piece {
    /// Bytes that stand in no file.
    Own(Vec<u8>),
    /// So many bytes of the recording from a place on.
    Part {
        /// Where it begins.
        from: u64,
        /// Its length, bytes.
        length: u64,
    },
}

impl Piece {
    fn length(&self) -> u64 {
        match self {
            Piece::Own(bytes) => bytes.len() as u64,
            Piece::Part { length, .. } => *length,
        }
    }
}

/// The pieces one after the other.
pub(super) struct Pieces {
    bytes: Box<dyn Bytes>,
    pieces: Vec<Piece>,
    at: u64,
    /// Length of all together, bytes.
    pub length: u64,
}

impl Pieces {
    pub fn new(bytes: Box<dyn Bytes>, pieces: Vec<Piece>) -> Pieces {
        let length = pieces.iter().map(Piece::length).sum();
        Pieces { bytes, pieces, at: 0, length }
    }

    /// One part of a recording and nothing else.
    pub fn part(bytes: Box<dyn Bytes>, from: u64, length: u64) -> Pieces {
        Pieces::new(bytes, vec![Piece::Part { from, length }])
    }
}

impl Read for Pieces {
    fn read(&mut self, to: &mut [u8]) -> std::io::Result<usize> {
        let mut inside = self.at;
        for piece in &self.pieces {
            let length = piece.length();
            if inside >= length {
                inside -= length;
                continue;
            }
            let most = usize::try_from(length - inside).unwrap_or(usize::MAX).min(to.len());
            let Some(to) = to.get_mut(..most) else { break };
            let count = match piece {
                Piece::Own(bytes) => {
                    let from = usize::try_from(inside).unwrap_or(usize::MAX);
                    bytes.get(from..).unwrap_or_default().read(to)?
                }
                Piece::Part { from, .. } => {
                    self.bytes.seek(SeekFrom::Start(from + inside))?;
                    self.bytes.read(to)?
                }
            };
            self.at += count as u64;
            return Ok(count);
        }
        Ok(0)
    }
}

impl Seek for Pieces {
    fn seek(&mut self, to: SeekFrom) -> std::io::Result<u64> {
        let place = match to {
            SeekFrom::Start(place) => Some(place),
            SeekFrom::End(by) => self.length.checked_add_signed(by),
            SeekFrom::Current(by) => self.at.checked_add_signed(by),
        };
        self.at = place.ok_or(std::io::ErrorKind::InvalidInput)?;
        Ok(self.at)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    #[test]
    fn pieces_read_as_one_stream_from_any_place() {
        let bytes = Box::new(Cursor::new(b"0123456789".to_vec()));
        let pieces = vec![
            Piece::Own(b"head".to_vec()),
            Piece::Part { from: 3, length: 4 },
            Piece::Own(Vec::new()),
            Piece::Part { from: 8, length: 2 },
        ];
        let mut stream = Pieces::new(bytes, pieces);
        let mut all = String::new();
        stream.read_to_string(&mut all).unwrap();
        assert_eq!((all.as_str(), stream.length), ("head345689", 10));
        stream.seek(SeekFrom::End(-7)).unwrap();
        let mut rest = String::new();
        stream.read_to_string(&mut rest).unwrap();
        assert_eq!(rest, "d345689");
        assert!(stream.seek(SeekFrom::Current(-99)).is_err());
    }
}
