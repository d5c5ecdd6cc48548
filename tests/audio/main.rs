//! Recordings of every kind, written here byte by byte: the good ones give their samples, the bad
//! ones a clear sentence, and nothing panics.

use std::f64::consts::TAU;
use std::fs;
use std::path::PathBuf;

use assert_cmd::Command;
use borescribe::audio::decode::{AudioError, read_bytes};
use borescribe::audio::encode::{Depth, write_wav};
use serde_json::Value;
use tempfile::TempDir;

mod headings;
mod kept;
mod long;

/// How samples are written in a WAV.
#[derive(Debug, Clone, Copy)]
enum Kind {
    Unsigned8,
    Signed(u16),
    Float(u16),
}

fn sample_bytes(kind: Kind, sample: f64) -> Vec<u8> {
    match kind {
        Kind::Unsigned8 => vec![(sample * 127.0 + 128.0).round() as u8],
        Kind::Signed(bits) => {
            let full = 2f64.powi(i32::from(bits) - 1) - 1.0;
            let value = (sample * full).round() as i64;
            value.to_le_bytes()[..usize::from(bits / 8)].to_vec()
        }
        Kind::Float(32) => (sample as f32).to_le_bytes().to_vec(),
        Kind::Float(_) => sample.to_le_bytes().to_vec(),
    }
}

/// A WAV of interleaved `samples`; `data_size` overrides what the header says of its length.
fn wav(
    kind: Kind,
    channels: u16,
    rate: u32,
    samples: &[f64],
    extensible: bool,
    data_size: Option<u32>,
) -> Vec<u8> {
    let (tag, bits) = match kind {
        Kind::Unsigned8 => (1_u16, 8_u16),
        Kind::Signed(bits) => (1, bits),
        Kind::Float(bits) => (3, bits),
    };
    let data: Vec<u8> = samples.iter().flat_map(|s| sample_bytes(kind, *s)).collect();
    let block = channels * bits / 8;
    let mut format = Vec::new();
    format.extend(if extensible { 0xfffe_u16 } else { tag }.to_le_bytes());
    format.extend(channels.to_le_bytes());
    format.extend(rate.to_le_bytes());
    format.extend((rate * u32::from(block)).to_le_bytes());
    format.extend(block.to_le_bytes());
    format.extend(bits.to_le_bytes());
    if extensible {
        format.extend(22_u16.to_le_bytes());
        format.extend(bits.to_le_bytes());
        format.extend(((1_u32 << channels) - 1).to_le_bytes());
        format.extend(tag.to_le_bytes());
        format.extend([0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xaa, 0, 0x38, 0x9b, 0x71]);
    }
    let size = data_size.unwrap_or(data.len() as u32);
    let mut file = b"RIFF".to_vec();
    file.extend(size.saturating_add(20 + format.len() as u32).to_le_bytes());
    file.extend(b"WAVEfmt ");
    file.extend((format.len() as u32).to_le_bytes());
    file.extend(format);
    file.extend(b"data");
    file.extend(size.to_le_bytes());
    file.extend(data);
    file
}

/// A note of odd partials.
fn note(hz: f64, rate: u32, seconds: f64) -> Vec<f64> {
    (0..(f64::from(rate) * seconds) as usize)
        .map(|i| {
            let turn = TAU * hz * i as f64 / f64::from(rate);
            0.5 * turn.sin() + 0.25 * (3.0 * turn).sin() + 0.12 * (5.0 * turn).sin()
        })
        .collect()
}

fn measured(files: &[PathBuf]) -> (i32, Vec<Value>) {
    let output =
        Command::cargo_bin("borescribe").unwrap().arg("measure").arg("--json").args(files).output().unwrap();
    let json: Value = serde_json::from_slice(&output.stdout).unwrap();
    (output.status.code().unwrap(), json["takes"].as_array().unwrap().clone())
}

fn written(folder: &TempDir, name: &str, bytes: &[u8]) -> PathBuf {
    let path = folder.path().join(name);
    fs::write(&path, bytes).unwrap();
    path
}

fn codes(take: &Value) -> Vec<&str> {
    take["troubles"].as_array().unwrap().iter().filter_map(|t| t["code"].as_str()).collect()
}

