//! `--learned-from`: what a book's takes teach, through the real program.

use borescribe::instrument::file::load;
use borescribe::instrument::model::Instrument;
use borescribe::instrument::prediction::predict;
use borescribe::units::shift_by_cents;
use serde_json::Value;

use crate::bittern::{FIRST, SECOND, second_body};
use crate::maker::{Maker, Tone};

/// The player of these books is so much sharp, and the reed gives so many times what the file says.
const SHARP_CENTS: f64 = 8.0;
const REED_TIMES: f64 = 1.25;

fn truth(instrument: &Instrument) -> Instrument {
    let mut truth = instrument.clone();
    let mouthpiece = truth.mouthpiece.as_mut().unwrap();
    mouthpiece.reed_ml = mouthpiece.reed_ml.map(|ml| REED_TIMES * ml);
    truth
}

/// What is really heard of an instrument, hertz.
fn heard_hz(instrument: &Instrument) -> Vec<f64> {
    predict(&truth(instrument))
        .iter()
        .map(|note| shift_by_cents(note.predicted_hz.unwrap(), SHARP_CENTS))
        .collect()
}

/// The body, as the first prototype of its book.
fn text() -> String {
    second_body().text().replace("prototype = \"P2\"", "prototype = \"P1\"")
}

/// A book with one step of `names` played.
fn book(names: &[&str]) -> Maker {
    let maker = Maker::new();
    maker.write_instrument(&text());
    let body = second_body().instrument();
    let heard = heard_hz(&body);
    let tones: Vec<Tone> = body
        .fingerings
        .iter()
        .zip(heard)
        .filter(|(fingering, _)| names.contains(&fingering.name.as_str()))
        .map(|(_, hz)| Tone::plain(hz))
        .collect();
    if !names.is_empty() {
        maker.play(&[], names, &tones);
    }
    maker
}

/// How far the notes of a placed layout are off when they are really played, root mean square, cents. Off what the plan
/// settled on: two registers of one hole can't both be met, whatever was learnt.
fn off_cents(plan: &std::path::Path) -> f64 {
    let plan = load(plan).unwrap().finished();
    let squares: Vec<f64> = plan
        .fingerings
        .iter()
        .zip(heard_hz(&plan))
        .map(|(fingering, hz)| (1200.0 * (hz / plan.target_hz(fingering)).log2()).powi(2))
        .collect();
    (squares.iter().sum::<f64>() / squares.len() as f64).sqrt()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value}"))
}

#[test]
fn holes_placed_with_what_a_book_teaches_meet_the_notes_as_they_are_played() {
    let all: Vec<&str> = FIRST.into_iter().chain(SECOND).collect();
    let maker = book(&all);
    std::fs::write(
        maker.path("next.toml"),
        text().replace("chimney_mm = 6.0\n", "chimney_mm = 6.0\ndrilled = false\n"),
    )
    .unwrap();
    let placed = maker.json(&["place", "next.toml", "--json", "--learned-from", ".", "--out", "learnt.toml"]);
    maker.json(&["place", "next.toml", "--json", "--out", "plain.toml"]);
    let (plain, learnt) = (off_cents(&maker.path("plain.toml")), off_cents(&maker.path("learnt.toml")));
    assert!(learnt < 0.5 * plain, "{learnt:.1} cents off instead of {plain:.1}");
    let learned = &placed["learned"];
    let sd_cents = number(&learned["sd_cents"]);
    assert!(learned["from"].as_str().unwrap().contains("P1/01-drilled"), "{learned}");
    assert!((3.0..number(&learned["unlearnt_sd_cents"])).contains(&sd_cents), "{learned}");
    // Predicting the written file with the same book tells what place promised.
    let predicted = maker.json(&["predict", "learnt.toml", "--json", "--learned-from", "."]);
    let told = predicted["fingerings"].as_array().unwrap().iter();
    let offsets = predicted["learned"]["fingerings"].as_array().unwrap().iter();
    let targets = load(&maker.path("learnt.toml")).unwrap().fingerings;
    let in_file = told.zip(offsets).zip(&targets);
    for (((note, offset), target), promised) in in_file.zip(placed["fingerings"].as_array().unwrap()) {
        if note["playable"] == true {
            continue;
        }
        // The file's target is the compromise between registers, the promise is about the maker's.
        let as_played = number(&note["cents"]) + number(&offset["above_predicted_cents"]) + target.cents;
        assert!((as_played - number(&promised["cents"])).abs() < 0.5, "{note} {offset} {promised}");
    }
    let screen = maker.told(&["predict", "learnt.toml", "--learned-from", "."]);
    assert!(
        screen.contains("As you play") && screen.contains("Learnt from ., P1/01-drilled (18 notes)"),
        "{screen}"
    );
    assert!(screen.lines().all(|line| line.chars().count() <= 80), "{screen}");
}

