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

#[test]
fn the_silent_room_is_recorded_first_and_only_once() {
    let folder = TempDir::new().unwrap();
    for keys in ["\n\n", "\n"] {
        let Some(output) = record(folder.path(), &note(), &our_config(), keys) else { return };
        assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    }
    let room = hound::WavReader::open(folder.path().join("takes/room.wav")).unwrap();
    assert_eq!(room.len() as usize, 5 * RATE_HZ);
    assert!(folder.path().join("takes/C#2-2.wav").is_file());
    assert!(!folder.path().join("takes/room-2.wav").exists());
}

#[test]
fn inputs_are_listed_and_chosen_by_name_or_number() {
    let folder = TempDir::new().unwrap();
    let run = |arguments: &[&str]| {
        std::fs::write(folder.path().join("instrument.toml"), PLAIN_TUBE).unwrap();
        let mut command = Command::cargo_bin("borescribe").unwrap();
        command
            .current_dir(folder.path())
            .env("ALSA_CONFIG_PATH", our_config())
            .args(arguments)
            .output()
            .unwrap()
    };
    let listed = run(&["record", "--devices"]);
    let told = String::from_utf8_lossy(&listed.stderr).into_owned();
    if told.contains("cannot open shared object file") {
        eprintln!("SKIPPED: ALSA's library is not on this machine, inputs were not listed");
        return;
    }
    assert_eq!(listed.status.code(), Some(0), "{told}");
    let list = String::from_utf8_lossy(&listed.stdout).into_owned();
    assert!(list.contains("  1  "), "{list}");
    let wrong = run(&["record", "--device", "trombone"]);
    assert_eq!(wrong.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&wrong.stderr).contains("no input is called trombone"));
}

/// `listen` never ends by itself before a card: it is stopped as Ctrl-C would, once the take is there.
#[test]
fn a_note_held_before_the_sound_card_is_kept_sample_for_sample() {
    let folder = TempDir::new().unwrap();
    let silence = vec![0.0_f32; RATE_HZ];
    let left: Vec<f32> = [silence.clone(), note(), silence.clone(), silence].concat();
    let bytes: Vec<u8> = left.iter().flat_map(|sample| [*sample, 0.0]).flat_map(f32::to_le_bytes).collect();
    let raw = folder.path().join("take.raw");
    std::fs::write(&raw, bytes).unwrap();
    std::fs::write(folder.path().join("instrument.toml"), PLAIN_TUBE).unwrap();
    let mut child = std::process::Command::new(assert_cmd::cargo::cargo_bin("borescribe"))
        .current_dir(folder.path())
        .env("ALSA_CONFIG_PATH", our_config())
        .env("TAKE_RAW", &raw)
        .args(["listen", "--hold", "2"])
        .stdin(std::process::Stdio::null())
        .stdout(std::process::Stdio::null())
        .stderr(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    let take = folder.path().join("takes/C#2.wav");
    for _ in 0..600 {
        if take.exists() || child.try_wait().unwrap().is_some() {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
    child.kill().unwrap();
    let told = String::from_utf8_lossy(&child.wait_with_output().unwrap().stderr).into_owned();
    if told.contains("cannot open shared object file") {
        eprintln!("SKIPPED: ALSA's library is not on this machine, live listening was not tried");
        return;
    }
    let mut reader = hound::WavReader::open(&take).unwrap_or_else(|error| panic!("{error}: {told}"));
    let kept: Vec<f32> = reader.samples::<i32>().map(|s| s.unwrap() as f32 / 8_388_608.0).collect();
    assert!(kept.len() > 3 * RATE_HZ, "{} samples", kept.len());
    // Where the take begins in the sound: its first sample that is not silence.
    let first = |samples: &[f32]| samples.iter().position(|sample| *sample != 0.0).unwrap();
    let begins = first(&left) - first(&kept);
    let given = &left[begins..left.len().min(begins + kept.len())];
    let wrong = kept.iter().zip(given).filter(|(kept, given)| kept != given).count();
    assert_eq!(wrong, 0, "{wrong} of {} samples differ", kept.len());
}

/// A device that is pulled out gives no more sound. Here a pipe stands in for it, and nobody writes any more.
#[test]
fn a_card_that_gives_no_more_sound_is_told_within_seconds_and_what_came_stays() {
    let folder = TempDir::new().unwrap();
    let pipe = folder.path().join("card");
    if !std::process::Command::new("mkfifo").arg(&pipe).status().is_ok_and(|status| status.success()) {
        eprintln!("SKIPPED: no mkfifo here, a card that vanishes was not tried");
        return;
    }
    std::fs::write(folder.path().join("instrument.toml"), PLAIN_TUBE).unwrap();
    // Open both ways, so that it neither waits for a reader nor ever ends.
    let mut writer = std::fs::OpenOptions::new().read(true).write(true).open(&pipe).unwrap();
    let mut child = std::process::Command::new(assert_cmd::cargo::cargo_bin("borescribe"))
        .current_dir(folder.path())
        .env("ALSA_CONFIG_PATH", our_config())
        .env("TAKE_RAW", &pipe)
        .args(["record", "C#2", "--silence", "0"])
        .stdin(std::process::Stdio::piped())
        .stdout(std::process::Stdio::null())
        .stderr(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    std::io::Write::write_all(&mut child.stdin.take().unwrap(), b"\n").unwrap();
    let bytes: Vec<u8> =
        note().iter().take(40 * 1024).flat_map(|sample| [*sample, 0.0]).flat_map(f32::to_le_bytes).collect();
    let feeder = std::thread::spawn(move || {
        let _ = std::io::Write::write_all(&mut writer, &bytes);
        writer
    });
    let begun = std::time::Instant::now();
    let limit = std::time::Duration::from_secs(15);
    while child.try_wait().unwrap().is_none() && begun.elapsed() < limit {
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
    let ended = child.try_wait().unwrap();
    child.kill().unwrap();
    let told = String::from_utf8_lossy(&child.wait_with_output().unwrap().stderr).into_owned();
    if told.contains("cannot open shared object file") {
        eprintln!("SKIPPED: ALSA's library is not on this machine, a card that vanishes was not tried");
        return;
    }
    assert_eq!(ended.expect("still waiting for sound").code(), Some(1), "{told}");
    assert!(told.contains("the sound card stopped"), "{told}");
    let mut takes = std::fs::read_dir(folder.path().join("takes")).unwrap().map(Result::unwrap);
    let part = takes.find(|entry| entry.file_name().to_string_lossy().ends_with(".part")).unwrap();
    let left = part.metadata().unwrap().len();
    assert!(left > 100_000, "{left} bytes of what came before");
    drop(feeder);
}
