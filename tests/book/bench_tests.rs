//! Bench tests in a book: takes played under a change that is undone again are kept apart, and told beside the others.

use std::process::Output;

use borescribe::instrument::file::parse;
use borescribe::instrument::prediction::predict;
use serde_json::Value;

use crate::maker::{Maker, Tone, files, stderr};
use crate::reed_pipe::REED_PIPE;

fn predicted_hz() -> Vec<f64> {
    predict(&parse(REED_PIPE).unwrap()).iter().map(|note| note.predicted_hz.unwrap()).collect()
}

fn flat(hz: f64, cents: f64) -> Tone {
    Tone::plain(hz * (-cents / 1200.0_f64).exp2())
}

/// Every fingering played once; the lowest 20 cents flat, as a leak would make it.
fn played() -> Maker {
    let maker = Maker::new();
    maker.write_instrument(REED_PIPE);
    let hz = predicted_hz();
    maker.play(
        &["--room", "19.5"],
        &[],
        &[flat(hz[0], 20.0), flat(hz[1], 0.0), flat(hz[2], 0.0), flat(hz[3], 0.0)],
    );
    maker
}

/// Plays the lowest note with h1 pressed: the 20 cents are gone.
fn pressed(maker: &Maker) -> Output {
    maker.play(&["--test", "leak.h1=0"], &["C#2"], &[Tone::plain(predicted_hz()[0])])
}

fn tests_csv(maker: &Maker) -> String {
    std::fs::read_to_string(maker.path("tests.csv")).unwrap()
}

fn first_step(maker: &Maker) -> Value {
    maker.json(&["history", "--json"])["prototypes"][0]["steps"][0].clone()
}

#[test]
fn a_press_is_recorded_into_a_test_of_its_own_with_rows_of_its_own() {
    let maker = played();
    let log = std::fs::read(maker.path("log.csv")).unwrap();
    let output = pressed(&maker);
    let said = stderr(&output);
    assert!(
        said.contains("Now: h1 pressed hard.") && said.contains("Undo it now: h1 pressed hard."),
        "{said}"
    );
    let note = std::fs::read_to_string(maker.path("P1/01-drilled/tests/01/test.toml")).unwrap();
    assert!(note.contains("changes = [\"leak.h1=0\"]") && note.contains("room_c = 19.5"), "{note}");
    assert!(maker.path("P1/01-drilled/tests/01/C#2.wav").is_file());
    assert_eq!(std::fs::read(maker.path("log.csv")).unwrap(), log, "a test take is in the log");
    let rows = tests_csv(&maker);
    let head =
        "prototype,step,test,changes,fingering,file,hz,sd_cents,level,undertone,troubles,room_c,when\n";
    assert!(rows.starts_with(head), "{rows}");
    let row = rows.lines().nth(1).unwrap();
    assert!(row.starts_with("P1,01-drilled,01,leak.h1=0,C#2,P1/01-drilled/tests/01/C#2.wav,"), "{row}");
    // The same changes go on in the same test, others begin the next one.
    pressed(&maker);
    maker.play(&["--test", "leak.h2=0"], &["C#2"], &[Tone::plain(predicted_hz()[0])]);
    assert!(maker.path("P1/01-drilled/tests/01/C#2-2.wav").is_file());
    assert!(maker.path("P1/01-drilled/tests/02/C#2.wav").is_file());
    assert_eq!(tests_csv(&maker).lines().count(), 4);
}