#[test]
fn every_kind_of_wav_gives_its_samples() {
    let samples = note(100.0, 8000, 0.1);
    let kinds = [
        (Kind::Unsigned8, 1.0 / 120.0),
        (Kind::Signed(16), 1e-4),
        (Kind::Signed(24), 1e-6),
        (Kind::Signed(32), 1e-8),
        (Kind::Float(32), 1e-7),
        (Kind::Float(64), 1e-15),
    ];
    for (kind, tolerance) in kinds {
        for extensible in [false, true] {
            for rate in [8_000, 44_100, 192_000] {
                let take = read_bytes(wav(kind, 1, rate, &samples, extensible, None), "wav").unwrap();
                assert_eq!(take.samples.len(), samples.len(), "{kind:?}");
                assert!((take.rate_hz - f64::from(rate)).abs() < 1e-9);
                let worst = take.samples.iter().zip(&samples).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
                assert!(worst < tolerance, "{kind:?} {worst}");
                assert_eq!(take.origin.damage, None, "{kind:?}");
            }
        }
    }
}

#[test]
fn out_of_phase_channels_do_not_cancel() {
    let mono = note(100.0, 8000, 0.2);
    let stereo: Vec<f64> = mono.iter().flat_map(|s| [*s, -*s]).collect();
    let take = read_bytes(wav(Kind::Signed(16), 2, 8000, &stereo, false, None), "wav").unwrap();
    assert_eq!(take.origin.channels, 2);
    assert!(take.samples.iter().fold(0.0_f64, |m, s| m.max(s.abs())) > 0.4);
}

#[test]
fn the_one_channel_with_sound_is_taken() {
    let mono = note(100.0, 8000, 0.2);
    let four: Vec<f64> = mono.iter().flat_map(|s| [0.0, 0.001 * s, *s, 0.0]).collect();
    let take = read_bytes(wav(Kind::Signed(24), 4, 8000, &four, true, None), "wav").unwrap();
    assert!((take.samples[100] - mono[100]).abs() < 1e-5);
}

#[test]
fn a_wav_from_a_pipe_without_a_length_is_whole() {
    let samples = note(100.0, 8000, 0.5);
    for size in [u32::MAX, 0x7fff_ffff, 0] {
        let take = read_bytes(wav(Kind::Signed(16), 1, 8000, &samples, false, Some(size)), "wav").unwrap();
        assert_eq!(take.samples.len(), samples.len(), "{size}");
        assert_eq!(take.origin.damage, None, "{size}");
    }
}

#[test]
fn a_wav_that_is_cut_off_is_read_as_far_as_it_goes_and_says_so() {
    let samples = note(100.0, 8000, 1.0);
    let mut bytes = wav(Kind::Signed(16), 1, 8000, &samples, false, None);
    bytes.truncate(44 + 2 * 5000);
    let take = read_bytes(bytes, "wav").unwrap();
    assert_eq!(take.samples.len(), 5000);
    assert!(take.origin.damage.unwrap().contains("ends early"));
}

#[test]
fn samples_that_are_no_numbers_become_silence_and_are_told() {
    let mut samples = note(100.0, 8000, 0.5);
    samples[100] = f64::NAN;
    samples[200] = f64::INFINITY;
    let take = read_bytes(wav(Kind::Float(32), 1, 8000, &samples, false, None), "wav").unwrap();
    assert!(take.samples.iter().all(|s| s.is_finite()));
    assert!(take.origin.damage.unwrap().contains("2 samples are no numbers"));
}

#[test]
fn what_is_written_is_read_back_and_another_reader_agrees() {
    let folder = TempDir::new().unwrap();
    let samples = note(61.7, 48_000, 0.2);
    for (depth, bits) in [(Depth::Bits16, 16), (Depth::Bits24, 24)] {
        let path = folder.path().join("take.wav");
        write_wav(&path, &samples, 48_000, depth).unwrap();
        let ours = read_bytes(std::fs::read(&path).unwrap(), "wav").unwrap();
        let full = f64::from(1_i32 << (bits - 1));
        let other: Vec<f64> = hound::WavReader::open(&path)
            .unwrap()
            .samples::<i32>()
            .map(|s| f64::from(s.unwrap()) / full)
            .collect();
        assert_eq!(ours.samples, other);
        assert_eq!(ours.samples.len(), samples.len());
    }
}

