//! `place` through the real program: what it prints, what it writes.

use serde_json::Value;

use crate::bench::{Bench, stderr};
use crate::bodies::second_body;

fn planned_text() -> String {
    second_body()
        .text()
        .replace("chimney_mm = 6.0\n", "chimney_mm = 6.0   # three and three\ndrilled = false\n")
}

pub fn list<'v>(result: &'v Value, key: &str) -> &'v [Value] {
    result[key].as_array().unwrap()
}

#[test]
fn place_tells_every_key_that_other_programs_rely_on() {
    let result = Bench::with(&planned_text()).json(&["place", "instrument.toml", "--json"]);
    assert_eq!(list(&result, "holes").len(), 9);
    for hole in list(&result, "holes") {
        assert!(
            hole["name"].is_string() && hole["at_mm"].is_number() && hole["diameter_mm"].is_number(),
            "{hole}"
        );
    }
    assert!(result["end_mm"].is_number() && result["spread_cents"].is_number());
    assert_eq!(list(&result, "fingerings").len(), 18);
    for fingering in list(&result, "fingerings") {
        assert!(fingering["name"].is_string() && fingering["cents"].is_number(), "{fingering}");
        assert!(fingering["spread_cents"].as_f64().unwrap() > 0.0, "{fingering}");
    }
    for warning in list(&result, "warnings") {
        assert!(warning["code"].is_string() && warning["text"].is_string());
    }
}

#[test]
fn the_written_file_predicts_what_place_told() {
    let bench = Bench::with(&planned_text());
    let placed = bench.json(&["place", "instrument.toml", "--json", "--out", "plan.toml"]);
    let predicted = bench.json(&["predict", "plan.toml", "--json"]);
    for (told, later) in list(&placed, "fingerings").iter().zip(list(&predicted, "fingerings")) {
        // A note that can be played on the bare tube is told as it is now, and beside it as it will be.
        let cents = if later["playable"] == true { &later["finished_cents"] } else { &later["cents"] };
        // What two registers were left off is what the written file wants.
        let compromise = list(&placed, "compromise").iter().find(|split| split["name"] == told["name"]);
        let moved_cents = compromise.map_or(0.0, |split| split["off_cents"].as_f64().unwrap());
        let left_cents = told["cents"].as_f64().unwrap() - moved_cents;
        assert!((left_cents - cents.as_f64().unwrap()).abs() < 1e-3, "{told} {later}");
    }
    let written = std::fs::read_to_string(bench.path("plan.toml")).unwrap();
    assert!(written.starts_with("# Bittern, as measured.") && written.contains("# three and three"));
    assert_eq!(written.matches("drilled = false").count(), 9, "{written}");
    for hole in list(&placed, "holes") {
        assert!(written.contains(&format!("at_mm = {}", hole["at_mm"])), "{hole}\n{written}");
    }
}

#[test]
fn the_air_of_a_room_is_that_of_the_tube_as_it_will_be_long() {
    let mut text = String::from(
        "format = 1\n[instrument]\nname = \"Wren\"\nprototype = \"P1\"\ndrive = \"reed\"\n[mouthpiece]\nchamber_ml = 5\n\
         [[bore]]\nat_mm = 0\ndiameter_mm = 15\n[[bore]]\nat_mm = 700\ndiameter_mm = 15\n[[hole]]\nname = \"h\"\n\
         at_mm = 300\ndiameter_mm = 8\nchimney_mm = 3\ndrilled = false\n",
    );
    for (note, open) in [("F3", ""), ("G3", "\"h\"")] {
        text += &format!("[[fingering]]\nname = \"{note}\"\nopen = [{open}]\n");
    }
    let bench = Bench::with(&text);
    let placed = bench.json(&["place", "instrument.toml", "--json", "--room", "14", "--out", "plan.toml"]);
    // The tube of 700 mm becomes one of some 460, whose air stays warmer; both are told in that air.
    let predicted = bench.json(&["predict", "plan.toml", "--json", "--room", "14"]);
    let (told, later) =
        (&list(&placed, "fingerings")[1]["cents"], &list(&predicted, "fingerings")[1]["cents"]);
    assert!((told.as_f64().unwrap() - later.as_f64().unwrap()).abs() < 0.2, "{told} {later}");
}

#[test]
fn nothing_is_written_over_a_file_that_is_there() {
    let bench = Bench::with(&planned_text());
    let before = std::fs::read(bench.path("instrument.toml")).unwrap();
    bench.refuses(
        &["place", "instrument.toml", "-q", "--out", "instrument.toml"],
        1,
        &["already there", "Choose another name"],
    );
    assert_eq!(std::fs::read(bench.path("instrument.toml")).unwrap(), before);
}

