//! The names of codings that this program can't read, for sentences that refuse them.
//!
//! Numbers and letters of codings: RFC 2361, Microsoft's `mmreg.h`, the MP4 registration authority and Apple's
//! QuickTime documents, all from memory; those that ffmpeg and sox write are held to files of theirs by
//! `scripts/recordings/`. Must not know how anything is decoded.

use super::refuse::{convert, speech};

/// What is known of a coding.
struct Known {
    /// What it is called.
    name: &'static str,
    /// It was made for voices: it has no lows.
    is_speech: bool,
}

const fn music(name: &'static str) -> Known {
    Known { name, is_speech: false }
}

const fn voice(name: &'static str) -> Known {
    Known { name, is_speech: true }
}

/// By the number that a WAV gives it.
const IN_WAV: [(u16, Known); 26] = [
    (0x0010, voice("OKI ADPCM")),
    (0x0014, voice("G.723 ADPCM")),
    (0x0017, voice("Dialogic ADPCM")),
    (0x0020, music("Yamaha ADPCM")),
    (0x0022, voice("TrueSpeech")),
    (0x0031, voice("GSM")),
    (0x0040, voice("G.721 ADPCM")),
    (0x0042, voice("G.723.1")),
    (0x0045, voice("G.726 ADPCM")),
    (0x0064, voice("G.726 ADPCM")),
    (0x0065, voice("G.722 ADPCM")),
    (0x0083, voice("G.729")),
    (0x0092, music("AC-3")),
    (0x00ff, music("AAC")),
    (0x0160, music("Windows Media Audio")),
    (0x0161, music("Windows Media Audio")),
    (0x0162, music("Windows Media Audio")),
    (0x0163, music("Windows Media Audio")),
    (0x0200, music("Creative ADPCM")),
    (0x0270, music("ATRAC3")),
    (0x028f, voice("G.722 ADPCM")),
    (0x1600, music("AAC")),
    (0x1610, music("AAC")),
    (0x2000, music("AC-3")),
    (0x2001, music("DTS")),
    (0xa109, voice("Speex")),
];

/// By the four letters that AIFF-C, CAF and MP4 give it.
const BY_LETTERS: [(&[u8; 4], Known); 24] = [
    (b"samr", voice("AMR")),
    (b"sawb", voice("AMR")),
    (b"sawp", voice("AMR")),
    (b"ilbc", voice("iLBC")),
    (b"agsm", voice("GSM")),
    (b"GSM ", voice("GSM")),
    (b"Qclp", voice("QCELP")),
    (b"sqcp", voice("QCELP")),
    (b"sevc", voice("EVRC")),
    (b"G722", voice("G.722 ADPCM")),
    (b"G726", voice("G.726 ADPCM")),
    (b"G728", voice("G.728")),
    (b"MAC3", voice("MACE")),
    (b"MAC6", voice("MACE")),
    (b"ADP4", voice("Intel ADPCM")),
    (b"QDMC", music("QDesign")),
    (b"QDM2", music("QDesign")),
    (b"ac-3", music("AC-3")),
    (b"ec-3", music("E-AC-3")),
    (b"ac-4", music("AC-4")),
    (b"aach", music("HE-AAC")),
    (b"aacp", music("HE-AAC")),
    (b"opus", music("Opus")),
    (b"Opus", music("Opus")),
];

/// The sentence for a WAV in a coding that can't be read.
pub(super) fn in_wav(tag: u16) -> String {
    match IN_WAV.iter().find(|(number, _)| *number == tag) {
        Some((_, known)) => told("a WAV", known),
        None => convert(&format!("a WAV in coding 0x{tag:04x}")),
    }
}

/// The sentence for another container with a coding that can't be read.
pub(super) fn in_container(container: &str, letters: [u8; 4]) -> String {
    match BY_LETTERS.iter().find(|(known, _)| **known == letters) {
        Some((_, known)) => told(container, known),
        None => convert(&format!("{container} in coding {}", letters.escape_ascii())),
    }
}

/// True for letters that stand for a coding of sound.
pub(super) fn is_sound(letters: [u8; 4]) -> bool {
    BY_LETTERS.iter().any(|(known, _)| **known == letters)
}

fn told(container: &str, known: &Known) -> String {
    let what = format!("{container} that holds {}", known.name);
    if known.is_speech { speech(&what) } else { convert(&what) }
}
