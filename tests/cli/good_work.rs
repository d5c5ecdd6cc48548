//! What the program does with good input: the keys that other programs rely on, and good manners.

use serde_json::Value;

use crate::bench::{Bench, REED_PIPE, reed_tone, stderr, with_stdout_closed};

const ALL: [&str; 4] = ["C#2", "D#2", "F2", "G2"];

/// Asserts that `object` has each key with a value of one of the kinds (`number|null`).
#[track_caller]
fn assert_keys(object: &Value, keys: &[(&str, &str)]) {
    for (key, kinds) in keys {
        let value = object.get(key).unwrap_or_else(|| panic!("{key} is missing in {object}"));
        let kind = match value {
            Value::Null => "null",
            Value::Bool(_) => "flag",
            Value::Number(_) => "number",
            Value::String(_) => "text",
            Value::Array(_) => "list",
            Value::Object(_) => "object",
        };
        assert!(kinds.split('|').any(|known| known == kind), "{key} is {value}, not {kinds}");
    }
}

fn list<'a>(object: &'a Value, key: &str) -> &'a [Value] {
    object[key].as_array().unwrap_or_else(|| panic!("{key} is no list in {object}"))
}

const UNDERTONE: [(&str, &str); 4] =
    [("hz", "number"), ("ratio", "text|null"), ("db", "number"), ("kind", "text")];
const TROUBLE: [(&str, &str); 2] = [("code", "text"), ("text", "text")];

#[test]
fn check_tells_every_key_that_other_programs_rely_on() {
    let bench = Bench::new();
    bench.play(&ALL);
    let json = bench.json(&["check", "instrument.toml", "takes/", "--json"]);
    assert_keys(
        &json,
        &[
            ("fingerings", "list"),
            ("findings", "list"),
            ("next", "object"),
            ("cuts", "list"),
            ("fit", "object"),
        ],
    );
    let names: Vec<&str> = list(&json, "fingerings").iter().map(|f| f["name"].as_str().unwrap()).collect();
    assert_eq!(names, ALL);
    for fingering in list(&json, "fingerings") {
        assert_keys(
            fingering,
            &[
                ("target_hz", "number"),
                ("predicted_hz", "number"),
                ("explained_hz", "number"),
                ("measured_hz", "number"),
                ("sd_cents", "number"),
                ("cents_from_target", "number"),
                ("cents_from_predicted", "number"),
                ("sounded_register", "number"),
                ("takes", "list"),
                ("undertones", "list"),
                ("troubles", "list"),
            ],
        );
        assert_eq!(list(fingering, "takes").len(), 1);
        for take in list(fingering, "takes") {
            assert_keys(
                take,
                &[("file", "text"), ("cents", "number"), ("used", "flag"), ("why", "text|null")],
            );
        }
        list(fingering, "undertones").iter().for_each(|entry| assert_keys(entry, &UNDERTONE));
        list(fingering, "troubles").iter().for_each(|entry| assert_keys(entry, &TROUBLE));
    }
    assert!(!list(&json, "findings").is_empty());
    for finding in list(&json, "findings") {
        assert_keys(
            finding,
            &[
                ("cause", "text"),
                ("where", "text|null"),
                ("group", "list"),
                ("weight", "number"),
                ("amount", "object"),
                ("text", "text"),
                ("evidence", "list"),
                ("test", "text|null"),
            ],
        );
        let weight = finding["weight"].as_f64().unwrap();
        assert!((0.0..=1.0).contains(&weight), "{finding}");
        for other in list(finding, "group") {
            assert_keys(other, &[("cause", "text"), ("where", "text|null")]);
        }
    }
    let weights: Vec<f64> = list(&json, "findings").iter().map(|f| f["weight"].as_f64().unwrap()).collect();
    assert!(weights.is_sorted_by(|a, b| a >= b), "{weights:?}");
    let next = &json["next"];
    assert_keys(
        next,
        &[
            ("do", "text"),
            ("where", "text|null"),
            ("text", "text"),
            ("stand_in", "text|null"),
            ("retake", "list"),
        ],
    );
    assert!(
        ["seal", "press", "lift", "re-record", "cut", "nothing"].contains(&next["do"].as_str().unwrap()),
        "{next}"
    );
    assert_keys(&json["fit"], &[("rms_before_cents", "number"), ("rms_after_cents", "number")]);
}

