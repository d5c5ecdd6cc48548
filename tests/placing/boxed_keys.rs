//! Keys in the maker's box: which hole each goes to, that no hole gets a pad that doesn't serve it, and what is said of
//! the rest. The body is a contrabass of 24 mm with eight tone holes and a vent.

use borescribe::instrument::bench_limits::{LEAST_LIFT_SHARE, covered_mm};
use borescribe::instrument::file::parse;
use borescribe::instrument::model::Instrument;
use borescribe::placing::limits::Limits;
use borescribe::placing::place::{Placed, place};
use borescribe::units::Note;
use proptest::prelude::*;
use serde_json::Value;

use crate::bench::Bench;
use crate::program::list;

/// MIDI numbers of the lower register; the first has every hole closed.
const NOTES: [i32; 9] = [25, 27, 29, 30, 32, 34, 35, 37, 39];
/// From the top down.
const SIZES_MM: [f64; 8] = [10.0, 10.0, 11.0, 12.0, 12.0, 13.0, 14.0, 15.0];

/// Salvaged from three instruments: sizes as they come, some with posts that allow little.
const SALVAGED: &str = r#"
[[key]]
name = "big"
pad_diameter_mm = 21
lift_mm = 5
count = 3
[[key]]
name = "middle"
pad_diameter_mm = 18
lift_mm = 4.5
from_mm = 800
to_mm = 1400      # the rod is that long
count = 2
[[key]]
name = "side"
pad_diameter_mm = 16
lift_mm = 4
from_mm = 900
to_mm = 1090
angle_deg = 40
[[key]]
name = "low"
pad_diameter_mm = 24
lift_mm = 6
from_mm = 1900
to_mm = 2100
[[key]]
pad_diameter_mm = 16
lift_mm = 4
[[key]]
name = "speaker"
pad_diameter_mm = 9
lift_mm = 2
from_mm = 200
to_mm = 600
vent = true
[[key]]
name = "clarinet"
pad_diameter_mm = 8
lift_mm = 3
count = 2
"#;

/// The planned body with one register, or with two and the vent; `hole_lines` stand under every tone hole.
fn plan(registers: i32, hole_lines: &str, keys: &str) -> String {
    let mut text = "format = 1\n[instrument]\nname = \"Contrabass\"\nprototype = \"P1\"\ndrive = \"reed\"\n\
        [mouthpiece]\nchamber_ml = 31\n[[bore]]\nat_mm = 0\ndiameter_mm = 24\n[[bore]]\nat_mm = 2400\ndiameter_mm = 24\n"
        .to_string();
    for (index, size_mm) in SIZES_MM.iter().enumerate() {
        text += &format!(
            "[[hole]]\nname = \"h{}\"\nat_mm = {}\ndiameter_mm = {size_mm}\nchimney_mm = 6\ndrilled = false\n{hole_lines}",
            index + 1,
            900 + 160 * index
        );
    }
    if registers > 1 {
        text += "[[hole]]\nname = \"v\"\nat_mm = 460\ndiameter_mm = 2\nchimney_mm = 10\nvent = true\ndrilled = false\n";
    }
    for register in 1..=registers {
        for (count, midi) in NOTES.iter().enumerate() {
            let note = Note { midi: midi + 19 * (register - 1) };
            let mut open: Vec<String> = (9 - count..=8).map(|hole| format!("\"h{hole}\"")).collect();
            open.extend((register == 2).then(|| "\"v\"".to_string()));
            text += &format!(
                "[[fingering]]\nname = \"{note} r{register}\"\nnote = \"{note}\"\nregister = {register}\nopen = [{}]\n",
                open.join(", ")
            );
        }
    }
    text + keys
}

fn placed(text: &str, limits: &Limits) -> Placed {
    place(&parse(text).unwrap(), limits, &|_| {}).unwrap()
}