#[test]
fn history_tells_each_note_before_and_during_a_test_and_what_it_showed() {
    let maker = played();
    let ordinary = first_step(&maker)["fingerings"].clone();
    pressed(&maker);
    let hz = predicted_hz();
    maker.play(&["--test", "leak.h2=0"], &["G2"], &[Tone::plain(hz[3])]);
    let step = first_step(&maker);
    let press = &step["tests"][0];
    assert_eq!((&press["test"], &press["changes"][0]), (&"01".into(), &"leak.h1=0".into()));
    assert_eq!(press["verdict"], "moved", "{press}");
    let note = &press["fingerings"][0];
    assert_eq!(note["name"], "C#2");
    assert!((note["change_cents"].as_f64().unwrap() - 20.0).abs() < 0.2, "{note}");
    assert!((note["during_hz"].as_f64().unwrap() / hz[0] - 1.0).abs() < 1e-4, "{note}");
    // One take each: the player's 3 cents, twice.
    assert!((note["sd_cents"].as_f64().unwrap() - 18.0_f64.sqrt()).abs() < 0.1, "{note}");
    assert_eq!(step["tests"][1]["verdict"], "stayed", "{}", step["tests"][1]);
    // The ordinary figures do not know the test.
    assert_eq!(step["fingerings"], ordinary);
    let told = maker.told(&["history"]);
    assert!(told.contains("Test 01, leak.h1=0: C#2 moved by +20 ± 4 cents"), "{told}");
    assert!(told.contains("Test 02, leak.h2=0: stayed within 5 cents"), "{told}");
    maker.told(&["check", "--step", "01"]);
    let page = std::fs::read_to_string(maker.path("P1/01-drilled/check.html")).unwrap();
    assert!(page.contains("C#2 moved by +20 ± 4 cents"), "the page does not tell the test");
}

#[test]
fn a_check_adds_the_rows_of_test_takes_that_are_missing_and_no_test_take_to_the_log() {
    let maker = played();
    pressed(&maker);
    let (log, rows) = (std::fs::read(maker.path("log.csv")).unwrap(), tests_csv(&maker));
    maker.told(&["check"]);
    assert_eq!(tests_csv(&maker), rows);
    std::fs::write(maker.path("tests.csv"), &rows[..rows.len() - 30]).unwrap();
    let output = maker.run(&["check"]);
    assert!(stderr(&output).contains("tests.csv was cut off"), "{}", stderr(&output));
    assert_eq!(tests_csv(&maker).lines().count(), 2);
    assert!(maker.path("tests-torn.txt").is_file());
    assert_eq!(std::fs::read(maker.path("log.csv")).unwrap(), log);
}

#[test]
fn a_check_keeps_test_takes_apart_from_the_ordinary_ones() {
    let maker = played();
    let before = maker.json(&["check", "--json"])["fingerings"][0]["measured_hz"].clone();
    pressed(&maker);
    assert_eq!(maker.json(&["check", "--json"])["fingerings"][0]["measured_hz"], before);
}

#[test]
fn takes_from_elsewhere_are_copied_into_a_test_of_the_step_that_is_named() {
    let maker = played();
    let elsewhere = maker.book.parent().unwrap().join("pressed é");
    std::fs::create_dir(&elsewhere).unwrap();
    std::fs::copy(maker.path("P1/01-drilled/takes/F2.wav"), elsewhere.join("f2.WAV")).unwrap();
    let folder = elsewhere.to_str().unwrap();
    for _ in 0..2 {
        maker.told(&["check", "--step", "01", "--test", "leak.h3=0,leak.h2=0", folder]);
    }
    let test = maker.path("P1/01-drilled/tests/01");
    let copied = std::fs::read(test.join("F2.wav")).unwrap();
    assert_eq!(copied, std::fs::read(elsewhere.join("f2.WAV")).unwrap());
    assert!(std::fs::read_to_string(test.join("copied.csv")).unwrap().contains("f2.WAV"));
    assert!(!maker.path("P1/01-drilled/tests/02").exists() && !test.join("F2-2.wav").exists());
    let rows = tests_csv(&maker);
    assert_eq!(rows.lines().count(), 2, "{rows}");
    assert!(rows.contains("01,\"leak.h3=0, leak.h2=0\",F2,"), "{rows}");
    assert_eq!(maker.log().len(), 4);
    // Without --step nothing is copied.
    maker.told(&["check", "--test", "leak.h1=0", folder]);
    assert!(!maker.path("P1/01-drilled/tests/02").exists());
}

