//! `listen` on recordings in a pipe: which note it names, how soon, and what it keeps.

use std::f64::consts::TAU;
use std::io::{BufRead, BufReader, Write};
use std::process::{Output, Stdio};
use std::time::{Duration, Instant};

use crate::maker::{Maker, program, stderr};
use crate::reed_pipe::REED_PIPE;

const RATE_HZ: f64 = 16_000.0;
/// A note must be named within this, seconds; below 30 Hz within twice as much.
const SOON_S: f64 = 1.0;

/// A second and a half of a note holds two dozen periods at 16 Hz: the live name is as good as this, cents. It is
/// far less than the quarter tone that another note would be.
const LOW_CENTS: f64 = 10.0;

/// Notes as (hertz, seconds), with silence of `gap_s` between them: the sound, and where each note begins.
pub fn sound(notes: &[(f64, f64)], gap_s: f64) -> (Vec<f32>, Vec<f64>) {
    let mut samples = vec![0.0_f64; RATE_HZ as usize];
    let mut begins = Vec::new();
    for &(hz, seconds) in notes {
        begins.push(samples.len() as f64 / RATE_HZ);
        samples.extend((0..(seconds * RATE_HZ) as usize).map(|i| {
            let t = i as f64 / RATE_HZ;
            let swell = (t / 0.06).min((seconds - t) / 0.06).clamp(0.0, 1.0);
            // A phone hears little below 80 Hz.
            let partial = |n: i32| {
                let f = f64::from(n) * hz;
                let level = if n % 2 == 1 { 1.0 } else { 0.15 } / f64::from(n) / (1.0 + f / 900.0);
                level * (f / 80.0).powi(2).min(1.0) * (TAU * f * t + f64::from(n * n)).sin()
            };
            0.3 * swell * (1..200).take_while(|n| f64::from(*n) * hz < 4000.0).map(partial).sum::<f64>()
        }));
        samples.extend(vec![0.0; (gap_s * RATE_HZ) as usize]);
    }
    let mut state = 1_u32;
    let hissing = samples.into_iter().map(|sample| {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (sample + (f64::from(state) / f64::from(u32::MAX) - 0.5) * 1e-3) as f32
    });
    (hissing.collect(), begins)
}

fn listen(maker: &Maker, options: &[&str], sound: &[f32]) -> Output {
    let mut arguments = vec!["listen", "--raw", "f32le:16000:1"];
    arguments.extend(options);
    let bytes: Vec<u8> = sound.iter().flat_map(|sample| sample.to_le_bytes()).collect();
    let output = maker.command(&arguments).write_stdin(bytes).output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    output
}

fn pipe_maker() -> Maker {
    let maker = Maker::new();
    maker.write_instrument(REED_PIPE);
    maker
}

pub fn predicted_hz() -> Vec<f64> {
    let instrument = borescribe::instrument::file::parse(REED_PIPE).unwrap();
    let notes = borescribe::instrument::prediction::predict(&instrument);
    notes.iter().map(|note| note.predicted_hz.unwrap()).collect()
}

/// The lines that name a note, as (second, text).
fn named(output: &Output) -> Vec<(f64, String)> {
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    text.lines()
        .filter_map(|line| line.split_once(" s  "))
        .filter_map(|(second, rest)| Some((second.trim().parse().ok()?, rest.to_string())))
        .collect()
}

#[test]
fn each_note_is_named_within_a_second_with_its_cents() {
    let maker = pipe_maker();
    let hz = predicted_hz();
    let sharp = |index: usize, cents: f64| (hz[index] * (cents / 1200.0_f64).exp2(), 2.5);
    for gap_s in [0.4, 0.0] {
        let (sound, begins) = sound(&[sharp(0, 7.0), sharp(2, -12.0), sharp(1, 0.0), sharp(3, 20.0)], gap_s);
        let named = named(&listen(&maker, &["--only-listen"], &sound));
        let starts = ["C#2", "F2", "D#2", "G2"];
        let ends =
            ["7 sharp of prediction", "12 flat of prediction", "on prediction", "20 sharp of prediction"];
        assert_eq!(named.len(), 4, "gap {gap_s}: {named:?}");
        for (i, (second, text)) in named.iter().enumerate() {
            assert!(text.starts_with(starts[i]) && text.contains(ends[i]), "gap {gap_s}: {text}");
            assert!((begins[i]..begins[i] + SOON_S).contains(second), "gap {gap_s}: {text} at {second} s");
        }
    }
}

#[test]
fn notes_below_thirty_hertz_are_named_within_two_seconds() {
    let maker = pipe_maker();
    let notes = [16.35, 18.35, 20.6, 24.5, 29.1].map(|hz| (hz, 4.0));
    let (sound, begins) = sound(&notes, 0.3);
    let named = named(&listen(&maker, &["--only-listen"], &sound));
    assert_eq!(named.len(), notes.len(), "{named:?}");
    for ((second, text), ((hz, _), begin)) in named.iter().zip(notes.iter().zip(&begins)) {
        let told_hz: f64 = text.split(" Hz").next().unwrap().parse().unwrap();
        assert!((1200.0 * (told_hz / hz).log2()).abs() < LOW_CENTS, "{text} is not {hz}");
        assert!((*begin..begin + 2.0 * SOON_S).contains(second), "{text} at {second} s");
    }
}

