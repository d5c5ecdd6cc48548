//! How much an instrument file and a plan can hold, and what the maker reads beyond that.

use borescribe::instrument::counts::{COUNTED, Counted, MOST_SIZES, MOST_WISHES};
use serde_json::Value;

use crate::bench::{Bench, REED_PIPE, stderr};

/// A file with the most of everything, and `more` entries of one list besides.
fn largest(longer: Option<(&str, usize)>) -> String {
    const LENGTH_MM: f64 = 2400.0;
    let mut text = "format = 1\n[instrument]\nname = \"Largest\"\nprototype = \"P1\"\ndrive = \"reed\"\n\
        [mouthpiece]\nchamber_ml = 31\n"
        .to_string();
    let more = |counted: &Counted| longer.filter(|(key, _)| *key == counted.key).map_or(0, |(_, more)| more);
    let holes = COUNTED.iter().find(|counted| counted.key == "hole").map_or(0, |counted| counted.most);
    for counted in &COUNTED {
        let count = counted.most + more(counted);
        for i in 0..count {
            let share = i as f64 / (count - 1) as f64;
            let at_mm = 460.0 + share * (LENGTH_MM - 560.0);
            text += &match counted.key {
                "bore" => {
                    let diameter_mm = 24.0 + 0.1 * (2.1 * i as f64).sin();
                    format!("[[bore]]\nat_mm = {}\ndiameter_mm = {diameter_mm:.3}\n", share * LENGTH_MM)
                }
                "hole" => format!(
                    "[[hole]]\nname = \"k{i}\"\nat_mm = {at_mm}\ndiameter_mm = 12.0\nchimney_mm = 6.0\n\
                     pad_diameter_mm = 20.0\npad_lift_mm = 5.0\n"
                ),
                "leak_site" => format!("[[leak_site]]\nname = \"p{i}\"\nat_mm = {at_mm}\nwall_mm = 3.0\n"),
                "key" => "[[key]]\npad_diameter_mm = 20.0\n".to_string(),
                "bend" => format!("[[bend]]\nat_mm = {at_mm}\nradius_mm = 0\nangle_deg = 20\n"),
                _ => {
                    let open: Vec<String> =
                        (0..i % holes).map(|open| format!("\"k{}\"", holes - 1 - open)).collect();
                    format!("[[fingering]]\nname = \"f{i}\"\nnote = \"C3\"\nopen = [{}]\n", open.join(", "))
                }
            };
        }
    }
    text
}

#[test]
fn the_largest_file_that_is_allowed_is_predicted_whole() {
    let bench = Bench::with(&largest(None));
    let told = bench.json(&["predict", "instrument.toml", "--json"]);
    let fingerings = told["fingerings"].as_array().unwrap();
    assert_eq!(fingerings.len(), 80);
    assert!(fingerings.iter().all(|fingering| fingering["predicted_hz"].as_f64().unwrap() > 20.0));
}

/// One problem only: what is beyond the limit is still known by its name.
#[test]
fn one_more_of_anything_is_refused_with_its_line_and_what_to_do() {
    for counted in &COUNTED {
        let text = largest(Some((counted.key, 1)));
        let head = format!("[[{}]]", counted.key);
        let beyond = text.lines().enumerate().filter(|(_, line)| *line == head).nth(counted.most);
        let line = beyond.map(|(index, _)| index + 1).unwrap();
        let says = [
            "has 1 problem".to_string(),
            format!(
                "there are {} entries {head}; an instrument can have at most {}",
                counted.most + 1,
                counted.most
            ),
            format!("instrument.toml:{line}:"),
        ];
        let says: Vec<&str> = says.iter().map(String::as_str).collect();
        let bench = Bench::with(&text);
        for command in ["predict", "check", "place", "scale"] {
            bench.refuses(&[command, "instrument.toml"], 1, &says);
        }
    }
}

#[test]
fn the_page_of_the_file_tells_every_limit() {
    let page = include_str!("../../docs/instrument-file.md");
    let words = ["holes", "fingerings", "leak sites", "points of the bore", "bends", "keys"];
    for (counted, words) in COUNTED.iter().zip(words) {
        let told = format!("{} {words}", counted.most);
        assert!(page.replace('\n', " ").contains(&told), "{told}");
    }
    assert!(page.contains(&format!("{MOST_SIZES} drills")));
}

