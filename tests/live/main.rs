//! Live recording, proved without a sound card: ALSA reads a file as if it were one (`asoundrc`).
//! Run with `--features live`; says so and passes where ALSA's library is not on the machine.
#![cfg(all(feature = "live", target_os = "linux"))]

use std::path::Path;
use std::process::Output;

use assert_cmd::Command;
use tempfile::TempDir;

const RATE_HZ: usize = 48_000;

const PLAIN_TUBE: &str = r#"format = 1
[instrument]
name = "Tube"
prototype = "P1"
drive = "reed"
[mouthpiece]
chamber_ml = 12.5
[[bore]]
at_mm = 0.0
diameter_mm = 20.0
[[bore]]
at_mm = 1180.0
diameter_mm = 20.0
[[fingering]]
name = "C#2"
open = []
"#;

/// Runs `record` on a card whose left channel has these samples and whose right one is silent.
/// `None`, aloud, where ALSA's library is missing.
fn record(folder: &Path, left: &[f32], config: &Path, keys: &str) -> Option<Output> {
    let raw = folder.join("take.raw");
    let bytes: Vec<u8> = left.iter().flat_map(|sample| [*sample, 0.0]).flat_map(f32::to_le_bytes).collect();
    std::fs::write(&raw, bytes).unwrap();
    std::fs::write(folder.join("instrument.toml"), PLAIN_TUBE).unwrap();
    let output = Command::cargo_bin("borescribe")
        .unwrap()
        .current_dir(folder)
        .env("ALSA_CONFIG_PATH", config)
        .env("TAKE_RAW", &raw)
        .args(["record", ".", "--seconds", "2"])
        .write_stdin(keys)
        .output()
        .unwrap();
    let told = String::from_utf8_lossy(&output.stderr);
    assert!(!told.contains("panicked"), "{told}");
    if told.contains("libasound") && told.contains("cannot open shared object file") {
        eprintln!("SKIPPED: ALSA's library is not on this machine, live recording was not tried");
        return None;
    }
    Some(output)
}

fn our_config() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/live/asoundrc")
}

/// Three seconds (more than is recorded: after its end the file device repeats itself) of a note,
/// in steps of 24 bits.
fn note() -> Vec<f32> {
    (0..3 * RATE_HZ)
        .map(|i| {
            let phase = std::f64::consts::TAU * 69.0 * i as f64 / RATE_HZ as f64;
            let sample = 0.3 * phase.sin() + 0.1 * (3.0 * phase).sin();
            ((sample * 8_388_608.0).round() / 8_388_608.0) as f32
        })
        .collect()
}

#[test]
fn the_sound_card_gives_every_sample_once_and_in_order() {
    let folder = TempDir::new().unwrap();
    let left = note();
    let Some(output) = record(folder.path(), &left, &our_config(), "s\n\n") else { return };
    let told = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{told}");
    let mut reader = hound::WavReader::open(folder.path().join("takes/C#2.wav")).unwrap();
    assert_eq!(reader.spec().sample_rate as usize, RATE_HZ);
    let kept: Vec<f32> = reader.samples::<i32>().map(|s| s.unwrap() as f32 / 8_388_608.0).collect();
    assert_eq!(kept.len(), 2 * RATE_HZ);
    let wrong = kept.iter().zip(&left).filter(|(kept, given)| kept != given).count();
    assert_eq!(wrong, 0, "{wrong} of {} samples differ", kept.len());
    assert!(String::from_utf8_lossy(&output.stdout).contains("C#2.wav: 69.00 Hz"), "{told}");
}

#[test]
fn without_a_key_pressed_nothing_is_recorded() {
    let folder = TempDir::new().unwrap();
    let Some(output) = record(folder.path(), &note(), &our_config(), "q\n") else { return };
    assert_eq!(output.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&output.stderr).contains("nothing was recorded for C#2"));
    assert!(!folder.path().join("takes/C#2.wav").exists());
}

#[test]
fn a_machine_without_a_card_says_what_to_do() {
    let folder = TempDir::new().unwrap();
    let none = folder.path().join("no-card");
    std::fs::write(&none, "pcm.!default { type hw card 97 }\n").unwrap();
    let Some(output) = record(folder.path(), &note(), &none, "\n") else { return };
    let told = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(1), "{told}");
    assert!(told.contains("no microphone or sound card was found"), "{told}");
    assert!(output.stdout.is_empty());
}
