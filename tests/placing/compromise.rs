//! Two registers that share their holes: the compromise of a plan is what its file wants, so that nothing is cut
//! later to undo it.

use serde_json::Value;

use crate::bench::Bench;
use crate::bodies::second_body;
use crate::program::list;

/// A wide vent draws the registers of this body apart; places alone can't bring them together.
const WIDE_VENT: [&str; 7] = ["instrument.toml", "-q", "--keep-diameters", "--size", "v", "3", "--json"];

fn placed(bench: &Bench, command: &str, more: &[&str]) -> Value {
    bench.json(&[&[command][..], &WIDE_VENT, more].concat())
}

fn note<'v>(result: &'v Value, name: &Value) -> &'v Value {
    list(result, "fingerings").iter().find(|note| note["name"] == *name).unwrap()
}

/// Cents from target of the finished instrument.
fn finished_cents(predicted: &Value, name: &Value) -> f64 {
    let note = note(predicted, name);
    if note["playable"] == true { &note["finished_cents"] } else { &note["cents"] }.as_f64().unwrap()
}

/// Asserts that `plan.toml` wants what `placed` settled on: no note of a split pair is off any more.
fn assert_settled(bench: &Bench, placed: &Value) {
    let splits = list(placed, "compromise");
    assert!(splits.len() >= 2, "{placed}");
    let predicted = bench.json(&["predict", "plan.toml", "--json"]);
    for split in splits {
        let off_cents = note(placed, &split["name"])["cents"].as_f64().unwrap();
        assert!(off_cents.abs() > 5.0 && split["off_cents"] == off_cents.round(), "{split} {off_cents}");
        let left_cents = finished_cents(&predicted, &split["name"]);
        // Only the rounding is left.
        assert!(left_cents.abs() <= 0.51, "{split} {left_cents}");
    }
}

fn cents_in_plan(bench: &Bench) -> usize {
    std::fs::read_to_string(bench.path("plan.toml")).unwrap().matches("\ncents = ").count()
}

#[test]
fn the_planned_file_wants_the_compromise_that_the_plan_settled_on() {
    let bench = Bench::with(&second_body().text());
    let result = placed(&bench, "place", &["--out", "plan.toml"]);
    assert_settled(&bench, &result);
    // Notes that are good enough keep their target.
    assert_eq!(cents_in_plan(&bench), list(&result, "compromise").len());
    let screen = bench.run(&[&["place"][..], &WIDE_VENT[..6]].concat());
    let screen = String::from_utf8(screen.stdout).unwrap();
    let one_line = screen.split_whitespace().collect::<Vec<_>>().join(" ");
    for split in list(&result, "compromise") {
        let planned_cents = split["planned_cents"].as_f64().unwrap();
        let told = format!("{} {planned_cents:+}", split["name"].as_str().unwrap());
        assert!(one_line.contains(&told), "{told} in {screen}");
    }
}

#[test]
fn the_compromise_is_added_to_a_wanted_offset() {
    let wanted =
        second_body().text().replace("name = \"G3\"\n", "name = \"G3\"\ncents = 4.0 # as we like it\n");
    let bench = Bench::with(&wanted);
    let result = placed(&bench, "place", &["--out", "plan.toml"]);
    assert_settled(&bench, &result);
    let split = list(&result, "compromise").iter().find(|split| split["name"] == "G3").unwrap();
    let planned_cents = split["planned_cents"].as_f64().unwrap();
    assert_eq!(planned_cents, 4.0 + split["off_cents"].as_f64().unwrap());
    let plan = std::fs::read_to_string(bench.path("plan.toml")).unwrap();
    assert!(plan.contains(&format!("cents = {planned_cents:.1} # as we like it")), "{plan}");
}

#[test]
fn what_is_good_enough_is_no_compromise() {
    let bench = Bench::with(&(second_body().text() + "[goal]\nwithin_cents = 40\n"));
    let result = placed(&bench, "place", &["--out", "plan.toml"]);
    assert!(list(&result, "compromise").is_empty(), "{result}");
    assert_eq!(cents_in_plan(&bench), 0);
}

#[test]
fn what_a_kept_end_leaves_off_is_no_compromise() {
    // Both notes of the whole tube would have to fall; only the end stops them.
    let short = second_body().text().replace("at_mm = 1217", "at_mm = 1180");
    let result = placed(&Bench::with(&short), "place", &["--keep-end"]);
    let names: Vec<&Value> = list(&result, "compromise").iter().map(|split| &split["name"]).collect();
    assert!(!names.is_empty());
    for name in ["C2", "G3"].map(Value::from) {
        assert!(note(&result, &name)["cents"].as_f64().unwrap() > 20.0, "{result}");
        assert!(!names.contains(&&name), "{result}");
    }
}

#[test]
fn a_layout_that_is_carried_over_keeps_its_compromise_too() {
    let bench = Bench::with(&second_body().text());
    let result = placed(&bench, "scale", &["--higher", "2", "--out", "plan.toml"]);
    assert_settled(&bench, &result);
}

#[test]
fn a_weight_in_the_file_counts_as_one_that_is_given_and_none_breaks_nothing() {
    let weighted =
        |weight: &str| second_body().text().replace("name = \"C2\"\n", &format!("name = \"C2\"\n{weight}\n"));
    let places =
        |result: &Value| list(result, "holes").iter().map(|hole| hole["at_mm"].clone()).collect::<Vec<_>>();
    let given = placed(&Bench::with(&second_body().text()), "place", &["--weight", "C2", "5"]);
    let in_file = placed(&Bench::with(&weighted("weight = 5")), "place", &[]);
    assert_eq!(places(&in_file), places(&given));
    let overruled = placed(&Bench::with(&weighted("weight = 50")), "place", &["--weight", "C2", "5"]);
    assert_eq!(places(&overruled), places(&given));
    let off = |result: &Value| note(result, &Value::from("C2"))["cents"].as_f64().unwrap().abs();
    let without = placed(&Bench::with(&weighted("weight = 0")), "place", &[]);
    assert!(off(&without) > off(&in_file), "{without}");
}
