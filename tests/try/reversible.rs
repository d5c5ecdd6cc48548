//! Changes that are undone afterwards: the mouthpiece pulled out and pushed in, a pad taken off.

use serde_json::Value;

use super::TUBE;
use super::program::{Bench, change_cents, codes, note};
use borescribe::diagnosis::takes::condition::Condition;
use borescribe::instrument::change;
use borescribe::instrument::file::{load, parse};

/// The file that `--save` wrote, and the pitches of its notes.
fn saved(bench: &Bench, changes: &[&str]) -> (String, Value) {
    bench.json(&[changes, &["--save", "next.toml"]].concat());
    let output = bench.run(&["next.toml", "--json"]);
    (
        std::fs::read_to_string(bench.path("next.toml")).unwrap(),
        serde_json::from_slice(&output.stdout).unwrap(),
    )
}

fn assert_saved_sounds_as_told(told: &Value, saved: &Value) {
    for name in ["C2", "D3", "Eb3", "A4"] {
        let after_hz = note(told, name)["after_hz"].as_f64().unwrap();
        let saved_hz = note(saved, name)["before_hz"].as_f64().unwrap();
        assert!((after_hz / saved_hz - 1.0).abs() < 1e-8, "{name}: {after_hz} {saved_hz}");
    }
}

#[test]
fn pulling_the_mouthpiece_out_lowers_all_notes_and_short_ones_most() {
    let bench = Bench::with(TUBE);
    let result = bench.json(&["mouthpiece.out=5"]);
    let [low, high] = ["C2", "Eb3"].map(|name| change_cents(&result, name));
    assert!(high < low && low < -5.0, "{result}");
    let trimmed = bench.json(&["top.trim=-5"]);
    for name in ["C2", "D3", "Eb3", "A4"] {
        assert_eq!(note(&result, name)["after_hz"], note(&trimmed, name)["after_hz"], "{name}");
    }
}

#[test]
fn a_mouthpiece_that_moves_is_never_called_a_cut() {
    let bench = Bench::with(TUBE);
    for (change, described, code) in [
        ("mouthpiece.out=2", "mouthpiece: pulled out by 2 mm", "mouthpiece-out"),
        ("mouthpiece.out-=2.5", "mouthpiece: pushed in by 2.5 mm", "mouthpiece-in"),
    ] {
        let result = bench.json(&[change]);
        assert_eq!(result["described"][0], described);
        assert_eq!(codes(&result), [code], "{result}");
        assert!(result["cautions"].as_array().unwrap().is_empty(), "{result}");
        let text = bench.text(&[change]).to_lowercase();
        assert!(text.contains(described), "{text}");
        for word in ["saw", "taken off", "goggles", "top:"] {
            assert!(!text.contains(word), "{word} in {text}");
        }
    }
    assert_eq!(bench.json(&["mouthpiece.out=0"])["described"][0], "mouthpiece: stays where it is");
}

#[test]
fn a_saved_pull_moves_every_place_of_the_file() {
    let folded = TUBE.replace(
        "[[fingering]]\nname = \"C2\"",
        "[[bend]]\nat_mm = 500.0\nradius_mm = 60.0\nangle_deg = 90.0\n\n[[fingering]]\nname = \"C2\"",
    );
    let bench = Bench::with(&folded);
    let (text, predicted) = saved(&bench, &["mouthpiece.out=2", "mouthpiece.out+=1"]);
    assert_saved_sounds_as_told(&bench.json(&["mouthpiece.out=3"]), &predicted);
    let (was, is) = (parse(&folded).unwrap(), load(&bench.path("next.toml")).unwrap());
    assert_eq!(is.bore[0].at_mm, 0.0);
    assert_eq!(is.length_mm(), was.length_mm() + 3.0);
    for (was, is) in was.holes.iter().zip(&is.holes) {
        assert_eq!(is.at_mm, was.at_mm + 3.0, "{}", was.name);
    }
    assert_eq!(is.leak_sites[0].at_mm, 403.0);
    assert_eq!(is.bends[0].at_mm, 503.0);
    for kept in ["at_mm = 703.0       # centre punch", "at_mm = 903.0       # cut square"] {
        assert!(text.contains(kept), "{kept} in\n{text}");
    }
}

#[test]
fn a_mouthpiece_is_not_pushed_into_what_sits_in_the_wall() {
    let bench = Bench::with(TUBE);
    for (change, what, to_do) in [
        (
            "mouthpiece.out=-179.5",
            "this pushes the mouthpiece into v, which begins 179 mm",
            "Push it in less far.",
        ),
        ("mouthpiece.out=-900", "the length of the tube is more than 0", "Choose another value."),
        ("mouthpiece.out=30000", "the length of the tube is more than 0", "Choose another value."),
        ("mouthpiece.out=off", "this can't be off", "Only a pad can be off"),
        (
            "mouthpiece.pull=2",
            "\"pull\" can't be changed there",
            "What can be changed: mouthpiece.out, mouthpiece.chamber",
        ),
    ] {
        let (code, said) = bench.refusal(&[change]);
        assert_eq!(code, 2, "{change}: {said}");
        assert!(said.contains(what) && said.contains(to_do), "{change}: {said}");
    }
}

