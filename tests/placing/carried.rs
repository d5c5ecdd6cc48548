//! `scale`: a layout carried to another size.

use borescribe::instrument::prediction::predict;
use borescribe::placing::limits::Limits;
use borescribe::placing::place::place;
use borescribe::placing::scale::{Wanted, carry};
use serde_json::Value;

use crate::bench::Bench;
use crate::bodies::second_body;
use crate::round_trip::in_tune_as_it_is;

fn rms(cents: &[Option<f64>]) -> f64 {
    (cents.iter().map(|cents| cents.unwrap().powi(2)).sum::<f64>() / cents.len() as f64).sqrt()
}

#[test]
fn carried_to_its_own_size_a_layout_stays_as_it_is() {
    let donor = in_tune_as_it_is(second_body().instrument());
    let carried = carry(&donor, &Wanted::default()).unwrap();
    assert!(rms(&carried.copied_cents) < 1e-6, "{:?}", carried.copied_cents);
    let limits = Limits { keep_sizes: true, fixed: vec![8], ..Limits::default() };
    let placed = place(&carried.instrument, &limits, &|_| {}).unwrap();
    for (hole, old) in placed.after.holes.iter().zip(&donor.holes) {
        assert!((hole.at_mm - old.at_mm).abs() < 0.5, "{hole:?} {old:?}");
    }
}

/// Everything twice as large sounds an octave lower; losses near the wall and the wall itself, which is not twice as
/// thick, are all that is left: some ten cents.
#[test]
fn twice_the_size_sounds_an_octave_lower() {
    let donor = in_tune_as_it_is(second_body().instrument());
    let wanted = Wanted {
        semitones: -12,
        bore_mm: Some(48.0),
        wall_mm: Some(6.0),
        chimney_mm: Some(12.0),
        chamber_ml: Some(8.0 * 31.0),
        reed_ml: Some(8.0 * 2.0),
    };
    let mut carried = carry(&donor, &wanted).unwrap();
    for hole in &mut carried.instrument.holes {
        hole.rim_mm *= 2.0;
        if hole.vent {
            hole.chimney_mm = 20.0;
        }
    }
    assert_eq!(carried.times, 2.0);
    let names: Vec<&str> = carried.instrument.fingerings.iter().map(|f| f.name.as_str()).collect();
    assert_eq!(names[..3], ["C1", "D1", "E1"]);
    for note in predict(&carried.instrument.finished()) {
        assert!(note.cents().unwrap().abs() < 15.0, "{note:?}");
    }
}

#[test]
fn copying_misses_less_from_the_effective_top_than_from_the_rim_and_placing_mends_it() {
    let donor = in_tune_as_it_is(second_body().instrument());
    let wanted = Wanted { semitones: -5, bore_mm: Some(28.0), ..Wanted::default() };
    let carried = carry(&donor, &wanted).unwrap();
    let placed = place(&carried.instrument, &Limits::default(), &|_| {}).unwrap();
    let cents: Vec<Option<f64>> = placed.notes.iter().map(|note| note.cents).collect();
    let (rim, copied, placed) = (rms(&carried.from_rim_cents), rms(&carried.copied_cents), rms(&cents));
    assert!(rim > 2.0 * copied && copied > 2.0 * placed, "{rim} {copied} {placed}");
}

/// One hole by hand: lengths from the effective top times `2^(5/12)`; the top of the new body by its own volume.
#[test]
fn lengths_are_multiplied_from_the_effective_top() {
    let donor = second_body().instrument();
    let wanted = Wanted { semitones: -5, chamber_ml: Some(40.0), ..Wanted::default() };
    let body = carry(&donor, &wanted).unwrap().instrument;
    let area_mm2 = std::f64::consts::PI * 12.0 * 12.0;
    let (old_top_mm, new_top_mm) = (33.0e3 / area_mm2, 42.0e3 / area_mm2);
    let expected_mm = (762.0 + old_top_mm) * 2.0_f64.powf(5.0 / 12.0) - new_top_mm;
    assert!((body.holes[4].at_mm - expected_mm).abs() < 1e-6, "{}", body.holes[4].at_mm);
}