/// Every promise about keys that holds for any box; what it can't hold must be said.
fn assert_served(placed: &Placed, boxed: &Instrument) {
    let told: Vec<(&str, &str)> = placed.warnings.iter().map(|w| (w.code, w.text.as_str())).collect();
    let tells = |code: &str, hole: &str| told.iter().any(|(c, text)| *c == code && text.contains(hole));
    let mut used = vec![0; boxed.keys.len()];
    for one in &placed.keys.uses {
        let (hole, key) = (&placed.after.holes[one.hole], &boxed.keys[one.key]);
        used[one.key] += 1;
        assert_eq!(hole.vent, key.vent, "{hole:?} {key:?}");
        assert_eq!(hole.pad.unwrap().diameter_mm, key.pad_diameter_mm);
        assert!(hole.diameter_mm <= covered_mm(hole).unwrap() + 1e-9, "not covered: {hole:?}");
        assert!(
            hole.diameter_mm * LEAST_LIFT_SHARE <= hole.pad.unwrap().lift_mm + 1e-9,
            "opens too little: {hole:?}"
        );
        let within = key.from_mm.is_none_or(|mm| hole.at_mm >= mm - 0.02)
            && key.to_mm.is_none_or(|mm| hole.at_mm <= mm + 0.02);
        assert!(within || tells("out-of-reach", &hole.name), "{hole:?} {key:?} {told:?}");
        assert_eq!(hole.angle_deg, key.angle_deg.unwrap_or(boxed.holes[one.hole].angle_deg));
    }
    for (key, count) in used.iter().enumerate() {
        let left = placed.keys.left.iter().find(|(other, _)| *other == key).map_or(0, |(_, left)| *left);
        assert_eq!(count + left, boxed.keys[key].count, "{:?}", boxed.keys[key]);
    }
    for (index, hole) in boxed.holes.iter().enumerate().filter(|(_, hole)| !hole.finger) {
        let has = placed.keys.key_of(index).is_some();
        assert!(has || tells("no-key", &hole.name), "{}: {told:?}", hole.name);
    }
}

#[test]
fn salvaged_keys_go_where_they_reach_and_grow_toward_the_open_end() {
    let text = plan(2, "", SALVAGED);
    let laid = placed(&text, &Limits::default());
    assert_served(&laid, &parse(&text).unwrap());
    let name = |hole: usize| laid.keys.key_of(hole).map(|key| laid.before.keys[key].name.as_str());
    let names: Vec<Option<&str>> = (0..9).map(name).collect();
    assert_eq!(names[0..2].iter().filter(|name| **name == Some("side")).count(), 1, "{names:?}");
    assert!(names[0..2].contains(&Some("key 5")), "{names:?}");
    assert_eq!(names[2..4], [Some("middle"); 2]);
    assert_eq!(names[4..7], [Some("big"); 3]);
    assert_eq!(names[7..9], [Some("low"), Some("speaker")]);
    let left: Vec<&str> =
        laid.keys.left.iter().map(|(key, _)| laid.before.keys[*key].name.as_str()).collect();
    assert_eq!(left, ["clarinet"]);
    assert!(
        laid.after.holes[..8].windows(2).all(|pair| pair[0].at_mm < pair[1].at_mm),
        "holes changed places"
    );
    let sizes: Vec<f64> = laid.after.holes[..8].iter().map(|hole| hole.diameter_mm).collect();
    for pair in sizes.windows(2) {
        assert!(pair[1] >= pair[0] - 0.5 && pair[1] <= 1.35 * pair[0], "{sizes:?}");
    }
}

#[test]
fn a_note_that_a_key_keeps_from_its_place_names_the_key_and_its_end() {
    let text = plan(1, "", SALVAGED).replace("from_mm = 1900\nto_mm = 2100", "from_mm = 1900\nto_mm = 2030");
    let laid = placed(&text, &Limits { keep_sizes: true, ..Limits::default() });
    let told: Vec<&str> = laid.warnings.iter().map(|w| w.text.as_str()).collect();
    assert!((laid.after.holes[7].at_mm - 2030.0).abs() < 0.02, "{:?}", laid.after.holes[7]);
    assert!(told.iter().any(|text| text.contains("the key low reaches only to 2030 mm")), "{told:?}");
}

