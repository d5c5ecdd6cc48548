//! The command `record`, fed through a pipe: which takes it keeps, under which names, and what it
//! says when it can't.

use std::path::Path;

use crate::bench::{Bench, REED_PIPE, reed_tone, stderr};

/// Notes one after the other as raw 32-bit floats, each exactly as long as the takes asked for.
fn raw(notes_hz: &[f64], seconds: f64, rate_hz: f64) -> Vec<u8> {
    let samples = notes_hz.iter().flat_map(|hz| {
        (0..(seconds * rate_hz) as usize).map(move |i| {
            let t = i as f64 / rate_hz;
            let tone: f64 =
                [1.0, 3.0, 5.0, 7.0].iter().map(|n| (std::f64::consts::TAU * n * hz * t).sin() / n).sum();
            // What 24 bits hold exactly.
            ((0.3 * tone) * 8_388_608.0).round() / 8_388_608.0
        })
    });
    samples.flat_map(|sample| (sample as f32).to_le_bytes()).collect()
}

fn predicted_hz(bench: &Bench) -> Vec<f64> {
    let json = bench.json(&["predict", ".", "--json"]);
    let fingerings = json["fingerings"].as_array().unwrap();
    fingerings.iter().map(|fingering| fingering["predicted_hz"].as_f64().unwrap()).collect()
}

fn wav_samples(path: &Path) -> Vec<f64> {
    let mut reader = hound::WavReader::open(path).unwrap();
    assert_eq!((reader.spec().bits_per_sample, reader.spec().channels), (24, 1));
    reader.samples::<i32>().map(|sample| f64::from(sample.unwrap()) / 8_388_608.0).collect()
}

fn as_floats(bytes: &[u8]) -> Vec<f64> {
    bytes.chunks_exact(4).map(|b| f64::from(f32::from_le_bytes(b.try_into().unwrap()))).collect()
}

#[test]
fn raw_samples_become_one_take_a_fingering_sample_for_sample_and_are_measured_at_once() {
    let bench = Bench::new();
    let bytes = raw(&predicted_hz(&bench), 2.0, 48_000.0);
    let output = bench
        .borescribe(&["record", ".", "--seconds", "2", "--raw", "f32le:48000:1"])
        .write_stdin(bytes.clone())
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let told = String::from_utf8(output.stdout).unwrap();
    for (index, name) in ["C#2", "D#2", "F2", "G2"].iter().enumerate() {
        let kept = wav_samples(&bench.path(&format!("takes/{name}.wav")));
        let given = as_floats(&bytes[index * 384_000..(index + 1) * 384_000]);
        assert!(kept == given, "{name}: not the same samples");
        let line = told.lines().find(|line| line.contains(&format!("{name}.wav"))).unwrap();
        assert!(line.contains("cents from target"), "{line}");
        assert!(line.ends_with("+0.0 from predicted"), "{line}");
    }
    let checked = bench.json(&["check", ".", "--json"]);
    assert_eq!(checked["findings"][0]["cause"], "healthy", "{}", checked["findings"]);
}

#[test]
fn a_wav_on_standard_input_is_split_in_the_order_of_the_names() {
    let bench = Bench::new();
    let mut samples = reed_tone(110.0, 1.5);
    samples.extend(reed_tone(82.4, 1.5));
    samples.extend(vec![0.0; 8000]);
    let wav = std::fs::read(bench.wav("evening.wav", &samples)).unwrap();
    let output = bench
        .borescribe(&["record", ".", "f2", "D#2", "--seconds", "2", "--into", "evening", "--json"])
        .write_stdin(wav)
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert!(stderr(&output).contains("0.5 s of sound were left over"), "{}", stderr(&output));
    let json: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let takes = json["takes"].as_array().unwrap();
    assert!(takes[0]["file"].as_str().unwrap().ends_with("F2.wav"), "{json}");
    assert!((takes[0]["pitch_hz"].as_f64().unwrap() - 110.0).abs() < 0.02, "{json}");
    assert!((takes[1]["pitch_hz"].as_f64().unwrap() - 82.4).abs() < 0.02, "{json}");
    assert_eq!(wav_samples(&bench.path("evening/D#2.wav")).len(), 32_000);
    assert!(
        !bench.path("takes").exists() || std::fs::read_dir(bench.path("takes")).unwrap().next().is_none()
    );
}