#[test]
fn only_a_reed_has_a_mouthpiece_that_moves() {
    let flute = TUBE.replace("\"reed\"", "\"air-jet\"").replace(
        "[mouthpiece]\nchamber_ml = 12.5   # weighed three times\nsuits_bore_mm = [18.0, 22.0]\n",
        "",
    );
    let (code, said) = Bench::with(&flute).refusal(&["mouthpiece.out=2"]);
    assert_eq!(code, 2);
    assert!(said.contains("the instrument has no mouthpiece with a reed"), "{said}");
}

#[test]
fn a_pad_that_is_off_raises_its_note_as_a_pad_that_opens_very_far() {
    let bench = Bench::with(TUBE);
    let off = bench.json(&["h2.pad=OFF"]);
    assert_eq!(off["described"][0], "h2: pad taken off");
    assert_eq!(codes(&off), ["pad-off"]);
    assert!(off["cautions"].as_array().unwrap().is_empty(), "{off}");
    let far = bench.json(&["h2.lift=190"]);
    assert!(change_cents(&off, "D3") > 2.0, "{off}");
    for name in ["C2", "D3", "Eb3", "A4"] {
        let [off, far] = [&off, &far].map(|result| change_cents(result, name));
        assert!((off - far).abs() < 0.05, "{name}: {off} {far}");
    }
    // A closed hole is as tight without its pad.
    assert!(change_cents(&off, "C2").abs() < 1e-6, "{off}");
}

#[test]
fn takes_may_be_played_while_the_mouthpiece_is_out_and_a_pad_off() {
    let tube = parse(TUBE).unwrap();
    let changes = ["mouthpiece.out=2", "h2.pad=off"].map(|text| change::parse(&tube, text).unwrap());
    let changed = Condition::of(&tube, &changes).unwrap().changed.unwrap();
    assert_eq!((changed.instrument.holes[1].pad, changed.instrument.holes[1].at_mm), (None, 702.0));
    assert_eq!(changed.instrument.length_mm(), 902.0);
}

#[test]
fn a_saved_copy_has_no_keys_of_a_pad_that_is_off() {
    let bench = Bench::with(TUBE);
    let (text, predicted) = saved(&bench, &["h2.pad=off"]);
    assert_saved_sounds_as_told(&bench.json(&["h2.pad=off"]), &predicted);
    assert_eq!(text, TUBE.replace("pad_diameter_mm = 17.0\npad_lift_mm = 4.0\n", ""));
}

#[test]
fn only_a_pad_can_be_off() {
    let bench = Bench::with(TUBE);
    for (changes, what, to_do) in [
        (&["h1.pad=off"][..], "h1 has no pad", "Leave this change out."),
        (&["h2.pad=off", "h2.lift+=1"], "h2 has no pad", "Add pad_diameter_mm and pad_lift_mm"),
        (&["h2.diameter=off"], "this can't be off", "like h5.pad=off"),
        (&["h2.pad-=off"], "a part is either off or not", "with a single ="),
        (&["h2.pad=away"], "\"away\" is no number", "or off to take the pad off"),
        (&["h2.pad=0"], "the diameter of a pad is more than 0", "Choose another value."),
        (&["h2.pad-=17"], "the diameter of a pad is more than 0", "Choose another value."),
    ] {
        let (code, said) = bench.refusal(changes);
        assert_eq!(code, 2, "{changes:?}: {said}");
        assert!(said.contains(what) && said.contains(to_do), "{changes:?}: {said}");
    }
}

#[test]
fn measured_air_is_saved_beside_the_air_it_is_to_be_in_tune_in() {
    let bench = Bench::with(&TUBE.replace("[mouthpiece]", "[air]\ntemperature_c = 23.5\n\n[mouthpiece]"));
    let (text, _) = saved(&bench, &["air.temperature=15.5"]);
    let changed = parse(&text).unwrap();
    assert!(changed.air_is_measured, "{text}");
    assert_eq!((changed.air.temperature_c, changed.in_tune_at_c), (15.5, Some(23.5)), "{text}");
    // Measured again, it is still to be in tune in the same air.
    let (text, _) = saved(&Bench::with(&text), &["air.temperature=17"]);
    assert_eq!(parse(&text).unwrap().in_tune_at_c, Some(23.5), "{text}");
}