#[test]
fn scale_writes_a_file_of_the_new_size_and_says_what_it_means() {
    let bench = Bench::with(&second_body().text());
    let arguments = [
        "scale",
        "instrument.toml",
        "--higher",
        "-5",
        "--new-bore",
        "28",
        "--new-wall",
        "4",
        "--new-chamber",
        "45",
    ];
    let text = bench.run(&arguments);
    let text = String::from_utf8_lossy(&text.stdout).replace('\n', " ");
    assert!(
        text.contains("carries a measured layout to another size") && text.contains("5 semitones lower"),
        "{text}"
    );
    let result: Value = bench.json(&[&arguments[..], &["--json", "--out", "low.toml"]].concat());
    assert_eq!(result["fingerings"][0]["name"], "G1");
    assert!(result["fingerings"][0]["copied_cents"].is_number());
    let predicted = bench.json(&["predict", "low.toml", "--json"]);
    let (told, later) = (&result["fingerings"][5], &predicted["fingerings"][5]);
    assert_eq!(later["name"], "E2");
    assert!(
        (told["cents"].as_f64().unwrap() - later["cents"].as_f64().unwrap()).abs() < 1e-3,
        "{told} {later}"
    );
    let written = std::fs::read_to_string(bench.path("low.toml")).unwrap();
    assert!(written.contains("chamber_ml = 45") && written.contains("thickness_mm = 4"), "{written}");
    assert!(!written.contains("suits_bore_mm"), "another mouthpiece suits other bores:\n{written}");
}

#[test]
fn a_size_that_can_not_be_is_refused() {
    let bench = Bench::with(&second_body().text());
    bench.refuses(
        &["scale", "instrument.toml", "--new-chamber", "300"],
        2,
        &["above the top of the new tube"],
    );
    bench.refuses(&["scale", "instrument.toml", "--new-bore", "0"], 2, &["--new-bore", "more than 0"]);
    bench.refuses(&["scale", "instrument.toml", "--new-bore", "900"], 1, &["can't be saved", "bore"]);
}

/// The maker's drills as in the samples: small ones for vents, none between 3 and 8.5 mm. Once a hole of 8.5 mm was begun
/// with 3 mm, and its note 146 cents flat.
#[test]
fn a_gap_among_the_drills_is_named_and_no_hole_is_begun_more_than_a_fifth_too_small() {
    let drills: Vec<String> = [1.2, 1.5, 2.0, 2.5, 3.0]
        .into_iter()
        .chain((17..=34).map(|halves| 0.5 * f64::from(halves)))
        .map(|mm| format!("{mm:?}"))
        .collect();
    let own: Vec<f64> = drills.iter().map(|mm| mm.parse().unwrap()).collect();
    let text = format!("{}[workshop]\ndrills_mm = [{}]\n", second_body().text(), drills.join(", "));
    let bench = Bench::with(&text);
    let told = bench.json(&["scale", "instrument.toml", "--higher", "5", "--new-bore", "20", "--json"]);
    let holes = told["holes"].as_array().unwrap();
    let mut missing = 0;
    for hole in holes.iter().filter(|hole| hole["vent"] == false) {
        let [first_mm, last_mm] = ["first_drill_mm", "diameter_mm"].map(|key| hole[key].as_f64().unwrap());
        assert!(last_mm - first_mm <= (0.2 * last_mm).min(1.5) + 1e-9, "{hole}");
        let is_missing = hole["first_drill_missing"].as_bool().unwrap();
        assert_eq!(is_missing, !own.contains(&first_mm), "{hole}");
        assert_eq!(hole["next_smaller_drill_mm"].as_f64(), is_missing.then_some(3.0), "{hole}");
        missing += usize::from(is_missing);
    }
    assert!(missing > 0, "{holes:?}");
    for note in told["fingerings"].as_array().unwrap() {
        assert!(note["first_drill_hz"].as_f64().unwrap() > 50.0, "{note}");
        assert!(note["first_drill_cents"].as_f64().unwrap().abs() < 50.0, "{note}");
    }
    let warnings = told["warnings"].as_array().unwrap();
    let gap = warnings.iter().find(|warning| warning["code"] == "no-first-drill").unwrap();
    let gap = gap["text"].as_str().unwrap();
    assert!(gap.contains("7.5 mm for h1") && gap.contains("your next smaller one is 3 mm"), "{gap}");
    assert!(gap.contains("Buy or borrow"), "{gap}");
    let screen = bench.run(&["scale", "instrument.toml", "-q", "--higher", "5", "--new-bore", "20"]);
    assert!(String::from_utf8_lossy(&screen.stdout).contains("get 7.5 "));
}