#[test]
fn an_instrument_that_sounds_as_predicted_is_healthy() {
    let bench = Bench::new();
    bench.play(&ALL);
    let json = bench.json(&["check", ".", "--json"]);
    assert_eq!(json["findings"][0]["cause"], "healthy", "{}", json["findings"]);
    for fingering in list(&json, "fingerings") {
        let off = fingering["cents_from_predicted"].as_f64().unwrap();
        assert!(off.abs() < 0.3, "{fingering}");
    }
    let scripted = bench.run(&["check", ".", "--findings-exit"]);
    assert_eq!(scripted.status.code(), Some(0), "{}", stderr(&scripted));
}

#[test]
fn a_plain_miss_of_the_target_is_answered_with_cuts_that_have_all_keys() {
    // h2 believed and drilled at 9 mm: the note is flat, the instrument healthy.
    let small =
        REED_PIPE.replacen("at_mm = 925.0\ndiameter_mm = 12.0", "at_mm = 925.0\ndiameter_mm = 8.0", 1);
    let bench = Bench::with(&small);
    bench.play(&ALL);
    let json = bench.json(&["check", ".", "--json"]);
    let cuts = list(&json, "cuts");
    assert!(!cuts.is_empty(), "{json}");
    for cut in cuts {
        assert_keys(
            cut,
            &[
                ("where", "text|null"),
                ("what", "text"),
                ("change", "list"),
                ("full", "list"),
                ("tool", "text|null"),
                ("undo", "flag"),
                ("stand_in", "text|null"),
                ("effects", "list"),
                ("text", "text"),
            ],
        );
        for effect in list(cut, "effects") {
            assert_keys(effect, &[("name", "text"), ("before_cents", "number"), ("after_cents", "number")]);
        }
    }
}

#[test]
fn predict_tells_every_key_that_other_programs_rely_on() {
    let json = Bench::new().json(&["predict", "instrument.toml", "--json"]);
    assert_keys(&json, &[("instrument", "text"), ("fingerings", "list"), ("warnings", "list")]);
    assert_eq!(list(&json, "fingerings").len(), 4);
    for fingering in list(&json, "fingerings") {
        assert_keys(
            fingering,
            &[
                ("name", "text"),
                ("target_hz", "number"),
                ("predicted_hz", "number"),
                ("cents", "number"),
                ("resonances", "list"),
            ],
        );
        let hz: Vec<f64> = list(fingering, "resonances").iter().map(|r| r["hz"].as_f64().unwrap()).collect();
        assert!(hz.len() >= 2 && hz.is_sorted(), "{hz:?}");
        for resonance in list(fingering, "resonances") {
            assert_keys(resonance, &[("hz", "number"), ("magnitude", "number"), ("q", "number")]);
        }
    }
}

#[test]
fn measure_tells_every_key_in_the_order_of_the_files() {
    let bench = Bench::new();
    bench.wav("b.wav", &reed_tone(110.0, 2.0));
    bench.wav("a.wav", &reed_tone(77.0, 2.0));
    let json = bench.json(&["measure", "b.wav", "a.wav", "--json"]);
    let takes = list(&json, "takes");
    assert_eq!((&takes[0]["file"], &takes[1]["file"]), (&"b.wav".into(), &"a.wav".into()));
    for (take, hz) in takes.iter().zip([110.0, 77.0]) {
        assert_keys(
            take,
            &[
                ("pitch_hz", "number"),
                ("sd_cents", "number"),
                ("wander_cents", "number"),
                ("note", "text"),
                ("cents", "number"),
                ("voiced", "flag"),
                ("confidence", "number"),
                ("steady", "list"),
                ("level_dbfs", "number"),
                ("partials", "list"),
                ("undertones", "list"),
                ("troubles", "list"),
            ],
        );
        let off = 1200.0 * (take["pitch_hz"].as_f64().unwrap() / hz).log2();
        assert!(off.abs() < 0.3, "{take}");
        assert!(list(take, "partials").len() > 3, "{take}");
        for partial in list(take, "partials") {
            assert_keys(partial, &[("n", "number"), ("hz", "number"), ("db", "number")]);
        }
        assert_eq!(list(take, "steady").len(), 2);
    }
}

