//! Recognises files that this program can't read, by their first bytes, so that the refusal can
//! say what the file is and what to do with it.
//!
//! Must not know how the readable formats are decoded.

use super::source::bytes_at;
use super::spool::Bytes;

/// An MP4's index of some hours of sound is under a tenth of this.
const MOST_INDEX_BYTES: u64 = 16 << 20;
/// Boxes of an MP4 looked through for the index: a recorder that writes in pieces makes thousands.
const MOST_BOXES: usize = 100_000;
/// A larger box is none: no disk holds it.
const MOST_BOX_BYTES: u64 = 1 << 45;

/// Why the file can't be read, in the maker's words; `None` when nothing speaks against trying.
///
/// Marks of formats: Ogg RFC 3533 and Opus RFC 7845; EBU Tech 3306 (RF64); the others from memory.
pub(super) fn reason(bytes: &mut impl Bytes) -> std::io::Result<Option<String>> {
    let head = bytes_at(bytes, 0, 1024)?;
    if is_mp4(&head) {
        return mp4_reason(bytes);
    }
    Ok(reason_of_head(&head))
}

/// The same when only the beginning is there: what stands later is not judged.
pub(super) fn reason_of_beginning(head: &[u8]) -> Option<String> {
    if is_mp4(head) { None } else { reason_of_head(head) }
}

/// True for the marks that sound files begin with, whatever their first part is worth alone: their headers may
/// be longer than it, with pictures in them.
pub(super) fn begins_as_sound(head: &[u8]) -> bool {
    is_mp4(head) || SOUND_MARKS.iter().chain(&[b"ID3".as_slice()]).any(|mark| head.starts_with(mark))
}

fn reason_of_head(bytes: &[u8]) -> Option<String> {
    if bytes.is_empty() {
        return Some("the file is empty (0 bytes). Record it again, or copy it again".into());
    }
    if bytes.starts_with(b"OggS") && contains(bytes, b"OpusHead", 256) {
        return Some(convert("an Opus recording"));
    }
    if bytes.starts_with(&[0x1a, 0x45, 0xdf, 0xa3]) {
        return Some(convert("a WebM or Matroska file"));
    }
    if bytes.starts_with(b"#!AMR") {
        return Some(speech("an AMR voice recording"));
    }
    if bytes.starts_with(b"RF64") || bytes.starts_with(b"BW64") {
        return Some(convert("an RF64 file (a WAV for sizes over 4 GB)"));
    }
    if bytes.starts_with(b"riff\x2e\x91\xcf\x11") {
        return Some(convert("a Wave64 file"));
    }
    if bytes.starts_with(&[0x30, 0x26, 0xb2, 0x75]) {
        return Some(convert("a Windows Media file"));
    }
    if bytes.starts_with(b"MThd") {
        return Some("it is a MIDI file: it holds notes to play, no sound. Give a recording".into());
    }
    if looks_like_text(bytes) {
        return Some("it holds text, not sound, whatever its name says. Give a recording".into());
    }
    None
}

/// What WAV, AIFF, FLAC, CAF and Ogg begin with.
const SOUND_MARKS: [&[u8]; 5] = [b"RIFF", b"FORM", b"fLaC", b"caff", b"OggS"];

/// A file's own first bytes say RIFF/WAVE but there is too little of it to hold sound.
pub(super) fn header_cut_short(bytes: &[u8]) -> bool {
    SOUND_MARKS.iter().any(|mark| bytes.starts_with(mark) || (mark.starts_with(bytes) && !bytes.is_empty()))
}

/// The sentence for a coding that is absent here but that any converter reads.
pub(super) fn convert(what: &str) -> String {
    format!("it is {what}, which this program can't read. Convert it: ffmpeg -i in.file out.flac")
}

fn speech(what: &str) -> String {
    format!(
        "it is {what}, which this program can't read, and voice coding takes away low notes. \
         Record again as WAV or FLAC"
    )
}

fn is_mp4(bytes: &[u8]) -> bool {
    bytes.get(4..8) == Some(b"ftyp")
}

fn mp4_reason(bytes: &mut impl Bytes) -> std::io::Result<Option<String>> {
    let Some(index) = mp4_index(bytes)? else {
        return Ok(Some(
            "the recording was never finished: the file's index is missing. The sound can't be \
             saved; record it again"
                .into(),
        ));
    };
    let is_voice = contains(&index, b"samr", usize::MAX) || contains(&index, b"sawb", usize::MAX);
    Ok(is_voice.then(|| speech("an AMR voice recording")))
}

/// The box `moov` of an MP4: sizes and names of boxes by ISO/IEC 14496-12, from memory.
fn mp4_index(bytes: &mut impl Bytes) -> std::io::Result<Option<Vec<u8>>> {
    let mut at = 0_u64;
    for _ in 0..MOST_BOXES {
        let head = bytes_at(bytes, at, 16)?;
        let number = |part: Option<&[u8]>| Some(part?.iter().fold(0_u64, |n, &b| (n << 8) | u64::from(b)));
        let (Some(short), Some(name)) = (number(head.get(..4)), head.get(4..8)) else { break };
        if name == b"moov" {
            return bytes_at(bytes, at, MOST_INDEX_BYTES).map(Some);
        }
        // 1: the size follows in 64 bits. 0: to the end of the file.
        let size = if short == 1 { number(head.get(8..16)) } else { Some(short) };
        let Some(size) = size.filter(|size| (8..MOST_BOX_BYTES).contains(size)) else { break };
        at += size;
    }
    Ok(None)
}

fn contains(bytes: &[u8], mark: &[u8], within: usize) -> bool {
    let end = bytes.len().min(within);
    bytes.get(..end).is_some_and(|head| head.windows(mark.len()).any(|w| w == mark))
}

/// True when the first kilobyte holds nothing but printable text: sound always has control bytes.
fn looks_like_text(bytes: &[u8]) -> bool {
    let head = bytes.get(..bytes.len().min(1024)).unwrap_or(bytes);
    head.len() >= 8
        && head.iter().all(|&b| b >= 0x80 || (0x20..0x7f).contains(&b) || b"\t\r\n\x0c".contains(&b))
        && head.iter().filter(|&&b| b < 0x80).count() * 10 > head.len() * 7
}

#[cfg(test)]
mod tests {
    use std::io::Cursor;

    use super::*;

    #[test]
    fn each_foreign_kind_is_refused_by_name() {
        let cases: [(&[u8], &str); 9] = [
            (b"", "empty"),
            (b"OggS\0\x02\0\0\0\0\0\0\0\0abcd\0\0\0\0\0\0\0\0\x01\x13OpusHead\x01", "Opus"),
            (b"#!AMR\n\x3c\x91", "AMR"),
            (b"RF64\xff\xff\xff\xffWAVE", "RF64"),
            (b"riff\x2e\x91\xcf\x11", "Wave64"),
            (b"MThd\0\0\0\x06", "MIDI"),
            (b"\0\0\0\x18ftypM4A \0\0\0\0mdat", "never finished"),
            (b"Dear maker, here is my note.\n", "text"),
            (b"\x1a\x45\xdf\xa3\x01", "WebM"),
        ];
        for (bytes, word) in cases {
            let text = reason(&mut Cursor::new(bytes)).unwrap().unwrap_or_default();
            assert!(text.contains(word), "{word}: {text}");
        }
    }

    #[test]
    fn a_wav_is_not_refused() {
        assert_eq!(reason(&mut Cursor::new(b"RIFF\x24\0\0\0WAVEfmt \x10\0\0\0")).unwrap(), None);
    }
}