#[test]
fn a_body_of_another_size_with_what_a_book_teaches_meets_its_notes_as_they_are_played() {
    let all: Vec<&str> = FIRST.into_iter().chain(SECOND).collect();
    let maker = book(&all);
    let scaled = |out: &str, more: &[&str]| {
        let call = ["scale", ".", "--higher", "2", "--fixed", "v", "--json", "--out", out];
        maker.json(&[&call[..], more].concat())
    };
    let told = scaled("learnt.toml", &["--learned-from", "."]);
    scaled("plain.toml", &[]);
    let (plain, learnt) = (off_cents(&maker.path("plain.toml")), off_cents(&maker.path("learnt.toml")));
    assert!(learnt < 0.5 * plain, "{learnt:.1} cents off instead of {plain:.1}");
    assert_eq!(told["carried"]["semitones"], 2);
    assert!(told["learned"]["from"].as_str().unwrap().contains("P1/01-drilled"), "{}", told["learned"]);
    // The targets in the file stay the maker's; what was learnt is written nowhere.
    let compromise = told["compromise"].as_array().unwrap();
    let in_file = load(&maker.path("learnt.toml")).unwrap();
    for fingering in in_file.fingerings.iter().filter(|fingering| fingering.cents != 0.0) {
        assert!(compromise.iter().any(|split| split["name"] == fingering.name.as_str()), "{fingering:?}");
    }
}

#[test]
fn a_check_with_another_book_reckons_with_its_player_and_nothing_is_written() {
    let all: Vec<&str> = FIRST.into_iter().chain(SECOND).collect();
    let (teacher, maker) = (book(&all), book(&all));
    let before = crate::maker::files(&teacher.book);
    let from = teacher.book.to_str().unwrap();
    let plain = maker.json(&["check", "--json"]);
    let knowing = maker.json(&["check", "--json", "--learned-from", from]);
    let healthy = |check: &Value| {
        let findings = check["findings"].as_array().unwrap();
        number(&findings.iter().find(|finding| finding["cause"] == "healthy").unwrap()["weight"])
    };
    assert!(healthy(&knowing) > healthy(&plain), "{} {}", healthy(&knowing), healthy(&plain));
    assert!(number(&knowing["learned"]["cents"]) > 0.0 && plain["learned"].is_null());
    assert_eq!(crate::maker::files(&teacher.book), before);
    // Its own step can't teach it.
    let told = maker.refused(&["check", "--learned-from", "."], 1);
    assert!(told.contains("no note was measured yet"), "{told}");
}

#[test]
fn a_book_that_teaches_nothing_says_why_and_what_to_do() {
    let maker = book(&[]);
    let told = maker.refused(&["predict", "--learned-from", "."], 1);
    assert!(told.contains("--learned-from .: no note was measured yet"), "{told}");
    let maker = book(&FIRST[..4]);
    let told = maker.refused(&["place", "--learned-from", "."], 1);
    assert!(told.contains("only 4 of its notes were measured; 5 are needed"), "{told}");
    std::fs::create_dir(maker.path("no book")).unwrap();
    let told = maker.refused(&["predict", "--learned-from", "no book"], 1);
    assert!(told.contains("no book is no bench book"), "{told}");
    let maker = book(&FIRST);
    let flute = text().replace("drive = \"reed\"", "drive = \"air-jet\"");
    let without_reed: String = flute
        .lines()
        .filter(|line| {
            !["[mouthpiece]", "chamber_ml", "reed_ml", "suits_bore_mm"]
                .iter()
                .any(|key| line.starts_with(key))
        })
        .map(|line| format!("{line}\n"))
        .collect();
    std::fs::write(maker.path("flute.toml"), without_reed).unwrap();
    let told = maker.refused(&["predict", "flute.toml", "--learned-from", "."], 1);
    assert!(told.contains("it is about a reed, and this instrument is played with an air jet"), "{told}");
}
