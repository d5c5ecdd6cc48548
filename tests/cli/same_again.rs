//! The same input gives the same output to the last digit, whatever the machine has to do besides.

use std::f64::consts::TAU;

use crate::bench::{Bench, RATE_HZ, reed_tone, stderr};
use crate::reed_pipe::REED_PIPE;

/// Takes of different lengths, so that each needs transforms of its own lengths.
const SECONDS: [f64; 6] = [1.31, 3.1, 2.03, 1.7, 2.49, 3.6];

fn bench_with_takes() -> (Bench, Vec<String>) {
    let bench = Bench::with(REED_PIPE);
    let names = ["C#2", "D#2", "F2", "G2", "D#2-2", "G2-2"];
    let hz = [69.5, 77.6, 87.6, 98.2, 77.9, 97.7];
    let files = names.iter().zip(hz).zip(SECONDS).map(|((name, hz), seconds)| {
        let file = format!("takes/{name}.wav");
        bench.wav(&file, &reed_tone(hz, seconds));
        file
    });
    let files = files.collect();
    (bench, files)
}

/// What a command prints when it is asked to compute with so many threads.
fn printed(bench: &Bench, threads: &str, arguments: &[&str]) -> String {
    let output = bench.borescribe(arguments).env("RAYON_NUM_THREADS", threads).output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    String::from_utf8(output.stdout).unwrap()
}

/// A note with vibrato, a quarter of a second of hiss on both sides.
fn vibrato_tone(hz: f64, seconds: f64) -> Vec<f64> {
    let rate_hz = f64::from(RATE_HZ);
    let sounds = 0.25..seconds - 0.25;
    let mut hiss = 1_u32;
    let count = (seconds * rate_hz) as usize;
    let sample = |i: usize| {
        let t = i as f64 / rate_hz;
        let phase = TAU * hz * t + 0.3 * (TAU * 5.0 * t).sin();
        let tone: f64 = (1..6).map(|n| (f64::from(n) * phase).sin() / f64::from(n)).sum();
        hiss = hiss.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let hiss = 2e-3 * (f64::from(hiss) / f64::from(u32::MAX) - 0.5);
        hiss + if sounds.contains(&t) { 0.2 * tone } else { 0.0 }
    };
    (0..count).map(sample).collect()
}

/// On one thread every take is measured after all that stand before it. Lengths of transforms follow from a take's
/// length and pitch, and the last digits of these four once depended on which of the others came first.
#[test]
fn a_take_is_measured_alike_to_the_last_digit_whatever_was_measured_before_it() {
    let bench = Bench::new();
    let mut files: Vec<String> = [4, 5, 9, 25].map(|step| format!("{step}.wav")).to_vec();
    for (file, step) in files.iter().zip([4.0, 5.0, 9.0, 25.0]) {
        bench.wav(file, &vibrato_tone(50.0 * (step / 8.0_f64).exp2(), 1.3 + 0.11 * step));
    }
    let mut told: Vec<Vec<String>> = Vec::new();
    for _ in 0..files.len() {
        let mut arguments = vec!["measure", "--json"];
        arguments.extend(files.iter().map(String::as_str));
        let json: serde_json::Value = serde_json::from_str(&printed(&bench, "1", &arguments)).unwrap();
        let mut takes: Vec<String> =
            json["takes"].as_array().unwrap().iter().map(ToString::to_string).collect();
        takes.sort();
        told.push(takes);
        files.rotate_left(1);
    }
    assert_eq!(told[0].len(), files.len());
    for other in &told[1..] {
        assert_eq!(other, &told[0]);
    }
}

#[test]
fn every_run_prints_the_same_bytes_whatever_the_number_of_threads() {
    let (bench, files) = bench_with_takes();
    let mut measure = vec!["measure", "--json"];
    measure.extend(files.iter().map(String::as_str));
    let place = ["place", "instrument.toml", "--keep-diameters", "--json", "--quiet"];
    let scale = ["scale", "instrument.toml", "--higher", "2", "--keep-diameters", "--json", "--quiet"];
    for (runs, arguments) in [
        (20, measure.as_slice()),
        (20, &["check", "instrument.toml", "takes", "--json"]),
        (20, &["predict", "instrument.toml", "--json"]),
        (4, &place),
        (4, &scale),
    ] {
        let first = printed(&bench, "1", arguments);
        for run in 1..runs {
            let threads = ["2", "5", "1"][run % 3];
            assert_eq!(printed(&bench, threads, arguments), first, "{arguments:?}, {threads} threads");
        }
    }
}

/// A number of threads that no machine has is bounded, and what is no number is passed over.
#[test]
fn a_mad_number_of_threads_changes_nothing_but_how_many_are_started() {
    let (bench, _) = bench_with_takes();
    let arguments = ["check", "instrument.toml", "takes", "--json"];
    let first = printed(&bench, "1", &arguments);
    for asked in ["99999", "99999999999999999999999999", "0", "-1", "all", ""] {
        assert_eq!(printed(&bench, asked, &arguments), first, "{asked}");
    }
}

/// `measure` waits for its pipe with all threads started.
#[cfg(target_os = "linux")]
#[test]
fn no_more_threads_are_started_than_are_any_use() {
    use std::process::{Command, Stdio};
    let program = assert_cmd::cargo::cargo_bin("borescribe");
    let mut waiting = Command::new(program)
        .args(["measure", "-"])
        .env("RAYON_NUM_THREADS", "99999")
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let status = format!("/proc/{}/status", waiting.id());
    let threads = || -> usize {
        let text = std::fs::read_to_string(&status).unwrap_or_default();
        let line = text.lines().find_map(|line| line.strip_prefix("Threads:"));
        line.and_then(|count| count.trim().parse().ok()).unwrap_or(0)
    };
    let mut most = 0;
    for _ in 0..40 {
        most = most.max(threads());
        std::thread::sleep(std::time::Duration::from_millis(10));
    }
    waiting.kill().unwrap();
    waiting.wait().unwrap();
    let processors = std::thread::available_parallelism().unwrap().get();
    // The first thread waits for the others, and one may read the pipe.
    assert!(most > 1 && most <= 2 * processors.min(32) + 2, "{most} threads on {processors} processors");
}
