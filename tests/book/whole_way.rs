//! From a wish to a body in tune, through the program: placed, begun, the bare tube proved, placed again, drilled from the
//! open end up, played and checked after every step, and cut as advised until nothing is left to do. The maker's own
//! hand in the files is what was measured: the length that was sawn, the chamber.

use std::path::Path;

use borescribe::instrument::column::reed_give_ml;
use borescribe::instrument::file::load;
use borescribe::instrument::model::Instrument;
use borescribe::instrument::prediction::predict;
use borescribe::units::{cents_between, shift_by_cents};
use serde_json::Value;

use crate::maker::{Maker, Tone};

/// From the top: how far beside its mark each hole was drilled, and how much wider than it was measured, mm. A punch and a
/// drill by hand (the file's `measured_to_mm` is 0.3).
const BESIDE_MM: [f64; 6] = [0.25, -0.3, 0.15, -0.1, 0.3, -0.2];
const WIDER_MM: [f64; 6] = [0.05, -0.05, 0.1, 0.0, -0.1, 0.05];
/// How much wider than its drill a hole comes out, mm.
const OVER_MM: f64 = 0.1;
/// The reed gives so many times what is usual, and the player is so much sharp, cents.
const REED_TIMES: f64 = 1.15;
const SHARP_CENTS: f64 = 3.0;
/// What the player's takes scatter by, cents.
const SCATTER_CENTS: [f64; 5] = [1.1, -1.6, 0.4, 1.8, -0.9];

/// The body as it is.
fn truth(bench: &Path) -> Instrument {
    let mut truth = load(&bench.join("instrument.toml")).unwrap();
    let give_ml = REED_TIMES * reed_give_ml(&truth);
    truth.mouthpiece.as_mut().unwrap().reed_ml = Some(give_ml);
    for (hole, (beside_mm, wider_mm)) in truth.holes.iter_mut().zip(BESIDE_MM.iter().zip(WIDER_MM)) {
        hole.at_mm += beside_mm;
        hole.diameter_mm += wider_mm;
    }
    truth
}

/// Every note that has its holes, once.
fn play(maker: &Maker, round: usize) {
    let truth = truth(&maker.book);
    let (mut names, mut tones) = (Vec::new(), Vec::new());
    for note in predict(&truth) {
        let fingering = &truth.fingerings[note.fingering];
        if truth.playable(fingering) {
            let scatter = SCATTER_CENTS[(note.fingering + 2 * round) % SCATTER_CENTS.len()];
            names.push(fingering.name.as_str());
            tones.push(Tone::plain(shift_by_cents(note.predicted_hz.unwrap(), SHARP_CENTS + scatter)));
        }
    }
    maker.play(&[], &names, &tones);
}

fn next(maker: &Maker) -> Value {
    maker.json(&["check", "--json"])["next"].clone()
}

fn says(next: &Value) -> &str {
    next["text"].as_str().unwrap()
}

/// Writes a measure into the file on the bench.
fn measure(maker: &Maker, line: &str, measured: &str) {
    let file = maker.path("instrument.toml");
    let text = std::fs::read_to_string(&file).unwrap();
    assert_eq!(text.matches(line).count(), 1, "{line} in {text}");
    std::fs::write(file, text.replace(line, measured)).unwrap();
}

/// Does what was advised: the program writes what a cut makes of the file, and the step is opened.
fn obey(maker: &Maker, next: &Value, round: usize) {
    let advised: Vec<&str> =
        next["changes"].as_array().unwrap().iter().map(|change| change.as_str().unwrap()).collect();
    assert!(!advised.is_empty(), "nothing to do, and not done: {next}");
    if let [pulled] = advised.as_slice()
        && let Some(mm) = pulled.strip_prefix("mouthpiece.out=")
    {
        maker.told(&["step", "--mouthpiece-out", mm]);
        return;
    }
    let saved = format!("cut-{round}.toml");
    maker.told(&[&["try", "."], advised.as_slice(), &["--save", &saved]].concat());
    std::fs::copy(maker.path(&saved), maker.path("instrument.toml")).unwrap();
    maker.told(&["step", "cut as advised"]);
}

#[test]
fn a_wish_becomes_a_body_in_tune_with_no_file_edited_but_for_measures() {
    let folder = tempfile::TempDir::new().unwrap();
    let outside = Maker::in_book(folder.path());
    let wish = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/reed-bunting.toml");
    outside.told(&["place", wish.to_str().unwrap(), "--out", "plan.toml"]);
    outside.told(&["new", "bunting", "--plan", "plan.toml", "--what", "blank"]);
    let maker = Maker::in_book(&folder.path().join("bunting"));
    let planned = load(&maker.path("instrument.toml")).unwrap();

    // The bare tube, sawn 15 mm too long, and the chamber weighed again.
    let sawn = format!("at_mm = {}", planned.length_mm());
    measure(&maker, &sawn, &format!("at_mm = {:.1}", planned.length_mm() + 15.0));
    measure(&maker, "chamber_ml = 12.5 ", "chamber_ml = 12.8 ");
    for round in 0..3 {
        play(&maker, round);
    }
    assert!(says(&next(&maker)).contains("Your tube agrees with the file"), "{}", next(&maker));
    let sizes = |body: &Instrument| -> Vec<f64> { body.holes.iter().map(|hole| hole.diameter_mm).collect() };
    let again = maker.json(&["place", "--keep-diameters", "--json", "--out", "again.toml"]);
    maker.told(&["step", "--plan", "again.toml"]);
    assert_eq!(sizes(&load(&maker.path("instrument.toml")).unwrap()), sizes(&planned));

    // From the open end up, each with its first drill.
    for (round, hole) in again["holes"].as_array().unwrap().iter().enumerate().rev() {
        let (name, first_mm) = (hole["name"].as_str().unwrap(), hole["first_drill_mm"].as_f64().unwrap());
        let drilled = format!("{name}={:.1}", first_mm + OVER_MM);
        maker.told(&["step", "--drilled", &drilled]);
        play(&maker, round);
        let check = maker.json(&["check", "--json"]);
        let told = says(&check["next"]);
        if round == 0 {
            assert!(!told.contains("Drill on"), "the last hole is there: {told}");
            break;
        }
        assert!(told.contains("sounds as the file says") && told.contains("Drill on"), "{drilled}: {told}");
        assert!(told.contains(&format!("step --drilled h{round}=MM")), "{drilled}: {told}");
        assert_eq!(check["cuts"], serde_json::json!([]), "{drilled}");
    }

    // Then as advised, until nothing is left.
    let mut rounds = 0;
    let done = loop {
        let next = next(&maker);
        if next["done"] == true {
            break next;
        }
        rounds += 1;
        assert!(rounds < 8, "never done: {next}");
        if next["action"] != "re-record" {
            obey(&maker, &next, rounds);
        }
        play(&maker, rounds);
    };
    let body = truth(&maker.book);
    let off: Vec<f64> = predict(&body)
        .iter()
        .map(|note| SHARP_CENTS + cents_between(note.predicted_hz.unwrap(), note.target_hz))
        .collect();
    assert!(off.iter().all(|cents| cents.abs() < 8.0), "{off:?} after {rounds} rounds: {done}");
    let steps = std::fs::read_dir(maker.path("P1")).unwrap().count();
    assert!((9..=12).contains(&steps), "{steps} steps");
}
