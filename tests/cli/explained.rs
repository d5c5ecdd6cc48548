//! `check --explain`: one cause with every note, for the terminal and for other programs.

use serde_json::Value;

use crate::bench::{Bench, REED_PIPE, reed_tone, stderr};

/// The pipe, played so that one hole acts too big: its own note far sharp, the one above a little.
fn sharp_at_h2() -> Bench {
    let bench = Bench::with(REED_PIPE);
    let predicted = bench.json(&["predict", "instrument.toml", "--json"]);
    for (fingering, cents) in predicted["fingerings"].as_array().unwrap().iter().zip([0.0, 0.0, 25.0, 4.0]) {
        let hz = fingering["predicted_hz"].as_f64().unwrap() * 2.0_f64.powf(cents / 1200.0);
        let name = fingering["name"].as_str().unwrap();
        // Twice: a single take so far off may as well be a slip.
        bench.wav(&format!("takes/{name}.wav"), &reed_tone(hz, 4.0));
        bench.wav(&format!("takes/{name}-2.wav"), &reed_tone(hz, 4.0));
    }
    bench
}

fn explained(bench: &Bench, cause: &str) -> (Value, Value) {
    let told = bench.json(&["check", "instrument.toml", "takes", "--json", "--explain", cause]);
    (told["explained"].clone(), told)
}

fn number(value: &Value, key: &str) -> f64 {
    value[key].as_f64().unwrap_or_else(|| panic!("{key}: {value}"))
}

#[test]
fn a_hole_that_acts_too_big_is_explained_note_by_note_and_its_own_note_speaks_for_it() {
    let bench = sharp_at_h2();
    let (explained, told) = explained(&bench, "hole:h2");
    let account = &explained[0];
    assert_eq!(told["findings"][0]["where"], "h2");
    let leading = number(&told["findings"][0], "weight");
    assert!(number(account, "weight") > 0.5 && number(account, "weight") <= leading + 1e-9);
    let notes = account["fingerings"].as_array().unwrap();
    assert_eq!(notes.len(), 4);
    for (note, measured) in notes.iter().zip(told["fingerings"].as_array().unwrap()) {
        let offset = number(note, "measured_minus_predicted_cents");
        assert!((offset - number(measured, "cents_from_predicted")).abs() < 1e-9, "{note}");
        let parts =
            ["cause_cents", "shared_cents", "left_cents"].iter().map(|key| number(note, key)).sum::<f64>();
        assert!((offset - parts).abs() < 1e-9, "{note}");
    }
    let own = notes.iter().find(|note| note["name"] == "F2").unwrap();
    assert_eq!(own["says"], "for");
    let most = notes.iter().map(|note| number(note, "cause_cents")).fold(0.0, f64::max);
    assert!(number(own, "cause_cents") == most && most > 0.5 * 25.0, "{own}");
    assert!(notes.iter().all(|note| number(note, "speaks") <= number(own, "speaks")), "{account}");
    let (pro, contra) = account["verdict"].as_str().unwrap().split_once("Against it: ").unwrap();
    assert!(pro.contains("F2") && !contra.contains("F2"), "{account}");
    assert!(number(account, "times_likelier") > 100.0);
}

#[test]
fn a_cause_that_no_finding_tells_can_be_asked_for_as_well() {
    let bench = sharp_at_h2();
    for cause in ["leak:h1", "air", "length", "hole h3", "pad:h2", "bore", "mouthpiece", "healthy"] {
        let (explained, told) = explained(&bench, cause);
        let account = &explained[0];
        assert_eq!(account["fingerings"].as_array().map(Vec::len), Some(4), "{cause}: {account}");
        assert!(number(account, "weight") < 0.5, "{cause}: {told}");
    }
    let (healthy, _) = explained(&bench, "healthy");
    assert!(number(&healthy[0], "times_likelier") < 0.01);
    // By one name both ends of the tube are meant; a kind alone means its heaviest place.
    let names = |cause: &str| -> Vec<String> {
        let (told, _) = explained(&bench, cause);
        told.as_array().unwrap().iter().map(|account| account["name"].as_str().unwrap().to_string()).collect()
    };
    let mut ends = names("length");
    ends.sort();
    assert_eq!(ends, ["length", "mouthpiece"]);
    assert_eq!(names("hole"), ["hole:h2"]);
}

#[test]
fn the_screen_of_a_cause_keeps_to_its_width_and_says_what_speaks_for_and_against() {
    let bench = sharp_at_h2();
    let output = bench.run(&["check", "instrument.toml", "takes", "--explain", "hole:h2"]);
    assert!(output.status.success(), "{}", stderr(&output));
    let screen = String::from_utf8(output.stdout).unwrap();
    assert!(screen.lines().all(|line| line.chars().count() <= 80), "{screen}");
    for part in
        ["hole h2: ", "If it were so: Hole h2 acts", "left", "for it", "For it: ", "Against it: ", "Test: "]
    {
        assert!(screen.contains(part), "{part}: {screen}");
    }
    // It stands in the place of the usual screen.
    assert!(!screen.contains("Next: "), "{screen}");
}

#[test]
fn a_wrong_cause_is_wrong_usage_and_lists_what_can_be_asked() {
    let bench = sharp_at_h2();
    bench.refuses(
        &["check", "instrument.toml", "takes", "--explain", "leek:h1"],
        2,
        &["leek:h1", "Did you mean leak:h1?", "hole:NAME (h1, h2, h3)", "healthy", "mouthpiece"],
    );
    bench.refuses(
        &["check", "instrument.toml", "takes", "--explain", "undertone:F2"],
        2,
        &["found by its sound"],
    );
}

#[test]
fn without_a_single_note_there_is_nothing_to_explain_and_that_is_said() {
    let bench = Bench::new();
    bench.wav("takes/F2.wav", &vec![0.0; 32_000]);
    let output = bench.run(&["check", "instrument.toml", "takes", "--explain", "air"]);
    let screen = String::from_utf8(output.stdout).unwrap();
    assert!(screen.contains("No take could be compared"), "{screen}");
    let (explained, _) = explained(&bench, "air");
    assert_eq!(explained.as_array().map(Vec::len), Some(0));
}