#[test]
fn no_take_is_ever_overwritten() {
    let bench = Bench::new();
    std::fs::write(bench.path("takes/C#2.wav"), "precious").unwrap();
    for _ in 0..2 {
        let output = bench
            .borescribe(&["record", ".", "C#2", "--seconds", "1", "--raw", "f32le:8000:1"])
            .write_stdin(raw(&[69.0], 1.0, 8000.0))
            .output()
            .unwrap();
        assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    }
    assert_eq!(std::fs::read_to_string(bench.path("takes/C#2.wav")).unwrap(), "precious");
    let mut names: Vec<String> = std::fs::read_dir(bench.path("takes"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    assert_eq!(names, ["C#2-2.wav", "C#2-3.wav", "C#2.wav"]);
}

#[test]
fn a_second_take_never_gets_the_name_of_another_fingering() {
    let bench = Bench::with(&REED_PIPE.replace("name = \"D#2\"", "name = \"C#2-2\"\nnote = \"D#2\""));
    std::fs::write(bench.path("takes/C#2.wav"), "precious").unwrap();
    let output = bench
        .borescribe(&["record", ".", "C#2", "--seconds", "1", "--raw", "f32le:8000:1"])
        .write_stdin(raw(&[69.0], 1.0, 8000.0))
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert!(bench.path("takes/C#2-3.wav").is_file());
    assert!(!bench.path("takes/C#2-2.wav").exists());
}

#[test]
fn a_pipe_that_ends_early_keeps_what_came_and_names_the_rest() {
    let bench = Bench::new();
    let bytes = raw(&[69.0, 77.0], 1.0, 8000.0);
    let output = bench
        .borescribe(&["record", ".", "--seconds", "1", "--raw", "f32le:8000:1"])
        .write_stdin(&bytes[..bytes.len() * 3 / 4])
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(1));
    let told = stderr(&output);
    assert!(told.contains("nothing was recorded for F2, G2") && told.contains("0.5 of 1 s"), "{told}");
    assert_eq!(wav_samples(&bench.path("takes/C#2.wav")).len(), 8000);
    assert_eq!(wav_samples(&bench.path("takes/D#2.wav")).len(), 4000);
}

#[test]
fn an_empty_pipe_is_told() {
    let bench = Bench::new();
    bench.refuses(
        &["record", ".", "--raw", "f32le:48000:1"],
        1,
        &["nothing was recorded for C#2, D#2, F2, G2"],
    );
}

#[test]
fn wrong_words_are_wrong_usage_and_make_no_folder() {
    let bench = Bench::new();
    bench.refuses(&["record", ".", "--raw", "f64:1"], 2, &["--raw f64:1", "f32le:48000:1"]);
    bench.refuses(&["record", ".", "--seconds", "0"], 2, &["--seconds 0"]);
    bench.refuses(&["record", ".", "--seconds", "-2"], 2, &["--seconds -2"]);
    bench.refuses(&["record", ".", "--seconds", "NaN"], 2, &["--seconds"]);
    bench.refuses(&["record", ".", "H7"], 2, &["H7", "C#2, D#2, F2, G2"]);
    bench.refuses(&["record", "lost.toml"], 1, &["lost.toml"]);
    let planned = Bench::with(&REED_PIPE.replacen("at_mm = 815.0\n", "at_mm = 815.0\ndrilled = false\n", 1));
    planned.refuses(&["record", ".", "G2"], 2, &["G2", "planned"]);
    let folders = std::fs::read_dir(bench.path(".")).unwrap().count();
    assert_eq!(folders, 1, "only the instrument file");
}

#[test]
fn a_disk_that_refuses_is_named() {
    let bench = Bench::new();
    std::fs::write(bench.path("blocked"), "a file, no folder").unwrap();
    bench.refuses(&["record", ".", "--into", "blocked", "--raw", "f32le:8000:1"], 1, &["blocked"]);
}

#[cfg(all(not(feature = "live"), target_os = "linux"))]
#[test]
fn a_program_without_recording_says_what_is_missing_and_the_two_ways_out() {
    let bench = Bench::new();
    bench.refuses(&["record", "."], 1, &["libasound2-dev", "--features live", "--raw f32le:48000:1"]);
}
