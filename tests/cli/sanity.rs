//! A file that can't be right is asked about before its cents are believed, with what was likely meant; a right one never.

use std::path::{Path, PathBuf};

use serde_json::Value;

use crate::bench::{Bench, stderr};

const STEPS: [&str; 3] = ["01-drilled", "02-trimmed-opened", "03-p3-sealed"];

fn step(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/bittern/P2").join(name)
}

/// The second sample step's file: all holes at their last sizes, the end trimmed.
fn sample() -> String {
    std::fs::read_to_string(step(STEPS[1]).join("instrument.toml")).unwrap()
}

fn with(from: &str, to: &str) -> String {
    let text = sample();
    assert_eq!(text.matches(from).count(), 1, "{from} must stand once in the sample");
    text.replacen(from, to, 1)
}

/// The sample with every place but the bore's first mapped.
fn with_places(map: impl Fn(f64) -> f64) -> String {
    let line = |line: &str| match line.split_once("at_mm = ") {
        Some(("", rest)) => {
            let number: f64 = rest.split_whitespace().next().unwrap().parse().unwrap();
            format!("at_mm = {:?}\n", if number == 0.0 { 0.0 } else { map(number) })
        }
        _ => format!("{line}\n"),
    };
    sample().lines().map(line).collect()
}

fn asked(text: &str) -> Vec<Value> {
    let told = Bench::with(text).json(&["predict", "instrument.toml", "--json"]);
    told["questions"].as_array().unwrap().clone()
}

/// The only question that this file gives rise to.
#[track_caller]
fn only(text: &str, code: &str) -> Value {
    let questions = asked(text);
    assert_eq!(questions.len(), 1, "{questions:#?}");
    assert_eq!(questions[0]["code"], code, "{questions:#?}");
    assert_eq!(questions[0]["answers"].as_array().unwrap().len(), 2);
    questions[0].clone()
}

#[track_caller]
fn says(question: &Value, words: &[&str]) {
    let text = format!("{} {}", question["text"], question["answers"]);
    for words in words {
        assert!(text.contains(words), "\"{words}\" is not in {text}");
    }
}

#[test]
fn nothing_is_asked_of_the_samples() {
    for name in STEPS {
        let file = step(name).join("instrument.toml");
        let told = Bench::with("").json(&["predict", file.to_str().unwrap(), "--json"]);
        assert_eq!(told["questions"].as_array().unwrap().len(), 0, "{name}: {}", told["questions"]);
    }
}

#[test]
fn places_from_another_zero_are_asked_about_as_such() {
    says(&only(&with_places(|mm| mm + 40.0), "wrong-zero"), &["tip of the mouthpiece"]);
    says(
        &only(&with_places(|mm| mm + 75.0), "wrong-zero"),
        &["tip of the mouthpiece", "all places, the open end too"],
    );
    says(
        &only(&with_places(|mm| mm - 75.0), "wrong-zero"),
        &["lower end of the socket", "add it to every at_mm"],
    );
    let holes_only = with_places(|mm| if mm > 1200.0 { mm } else { mm + 75.0 });
    says(&only(&holes_only, "wrong-zero"), &["the places of all holes, not the open end"]);
    let from_the_bell = with_places(|mm| if mm > 1200.0 { mm } else { 1217.0 - mm });
    says(&only(&from_the_bell, "other-end"), &["measured from the open end", "1217 minus what you measured"]);
}

#[test]
fn a_slip_in_one_place_is_named_with_the_number_that_was_meant() {
    for (from, to, name, likely_mm) in [
        ("at_mm = 544.0", "at_mm = 54.0", "h2", 544.0),
        ("at_mm = 578.0", "at_mm = 58.0", "h3", 578.0),
        ("at_mm = 762.0", "at_mm = 962.0", "h5", 762.0),
        ("at_mm = 1058.0", "at_mm = 158.0", "h8", 1058.0),
    ] {
        let question = only(&with(from, to), "hole-place");
        let told_mm = question["likely_mm"].as_f64().unwrap();
        assert!((told_mm - likely_mm).abs() <= 0.02 * likely_mm, "{question:#}");
        says(&question, &[&format!("Is {name} near "), &format!("correct at_mm of {name}")]);
    }
    let end = only(&with("at_mm = 1217.0", "at_mm = 1717.0"), "open-end");
    assert_eq!(end["likely_mm"], 1217.0, "{end:#}");
    let two = asked(&with("at_mm = 762.0", "at_mm = 962.0").replacen("at_mm = 461.0", "at_mm = 161.0", 1));
    let names: Vec<&str> = two.iter().map(|question| question["code"].as_str().unwrap()).collect();
    assert_eq!(names, ["hole-place", "hole-place"], "{two:#?}");
}

