//! What an AIFF's own heading says, plain or compressed (AIFF-C), read with no trust in its sizes.
//!
//! Sources: Apple, Audio Interchange File Format 1.3 (1989) and AIFF-C draft (1991), both from memory. Must not know
//! how blocks are decoded.

use super::blocks::{Blocks, Coding, Layout, unreadable};
use super::chunks::{Chunks, Sizes, big_endian};
use super::decode::AudioError;
use super::named;
use super::refuse;
use super::source::{Source, bytes_at};
use super::spool::Bytes;

/// QuickTime's IMA ADPCM has blocks of this many bytes a channel.
pub(super) const IMA_BLOCK_BYTES: u64 = 34;

/// True for what is read here.
pub(super) fn is_aiff(head: &[u8]) -> bool {
    head.starts_with(b"FORM") && head.get(8..12).is_none_or(|form| form == b"AIFF" || form == b"AIFC")
}

/// Finds the sound of an AIFF.
///
/// # Errors
/// [`AudioError`] when it holds none or in a coding that can't be read.
pub(super) fn read(mut bytes: Box<dyn Bytes>, length: u64) -> Result<Source, AudioError> {
    let chunks = Chunks::of(&mut bytes, 12, length, Sizes::Form)?;
    let (Some(common), Some(sound)) = (chunks.named(b"COMM"), chunks.named(b"SSND")) else {
        let told = big_endian(&bytes_at(&mut bytes, 4, 4)?);
        return Err(if length < 12 || told.saturating_add(8) > length {
            AudioError::HeaderCutShort
        } else {
            refuse::damaged("an AIFF")
        });
    };
    let is_plain = bytes_at(&mut bytes, 8, 4)? == b"AIFF";
    let common = chunks.contents(&mut bytes, common)?;
    let layout = layout(&common, is_plain)?;
    let (here, told) = chunks.sound(sound);
    // The sound begins behind an offset, mostly 0, and the size of blocks that discs wanted.
    let skipped = 8 + big_endian(&bytes_at(&mut bytes, sound.at, 4)?);
    let (here, told) = (here.saturating_sub(skipped), told.saturating_sub(skipped));
    Source::of_blocks(Blocks::new(layout, bytes, sound.at + skipped, here), here, told)
}

fn layout(common: &[u8], is_plain: bool) -> Result<Layout, AudioError> {
    let damaged = || refuse::damaged("an AIFF");
    let short = |at: usize| Some(u16::from_be_bytes(common.get(at..at + 2)?.try_into().ok()?));
    let channels = short(0).ok_or_else(damaged)?;
    let bits = short(6).ok_or_else(damaged)?;
    let rate_hz = common.get(8..18).and_then(rate_hz).ok_or_else(damaged)?;
    let kind = if is_plain { *b"NONE" } else { four(common, 18).ok_or_else(damaged)? };
    let bytes = u64::from(bits.div_ceil(8));
    let whole = |bytes, big| Coding::Whole { bytes, unsigned: false, big };
    let (coding, bits) = match &kind.map(|letter| letter.to_ascii_lowercase()) {
        b"none" | b"twos" => (whole(bytes, true), bits),
        b"sowt" => (whole(bytes, false), bits),
        b"in24" => (whole(3, true), 24),
        b"in32" => (whole(4, true), 32),
        b"42ni" => (whole(3, false), 24),
        b"23ni" => (whole(4, false), 32),
        b"raw " => (Coding::Whole { bytes, unsigned: true, big: true }, bits),
        b"fl32" => (Coding::Float { bytes: 4, big: true }, 32),
        b"fl64" => (Coding::Float { bytes: 8, big: true }, 64),
        b"alaw" => (Coding::ALaw, bits),
        b"ulaw" => (Coding::MuLaw, bits),
        b"ima4" => (Coding::AdpcmImaQt, bits),
        _ => return Err(AudioError::Refused(named::in_container("an AIFF-C", kind))),
    };
    let layout = match coding {
        Coding::AdpcmImaQt => Layout::adpcm(coding, channels, rate_hz, IMA_BLOCK_BYTES * u64::from(channels)),
        _ => Layout::plain(coding, channels, rate_hz, u32::from(bits)),
    };
    layout.map_err(|what| AudioError::Refused(unreadable("an AIFF", &what)))
}

/// Four letters that name something.
pub(super) fn four(bytes: &[u8], at: usize) -> Option<[u8; 4]> {
    bytes.get(at..at + 4)?.try_into().ok()
}

/// The sampling rate, which AIFF writes in 80 bits of floating point: sign and exponent, then 64 bits of mantissa
/// with its leading 1.
fn rate_hz(bytes: &[u8]) -> Option<u32> {
    let (exponent, mantissa) = bytes.split_at_checked(2)?;
    let exponent = i32::try_from(big_endian(exponent)).ok()? - 16_383 - 63;
    let rate = big_endian(mantissa) as f64 * 2_f64.powi(exponent);
    // What no sound has is refused by its number.
    Some(rate.round().clamp(0.0, f64::from(u32::MAX)) as u32)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rates_are_read_from_eighty_bits() {
        // As sox and ffmpeg write 44 100 and 8000 Hz.
        assert_eq!(rate_hz(&[0x40, 0x0e, 0xac, 0x44, 0, 0, 0, 0, 0, 0]), Some(44_100));
        assert_eq!(rate_hz(&[0x40, 0x0b, 0xfa, 0, 0, 0, 0, 0, 0, 0]), Some(8_000));
    }
}