#[test]
fn progress_goes_to_stderr_and_quiet_silences_it() {
    let bench = Bench::with(&planned_text());
    let loud = bench.run(&["place", "instrument.toml", "--keep-diameters"]);
    assert!(stderr(&loud).contains("from the lowest note up"));
    assert!(String::from_utf8_lossy(&loud.stdout).contains("Mark all from one datum"));
    assert_eq!(stderr(&bench.run(&["place", "instrument.toml", "--keep-diameters", "-q"])), "");
}

/// The numbers of an attribute, in the order of the page.
fn numbers(page: &str, attribute: &str) -> Vec<f64> {
    let head = format!(" {attribute}=\"");
    page.split(&head).skip(1).map(|rest| rest.split('"').next().unwrap().parse().unwrap()).collect()
}

#[test]
fn strips_show_every_hole_at_full_size_where_it_goes() {
    let bench = Bench::with(&planned_text());
    let placed = bench.json(&["place", "instrument.toml", "--json", "--strip", "strips"]);
    for (paper, size, fresh_mm) in [
        ("a4", "width=\"210mm\" height=\"297mm\" viewBox=\"0 0 210 297\"", 223.0),
        ("letter", "width=\"215.9mm\" height=\"279.4mm\" viewBox=\"0 0 215.9 279.4\"", 205.4),
    ] {
        let mut found = Vec::new();
        for number in 1.. {
            let path = bench.path(&format!("strips/strip-{paper}-{number}.svg"));
            let Ok(page) = std::fs::read_to_string(path) else { break };
            assert!(page.contains(size), "{page}");
            // The check rulers: 100 mm level and upright.
            assert!(page.contains("h100M") && page.contains("v100M") && page.contains("100 mm</text>"));
            assert!(page.contains("no gloves"), "the caution for drilling");
            // The strip begins 52 mm below the sheet's edge.
            let from_mm = fresh_mm * f64::from(number - 1);
            found.extend(
                numbers(&page, "cy")
                    .into_iter()
                    .zip(numbers(&page, "r"))
                    .map(|(y, r)| (y - 52.0 + from_mm, 2.0 * r)),
            );
        }
        for hole in list(&placed, "holes") {
            for size in ["diameter_mm", "first_drill_mm"] {
                let Some(mm) = hole[size].as_f64() else { continue };
                let at_mm = hole["at_mm"].as_f64().unwrap();
                let drawn = |&(y, d): &(f64, f64)| (y - at_mm).abs() < 0.02 && (d - mm).abs() < 0.02;
                assert!(found.iter().any(drawn), "{hole} {size} on {paper}: {found:?}");
            }
        }
    }
}

/// Both h1 and the vent lie where pages repeat, on one paper or the other.
#[test]
fn a_hole_at_the_edge_of_a_strip_is_punched_once() {
    let text = planned_text().replace("at_mm = 461.0", "at_mm = 415.0");
    let bench = Bench::with(&text);
    let call = ["place", "instrument.toml", "-q", "--keep-diameters", "--fixed", "h1,v", "--strip", "strips"];
    bench.run(&call);
    for (paper, elsewhere) in [("a4", "v: punch on strip 2"), ("letter", "h1: punch on strip 3")] {
        let pages: Vec<String> = (1..)
            .map_while(|n| std::fs::read_to_string(bench.path(&format!("strips/strip-{paper}-{n}.svg"))).ok())
            .collect();
        let crosses: usize = pages.iter().map(|page| page.matches("class=\"cross\"").count()).sum();
        assert_eq!(crosses, 9, "{paper}");
        assert!(pages.iter().any(|page| page.contains(elsewhere)), "{paper}");
        for hole in ["h1 at", "v at"] {
            assert_eq!(pages.iter().filter(|page| page.contains(hole)).count(), 1, "{hole} on {paper}");
        }
    }
}

#[test]
fn hostile_names_stay_text_on_the_strip() {
    let text = planned_text().replace("name = \"Bittern\"", "name = \"<script>&\"");
    let bench = Bench::with(&text);
    bench.run(&["place", "instrument.toml", "-q", "--keep-diameters", "--strip", "strips"]);
    let page = std::fs::read_to_string(bench.path("strips/strip-a4-1.svg")).unwrap();
    assert!(page.contains("&lt;script&gt;&amp;") && !page.contains("<script"), "{page}");
}
