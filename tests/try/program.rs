//! Through the real program.

use std::path::PathBuf;

use assert_cmd::Command;
use serde_json::Value;
use tempfile::TempDir;

use super::TUBE;
use borescribe::instrument::file;
use borescribe::instrument::forecast::forecast;
use borescribe::instrument::prediction::predict;

pub struct Bench {
    folder: TempDir,
}

impl Bench {
    pub fn with(text: &str) -> Bench {
        let folder = TempDir::new().unwrap();
        std::fs::write(folder.path().join("instrument.toml"), text).unwrap();
        Bench { folder }
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn run(&self, arguments: &[&str]) -> std::process::Output {
        let mut command = Command::cargo_bin("borescribe").unwrap();
        command.current_dir(self.folder.path()).arg("try").args(arguments).output().unwrap()
    }

    pub fn text(&self, arguments: &[&str]) -> String {
        let output = self.run(&[&["instrument.toml"], arguments].concat());
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8(output.stdout).unwrap()
    }

    pub fn json(&self, changes: &[&str]) -> Value {
        serde_json::from_str(&self.text(&[changes, &["--json"]].concat())).unwrap()
    }

    /// Exit code and what was said.
    pub fn refusal(&self, arguments: &[&str]) -> (i32, String) {
        let output = self.run(&[&["instrument.toml"], arguments].concat());
        assert!(output.stdout.is_empty());
        (output.status.code().unwrap(), String::from_utf8(output.stderr).unwrap())
    }
}

pub fn note<'v>(result: &'v Value, name: &str) -> &'v Value {
    result["fingerings"].as_array().unwrap().iter().find(|note| note["name"] == name).unwrap()
}

pub fn change_cents(result: &Value, name: &str) -> f64 {
    note(result, name)["change_cents"].as_f64().unwrap()
}

pub fn codes(result: &Value) -> Vec<&str> {
    result["warnings"].as_array().unwrap().iter().map(|warning| warning["code"].as_str().unwrap()).collect()
}

#[test]
fn every_playable_note_is_told_with_the_keys_that_scripts_rely_on() {
    let result = Bench::with(TUBE).json(&["h2.diameter+=0.5"]);
    assert_eq!(result["changes"], serde_json::json!(["h2.diameter+=0.5"]));
    let names: Vec<&Value> =
        result["fingerings"].as_array().unwrap().iter().map(|note| &note["name"]).collect();
    assert_eq!(names, ["C2", "D3", "Eb3", "A4"]);
    for note in result["fingerings"].as_array().unwrap() {
        for key in ["register", "before_hz", "after_hz", "change_cents", "from_target_cents"] {
            assert!(note[key].is_number(), "{key} of {note}");
        }
    }
    assert_eq!(result["planned_left_out"], 1);
}

#[test]
fn a_finger_on_a_hole_stays_in_the_saved_file_and_moves_the_notes() {
    let fingered = TUBE.replacen("chimney_mm", "closed_by = \"finger\"  # bare\nchimney_mm", 1);
    let (plain, bench) = (Bench::with(TUBE), Bench::with(&fingered));
    let lowest = |bench: &Bench| note(&bench.json(&["h2.at+=0"]), "C2")["before_hz"].as_f64().unwrap();
    assert!(lowest(&bench) > lowest(&plain));
    bench.text(&["h2.diameter+=0.5", "--save", "new.toml"]);
    let saved = std::fs::read_to_string(bench.path("new.toml")).unwrap();
    assert!(saved.contains("closed_by = \"finger\"  # bare\n"), "{saved}");
}

#[test]
fn a_wider_hole_raises_its_own_note_and_hardly_any_lower_one() {
    let result = Bench::with(TUBE).json(&["h2.diameter+=0.5"]);
    assert!(change_cents(&result, "D3") > 2.0, "{result}");
    assert!(change_cents(&result, "A4") > 2.0, "{result}");
    // The air under a closed pad is all that a lower note feels.
    assert!(change_cents(&result, "C2").abs() < 0.2, "{result}");
    let share = change_cents(&result, "Eb3") / change_cents(&result, "D3");
    assert!(share > 0.0 && share < 0.3, "{share}");
}

