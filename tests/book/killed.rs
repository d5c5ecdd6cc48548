//! The program is killed (SIGKILL, which nothing can catch) at hundreds of random moments while it records, opens
//! steps and checks. No accepted take or row may ever be lost or altered.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use crate::maker::{Maker, files};
use crate::reed_pipe::REED_PIPE;
use crate::reed_takes::{reed_tone, write_wav};

/// Moments a test, spread over books so that none grows slow.
const BOOKS: usize = 8;
const KILLS_A_BOOK: usize = 15;

/// Short takes at a low rate: much happens in a moment.
const RATE_HZ: usize = 8_000;
const TAKE_S: f64 = 0.5;

/// splitmix64 (S. Vigna; from memory): the same moments every time, as far as the system's own timing allows.
struct Dice(u64);

impl Dice {
    fn up_to(&mut self, most: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (z ^ (z >> 31)) % most
    }
}

fn spawn(maker: &Maker, arguments: &[&str]) -> Child {
    Command::new(assert_cmd::cargo::cargo_bin("borescribe"))
        .current_dir(&maker.book)
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

/// Files that were accepted: takes under their own names, frozen geometry, takes set aside.
fn accepted(maker: &Maker) -> Vec<(PathBuf, Vec<u8>)> {
    let is_accepted = |path: &Path| {
        let name = path.file_name().unwrap().to_str().unwrap();
        name.ends_with(".wav") || (name == "instrument.toml" && path.parent() != Some(&maker.book))
    };
    files(&maker.book).into_iter().filter(|(path, _)| is_accepted(path)).collect()
}

#[test]
fn killed_while_better_measures_are_written_every_step_has_the_old_file_or_the_new_one_and_the_rest_follows()
{
    let mut dice = Dice(6);
    let mut half_way = 0;
    for _ in 0..BOOKS {
        let maker = Maker::new();
        maker.write_instrument(REED_PIPE);
        write_wav(&maker.path("P1/01-drilled/takes/F2.wav"), &reed_tone(87.0, 1.0));
        maker.told(&["check"]);
        for _ in 0..4 {
            maker.told(&["step", "played"]);
        }
        maker.told(&["step", "again"]);
        write_wav(&maker.path("P1/06-again/takes/F2.wav"), &reed_tone(87.0, 1.0));
        maker.told(&["check"]);
        let mut old = REED_PIPE.to_string();
        for kill in 0..KILLS_A_BOOK {
            let new = REED_PIPE.replacen("diameter_mm = 12.0", &format!("diameter_mm = 12.{}", kill + 1), 1);
            maker.write_instrument(&new);
            let before = accepted(&maker);
            let mut child = spawn(&maker, &["step", "--measured", "calipers"]);
            std::thread::sleep(Duration::from_micros(dice.up_to(12_000)));
            child.kill().unwrap();
            child.wait().unwrap();
            let count =
                |text: &str| accepted(&maker).iter().filter(|(_, bytes)| bytes == text.as_bytes()).count();
            assert_eq!(accepted(&maker).len(), before.len());
            assert_eq!(count(&old) + count(&new), 6, "a frozen file is neither the old nor the new one");
            if count(&old) > 0 {
                half_way += usize::from(count(&new) > 0);
                maker.told(&["step", "--measured", "calipers"]);
            }
            assert_eq!(count(&new), 6);
            // What was replaced is kept, whole.
            let kept = files(&maker.book).into_iter().filter(|(path, bytes)| {
                path.to_string_lossy().contains("instrument-before-") && bytes.ends_with(old.as_bytes())
            });
            assert!(kept.count() >= 6);
            old = new;
        }
    }
    eprintln!("{} kills, {half_way} of them half way through", BOOKS * KILLS_A_BOOK);
}

/// Whole rows of the log.
fn rows(maker: &Maker) -> Vec<String> {
    let text = String::from_utf8(std::fs::read(maker.path("log.csv")).unwrap()).unwrap();
    text.split_inclusive('\n').filter(|line| line.ends_with('\n')).map(str::to_string).collect()
}

#[track_caller]
fn nothing_is_lost(maker: &Maker, before: &[(PathBuf, Vec<u8>)], rows_before: &[String]) {
    let now = accepted(maker);
    for (path, bytes) in before {
        let found = now.iter().find(|(other, _)| other == path);
        let found = found.unwrap_or_else(|| panic!("{} is lost", path.display()));
        assert!(found.1 == *bytes, "{} is altered", path.display());
    }
    let rows = rows(maker);
    assert!(rows.starts_with(rows_before), "rows are lost or altered:\n{rows_before:?}\n{rows:?}");
}

/// What is played as take number `number`: 24-bit steps, no two takes alike.
fn take(number: usize) -> Vec<i32> {
    let count = (TAKE_S * RATE_HZ as f64) as usize;
    (0..count)
        .map(|i| {
            let t = i as f64 / RATE_HZ as f64;
            let phase = std::f64::consts::TAU * (69.0 + number as f64) * t;
            (2_000_000.0 * (phase.sin() + 0.3 * (3.0 * phase).sin())) as i32
        })
        .collect()
}

/// Runs a command that is played to piece by piece, with a pause after each, until it is killed; what it had said.
fn killed_while_played(
    maker: &Maker,
    arguments: &[&str],
    (pieces, pause): (impl Iterator<Item = Vec<u8>> + Send + 'static, Duration),
    after: Duration,
) -> String {
    let mut child = spawn(maker, arguments);
    let mut pipe = child.stdin.take().unwrap();
    // The player, until the pipe breaks.
    let player = std::thread::spawn(move || {
        for piece in pieces {
            if pipe.write_all(&piece).is_err() {
                return;
            }
            std::thread::sleep(pause);
        }
    });
    std::thread::sleep(after);
    child.kill().unwrap();
    let told = child.wait_with_output().unwrap().stdout;
    player.join().unwrap();
    String::from_utf8_lossy(&told).into_owned()
}

#[test]
fn killed_while_recording_no_accepted_take_or_row_is_lost_or_altered() {
    let mut dice = Dice(1);
    let (mut kept_in_all, mut rescued_in_all) = (0, 0);
    for _ in 0..BOOKS {
        let maker = Maker::new();
        maker.write_instrument(REED_PIPE);
        for kill in 0..KILLS_A_BOOK {
            let (before, rows_before) = (accepted(&maker), rows(&maker));
            let raw = format!("f32le:{RATE_HZ}:1");
            let names = ["F2"; 12];
            let mut arguments = vec!["record"];
            arguments.extend(names);
            let seconds = TAKE_S.to_string();
            arguments.extend(["--seconds", &seconds, "--raw", &raw]);
            let pieces = (0..12).flat_map(|number| {
                let samples = take(number);
                let bytes = |piece: &[i32]| -> Vec<u8> {
                    piece.iter().flat_map(|s| (*s as f32 / 8_388_608.0).to_le_bytes()).collect()
                };
                samples.chunks(500).map(bytes).collect::<Vec<_>>()
            });
            // Every third time it is a bench test, whose takes are as safe.
            if kill % 3 == 2 {
                arguments.extend(["--test", "leak.h1=0"]);
            }
            // A take every few hundredths of a second.
            let told = killed_while_played(
                &maker,
                &arguments,
                (pieces, Duration::from_micros(1500)),
                Duration::from_millis(dice.up_to(250)),
            );
            nothing_is_lost(&maker, &before, &rows_before);
            // Each take that was told is there, sample for sample.
            for (number, line) in told.split_inclusive('\n').filter(|l| l.contains(".wav: ")).enumerate() {
                let path = maker.path(line.split(": ").next().unwrap().trim_start_matches("./"));
                let mut reader = hound::WavReader::open(&path).unwrap();
                let samples: Vec<i32> = reader.samples().map(Result::unwrap).collect();
                assert!(samples == take(number), "{}", path.display());
                kept_in_all += 1;
            }
        }
        rescued_in_all += goes_on(&maker);
    }
    eprintln!(
        "{} kills, {kept_in_all} takes kept, {rescued_in_all} unfinished ones rescued",
        BOOKS * KILLS_A_BOOK
    );
    assert!(kept_in_all > 50, "too few takes were kept for this to say anything: {kept_in_all}");
}

/// Every take has its row, the next step can be begun, and what was cut off is kept aside, readable: so many.
fn goes_on(maker: &Maker) -> usize {
    let files = accepted(maker);
    let is_kept = |path: &Path, of: &str| {
        let path = path.to_str().unwrap();
        path.contains(of) && !path.contains("/set-aside/")
    };
    let played = files.iter().filter(|(path, _)| is_kept(path, "/takes/")).count();
    let tested = files.iter().filter(|(path, _)| is_kept(path, "/tests/")).count();
    if played > 0 {
        maker.told(&["check"]);
        assert_eq!(maker.log().len(), played);
        let rows = std::fs::read_to_string(maker.path("tests.csv")).unwrap_or_default();
        assert_eq!(rows.lines().skip(1).count(), tested);
    }
    maker.told(&["step", "goes on"]);
    let after = accepted(maker);
    let rescued = after.iter().filter(|(path, _)| path.to_str().unwrap().contains("cut-off"));
    rescued
        .map(|(path, bytes)| {
            assert!(hound::WavReader::new(bytes.as_slice()).is_ok(), "{}", path.display());
        })
        .count()
}

/// Notes of the pipe, each held long enough to be kept, as raw samples.
fn held_notes() -> Vec<u8> {
    let hz = crate::listening::predicted_hz();
    let (sound, _) =
        crate::listening::sound(&[hz[0], hz[2], hz[1], hz[3], hz[0], hz[2]].map(|hz| (hz, 2.0)), 0.3);
    sound.iter().flat_map(|sample| sample.to_le_bytes()).collect()
}

#[test]
fn killed_while_listening_no_kept_take_or_row_is_lost_or_altered() {
    let mut dice = Dice(4);
    let (mut kept_in_all, mut rescued_in_all) = (0, 0);
    let sound = held_notes();
    for _ in 0..BOOKS {
        let maker = Maker::new();
        maker.write_instrument(REED_PIPE);
        for _ in 0..KILLS_A_BOOK {
            let (before, rows_before) = (accepted(&maker), rows(&maker));
            let pieces: Vec<Vec<u8>> = sound.chunks(16_000).map(<[u8]>::to_vec).collect();
            // Far faster than anyone plays.
            let told = killed_while_played(
                &maker,
                &["listen", "--hold", "1", "--raw", "f32le:16000:1"],
                (pieces.into_iter(), Duration::from_millis(5)),
                Duration::from_millis(dice.up_to(600)),
            );
            nothing_is_lost(&maker, &before, &rows_before);
            // Each take that was told is there and whole, with its row.
            for line in told.split_inclusive('\n').filter(|l| l.ends_with('\n') && l.contains(".wav: ")) {
                let file = line.split(": ").next().unwrap();
                let mut reader = hound::WavReader::open(maker.path(file)).unwrap();
                let count = reader.samples::<i32>().map(Result::unwrap).count();
                assert!(count >= 16_000, "{file} has {count} samples");
                assert!(
                    rows(&maker).iter().any(|row| row.contains(&format!(",{file},"))),
                    "{file} has no row"
                );
                kept_in_all += 1;
            }
        }
        rescued_in_all += goes_on(&maker);
    }
    eprintln!(
        "{} kills, {kept_in_all} notes kept, {rescued_in_all} unfinished ones rescued",
        BOOKS * KILLS_A_BOOK
    );
    assert!(kept_in_all > 50, "too few notes were kept for this to say anything: {kept_in_all}");
}

#[test]
fn killed_while_opening_a_step_the_old_or_the_new_one_is_open_and_whole() {
    let mut dice = Dice(2);
    let mut opened = 0;
    for _ in 0..BOOKS {
        let maker = Maker::new();
        maker.write_instrument(REED_PIPE);
        write_wav(&maker.path("P1/01-drilled/takes/F2.wav"), &reed_tone(87.0, 1.0));
        maker.told(&["check"]);
        let bench = std::fs::read(maker.path("instrument.toml")).unwrap();
        for _ in 0..KILLS_A_BOOK {
            let (before, rows_before) = (accepted(&maker), rows(&maker));
            let steps = |maker: &Maker| {
                let json = maker.json(&["history", "--json"]);
                json["prototypes"][0]["steps"].as_array().unwrap().len()
            };
            let count = steps(&maker);
            let mut child = spawn(&maker, &["step", "h1 eased"]);
            std::thread::sleep(Duration::from_micros(dice.up_to(12_000)));
            child.kill().unwrap();
            child.wait().unwrap();
            nothing_is_lost(&maker, &before, &rows_before);
            assert_eq!(std::fs::read(maker.path("instrument.toml")).unwrap(), bench);
            let now = steps(&maker);
            assert!(now == count || now == count + 1, "{count} steps became {now}");
            opened += now - count;
            let newest = maker.json(&["history", "--json"])["prototypes"][0]["steps"][now - 1].clone();
            assert!(newest["text"] == "drilled" || newest["text"] == "h1 eased", "{newest}");
        }
        maker.told(&["step", "goes on"]);
    }
    eprintln!("{} kills, {opened} steps opened before them", BOOKS * KILLS_A_BOOK);
    assert!(opened > 0 && opened < BOOKS * KILLS_A_BOOK, "the kills all fell on one side: {opened}");
}

#[test]
fn killed_while_checking_no_row_is_lost_or_doubled() {
    let mut dice = Dice(3);
    for _ in 0..BOOKS {
        let maker = Maker::new();
        maker.write_instrument(REED_PIPE);
        for kill in 0..KILLS_A_BOOK {
            let take = maker.path(&format!("P1/01-drilled/takes/F2-{kill}.wav"));
            write_wav(&take, &reed_tone(86.0 + 0.1 * kill as f64, 0.8));
            let (before, rows_before) = (accepted(&maker), rows(&maker));
            let mut child = spawn(&maker, &["check"]);
            std::thread::sleep(Duration::from_millis(dice.up_to(120)));
            child.kill().unwrap();
            child.wait().unwrap();
            nothing_is_lost(&maker, &before, &rows_before);
        }
        maker.told(&["check"]);
        let mut logged: Vec<String> = maker.log().into_iter().map(|row| row[3].clone()).collect();
        logged.sort();
        let count = logged.len();
        logged.dedup();
        assert_eq!((count, logged.len()), (KILLS_A_BOOK, KILLS_A_BOOK));
    }
}

#[test]
fn killed_while_the_notes_of_a_long_recording_are_kept_each_is_there_whole_or_not_yet() {
    let mut dice = Dice(5);
    let mut kept_before_the_end = 0;
    for _ in 0..BOOKS {
        let maker = Maker::new();
        maker.write_instrument(REED_PIPE);
        let long = maker.book.parent().unwrap().join("long.wav");
        let pause = vec![0.0; 12_000];
        let notes = [68.9, 77.0, 86.0].map(|hz| [pause.clone(), reed_tone(hz, 1.5)].concat());
        write_wav(&long, &[notes.concat(), pause].concat());
        let arguments = ["check", "--step", "01", "--one-take", long.to_str().unwrap()];
        for _ in 0..KILLS_A_BOOK {
            let (before, rows_before) = (accepted(&maker), rows(&maker));
            let mut child = spawn(&maker, &arguments);
            std::thread::sleep(Duration::from_millis(dice.up_to(250)));
            child.kill().unwrap();
            child.wait().unwrap();
            nothing_is_lost(&maker, &before, &rows_before);
        }
        kept_before_the_end += accepted(&maker).len();
        maker.told(&arguments);
        let takes = maker.path("P1/01-drilled/takes");
        let mut names: Vec<String> = std::fs::read_dir(takes)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        assert_eq!(names, ["C#2.wav", "D#2.wav", "F2.wav"]);
        assert_eq!(maker.log().len(), 3);
    }
    eprintln!("{} kills, {kept_before_the_end} files kept before them", BOOKS * KILLS_A_BOOK);
    assert!(kept_before_the_end > 0, "every kill came too early to say anything");
}