#[test]
fn two_holes_in_each_others_place_are_named() {
    for (a, b, names) in [("578.0", "665.0", "h3 and h4"), ("544.0", "578.0", "h2 and h3")] {
        let [a, b] = [a, b].map(|mm| format!("at_mm = {mm}"));
        let swapped = with(&a, "at_mm = ?").replacen(&b, &a, 1).replacen("at_mm = ?", &b, 1);
        let question = only(&swapped, "holes-swapped");
        let text = question["text"].as_str().unwrap();
        let backwards = names.split(" and ").collect::<Vec<_>>();
        let backwards = format!("{} and {}", backwards[1], backwards[0]);
        assert!(text.contains(names) || text.contains(&backwards), "{text}");
    }
}

#[test]
fn other_units_and_other_names_of_the_notes_are_asked_about() {
    says(&only(&with_places(|mm| mm / 10.0), "other-unit"), &["in centimetres"]);
    says(&only(&with("chamber_ml = 31.0", "chamber_ml = 0.031"), "chamber"), &["hold 31 ml", "0.031 ml"]);
    says(&only(&with("chamber_ml = 31.0", "chamber_ml = 310.0"), "chamber"), &["hold 31 ml"]);
    let written = with("drive = \"reed\"", "drive = \"reed\"\na4_hz = 494.0");
    says(&only(&written, "written-names"), &["2 semitones lower", "written_above_sounding = 2"]);
}

#[test]
fn a_note_that_no_slip_explains_is_asked_about_all_the_same() {
    let wrong = with("name = \"E2\"\n", "name = \"E2\"\nnote = \"G#2\"\n");
    says(&only(&wrong, "note-far-off"), &["E2 is predicted", "A wrong measure", "A wrong wish"]);
}

#[test]
fn the_question_comes_before_the_figures_and_no_cut_while_it_is_open() {
    let bench = Bench::with(&with_places(|mm| mm + 75.0));
    let screen = |arguments: &[&str]| String::from_utf8(bench.run(arguments).stdout).unwrap();
    let predicted = screen(&["predict", "instrument.toml"]);
    let question = predicted.find("? Were all places").unwrap();
    assert!(question < predicted.find("predicted Hz").unwrap(), "{predicted}");
    let takes = step(STEPS[1]).join("takes");
    let check = ["check", "instrument.toml", takes.to_str().unwrap()];
    let checked = screen(&check);
    assert!(
        checked.find("? Were all places").unwrap() < checked.find("Next: Cut nothing yet.").unwrap(),
        "{checked}"
    );
    let told = bench.json(&[&check[..], &["--json"]].concat());
    assert_eq!(told["questions"][0]["code"], "wrong-zero");
    let next = &told["next"];
    assert_eq!((next["do"].as_str(), next["done"].as_bool()), (Some("nothing"), Some(false)), "{next:#}");
    assert!(next["changes"].as_array().unwrap().is_empty(), "{next:#}");
    assert_eq!(next["tests"][0]["measure"][0], "h1.at", "{next:#}");
    assert!(next["text"].as_str().unwrap().contains("tip of the mouthpiece"), "{next:#}");
    assert!(told["cuts"].as_array().unwrap().is_empty());
}

/// What was played sounds as the measures say: they are right, and only the wish is another.
#[test]
fn takes_that_sound_as_predicted_answer_the_question() {
    let bench = Bench::with(&with("drive = \"reed\"", "drive = \"reed\"\na4_hz = 494.0"));
    let takes = step(STEPS[2]).join("takes");
    let told = bench.json(&["check", "instrument.toml", takes.to_str().unwrap(), "--json"]);
    assert_eq!(told["questions"].as_array().unwrap().len(), 0, "{:#}", told["questions"]);
}

#[test]
fn a_new_step_asks_about_the_measures_that_were_written_for_it() {
    let bench = Bench::with("");
    bench.run(&["new", "book"]);
    let file = bench.path("book/instrument.toml");
    let first_body = |text: String| text.replacen("prototype = \"P2\"", "prototype = \"P1\"", 1);
    std::fs::write(&file, first_body(sample())).unwrap();
    let run = |arguments: &[&str]| {
        let output = bench.borescribe(arguments).current_dir(bench.path("book")).output().unwrap();
        assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
        String::from_utf8(output.stdout).unwrap()
    };
    let told: Value = serde_json::from_str(&run(&["step", "opened h2", "--json"])).unwrap();
    assert_eq!(told["questions"].as_array().unwrap().len(), 0, "{told}");
    std::fs::write(&file, first_body(with("at_mm = 578.0", "at_mm = 58.0"))).unwrap();
    let screen = run(&["step", "opened h3"]);
    assert!(screen.starts_with("? Is h3 near 5"), "{screen}");
}

#[test]
fn inches_and_cubic_millimetres_are_refused_with_the_number_to_write() {
    for written in ["18 1/2 in", "18.5 in", "18½\\\""] {
        let text = with("at_mm = 461.0", &format!("at_mm = \"{written}\""));
        Bench::with(&text).refuses(
            &["predict", "instrument.toml"],
            1,
            &["is 469.9 mm: write at_mm = 469.9."],
        );
    }
    let text = with("chamber_ml = 31.0", "chamber_ml = 31000.0");
    Bench::with(&text).refuses(
        &["predict", "instrument.toml"],
        1,
        &["31000 mm³ are 31 ml", "chamber_ml = 31"],
    );
}