#[test]
fn listening_keeps_held_notes_in_the_test() {
    let maker = Maker::new();
    maker.write_instrument(REED_PIPE);
    let (sound, _) = crate::listening::sound(&[(predicted_hz()[2], 2.5)], 0.5);
    let bytes: Vec<u8> = sound.iter().flat_map(|sample| sample.to_le_bytes()).collect();
    let arguments = ["listen", "--test", "leak.h3=0", "--hold", "2", "--raw", "f32le:16000:1"];
    let output = maker.command(&arguments).write_stdin(bytes).output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert!(stderr(&output).contains("Now: h3 pressed hard."), "{}", stderr(&output));
    assert!(maker.path("P1/01-drilled/tests/01/F2.wav").is_file());
    assert!(maker.path("P1/01-drilled/instrument.toml").is_file(), "the geometry of a test is frozen too");
    assert!(maker.log().is_empty());
}

#[test]
fn a_test_take_is_set_aside_by_its_path_and_the_ordinary_one_of_that_name_stays() {
    let maker = played();
    pressed(&maker);
    maker.told(&["set-aside", "P1/01-drilled/tests/01/C#2.wav", "--why", "slipped"]);
    assert!(maker.path("P1/01-drilled/tests/01/set-aside/C#2.wav").is_file());
    assert!(maker.path("P1/01-drilled/takes/C#2.wav").is_file());
    assert_eq!(first_step(&maker)["tests"][0]["fingerings"], serde_json::json!([]));
    assert_eq!(first_step(&maker)["tests"][0]["verdict"], "unclear");
    maker.told(&["check"]);
}

#[test]
fn wrong_changes_are_told_before_anything_is_written() {
    let maker = played();
    let before = files(&maker.book);
    let raw = ["--raw", "f32le:16000:1"];
    for (changes, says) in [
        ("leak.nothing=0", "leak.nothing=0"),
        ("h1.colour=2", "colour"),
        ("", "--test"),
        ("pressed", "no change"),
    ] {
        for command in ["record", "listen"] {
            let arguments = [&[command, "--test", changes][..], &raw].concat();
            let told = maker.refused(&arguments, 2);
            assert!(told.contains(says), "{told}");
        }
    }
    assert_eq!(files(&maker.book), before);
    let lone = maker.book.parent().unwrap().join("lone.toml");
    std::fs::write(&lone, REED_PIPE).unwrap();
    let arguments =
        ["record", lone.to_str().unwrap(), "C#2", "--test", "leak.h1=0", "--raw", "f32le:16000:1"];
    let told = maker.refused(&arguments, 2);
    assert!(told.contains("--into"), "{told}");
    let pressed = maker.book.parent().unwrap().join("pressed");
    maker.play(
        &["--test", "leak.h1=0", "--into", pressed.to_str().unwrap()],
        &[lone.to_str().unwrap(), "C#2"],
        &[Tone::plain(predicted_hz()[0])],
    );
    assert!(pressed.join("C#2.wav").is_file());
}

#[test]
fn a_test_whose_hole_was_renamed_is_told_with_its_file_and_what_to_do() {
    let maker = played();
    pressed(&maker);
    let file = maker.path("P1/01-drilled/tests/01/test.toml");
    let text = std::fs::read_to_string(&file).unwrap();
    std::fs::write(&file, text.replace("leak.h1=0", "leak.low=0")).unwrap();
    let told = maker.refused(&["check"], 1);
    for words in ["test.toml", "leak.low=0", "Write its new name into changes"] {
        assert!(told.contains(words), "{told}");
    }
    std::fs::write(&file, text.replace("changes = [", "changes = [1.5, ")).unwrap();
    maker.told(&["history"]);
    std::fs::write(&file, "changes = \n").unwrap();
    assert!(maker.refused(&["check"], 1).contains("test.toml:1"));
    // The history does without it, and says so.
    assert!(stderr(&maker.run(&["history"])).contains("test.toml"));
}