#[test]
fn a_change_and_its_undo_give_back_the_same_pitch() {
    let bench = Bench::with(TUBE);
    for pair in [
        ["h2.diameter+=0.5", "h2.diameter-=0.5"],
        ["h2.at=640", "h2.at+=60"],
        ["end.trim=8", "end.trim=-8"],
        ["top.trim=8", "top.trim=-8"],
        ["mouthpiece.out=8", "mouthpiece.out-=8"],
        ["mouthpiece.out=-8", "mouthpiece.out=8"],
        ["leak.post 4=0.8", "leak.post 4=0"],
        ["mouthpiece.chamber+=3", "mouthpiece.chamber-=3"],
        ["mouthpiece.reed+=0.5", "mouthpiece.reed-=0.5"],
        ["air.temperature=18", "air.temperature=24"],
    ] {
        let result = bench.json(&pair);
        for name in ["C2", "D3", "Eb3", "A4"] {
            assert!(change_cents(&result, name).abs() < 1e-4, "{pair:?} {name}: {result}");
        }
    }
}

#[test]
fn no_change_leaves_every_note_where_it_is() {
    let bench = Bench::with(TUBE);
    let result = bench.json(&[]);
    for note in result["fingerings"].as_array().unwrap() {
        assert_eq!(note["before_hz"], note["after_hz"]);
        assert_eq!(note["change_cents"], 0.0);
    }
    assert!(codes(&result).is_empty(), "{result}");
    assert!(bench.text(&[]).contains("No change is given"));
}

#[test]
fn inside_a_bench_folder_the_instrument_may_be_left_out() {
    let bench = Bench::with(TUBE);
    let output = bench.run(&["h2.lift=3", "--json"]);
    let result: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(result["changes"][0], "h2.lift=3");
}

#[test]
fn names_are_read_as_everywhere_and_case_doesn_t_matter() {
    let result = Bench::with(TUBE).json(&["gIS KEY.at=790", "H2.Diameter=11.5", "leak.POST 4=0.5"]);
    assert_eq!(result["described"][0], "Gis key: place from 800 to 790 mm");
    assert_eq!(result["described"][1], "h2: diameter from 11 to 11.5 mm");
    assert_eq!(result["described"][2], "post 4: leaks like a hole of 0.5 mm");
}

#[test]
fn every_refusal_says_what_is_wrong_and_what_to_do() {
    let bench = Bench::with(TUBE);
    for (change, what, to_do) in [
        ("h2", "\"h2\" is no change", "Write one like h2.diameter=9"),
        ("=9", "\"=9\" is no change", "Write one like"),
        ("h2=9", "\"h2=9\" doesn't say what changes", "Write one of: h2.at, h2.diameter"),
        ("h22.diameter=9", "the file has nothing called \"h22\"", "Did you mean h2?"),
        ("zz9.diameter=9", "the file has nothing called \"zz9\"", "What can be changed: h1, h2, Gis key, v"),
        ("h2.diamter=9", "\"diamter\" can't be changed there", "Did you mean h2.diameter?"),
        ("h2.pad_lift_mm=3", "\"pad_lift_mm\" can't be changed there", "Did you mean h2.lift?"),
        ("end.length=9", "\"length\" can't be changed there", "What can be changed: end.trim."),
        ("post 4.diameter=1", "post 4 is a leak site", "Write leak.post 4=0.8"),
        ("leak.post4=1", "the file has nothing called \"post4\"", "Did you mean leak.post 4?"),
        ("h2.diameter=wide", "\"wide\" is no number", "Write a number without a unit"),
        ("h2.diameter=9,5", "\"9,5\" is no number", "The decimal sign is a point: 9.5."),
        ("h2.diameter=nan", "\"nan\" is no number", "Write a number"),
        ("h2.diameter-=20", "would make it -9 mm", "Choose another value."),
        ("h2.at=30000", "a place on the tube lies between 0 and 20000 mm", "Choose another value."),
        ("h2.lift=0", "the lift of a pad over an open hole is more than 0", "Choose another value."),
        ("h1.lift=3", "h1 has no pad", "Add pad_diameter_mm and pad_lift_mm"),
        ("leak.h2=12", "h2 itself is only 11 mm wide", "Choose another value."),
        ("leak.gis key=1", "Gis key is only planned", "Leave this change out"),
        ("top.trim=179.5", "cuts into v, which begins 179 mm from the top", "Take less off."),
        ("end.trim=900", "would make it 0 mm", "Choose another value."),
        ("air.temperature=80", "would make it 80 °C", "Choose another value."),
    ] {
        let (code, said) = bench.refusal(&[change]);
        assert_eq!(code, 2, "{change}: {said}");
        assert!(said.contains(what), "{change}: {said}");
        assert!(said.contains(to_do), "{change}: {said}");
    }
}

