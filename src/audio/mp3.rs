//! What the first frame of an MP3 tells of its length, where its writer left a word of it.
//!
//! Source: the labels Xing and Info that LAME writes and the frame header of ISO/IEC 11172-3, both from memory. Must not
//! know how frames are decoded.

use super::chunks::big_endian;

/// The label stands behind the header and the side information, which are no longer than this with a checksum.
const LABEL_WITHIN: usize = 48;
/// Frames of the stream that writers fill up at either end and decoders leave out again, and one to spare.
const LEFT_OUT: u64 = 3;

/// So many samples of each channel an MP3 has at least, when it was written to its end; `None` when it tells nothing.
pub(super) fn least_frames(head: &[u8]) -> Option<u64> {
    let &[0xff, second, ..] = head else { return None };
    let (version, layer) = (second >> 3 & 3, second >> 1 & 3);
    // Layer III alone has the label; version 1 has twice as many samples in a frame as 2 and 2.5.
    if layer != 1 {
        return None;
    }
    let samples = if version == 3 { 1152 } else { 576 };
    let at = head.get(..LABEL_WITHIN)?.windows(4).position(|label| label == b"Xing" || label == b"Info")?;
    let flags = head.get(at + 4..at + 8).map(big_endian)?;
    let count = head.get(at + 8..at + 12).map(big_endian).filter(|_| flags & 1 == 1)?;
    Some(count.checked_sub(LEFT_OUT)? * samples).filter(|least| *least > 0)
}
