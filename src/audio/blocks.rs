//! Sound in blocks of one size, one after the other, as WAV, AIFF and CAF hold it: what a block is, and the bytes.
//!
//! Must not know files' headings, nor how a block is decoded.

use std::io::{BufReader, Read};

use super::pieces::Pieces;
use super::refuse;
use super::spool::Bytes;

/// Frames in a packet of blocks of one frame each: as many as an MP3 has.
const FRAMES_A_PACKET: u64 = 1152;
/// Bytes that are asked of the system at a time.
const BYTES_AT_A_TIME: usize = 1 << 16;
/// Samples of all channels in a packet at most, so that thousands of channels don't fill the memory.
const MOST_SAMPLES_A_PACKET: u64 = 1 << 17;

/// How samples stand in a block.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Coding {
    /// Whole numbers in one to four bytes.
    Whole {
        /// Bytes of one sample.
        bytes: u64,
        /// The lowest value is 0.
        unsigned: bool,
        /// The highest byte comes first.
        big: bool,
    },
    /// Floating point in four or eight bytes.
    Float {
        /// Bytes of one sample.
        bytes: u64,
        /// The highest byte comes first.
        big: bool,
    },
    ALaw,
    MuLaw,
    AdpcmMs,
    AdpcmImaWav,
    AdpcmImaQt,
}

/// What all blocks are.
#[derive(Debug, Clone, Copy)]
pub(super) struct Layout {
    pub coding: Coding,
    pub channels: u16,
    pub rate_hz: u32,
    /// Bits of one sample that count; `None` where that makes no sense.
    pub bits: Option<u32>,
    /// Bytes of one block.
    pub block_bytes: u64,
    /// Frames in one block.
    pub block_frames: u64,
}

impl Layout {
    /// Blocks of one frame each, `bits` of each sample counting. Where the bits don't fill their bytes they are the
    /// highest of them, in WAV as in AIFF, so that a sample is read by its bytes.
    ///
    /// The error says what it is that can't be read.
    pub fn plain(coding: Coding, channels: u16, rate_hz: u32, bits: u32) -> Result<Layout, String> {
        let bytes = match coding {
            Coding::Whole { bytes: bytes @ 1..=4, .. } | Coding::Float { bytes: bytes @ (4 | 8), .. } => {
                bytes
            }
            Coding::Whole { .. } => return Err(format!("of {bits} bits a sample")),
            Coding::Float { .. } => return Err(format!("of {bits} bits a sample in floating point")),
            Coding::ALaw | Coding::MuLaw => 1,
            Coding::AdpcmMs | Coding::AdpcmImaWav | Coding::AdpcmImaQt => return Err("in ADPCM".into()),
        };
        let counts = matches!(coding, Coding::Whole { .. }) && (1..=32).contains(&bits);
        Ok(Layout {
            coding,
            channels,
            rate_hz,
            bits: counts.then_some(bits),
            block_bytes: bytes * u64::from(channels),
            block_frames: 1,
        })
    }

    /// Blocks of ADPCM, four bits a sample behind a preamble for each channel: eight bits less than two samples in
    /// Microsoft's, one sample in four bytes in WAV's IMA, none in QuickTime's (from memory).
    ///
    /// The error says what it is that can't be read.
    pub fn adpcm(coding: Coding, channels: u16, rate_hz: u32, block_bytes: u64) -> Result<Layout, String> {
        let count = u64::from(channels);
        if !(1..=2).contains(&count) {
            return Err(format!("of {count} channels in ADPCM"));
        }
        let (preamble, samples) = match coding {
            Coding::AdpcmMs => (7, 2),
            Coding::AdpcmImaQt => (2, 0),
            _ => (4, 1),
        };
        let Some(body) = block_bytes.checked_sub(preamble * count).filter(|body| *body > 0) else {
            return Err(format!("in ADPCM with blocks of {block_bytes} bytes"));
        };
        let block_frames = 2 * body / count + samples;
        Ok(Layout { coding, channels, rate_hz, bits: None, block_bytes, block_frames })
    }

    /// Blocks that are decoded at a time.
    fn blocks_a_packet(&self) -> u64 {
        let samples = self.block_frames * u64::from(self.channels.max(1));
        (FRAMES_A_PACKET / self.block_frames.max(1)).min(MOST_SAMPLES_A_PACKET / samples.max(1)).max(1)
    }

    /// Frames that are decoded at a time, at most.
    pub fn packet_frames(&self) -> u64 {
        self.blocks_a_packet() * self.block_frames
    }
}

/// The blocks of a recording.
pub(super) struct Blocks {
    pub layout: Layout,
    sound: BufReader<Pieces>,
}

impl Blocks {
    /// The whole blocks within a number of bytes, from a place on.
    pub fn new(layout: Layout, bytes: Box<dyn Bytes>, from: u64, here: u64) -> Blocks {
        let whole = here - here % layout.block_bytes.max(1);
        let sound = BufReader::with_capacity(BYTES_AT_A_TIME, Pieces::part(bytes, from, whole));
        Blocks { layout, sound }
    }

    /// The next blocks, and the frames in them; `None` at the end.
    pub fn next(&mut self) -> std::io::Result<Option<(Vec<u8>, u64)>> {
        let block = self.layout.block_bytes.max(1);
        let mut packet = Vec::new();
        self.sound.by_ref().take(self.layout.blocks_a_packet() * block).read_to_end(&mut packet)?;
        let blocks = packet.len() as u64 / block;
        Ok((blocks > 0).then_some((packet, blocks * self.layout.block_frames)))
    }
}

/// The sentence for what a [`Layout`] can't be.
pub(super) fn unreadable(container: &str, what: &str) -> String {
    refuse::convert(&format!("{container} {what}"))
}
