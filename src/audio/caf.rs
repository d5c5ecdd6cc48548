//! What a CAF's own heading says, read with no trust in its sizes.
//!
//! Source: Apple, Core Audio Format Specification 1.0, from memory. Must not know how blocks are decoded.

use super::aiff::{IMA_BLOCK_BYTES, four};
use super::blocks::{Blocks, Coding, Layout, unreadable};
use super::chunks::{Chunks, Sizes, big_endian};
use super::decode::AudioError;
use super::named;
use super::pieces::{Piece, Pieces};
use super::refuse;
use super::source::{Kind, Sound, Source};
use super::spool::Bytes;

/// The sound begins behind a count of edits.
const EDIT_COUNT_BYTES: u64 = 4;
/// Chunks without which packets of any size can't be decoded: description, decoder's own data, table of packets.
const NEEDED: [&[u8; 4]; 3] = [b"desc", b"kuki", b"pakt"];
/// Codings in packets of any size that the demuxer knows.
const IN_PACKETS: [&[u8; 4]; 6] = [b"aac ", b"alac", b"flac", b".mp1", b".mp2", b".mp3"];

/// Finds the sound of a CAF.
///
/// # Errors
/// [`AudioError`] when it holds none or in a coding that can't be read.
pub(super) fn read(mut bytes: Box<dyn Bytes>, length: u64) -> Result<Source, AudioError> {
    let chunks = Chunks::of(&mut bytes, 8, length, Sizes::Caf)?;
    let (Some(description), Some(data)) = (chunks.named(b"desc"), chunks.named(b"data")) else {
        let overruns = chunks.found.last().is_none_or(|last| chunks.here(*last) < last.told);
        return Err(if overruns { AudioError::HeaderCutShort } else { refuse::damaged("a CAF") });
    };
    let description = chunks.contents(&mut bytes, description)?;
    let described = Description::of(&description).ok_or_else(|| refuse::damaged("a CAF"))?;
    let (here, told) = chunks.sound(data);
    let at = data.at + EDIT_COUNT_BYTES;
    let (here, told) = (here.saturating_sub(EDIT_COUNT_BYTES), told.saturating_sub(EDIT_COUNT_BYTES));
    if let Some(layout) = described.layout()? {
        return Source::of_blocks(Blocks::new(layout, bytes, at, here), here, told);
    }
    if chunks.named(b"pakt").is_none() {
        return Err(AudioError::Refused(
            "the recording was never finished: the table of its packets is missing. The sound can't be \
             saved; record it again"
                .into(),
        ));
    }
    let mut heading = b"caff\0\x01\0\0".to_vec();
    for id in NEEDED {
        let Some(chunk) = chunks.named(id) else { continue };
        let contents = chunks.contents(&mut bytes, chunk)?;
        heading.extend(id);
        heading.extend((contents.len() as u64).to_be_bytes());
        heading.extend(contents);
    }
    heading.extend(b"data");
    heading.extend((here + EDIT_COUNT_BYTES).to_be_bytes());
    heading.extend([0; EDIT_COUNT_BYTES as usize]);
    let pieces = vec![Piece::Own(heading), Piece::Part { from: at, length: here }];
    let sound = Sound::Stream { bytes: Pieces::new(bytes, pieces), kind: Kind::Caf };
    Ok(Source { sound, cut_short: told > here, frames: None })
}

/// The chunk `desc`.
struct Description {
    rate_hz: u32,
    format: [u8; 4],
    flags: u64,
    packet_bytes: u64,
    channels: u64,
    bits: u64,
}

impl Description {
    fn of(body: &[u8]) -> Option<Description> {
        let rate_hz = f64::from_be_bytes(body.get(..8)?.try_into().ok()?);
        let number = |at: usize| body.get(at..at + 4).map(big_endian);
        Some(Description {
            rate_hz: rate_hz.round().clamp(0.0, f64::from(u32::MAX)) as u32,
            format: four(body, 8)?,
            flags: number(12)?,
            packet_bytes: number(16)?,
            channels: number(24)?,
            bits: number(28)?,
        })
    }

    /// What its blocks are; `None` for packets of any size.
    fn layout(&self) -> Result<Option<Layout>, AudioError> {
        let refused = |what: String| AudioError::Refused(unreadable("a CAF", &what));
        let Ok(channels) = u16::try_from(self.channels) else {
            return Err(refused(format!("of {} channels", self.channels)));
        };
        let bytes = self.packet_bytes.checked_div(self.channels).unwrap_or(0);
        let coding = match &self.format {
            b"lpcm" if self.flags & 1 == 1 => Coding::Float { bytes, big: self.flags & 2 == 0 },
            b"lpcm" => Coding::Whole { bytes, unsigned: false, big: self.flags & 2 == 0 },
            b"alaw" => Coding::ALaw,
            b"ulaw" => Coding::MuLaw,
            b"ima4" => Coding::AdpcmImaQt,
            other if IN_PACKETS.contains(&other) => return Ok(None),
            other => return Err(AudioError::Refused(named::in_container("a CAF", *other))),
        };
        let layout = match coding {
            Coding::AdpcmImaQt => {
                Layout::adpcm(coding, channels, self.rate_hz, IMA_BLOCK_BYTES * self.channels)
            }
            _ => Layout::plain(coding, channels, self.rate_hz, u32::try_from(self.bits).unwrap_or(0)),
        };
        layout.map(Some).map_err(refused)
    }
}
