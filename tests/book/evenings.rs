//! Takes of one step that were played on several evenings: what each evening does to all notes is not held against the
//! instrument.

use borescribe::instrument::file::parse;
use borescribe::instrument::model::Instrument;
use borescribe::instrument::prediction::{PredictedNote, predict};
use serde_json::Value;

use crate::maker::{Maker, Tone};

const BITTERN: &str = include_str!("../../samples/bittern/P2/02-trimmed-opened/instrument.toml");
/// The notes of the second evening.
const LATER: [&str; 4] = ["C2", "D2", "E2", "F2"];

fn body() -> (Instrument, Vec<PredictedNote>) {
    let instrument = parse(BITTERN).unwrap();
    let notes = predict(&instrument);
    (instrument, notes)
}

fn sounds(instrument: &Instrument, notes: &[PredictedNote], name: &str, cents: f64) -> Tone {
    let index = instrument.fingerings.iter().position(|fingering| fingering.name == name).unwrap();
    Tone::plain(notes[index].predicted_hz.unwrap() * (cents / 1200.0_f64).exp2())
}

/// Makes all rows of a file as old as `when`.
fn age(maker: &Maker, file: &str, when: &str) {
    let text = std::fs::read_to_string(maker.path(file)).unwrap();
    let (head, rows) = text.split_once('\n').unwrap();
    let aged: Vec<String> =
        rows.lines().map(|row| format!("{},{when}\n", row.rsplit_once(',').unwrap().0)).collect();
    std::fs::write(maker.path(file), format!("{head}\n{}", aged.concat())).unwrap();
}

/// A sound first register in its book: the upper notes are played, and then, or long afterwards, the lower ones, all of
/// them so flat.
fn played(when_before: Option<&str>, flat_cents: f64) -> Maker {
    let maker = Maker::new();
    maker.write_instrument(&BITTERN.replace("prototype = \"P2\"", "prototype = \"P1\""));
    let (instrument, notes) = body();
    let first = instrument.fingerings.iter().filter(|fingering| fingering.register == 1);
    let first: Vec<&str> =
        first.map(|fingering| fingering.name.as_str()).filter(|name| !LATER.contains(name)).collect();
    let tones: Vec<Tone> = first.iter().map(|name| sounds(&instrument, &notes, name, 0.0)).collect();
    maker.play(&["--room", "19.5"], &first, &tones);
    if let Some(when) = when_before {
        age(&maker, "log.csv", when);
    }
    maker.play(&[], &LATER, &LATER.map(|name| sounds(&instrument, &notes, name, -flat_cents)));
    maker
}

/// What a check says, as JSON.
fn check(maker: &Maker, options: &[&str]) -> Value {
    maker.json(&[&["check", "--json", "--no-report"], options].concat())
}

fn says_evenings(check: &Value) -> bool {
    check["remarks"].as_array().unwrap().iter().any(|text| text.as_str().unwrap().contains("2 evenings"))
}

#[test]
fn notes_that_are_all_flat_on_another_evening_are_no_fault_of_the_instrument() {
    let check = check(&played(Some("2026-01-02T20:00:00Z"), 9.0), &[]);
    assert_eq!(check["findings"][0]["cause"], "healthy", "{}", check["findings"]);
    assert_eq!(
        (&check["next"]["done"], &check["cuts"]),
        (&true.into(), &serde_json::json!([])),
        "{}",
        check["next"]
    );
    assert!(says_evenings(&check), "{}", check["remarks"]);
    // Where the notes stand is told as it was played.
    let off = |index: usize| check["fingerings"][index]["cents_from_predicted"].as_f64().unwrap();
    assert!((off(0) - off(4) + 9.0).abs() < 1.0, "{}", check["fingerings"]);
}

#[test]
fn within_one_evening_the_same_notes_are_asked_about_and_so_they_are_where_the_maker_says_it_was_one() {
    let told_as_one = check(&played(Some("2026-01-02T20:00:00Z"), 9.0), &["--one-evening"]);
    let was_one = check(&played(None, 9.0), &[]);
    for key in ["findings", "next", "cuts", "fingerings"] {
        assert_eq!(told_as_one[key], was_one[key], "{key}");
    }
    assert_eq!(was_one["next"]["do"], "re-record", "{}", was_one["next"]);
    assert!(!says_evenings(&was_one) && !says_evenings(&told_as_one));
}

#[test]
fn a_time_that_nobody_can_read_leaves_it_at_one_evening() {
    let maker = played(Some("yesterday night"), 9.0);
    assert!(!says_evenings(&check(&maker, &[])));
    assert_eq!(check(&maker, &[])["next"]["do"], "re-record");
}

#[test]
fn takes_of_a_test_on_another_evening_do_not_make_a_leak() {
    let maker = played(None, 0.0);
    age(&maker, "log.csv", "2026-01-02T20:00:00Z");
    // The next evening everything is 8 cents flat, whatever is pressed.
    let (instrument, notes) = body();
    let low = |name: &str| sounds(&instrument, &notes, name, -8.0);
    maker.play(&["--test", "leak.h3=0"], &["C2", "D2", "E2"], &["C2", "D2", "E2"].map(low));
    let told = check(&maker, &[]);
    let as_one = check(&maker, &["--one-evening"]);
    assert!(says_evenings(&told), "{}", told["remarks"]);
    let leak = |check: &Value| -> f64 {
        let findings = check["findings"].as_array().unwrap().iter();
        findings
            .filter(|finding| finding["cause"] == "leak")
            .map(|finding| finding["weight"].as_f64().unwrap())
            .sum()
    };
    assert!(leak(&told) <= leak(&as_one), "{} {}", told["findings"], as_one["findings"]);
    assert_eq!(told["findings"][0]["cause"], "healthy", "{}", told["findings"]);
}