#[test]
fn what_can_t_be_cut_is_computed_and_warned_of() {
    let bench = Bench::with(TUBE);
    for (change, code) in [
        ("h2.diameter=10", "drill-smaller"),
        ("h2.diameter=11.7", "no-such-drill"),
        ("h2.diameter=13", "pad-barely-covers"),
        ("h2.diameter=15", "pad-too-small"),
        ("h1.diameter=18.5", "hole-too-wide"),
        ("h1.chimney=1", "chimney-below-wall"),
        ("h2.at=690", "already-drilled"),
        ("h1.at=690", "holes-too-close"),
        ("h2.at=950", "past-the-end"),
        ("h2.at=897", "cuts-the-end"),
        ("h2.lift=2", "low-lift"),
        ("end.trim=-5", "end-added"),
        ("top.trim=-5", "top-added"),
    ] {
        let result = bench.json(&[change]);
        assert!(codes(&result).contains(&code), "{change}: {result}");
        assert!(note(&result, "C2")["after_hz"].is_number(), "{change}");
    }
    assert!(codes(&bench.json(&["h1.diameter=11.5"])).is_empty());
}

#[test]
fn a_bore_too_wide_for_its_mouthpiece_is_warned_of_by_predict() {
    let wide =
        TUBE.replace("[18.0, 22.0]", "[30.0, 35.0]").replace("diameter_mm = 20.0", "diameter_mm = 40.0");
    let bench = Bench::with(&wide);
    let mut command = Command::cargo_bin("borescribe").unwrap();
    let output = command.arg("predict").arg(bench.path("instrument.toml")).arg("--json").output().unwrap();
    let result: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert!(codes(&result).contains(&"bore-too-wide"), "{result}");
    assert!(
        result["warnings"]
            .to_string()
            .contains("The bore is 40.0 mm; the mouthpiece was made for 30.0 to 35.0 mm")
    );
    // 12.5 ml in a bore of 40 mm: 12500 / (π 20²) mm.
    // The notes of this tube are far flat of their targets at 40 mm; what is told must be a chamber, or nothing.
    assert!(result["top"]["chamber_wanted_ml"].as_f64().is_none_or(|ml| ml > 0.0), "{result}");
    assert!((result["top"]["chamber_length_mm"].as_f64().unwrap() - 9.947).abs() < 0.001);
}

/// Targets put where a chamber of 15 ml brings the notes: that chamber must be asked for.
#[test]
fn predict_tells_the_chamber_that_bore_and_holes_want() {
    let larger = file::parse(&TUBE.replace("chamber_ml = 12.5", "chamber_ml = 15.0")).unwrap();
    let mut instrument = file::parse(TUBE).unwrap();
    let wanted = predict(&larger);
    for (fingering, note) in instrument.fingerings.iter_mut().zip(&wanted) {
        fingering.cents += note.cents().unwrap();
    }
    let found = forecast(&instrument).top.chamber_wanted.unwrap();
    assert!((found.ml - 15.0).abs() < 0.01, "{found:?}");
    assert!(found.doubt_ml > 0.5 && found.doubt_ml < 10.0, "{found:?}");
}

#[test]
fn predict_tells_the_twelfth_between_fingerings_of_the_same_holes() {
    let bench = Bench::with(TUBE);
    let mut command = Command::cargo_bin("borescribe").unwrap();
    let output = command.arg("predict").arg(bench.path("instrument.toml")).arg("--json").output().unwrap();
    let result: Value = serde_json::from_slice(&output.stdout).unwrap();
    let twelfths = result["twelfths"].as_array().unwrap();
    let pair = twelfths.iter().find(|twelfth| twelfth["upper"] == "A4").unwrap();
    assert_eq!(pair["lower"], "D3");
    let hz = |name: &str| note(&result, name)["predicted_hz"].as_f64().unwrap();
    let cents = 1200.0 * (hz("A4") / hz("D3")).log2();
    assert!((pair["from_tempered_cents"].as_f64().unwrap() - (cents - 1900.0)).abs() < 1e-9);
    assert_eq!(result["vented"][0]["name"], "A4");
}

#[test]
fn a_cut_brings_a_caution_and_a_trial_that_can_be_undone() {
    let bench = Bench::with(TUBE);
    let text = bench.text(&["h2.diameter=11.5", "end.trim=2"]);
    // Eyes are protected whatever the caution's words.
    assert!(text.contains("Caution") && text.contains("goggles"), "{text}");
    assert!(text.contains("take the pad of h2"), "{text}");
    assert!(text.contains("paper collar"), "{text}");
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    let warm = bench.text(&["air.temperature=20"]);
    assert!(!warm.contains("Caution") && !warm.contains("Try first"), "{warm}");
}