#[test]
fn bad_files_give_a_clear_sentence_each_and_exit_1() {
    let folder = TempDir::new().unwrap();
    let samples = note(100.0, 8000, 0.5);
    let mut short_header = wav(Kind::Signed(16), 1, 8000, &samples, false, None);
    short_header.truncate(30);
    let cases = [
        (folder.path().join("missing.wav"), "can't be opened"),
        (written(&folder, "text.wav", b"this is a letter to my aunt\n"), "holds text"),
        (written(&folder, "short.wav", &short_header), "inside its header"),
        (written(&folder, "none.wav", &wav(Kind::Signed(16), 1, 8000, &[], false, None)), "no samples"),
        (written(&folder, "empty.wav", b""), "empty"),
        (written(&folder, "noise.bin", &[0x91; 5000]), "no recording"),
        (folder.path().to_path_buf(), "folder"),
    ];
    let files: Vec<PathBuf> = cases.iter().map(|(path, _)| path.clone()).collect();
    let (code, takes) = measured(&files);
    assert_eq!(code, 1);
    assert_eq!(takes.len(), cases.len());
    for (take, (path, words)) in takes.iter().zip(&cases) {
        assert_eq!(codes(take), ["unreadable"], "{path:?}");
        assert!(take["pitch_hz"].is_null());
        let text = take["troubles"][0]["text"].as_str().unwrap();
        assert!(text.contains(words), "{path:?}: {text}");
    }
}

#[test]
fn sound_without_a_note_is_silent_and_no_failure() {
    let folder = TempDir::new().unwrap();
    let silence = vec![0.0; 16_000];
    let cases = [("silence.wav", silence), ("one.wav", vec![0.5]), ("three.wav", vec![0.5, -0.5, 0.1])];
    let files: Vec<PathBuf> = cases
        .iter()
        .map(|(name, samples)| written(&folder, name, &wav(Kind::Signed(16), 1, 8000, samples, false, None)))
        .collect();
    let (code, takes) = measured(&files);
    assert_eq!(code, 0);
    for take in &takes {
        assert_eq!(take["voiced"], false, "{take}");
        assert!(codes(take).contains(&"silent"), "{take}");
    }
}

#[test]
fn a_note_that_is_all_clipped_is_measured_and_told() {
    let folder = TempDir::new().unwrap();
    let square: Vec<f64> = note(110.0, 48_000, 2.0).iter().map(|s| (20.0 * s).clamp(-1.0, 1.0)).collect();
    let path = written(&folder, "loud.wav", &wav(Kind::Signed(16), 1, 48_000, &square, false, None));
    let (code, takes) = measured(&[path]);
    assert_eq!(code, 0);
    assert!((takes[0]["pitch_hz"].as_f64().unwrap() - 110.0).abs() < 0.01);
    assert!(codes(&takes[0]).contains(&"clipped"));
}

#[test]
fn results_come_in_the_order_of_the_arguments() {
    let folder = TempDir::new().unwrap();
    let pitches = [220.0, 55.0, 110.0, 82.5];
    let files: Vec<PathBuf> = pitches
        .iter()
        .map(|hz| {
            let bytes = wav(Kind::Signed(16), 1, 16_000, &note(*hz, 16_000, 1.5), false, None);
            written(&folder, &format!("{hz}.wav"), &bytes)
        })
        .collect();
    let (_, takes) = measured(&files);
    for (take, hz) in takes.iter().zip(pitches) {
        assert!((take["pitch_hz"].as_f64().unwrap() - hz).abs() < 0.02, "{take}");
    }
}

#[test]
fn wrong_usage_exits_2_and_says_how() {
    for arguments in [
        vec!["measure"],
        vec!["measure", "x.wav", "--expect", "H9"],
        vec!["measure", "x.wav", "--expect", "-3"],
        vec!["measure", "x.wav", "--from", "3", "--to", "2"],
        vec!["measure", "x.wav", "--no-such-option"],
    ] {
        let output = Command::cargo_bin("borescribe").unwrap().args(&arguments).output().unwrap();
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(!output.stderr.is_empty(), "{arguments:?}");
    }
}

#[test]
fn damaged_bytes_anywhere_never_panic() {
    let good = wav(Kind::Signed(16), 1, 8000, &note(100.0, 8000, 0.05), true, None);
    for at in 0..100.min(good.len()) {
        for value in [0x00, 0x7f, 0xff] {
            let mut bytes = good.clone();
            bytes[at] = value;
            match read_bytes(bytes, "wav") {
                Ok(take) => assert!(take.samples.iter().all(|s| s.is_finite())),
                Err(AudioError::Open(_) | AudioError::Folder) => panic!("no file was opened"),
                Err(error) => assert!(error.to_string().len() > 20),
            }
        }
    }
}