#[test]
fn a_note_that_is_held_is_kept_as_a_take_and_a_short_one_is_not() {
    let maker = pipe_maker();
    let hz = predicted_hz();
    let (sound, _) = sound(&[(hz[0], 4.5), (hz[1], 1.6), (hz[2], 5.0)], 0.5);
    let output = listen(&maker, &["--hold", "3"], &sound);
    let rows = maker.log();
    let kept: Vec<&str> = rows.iter().map(|row| row[2].as_str()).collect();
    assert_eq!(kept, ["C#2", "F2"], "{}", String::from_utf8_lossy(&output.stdout));
    for (row, (want_hz, seconds)) in rows.iter().zip([(hz[0], 4.5), (hz[2], 5.0)]) {
        let got: f64 = row[4].parse().unwrap();
        assert!((1200.0 * (got / want_hz).log2()).abs() < 0.5, "{row:?} is not {want_hz}");
        let reader = hound::WavReader::open(maker.path(&row[3])).unwrap();
        let length_s = f64::from(reader.duration()) / RATE_HZ;
        assert!((seconds..seconds + 1.0).contains(&length_s), "{length_s} s of {seconds}");
    }
    let takes = std::fs::read_dir(maker.path("P1/01-drilled/takes")).unwrap().count();
    assert_eq!(takes, 2, "nothing is left half written");
    maker.told(&["check"]);
}

#[test]
fn silence_and_noise_name_no_note() {
    let maker = pipe_maker();
    let (quiet, _) = sound(&[], 6.0);
    let mut state = 9_u32;
    let noise: Vec<f32> = (0..96_000)
        .map(|_| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state as f32 / u32::MAX as f32 - 0.5) * 0.2
        })
        .collect();
    for sound in [quiet, noise] {
        assert_eq!(named(&listen(&maker, &[], &sound)), []);
    }
    assert!(maker.log().is_empty());
}

#[test]
fn a_wav_that_comes_through_a_pipe_is_heard_as_raw_samples_are() {
    let maker = pipe_maker();
    let (sound, _) = sound(&[(predicted_hz()[1], 3.0)], 0.5);
    let raw = named(&listen(&maker, &["--only-listen"], &sound));
    let path = maker.path("long.wav");
    crate::reed_takes::write_wav(&path, &sound.iter().map(|s| f64::from(*s)).collect::<Vec<_>>());
    let mut wav = std::fs::read(&path).unwrap();
    // As a recorder writes it that can't know how long it will be.
    wav[40..44].copy_from_slice(&u32::MAX.to_le_bytes());
    let output = maker.command(&["listen", "--only-listen"]).write_stdin(wav).output().unwrap();
    assert_eq!(named(&output), raw);
    assert_eq!(raw.len(), 1);
}

/// Processor time that a process has used, seconds: user and system time are fields 14 and 15 of its `stat`, in hundredths
/// of a second (proc(5); the hundredths from memory).
#[cfg(target_os = "linux")]
fn processor_s(pid: u32) -> f64 {
    let stat = std::fs::read_to_string(format!("/proc/{pid}/stat")).unwrap();
    let fields: Vec<&str> = stat.rsplit_once(')').unwrap().1.split_whitespace().collect();
    let ticks = |field: usize| fields[field - 3].parse::<f64>().unwrap();
    (ticks(14) + ticks(15)) / 100.0
}

/// Of one core it may use so much.
#[cfg(target_os = "linux")]
const SHARE: f64 = 0.1;

#[cfg(target_os = "linux")]
#[test]
fn piped_in_real_time_each_note_is_named_in_time_at_less_than_a_tenth_of_one_core() {
    const PIECE: usize = 320;
    let maker = pipe_maker();
    let hz = predicted_hz();
    let notes = [(hz[0], 2.0), (hz[2], 2.0), (24.5, 3.5), (hz[1], 2.0), (hz[3], 2.0)];
    let (sound, begins) = sound(&notes, 0.4);
    let mut child = std::process::Command::new(program())
        .current_dir(&maker.book)
        .args(["listen", "--only-listen", "--raw", "f32le:16000:1"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut pipe = child.stdin.take().unwrap();
    let began = Instant::now();
    let player = std::thread::spawn(move || {
        for (i, piece) in sound.chunks(PIECE).enumerate() {
            // A piece is there when its last sample has sounded.
            let due = Duration::from_secs_f64((i + 1) as f64 * PIECE as f64 / RATE_HZ);
            std::thread::sleep(due.saturating_sub(began.elapsed()));
            let bytes: Vec<u8> = piece.iter().flat_map(|sample| sample.to_le_bytes()).collect();
            pipe.write_all(&bytes).unwrap();
        }
    });
    let lines: Vec<(f64, String)> = BufReader::new(child.stdout.take().unwrap())
        .lines()
        .map(|line| (began.elapsed().as_secs_f64(), line.unwrap()))
        .collect();
    let share = processor_s(child.id()) / began.elapsed().as_secs_f64();
    player.join().unwrap();
    assert!(child.wait().unwrap().success());
    assert_eq!(lines.len(), notes.len(), "{lines:?}");
    let late: Vec<f64> = lines.iter().zip(&begins).map(|((at_s, _), begin_s)| at_s - begin_s).collect();
    eprintln!("named after {late:.2?} s, {:.1} % of a core", 100.0 * share);
    for ((late, (hz, _)), name) in late.iter().zip(&notes).zip(["C#2", "F2", "24.", "D#2", "G2"]) {
        let soon_s = if *hz < 30.0 { 2.0 * SOON_S } else { SOON_S };
        assert!((0.0..soon_s).contains(late), "{name} is named after {late:.2} s");
    }
    for ((_, line), name) in lines.iter().zip(["C#2", "F2", "24.", "D#2", "G2"]) {
        assert!(line.contains(&format!(" s  {name}")), "{line} is not {name}");
    }
    assert!(share < SHARE, "{:.1} % of a core", 100.0 * share);
}