#[test]
fn a_hole_that_a_key_keeps_too_low_and_too_small_is_told_with_both_numbers() {
    let text = plan(1, "", SALVAGED).replace("from_mm = 1900\nto_mm = 2100", "from_mm = 2115");
    let laid = placed(&text, &Limits::default());
    let told: Vec<&str> = laid.warnings.iter().map(|w| w.text.as_str()).collect();
    let words = "the key low reaches no farther up than 2115 mm, and at 18 mm it is as wide as may be (the key low must open \
        a third of it: 18 mm)";
    assert!(told.iter().any(|text| text.contains(words)), "{told:?}");
}

#[test]
fn what_no_key_serves_is_told_with_its_reason_and_numbers() {
    let keys = "[[key]]\nname = \"tiny\"\npad_diameter_mm = 8\nlift_mm = 3\n\
        [[key]]\nname = \"far\"\npad_diameter_mm = 20\nlift_mm = 5\nfrom_mm = 100\nto_mm = 300\n";
    let laid = placed(&plan(2, "", keys), &Limits::default());
    assert!(laid.keys.uses.is_empty());
    let told = |hole: &str| {
        let head = format!("{hole} has no key: ");
        laid.warnings.iter().find(|w| w.code == "no-key" && w.text.starts_with(&head)).unwrap().text.clone()
    };
    // A pad of 8 mm less a rim of 1.5 and an overlap of 1 on each side; a quarter of the bore is 6 mm.
    assert!(
        told("h5").contains("the key tiny serves 3 mm at most, and the hole needs 6 at least"),
        "{}",
        told("h5")
    );
    assert!(
        told("h5").contains("the key far reaches from 100 to 300 mm, and the hole goes to 1"),
        "{}",
        told("h5")
    );
    assert!(told("v").contains("the box has no vent key"), "{}", told("v"));
}

#[test]
fn holes_of_fingers_and_holes_that_are_kept_take_no_key() {
    let text =
        plan(1, "", SALVAGED).replacen("drilled = false\n", "drilled = false\nclosed_by = \"finger\"\n", 1);
    let laid = placed(&text, &Limits { fixed: vec![3], keep_sizes: true, ..Limits::default() });
    for hole in [0, 3] {
        assert_eq!((laid.keys.key_of(hole), laid.after.holes[hole].pad), (None, None));
        assert!(!laid.keys.without.iter().any(|none| none.hole == hole));
    }
}

#[test]
fn a_size_that_the_maker_asks_for_gets_a_key_that_covers_it_or_none() {
    let limits = Limits { sizes_mm: vec![(2, 15.5), (7, 21.0)], keep_sizes: true, ..Limits::default() };
    let laid = placed(&plan(1, "", SALVAGED), &limits);
    assert_eq!(laid.keys.key_of(2).map(|key| laid.before.keys[key].name.as_str()), Some("big"));
    let why = &laid.keys.without.iter().find(|none| none.hole == 7).unwrap().why;
    assert!(why.contains("the key clarinet covers 3 mm, and the hole is to have 21"), "{why}");
}