#[test]
fn more_drills_and_wishes_than_anybody_has_are_refused() {
    let drills = |count: usize| {
        let list: Vec<String> = (0..count).map(|i| format!("{:.2}", 1.0 + 0.05 * i as f64)).collect();
        format!("{REED_PIPE}[workshop]\ndrills_mm = [{}]\n", list.join(", "))
    };
    let bench = Bench::with(&drills(MOST_SIZES));
    bench.json(&["predict", "instrument.toml", "--json"]);
    let line = REED_PIPE.lines().count() + 2;
    let says = [
        format!("drills_mm has {} drills; at most {MOST_SIZES} are read", MOST_SIZES + 1),
        format!(":{line}:"),
    ];
    Bench::with(&drills(MOST_SIZES + 1)).refuses(&["predict", "instrument.toml"], 1, &[&says[0], &says[1]]);

    let mut arguments = vec!["place", "instrument.toml"];
    for _ in 0..=MOST_WISHES {
        arguments.extend(["--weight", "F2", "2"]);
    }
    bench.refuses(
        &arguments,
        2,
        &["--weight is given 101 times; at most 100 are read", "Keep those that matter."],
    );
    let pads = vec!["18"; MOST_SIZES + 1].join(",");
    bench.refuses(&["place", "instrument.toml", "--pads", &pads], 2, &["--pads is given 201 times"]);
}

/// The hole sizes of a layout that was carried to another bore with every size kept in proportion.
fn carried_sizes(workshop: &str) -> (Bench, Vec<f64>) {
    let bench = Bench::with(&format!("{REED_PIPE}{workshop}"));
    let arguments = [
        "scale",
        "instrument.toml",
        "-q",
        "--new-bore",
        "17.3",
        "--keep-diameters",
        "--json",
        "--out",
        "new.toml",
    ];
    let told = bench.json(&arguments);
    let sizes = told["holes"].as_array().unwrap().iter().map(|hole| hole["diameter_mm"].as_f64().unwrap());
    let sizes = sizes.collect();
    let cents = |told: &Value, key: &str| -> Vec<f64> {
        told["fingerings"].as_array().unwrap().iter().map(|note| note[key].as_f64().unwrap()).collect()
    };
    // The plan's notes are those of the sizes that are told.
    let text =
        std::fs::read_to_string(bench.path("new.toml")).unwrap().replace("drilled = false", "drilled = true");
    std::fs::write(bench.path("drilled.toml"), text).unwrap();
    let predicted = bench.json(&["predict", "drilled.toml", "--json"]);
    for (told, predicted) in cents(&told, "cents").iter().zip(cents(&predicted, "cents")) {
        assert!((told - predicted).abs() < 1e-3, "{told} {predicted}");
    }
    (bench, sizes)
}

/// 12 mm in a bore of 20 mm are 10.38 mm in one of 17.3 mm.
#[test]
fn sizes_that_are_carried_over_can_be_made() {
    assert_eq!(carried_sizes("").1, [10.4; 3]);
    assert_eq!(carried_sizes("[workshop]\ndrills_mm = [10.0, 10.5]\n").1, [10.5; 3]);
    assert_eq!(carried_sizes("[workshop]\ndrills_mm = [6.0, 11.0]\n").1, [10.4; 3]);
}

/// What the parser of the file says is for programmers; each of these once came through.
#[test]
fn no_words_of_the_parser_reach_the_maker() {
    for (good, bad, says) in [
        ("format = 1\n\n", "format = 1\r", "this line ends in a way"),
        ("format = 1\n", "format = 1 # a\u{1}b\n", "the remark holds a sign that can't be seen"),
        ("at_mm = 0.0", "at_mm == 0.0", "an equals sign too many"),
        ("at_mm = 0.0", "at_mm = -0x1", "this is no plain number"),
        ("at_mm = 0.0", "at_mm = 0X1", "this is no plain number"),
        ("at_mm = 0.0", "= 0.0", "nothing stands before the equals sign"),
        ("at_mm = 0.0", "\"\"\"at\"\"\" = 0.0", "a key stands in three quotes"),
        ("\"h1\"", "\"\\u12\"", "a backslash stands between the quotes"),
        ("\"h1\"", "\"\\q\"", "a backslash stands between the quotes"),
        ("[[hole]]", "[[]]", "nothing stands between the brackets"),
        ("chamber_ml = 12.5", "chamber_ml = {a=}", "curly brackets"),
        ("chamber_ml = 12.5", "chamber_ml = {a}", "curly brackets"),
        ("format = 1\n", "{\"format\": 1}\n", "this can't be read"),
    ] {
        let bench = Bench::with(&REED_PIPE.replacen(good, bad, 1));
        bench.refuses(&["predict", "instrument.toml"], 1, &[says, "instrument.toml:"]);
        let told = stderr(&bench.run(&["predict", "instrument.toml"]));
        for raw in ["expected", "unquoted", "radix", "recurse", "multi-line", "(", "inline table"] {
            assert!(!told.contains(raw), "\"{raw}\" is in:\n{told}");
        }
    }
}