#[test]
fn a_saved_copy_keeps_the_comments_and_sounds_as_was_told() {
    let bench = Bench::with(TUBE);
    let changes = ["h2.diameter=11.5", "end.trim=2", "top.trim=3", "leak.post 4=0.8", "h1.undercut=1"];
    let result = bench.json(&[&changes[..], &["--save", "next.toml"]].concat());
    assert!(codes(&result).contains(&"leaks-not-saved"), "{result}");
    let saved = std::fs::read_to_string(bench.path("next.toml")).unwrap();
    for kept in [
        "# My first tube.",
        "chamber_ml = 12.5   # weighed three times",
        "# The bore, from the shoulder.",
        "at_mm = 0           # shoulder",
        "at_mm = 895.0       # cut square",
        "at_mm = 697.0       # centre punch",
        "diameter_mm = 11.5  # last drill 11",
        "undercut_mm = 1.0",
    ] {
        assert!(saved.contains(kept), "{kept} in\n{saved}");
    }
    // The same without the leak, from the saved file.
    let told = bench.json(&["h2.diameter=11.5", "end.trim=2", "top.trim=3", "h1.undercut=1"]);
    let output = bench.run(&["next.toml", "--json"]);
    let again: Value = serde_json::from_slice(&output.stdout).unwrap();
    for name in ["C2", "D3", "Eb3", "A4"] {
        let after_hz = note(&told, name)["after_hz"].as_f64().unwrap();
        let saved_hz = note(&again, name)["before_hz"].as_f64().unwrap();
        assert!((after_hz / saved_hz - 1.0).abs() < 1e-8, "{name}: {after_hz} {saved_hz}");
    }
    assert_eq!(std::fs::read_to_string(bench.path("instrument.toml")).unwrap(), TUBE);
}

#[test]
fn windows_line_ends_stay_in_a_saved_copy() {
    let bench = Bench::with(&TUBE.replace('\n', "\r\n"));
    bench.text(&["h2.diameter=12", "--save", "next.toml"]);
    let saved = std::fs::read_to_string(bench.path("next.toml")).unwrap();
    let expected = TUBE.replace("diameter_mm = 11.0  #", "diameter_mm = 12.0  #").replace('\n', "\r\n");
    // A size that is written with = was measured: that is kept beside it.
    assert_eq!(saved.matches("measured_again = true\r\n").count(), 1);
    assert_eq!(saved.replace("measured_again = true\r\n", ""), expected);
}

#[test]
fn nothing_is_saved_over_a_file_or_as_an_impossible_instrument() {
    let bench = Bench::with(TUBE);
    let (code, said) = bench.refusal(&["h2.diameter=12", "--save", "instrument.toml"]);
    assert_eq!(code, 1);
    assert!(said.contains("already there, and nothing is written over it"), "{said}");
    assert_eq!(std::fs::read_to_string(bench.path("instrument.toml")).unwrap(), TUBE);
    let (code, said) = bench.refusal(&["h2.at=950", "--save", "next.toml"]);
    assert_eq!(code, 1);
    assert!(said.contains("can't be saved: hole \"h2\" is at 950 mm, beyond the open end"), "{said}");
    assert!(!bench.path("next.toml").exists());
    let (code, said) = bench.refusal(&["h2.diameter=12", "--save", "nowhere/next.toml"]);
    assert_eq!(code, 1);
    assert!(said.contains("can't be written"), "{said}");
}

#[test]
fn a_resonance_that_vanishes_is_called_lost() {
    // Wide open at the very top, the tube is no longer closed where the reed sits.
    let bench = Bench::with(TUBE);
    let changes = ["h1.at=20", "h1.diameter=19"];
    let result = bench.json(&changes);
    assert!(note(&result, "Eb3")["after_hz"].is_null(), "{result}");
    assert!(note(&result, "Eb3")["change_cents"].is_null());
    assert!(codes(&result).contains(&"resonance-lost"));
    assert!(note(&result, "C2")["after_hz"].is_number());
    assert!(bench.text(&changes).contains("Eb3: its resonance is lost on the way"));
}

#[test]
fn a_note_is_not_taken_for_another_that_happens_to_lie_where_it_was() {
    // A litre of chamber lengthens the tube five times: every resonance falls far, and higher ones of the
    // long tube come to lie close to where D3 was.
    let result = Bench::with(TUBE).json(&["mouthpiece.chamber=1000"]);
    for name in ["C2", "D3", "Eb3", "A4"] {
        let cents = note(&result, name)["change_cents"].as_f64();
        assert!(cents.is_none_or(|cents| cents < -1000.0), "{name}: {cents:?}");
    }
}
