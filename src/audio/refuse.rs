//! Recognises files that this program can't read, by their first bytes, so that the refusal can
//! say what the file is and what to do with it.
//!
//! Must not know how the readable formats are decoded.

use super::decode::AudioError;
use super::mp4::is_mp4;

/// True for the marks that sound files begin with, whatever their first part is worth alone: their headers may
/// be longer than it, with pictures in them.
pub(super) fn begins_as_sound(head: &[u8]) -> bool {
    is_mp4(head) || SOUND_MARKS.iter().chain(&[b"ID3".as_slice()]).any(|mark| head.starts_with(mark))
}

/// True for a file that is over within the mark that sound files begin with.
pub(super) fn is_begun_mark(head: &[u8]) -> bool {
    !head.is_empty() && SOUND_MARKS.iter().any(|mark| mark.starts_with(head))
}

/// Why the file can't be read, in the maker's words; `None` when nothing in its first bytes speaks against trying.
///
/// Marks of formats: Ogg RFC 3533 and Opus RFC 7845; the others from memory.
pub(super) fn reason(bytes: &[u8]) -> Option<String> {
    if bytes.is_empty() {
        return Some("the file is empty (0 bytes). Record it again, or copy it again".into());
    }
    if bytes.starts_with(b"OggS") {
        if contains(bytes, b"Speex   ", OGG_BEGINNING) {
            return Some(speech("a Speex recording"));
        }
        let foreign = FOREIGN_IN_OGG.iter().find(|(mark, _)| contains(bytes, mark, OGG_BEGINNING));
        return foreign.map(|(_, what)| convert(what));
    }
    if bytes.starts_with(b"#!AMR") {
        return Some(speech("an AMR recording"));
    }
    let is_there = |at: usize, mark: &[u8]| bytes.get(at..at + mark.len()) == Some(mark);
    if let Some((_, _, what)) = FOREIGN.iter().find(|(at, mark, _)| is_there(*at, mark)) {
        return Some(convert(what));
    }
    if bytes.starts_with(b"MThd") {
        return Some("it is a MIDI file: it holds notes to play, no sound. Give a recording".into());
    }
    if looks_like_text(bytes) {
        return Some("it holds text, not sound, whatever its name says. Give a recording".into());
    }
    None
}

/// What WAV (also of more than 4 GB), AIFF, FLAC, CAF and Ogg begin with.
const SOUND_MARKS: [&[u8]; 7] = [b"RIFF", b"RF64", b"BW64", b"FORM", b"fLaC", b"caff", b"OggS"];

/// The coding of an Ogg is named in its first packet.
const OGG_BEGINNING: usize = 256;

/// Marks of files of sound that this program can't read: where in the file, the mark, what it is.
const FOREIGN: [(usize, &[u8], &str); 14] = [
    (0, &[0x1a, 0x45, 0xdf, 0xa3], "a WebM or Matroska file"),
    (0, b"riff\x2e\x91\xcf\x11", "a Wave64 file"),
    (0, &[0x30, 0x26, 0xb2, 0x75], "a Windows Media file"),
    (0, b".snd", "a Sun AU file"),
    (0, b"wvpk", "a WavPack file"),
    (0, b"TTA1", "a True Audio file"),
    (0, b"MAC ", "a Monkey's Audio file"),
    (0, b"MPCK", "a Musepack file"),
    (0, b"MP+", "a Musepack file"),
    (0, b"DSD ", "a DSD file"),
    (0, b"FRM8", "a DSD file"),
    (0, &[0x0b, 0x77], "an AC-3 recording"),
    (0, &[0x7f, 0xfe, 0x80, 0x01], "a DTS recording"),
    (8, b"8SVX", "an 8SVX file"),
];
/// Codings in Ogg that this program can't read: the mark of each at its beginning, what it is.
const FOREIGN_IN_OGG: [(&[u8], &str); 2] = [(b"OpusHead", "an Opus recording"), (b"\x80theora", "a video")];

/// The sentence for a coding that is absent here but that any converter reads.
pub(super) fn convert(what: &str) -> String {
    format!("it is {what}, which this program can't read. Convert it: ffmpeg -i in.file out.flac")
}

/// The sentence for a coding that was made for voices.
pub(super) fn speech(what: &str) -> String {
    format!(
        "it is {what}, which this program can't read, and voice coding takes away low notes. \
         Record again as WAV or FLAC. To use it all the same, convert it: ffmpeg -i in.file out.flac"
    )
}

/// A file of a known kind whose heading makes no sense.
pub(super) fn damaged(what: &str) -> AudioError {
    AudioError::Refused(format!(
        "it begins as {what} does, but its heading is damaged. Try: ffmpeg -i in.file out.flac. If that fails \
         too, copy it again or record it again"
    ))
}

/// A file of a known kind in which no sound can be found, though its heading is whole.
pub(super) fn damaged_frames(what: &str) -> AudioError {
    AudioError::Refused(format!(
        "it begins as {what} does, but nothing of its sound can be read. Copy it again or record it again"
    ))
}

/// A file of no known kind.
pub(super) fn not_sound() -> AudioError {
    AudioError::Refused(
        "it is no recording of a kind that this program reads (WAV, FLAC, MP3, M4A, Ogg \
         Vorbis, AIFF, CAF). Convert it: ffmpeg -i in.file out.flac"
            .into(),
    )
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
    use super::*;

    #[test]
    fn each_foreign_kind_is_refused_by_name() {
        let cases: [(&[u8], &str); 9] = [
            (b".snd\0\0\0\x18", "Sun AU"),
            (b"OggS\0\x02\0\0\0\0\0\0\0\0abcd\0\0\0\0\0\0\0\0\x01\x50Speex   1.2", "Speex"),
            (b"", "empty"),
            (b"OggS\0\x02\0\0\0\0\0\0\0\0abcd\0\0\0\0\0\0\0\0\x01\x13OpusHead\x01", "Opus"),
            (b"#!AMR\n\x3c\x91", "AMR"),
            (b"riff\x2e\x91\xcf\x11", "Wave64"),
            (b"MThd\0\0\0\x06", "MIDI"),
            (b"Dear maker, here is my note.\n", "text"),
            (b"\x1a\x45\xdf\xa3\x01", "WebM"),
        ];
        for (bytes, word) in cases {
            let text = reason(bytes).unwrap_or_default();
            assert!(text.contains(word), "{word}: {text}");
        }
    }

    #[test]
    fn a_wav_is_not_refused() {
        assert_eq!(reason(b"RIFF\x24\0\0\0WAVEfmt \x10\0\0\0"), None);
    }
}