#[test]
fn the_program_tells_and_writes_which_key_goes_where() {
    let bench = Bench::with(&plan(1, "", SALVAGED));
    let told = bench.json(&["place", "instrument.toml", "--json", "--out", "plan.toml"]);
    let key = |name: &str| {
        let hole = list(&told, "holes").iter().find(|hole| hole["name"] == name).unwrap();
        (hole["key"].as_str().map(str::to_string), hole["angle_deg"].as_f64().unwrap())
    };
    assert_eq!(key("h8"), (Some("low".to_string()), 0.0));
    let used = told["keys"]["used"].as_array().unwrap();
    assert_eq!(used.len(), 8);
    let left: Vec<(&Value, &Value)> = told["keys"]["left_over"]
        .as_array()
        .unwrap()
        .iter()
        .map(|key| (&key["key"], &key["count"]))
        .collect();
    assert_eq!(left, [(&"speaker".into(), &1.into()), (&"clarinet".into(), &2.into())]);
    let aside = list(&told, "holes").iter().find(|hole| hole["key"] == "side").unwrap();
    assert_eq!(aside["angle_deg"], 40.0);
    // The written plan has pads and angles of the keys, the keys with their remarks, and is placed alike again.
    let written = std::fs::read_to_string(bench.path("plan.toml")).unwrap();
    assert!(written.contains("to_mm = 1400      # the rod is that long"), "{written}");
    let plan = parse(&written).unwrap();
    let side = plan.holes.iter().find(|hole| hole.name == aside["name"].as_str().unwrap()).unwrap();
    assert_eq!((side.angle_deg, side.pad.unwrap().diameter_mm, side.pad.unwrap().lift_mm), (40.0, 16.0, 4.0));
    assert_eq!(plan.keys, parse(&self::plan(1, "", SALVAGED)).unwrap().keys);
    let text = String::from_utf8(bench.run(&["place", "plan.toml", "-q"]).stdout).unwrap();
    for words in [
        "  key\n",
        "low\n",
        "Keys: 8 of 11 are used. Left over: speaker, clarinet (2 of them).",
        "   40°  side",
    ] {
        assert!(text.contains(words), "{words}\n{text}");
    }
    let book = bench.run(&["new", "book", "--plan", "plan.toml"]);
    assert!(book.status.success());
    assert!(
        std::fs::read_to_string(bench.path("book/instrument.toml"))
            .unwrap()
            .contains("# the rod is that long")
    );
}

#[test]
fn own_pads_leave_the_vent_alone_open_far_enough_and_let_sizes_grow_smoothly() {
    let text = plan(2, "pad_diameter_mm = 21\npad_lift_mm = 8\n", "")
        .replace("vent = true\n", "vent = true\npad_diameter_mm = 7\npad_lift_mm = 2\n");
    let limits = Limits { pads_mm: vec![16.0, 18.0, 21.0, 24.0, 26.0, 28.0], ..Limits::default() };
    let laid = placed(&text, &limits);
    assert_eq!(laid.after.holes[8].pad.unwrap().diameter_mm, 7.0);
    let sizes: Vec<f64> = laid.after.holes[..8].iter().map(|hole| hole.diameter_mm).collect();
    assert!(sizes.windows(2).all(|pair| pair[1] <= 1.35 * pair[0] && pair[1] >= pair[0] - 0.5), "{sizes:?}");
    let low = placed(&text.replace("pad_lift_mm = 8", "pad_lift_mm = 3.5"), &limits);
    for hole in &low.after.holes[..8] {
        assert!(hole.diameter_mm <= 10.5, "{hole:?}");
    }
    assert!(low.warnings.iter().all(|warning| warning.code != "low-lift"), "{:?}", low.warnings);
}

/// A box of up to ten kinds of keys, of any size, reach and lift.
fn any_box() -> impl Strategy<Value = String> {
    let reach = prop::option::of((0.0..2300.0_f64, 0.0..800.0_f64));
    let key = (
        5.0..30.0_f64,
        reach,
        prop::option::of(0.5..8.0_f64),
        prop::option::of(-180.0..180.0_f64),
        1..4_usize,
    );
    prop::collection::vec((key, prop::bool::weighted(0.15)), 1..10).prop_map(|keys| {
        keys.into_iter()
            .map(|((pad_mm, reach, lift, angle, count), vent)| {
                let mut text =
                    format!("[[key]]\npad_diameter_mm = {pad_mm:.1}\ncount = {count}\nvent = {vent}\n");
                if let Some((from_mm, long_mm)) = reach {
                    text += &format!("from_mm = {from_mm:.0}\nto_mm = {:.0}\n", from_mm + long_mm);
                }
                text += &lift.map_or(String::new(), |mm| format!("lift_mm = {mm:.1}\n"));
                text + &angle.map_or(String::new(), |degrees| format!("angle_deg = {degrees:.0}\n"))
            })
            .collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 10, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_box_whatever_gives_a_hole_a_pad_that_does_not_serve_it_or_a_place_out_of_reach(keys in any_box()) {
        let text = plan(1, "", &keys);
        assert_served(&placed(&text, &Limits::default()), &parse(&text).unwrap());
    }
}