#[test]
fn a_warmer_room_sounds_sharper() {
    let bench = Bench::new();
    let hz = |room: &str| {
        let json = bench.json(&["predict", ".", "--room", room, "--json"]);
        json["fingerings"][0]["predicted_hz"].as_f64().unwrap()
    };
    let cents = 1200.0 * (hz("25") / hz("15")).log2();
    // Ten degrees of air alone are 30 cents; the breath inside evens some of it out.
    assert!((10.0..30.0).contains(&cents), "{cents}");
    bench.play(&ALL);
    let checked = bench.json(&["check", ".", "--room", "15", "--json"]);
    assert_eq!(checked["fingerings"][0]["predicted_hz"].as_f64().unwrap(), hz("15"));
    let freezing = bench.json(&["predict", ".", "--room", "-5", "--json"]);
    assert!(freezing["fingerings"][0]["predicted_hz"].as_f64().unwrap() < hz("15"));
}

#[test]
fn a_take_of_any_name_is_filed_where_the_maker_says() {
    let bench = Bench::new();
    bench.play(&ALL);
    std::fs::rename(bench.path("takes/F2.wav"), bench.path("Recording 17.wav")).unwrap();
    let json = bench.json(&["check", ".", "takes", "--as", "f2", "Recording 17.wav", "--json"]);
    assert_eq!(json["fingerings"][2]["takes"][0]["file"], "Recording 17.wav");
    assert!(json["fingerings"][2]["measured_hz"].is_f64());
}

#[test]
fn a_fingering_that_opens_a_planned_hole_is_listed_as_not_playable_yet() {
    let planned = REED_PIPE.replacen("at_mm = 815.0\n", "at_mm = 815.0\ndrilled = false\n", 1);
    let bench = Bench::with(&planned);
    bench.play(&["C#2", "D#2", "F2"]);
    let json = bench.json(&["check", ".", "--json"]);
    assert_eq!(json["fingerings"][3]["playable"], false);
    assert!(json["fingerings"][3]["measured_hz"].is_null());
    assert_ne!(json["next"]["where"], "h3", "{}", json["next"]);
    let text = String::from_utf8(bench.run(&["check", "."]).stdout).unwrap();
    assert!(text.contains("not playable yet"), "{text}");
}

#[test]
fn an_instrument_without_fingerings_says_what_to_add() {
    let bare = &REED_PIPE[..REED_PIPE.find("[[fingering]]").unwrap()];
    let bench = Bench::with(bare);
    let output = bench.run(&["predict", "."]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert!(String::from_utf8_lossy(&output.stdout).contains("[[fingering]]"));
    bench.wav("takes/C#2.wav", &reed_tone(69.0, 1.0));
    bench.refuses(&["check", ".", "takes"], 1, &["C#2.wav", "no fingerings yet", "[[fingering]]"]);
}

#[test]
fn the_text_has_no_colour_codes_when_it_is_not_for_a_terminal() {
    let bench = Bench::new();
    bench.play(&ALL);
    for no_color in [None, Some("1")] {
        let mut command = bench.borescribe(&["check", "."]);
        command.env_remove("NO_COLOR");
        no_color.map(|value| command.env("NO_COLOR", value));
        let output = command.output().unwrap();
        assert_eq!(output.status.code(), Some(0));
        assert!(!output.stdout.contains(&0x1b) && !output.stderr.contains(&0x1b));
        assert!(!output.stdout.is_empty());
    }
}

#[test]
fn quiet_says_nothing_but_results() {
    let bench = Bench::new();
    bench.play(&ALL);
    std::fs::write(bench.path("takes/notes.txt"), "cold evening").unwrap();
    let told = bench.run(&["check", ".", "takes"]);
    assert!(stderr(&told).contains("notes.txt"), "{}", stderr(&told));
    assert_eq!(stderr(&bench.run(&["check", ".", "takes", "--quiet"])), "");
}

#[test]
fn a_reader_that_goes_away_early_is_no_error() {
    let bench = Bench::new();
    bench.play(&ALL);
    for arguments in [
        &["check", "."][..],
        &["check", ".", "--json"][..],
        &["predict", "."][..],
        &["predict", ".", "--json"][..],
        &["measure", "takes/C#2.wav"][..],
        &["new", "book"][..],
    ] {
        let output = with_stdout_closed(&bench, arguments);
        assert_eq!(output.status.code(), Some(0), "{arguments:?}: {}", stderr(&output));
        assert_eq!(stderr(&output), "", "{arguments:?}");
    }
}
