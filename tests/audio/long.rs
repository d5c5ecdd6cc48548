//! Recordings too long to be held: measured all the same, in little memory.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;

use assert_cmd::Command;
use serde_json::Value;
use tempfile::TempDir;

use crate::{Kind, note, wav};

const RATE_HZ: u32 = 16_000;

/// Silence with faint hiss, eight bits a sample, in which a note of three seconds begins at each time.
fn write_long(path: &Path, seconds: u32, notes: &[(u32, f64)]) {
    let mut sound = vec![0.0; (seconds * RATE_HZ) as usize];
    let mut state = 1_u32;
    for sample in &mut sound {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        *sample = f64::from(state >> 16) / 65_536.0 / 50.0 - 0.01;
    }
    for (at_s, hz) in notes {
        let from = (at_s * RATE_HZ) as usize;
        for (slot, sample) in sound[from..].iter_mut().zip(note(*hz, RATE_HZ, 3.0)) {
            *slot += sample;
        }
    }
    let bytes = wav(Kind::Unsigned8, 1, RATE_HZ, &sound, false, None);
    BufWriter::new(File::create(path).unwrap()).write_all(&bytes).unwrap();
}

fn measured(arguments: &[&str]) -> Value {
    let output = Command::cargo_bin("borescribe").unwrap().args(arguments).output().unwrap();
    serde_json::from_slice(&output.stdout).unwrap()
}

#[test]
fn the_one_note_of_a_long_recording_is_measured_where_it_is() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("long.wav");
    write_long(&path, 600, &[(500, 110.0)]);
    let file = path.to_str().unwrap();
    let take = measured(&["measure", "--json", file])["takes"][0].clone();
    assert!((take["pitch_hz"].as_f64().unwrap() - 110.0).abs() < 0.01, "{take}");
    let from_s = take["steady"][0].as_f64().unwrap();
    assert!((500.0..500.5).contains(&from_s), "{take}");
    assert_eq!(take["troubles"], serde_json::json!([]), "{take}");
    // A part that was asked for is the part that is measured.
    let none = measured(&["measure", "--json", file, "--from", "100", "--to", "110"])["takes"][0].clone();
    assert!(none["pitch_hz"].is_null(), "{none}");
}

#[test]
fn what_else_sounds_in_a_long_recording_is_told() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("long.wav");
    write_long(&path, 600, &[(100, 73.4), (500, 110.0)]);
    let take = measured(&["measure", "--json", path.to_str().unwrap()])["takes"][0].clone();
    assert_eq!(take["troubles"][0]["code"], "several-notes", "{take}");
}

/// Runs the program and reads its highest memory, kB, which the system tells until the program ends.
#[cfg(target_os = "linux")]
fn run_for_memory(arguments: &[&str], stdin: File) -> (Vec<u8>, u64) {
    use std::io::Read;
    use std::process::{Command, Stdio};

    let mut child = Command::new(assert_cmd::cargo::cargo_bin("borescribe"))
        .args(arguments)
        // Through cat, so that it is a pipe, which can't be read twice.
        .stdin(Command::new("cat").stdin(stdin).stdout(Stdio::piped()).spawn().unwrap().stdout.unwrap())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut highest_kb = 0;
    while child.try_wait().unwrap().is_none() {
        let status = std::fs::read_to_string(format!("/proc/{}/status", child.id())).unwrap_or_default();
        let told = status.lines().find_map(|line| line.strip_prefix("VmHWM:")?.trim().strip_suffix(" kB"));
        highest_kb = told.and_then(|kb| kb.parse().ok()).unwrap_or(0).max(highest_kb);
        std::thread::sleep(std::time::Duration::from_millis(2));
    }
    let mut told = Vec::new();
    child.stdout.unwrap().read_to_end(&mut told).unwrap();
    (told, highest_kb)
}

/// An hour and a half in 690 MB if it were held. What is held is three minutes at first, then the note.
#[cfg(target_os = "linux")]
#[test]
fn memory_grows_with_the_note_and_not_with_the_recording_nor_with_what_comes_through_a_pipe() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("long.wav");
    write_long(&path, 5400, &[(5000, 110.0)]);
    for file in [path.to_str().unwrap(), "-"] {
        let (told, highest_kb) = run_for_memory(&["measure", "--json", file], File::open(&path).unwrap());
        let json: Value = serde_json::from_slice(&told).unwrap();
        assert!((json["takes"][0]["pitch_hz"].as_f64().unwrap() - 110.0).abs() < 0.01, "{json}");
        assert_eq!(json["takes"][0]["troubles"], serde_json::json!([]), "{json}");
        assert!((10_000..120_000).contains(&highest_kb), "{file}: {highest_kb} kB");
    }
}

/// Ten minutes of two channels in 460 MB if they were held.
#[cfg(target_os = "linux")]
#[test]
fn memory_does_not_grow_with_a_take_while_it_is_recorded() {
    let folder = TempDir::new().unwrap();
    let name = |name: &str| folder.path().join(name).to_str().unwrap().to_string();
    std::fs::write(
        name("instrument.toml"),
        "format = 1\n[instrument]\nname = \"Pipe\"\nprototype = \"P1\"\ndrive = \"reed\"\n\
         [mouthpiece]\nchamber_ml = 12.5\n[[bore]]\nat_mm = 0.0\ndiameter_mm = 20.0\n\
         [[bore]]\nat_mm = 700.0\ndiameter_mm = 20.0\n[[fingering]]\nname = \"A2\"\nopen = []\n",
    )
    .unwrap();
    let mut sound = vec![128_u8; 2 * 600 * 48_000];
    for (frame, sample) in sound.chunks_exact_mut(2).skip(300 * 48_000).zip(note(110.0, 48_000, 3.0)) {
        frame[1] = (128.0 + 100.0 * sample).round() as u8;
    }
    std::fs::write(name("sound.raw"), sound).unwrap();
    let (takes, instrument) = (name("takes"), name("instrument.toml"));
    let (told, highest_kb) = run_for_memory(
        &["record", &instrument, "A2", "--seconds", "600", "--raw", "u8:48000:2", "--into", &takes, "--json"],
        File::open(name("sound.raw")).unwrap(),
    );
    let json: Value = serde_json::from_slice(&told).unwrap();
    assert!((json["takes"][0]["pitch_hz"].as_f64().unwrap() - 110.0).abs() < 0.01, "{json}");
    let kept = hound::WavReader::open(folder.path().join("takes/A2.wav")).unwrap();
    assert_eq!((kept.spec().channels, kept.duration()), (1, 600 * 48_000));
    assert!((10_000..120_000).contains(&highest_kb), "{highest_kb} kB");
}
