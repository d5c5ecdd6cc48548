//! Recordings that other programs wrote, in codings that no test writes byte by byte, whole and damaged: each is read,
//! with its loss told, or refused by its own name. `kept/README.md` says where they come from.

use std::path::Path;

use borescribe::audio::decode::read_bytes;
use serde_json::Value;
use tempfile::TempDir;

use crate::{codes, measured, written};

/// What is sounding in all of them, hertz.
const PITCH_HZ: f64 = 73.4;

fn kept(name: &str) -> Vec<u8> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/audio/kept").join(name);
    std::fs::read(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// What the program says of each file, in their order.
fn takes(folder: &TempDir, files: &[(&str, Vec<u8>)]) -> Vec<Value> {
    let paths: Vec<_> = files.iter().map(|(name, bytes)| written(folder, name, bytes)).collect();
    measured(&paths).1
}

#[track_caller]
fn assert_read(name: &str, take: &Value, is_cut: bool) {
    let hz = take["pitch_hz"].as_f64().unwrap_or_else(|| panic!("{name}: {}", take["troubles"]));
    assert!((hz - PITCH_HZ).abs() < 0.05, "{name}: {hz} Hz");
    let told = take["troubles"].to_string();
    assert_eq!(told.contains("ends early"), is_cut, "{name}: {told}");
}

#[track_caller]
fn assert_refused(name: &str, take: &Value, words: &[&str]) {
    assert_eq!(codes(take), ["unreadable"], "{name}: {take}");
    let text = take["troubles"][0]["text"].as_str().unwrap();
    for words in words {
        assert!(text.contains(words), "{name}: \"{words}\" is not in: {text}");
    }
}

#[test]
fn what_other_programs_wrote_is_read() {
    let folder = TempDir::new().unwrap();
    let names = [
        "mp3.wav",
        "mp2.wav",
        "flac.wav",
        "ima4.aifc",
        "ima4.caf",
        "alaw.caf",
        "alac.caf",
        "whole.flac",
        "mp3.mp3",
        "faststart.m4a",
        "pieces.m4a",
        "vorbis.ogg",
        "adts.aac",
    ];
    let takes = takes(&folder, &names.map(|name| (name, kept(name))));
    for (name, take) in names.iter().zip(&takes) {
        assert_read(name, take, false);
    }
}

#[test]
fn what_cant_be_read_is_named_with_the_way_to_convert_it() {
    let folder = TempDir::new().unwrap();
    let cases = [
        ("gsm.wav", "GSM"),
        ("aac.wav", "AAC"),
        ("ac3.wav", "AC-3"),
        ("ac3.mp4", "AC-3"),
        ("g726.wav", "G.726"),
        ("speex.wav", "Speex"),
        ("speex.ogg", "Speex"),
        ("wma.wav", "Windows Media"),
        ("yamaha.wav", "Yamaha"),
    ];
    let takes = takes(&folder, &cases.map(|(name, _)| (name, kept(name))));
    for ((name, coding), take) in cases.iter().zip(&takes) {
        assert_refused(name, take, &[coding, "ffmpeg -i in.file out.flac"]);
    }
}

/// The size of the chunk `data` of a CAF replaced by −1, as in a file whose recorder died.
fn of_unknown_size(mut caf: Vec<u8>) -> Vec<u8> {
    let at = caf.windows(4).position(|id| id == b"data").unwrap() + 4;
    caf[at..at + 8].fill(0xff);
    caf
}

fn with_block(flac: &[u8], kind: u8) -> Vec<u8> {
    // Behind the mark and the description of the stream.
    let (heading, rest) = flac.split_at(42);
    [heading, &[kind, 0, 0, 40], &[0xff; 40], rest].concat()
}

fn with_label(mp3: &[u8], size: usize) -> Vec<u8> {
    let size_bytes = [21, 14, 7, 0].map(|shift| (size >> shift) as u8 & 0x7f);
    [b"ID3\x04\0\0", &size_bytes[..], &vec![0x89; size], mp3].concat()
}

fn cut(bytes: &[u8], percent: usize) -> Vec<u8> {
    bytes[..bytes.len() * percent / 100].to_vec()
}

#[test]
fn damaged_recordings_are_read_as_far_as_they_go_and_their_loss_is_told() {
    let folder = TempDir::new().unwrap();
    let (flac, mp3) = (kept("whole.flac"), kept("mp3.mp3"));
    let mut wrong_size = flac.clone();
    wrong_size[43..46].copy_from_slice(b"\x7f\xff\xff");
    let alaw = kept("alaw.caf");
    let cases = [
        ("unknown-size.caf", of_unknown_size(alaw.clone()), false),
        ("unknown-size-ima4.caf", of_unknown_size(kept("ima4.caf")), false),
        ("one-byte-short.caf", alaw[..alaw.len() - 1].to_vec(), true),
        ("one-byte-short.aifc", cut(&kept("ima4.aifc"), 99), true),
        ("comment.flac", with_block(&flac, 4), false),
        ("cue.flac", with_block(&flac, 5), false),
        ("picture.flac", with_block(&flac, 6), false),
        ("wrong-size.flac", wrong_size, false),
        ("cut.flac", cut(&flac, 90), true),
        ("cut.m4a", cut(&kept("faststart.m4a"), 90), true),
        ("cut-in-pieces.m4a", cut(&kept("pieces.m4a"), 90), true),
        ("cut.mp3", cut(&mp3, 80), true),
        ("large-picture.mp3", with_label(&mp3, 50_000_000), false),
        ("small-picture.mp3", with_label(&mp3, 300), false),
    ];
    let takes = takes(&folder, &cases.each_ref().map(|(name, bytes, _)| (*name, bytes.clone())));
    for ((name, _, is_cut), take) in cases.iter().zip(&takes) {
        assert_read(name, take, *is_cut);
    }
}

#[test]
fn what_ends_before_its_sound_is_told_as_what_it_is() {
    let folder = TempDir::new().unwrap();
    let alac = of_unknown_size(kept("alac.caf"));
    let table = alac.windows(4).position(|id| id == b"pakt").unwrap();
    let m4a = kept("faststart.m4a");
    let index = m4a.windows(4).position(|name| name == b"moov").unwrap();
    let ogg = kept("vorbis.ogg");
    let cases = [
        ("table.caf", alac[..table].to_vec(), "table of its packets is missing"),
        ("index.m4a", m4a[..index + 100].to_vec(), "index is cut off"),
        ("no-index.m4a", [&m4a[..index - 4], b"\0\0\x10\0mdat"].concat(), "index is missing"),
        ("header.ogg", ogg[..200].to_vec(), "inside its header"),
        ("sound.ogg", cut(&ogg, 90), "before the first stretch of its sound is whole"),
        ("picture.mp3", with_label(&kept("mp3.mp3"), 5000)[..2500].to_vec(), "inside its header"),
        ("header.flac", kept("whole.flac")[..30].to_vec(), "inside its header"),
        ("header.caf", kept("alaw.caf")[..40].to_vec(), "inside its header"),
        ("header.aifc", kept("ima4.aifc")[..40].to_vec(), "inside its header"),
    ];
    let takes = takes(&folder, &cases.each_ref().map(|(name, bytes, _)| (*name, bytes.clone())));
    for ((name, _, words), take) in cases.iter().zip(&takes) {
        assert_refused(name, take, &[words]);
    }
}

/// The demuxers of streams do arithmetic that stops builds that watch overflow; the program as it is shipped must come
/// through.
#[cfg_attr(debug_assertions, ignore = "the demuxers' arithmetic stops builds that watch overflow")]
#[test]
fn damaged_bytes_in_what_other_programs_wrote_never_panic() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/audio/kept");
    let mut state = 1_u32;
    let mut next = |below: usize| {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 8) as usize % below
    };
    let mut files: Vec<_> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    for path in files.iter().filter(|path| path.extension().is_some_and(|ending| ending != "md")) {
        let good = std::fs::read(path).unwrap();
        for _ in 0..40 {
            let mut bytes = good.clone();
            for _ in 0..3 {
                // Mostly in the heading, where numbers are that lead astray.
                let within = if next(4) == 0 { good.len() } else { good.len().min(400) };
                let (at, value) = (next(within), next(256) as u8);
                bytes[at] = [0, 0x7f, 0xff, value][next(4)];
            }
            match read_bytes(bytes, path.extension().unwrap().to_str().unwrap()) {
                Ok(take) => {
                    assert!(take.samples.iter().all(|sample| sample.is_finite()), "{}", path.display())
                }
                Err(error) => assert!(error.to_string().len() > 20, "{}: {error}", path.display()),
            }
        }
    }
}
