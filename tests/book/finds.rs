//! What the maker found without a recording is kept and holds until the place is touched; and a file that was measured
//! better, not cut, is written back into the steps that it belongs to.

use borescribe::instrument::file::parse;
use borescribe::instrument::prediction::predict;

use crate::maker::{Maker, Tone, files, stderr};
use crate::reed_pipe::REED_PIPE;

fn lowest() -> Tone {
    Tone::plain(predict(&parse(REED_PIPE).unwrap())[0].predicted_hz.unwrap())
}

fn played() -> Maker {
    let maker = Maker::new();
    maker.write_instrument(REED_PIPE);
    maker.play(&["--room", "19.5"], &["C#2"], &[lowest()]);
    maker
}

/// What holds at each step of the first prototype.
fn found(maker: &Maker) -> Vec<serde_json::Value> {
    let history = maker.json(&["history", "--json"]);
    let steps = history["prototypes"][0]["steps"].as_array().unwrap();
    steps.iter().map(|step| step["found"].clone()).collect()
}

#[test]
fn what_was_found_is_kept_in_the_note_and_holds_until_a_step_touches_the_place() {
    let maker = played();
    let note = maker.path("P1/01-drilled/note.toml");
    let text = std::fs::read_to_string(&note).unwrap();
    std::fs::write(&note, format!("{text}# rain all day\nstool = \"low\" # mine\n")).unwrap();
    let told = maker.told(&["step", "--found", "H1:leaks,C#2:hissy", "--found", "h2:tight"]);
    assert!(told.contains("P1/01-drilled: h1:leaks, C#2:hissy, h2:tight is kept"), "{told}");
    let text = std::fs::read_to_string(&note).unwrap();
    assert!(text.contains("found = [\"h1:leaks\", \"C#2:hissy\", \"h2:tight\"]"), "{text}");
    assert!(text.contains("stool = \"low\" # mine") && text.contains("# rain all day"), "{text}");
    // Said again, nothing is added.
    maker.told(&["step", "--found", "h2:tight"]);
    assert_eq!(std::fs::read_to_string(&note).unwrap(), text);

    maker.told(&["step", "played again"]);
    maker.told(&["step", "pad of h1 eased", "--touched", "H1"]);
    let touched = std::fs::read_to_string(maker.path("P1/03-pad-of-h1-eased/note.toml")).unwrap();
    assert!(touched.contains("touched = [\"h1\"]"), "{touched}");
    maker.play(&[], &["C#2"], &[lowest()]);
    maker.write_instrument(&REED_PIPE.replacen(
        "at_mm = 925.0\ndiameter_mm = 12.0",
        "at_mm = 925.0\ndiameter_mm = 12.5",
        1,
    ));
    maker.told(&["step", "h2 opened"]);
    let wanted = [
        serde_json::json!(["h1:leaks", "C#2:hissy", "h2:tight"]),
        serde_json::json!(["h1:leaks", "h2:tight"]),
        serde_json::json!(["h2:tight"]),
        serde_json::json!([]),
    ];
    assert_eq!(found(&maker), wanted);
    let told = maker.told(&["history"]);
    assert!(told.contains("Found: h1:leaks (since 01-drilled), h2:tight (since 01-drilled)"), "{told}");
}

#[test]
fn a_find_that_is_only_said_to_a_check_is_not_kept() {
    let maker = played();
    maker.told(&["check", "--found", "h1:leaks", "--tight", "h2"]);
    assert_eq!(found(&maker), [serde_json::json!([])]);
}

#[test]
fn a_check_reads_what_the_book_keeps() {
    let maker = played();
    maker.told(&["step", "--found", "h1:tight"]);
    let note = maker.path("P1/01-drilled/note.toml");
    let text = std::fs::read_to_string(&note).unwrap();
    maker.told(&["check"]);
    // A place that the instrument does not have shows that it is read.
    std::fs::write(&note, text.replace("h1:tight", "low:tight")).unwrap();
    let told = maker.refused(&["check"], 1);
    for words in ["01-drilled/note.toml", "low:tight", "Was a hole renamed?"] {
        assert!(told.contains(words), "{told}");
    }
}

#[test]
fn wrong_finds_are_told_and_nothing_is_written() {
    let maker = played();
    let before = files(&maker.book);
    for (arguments, says) in [
        (&["step", "--found", "h9:leaks"][..], "nothing that could leak is called h9"),
        (&["step", "--found", "h1:wet"], "wet is no word for it"),
        (&["step", "--found", "h1"], "a word is missing"),
        (&["step", "--found", "X7:hissy"], "no fingering is called X7"),
        (&["step", "x", "--touched", "h1,h9"], "--touched h9: nothing that could leak is called that"),
        (&["step", "x", "--found", "h1:leaks"], "cannot be used with"),
        (&["step", "--touched", "h1"], "required"),
        (&["step", "x", "--measured"], "cannot be used with"),
        (&["step"], "say what was changed"),
    ] {
        let told = maker.refused(arguments, 2);
        assert!(told.contains(says), "{arguments:?}: {told}");
    }
    assert_eq!(files(&maker.book), before);
    let nowhere = maker.book.parent().unwrap();
    for arguments in [&["step", "--found", "h1:leaks"][..], &["step", "--measured"]] {
        let output = maker.command(arguments).current_dir(nowhere).output().unwrap();
        assert_eq!(output.status.code(), Some(1));
        assert!(stderr(&output).contains("no bench book"), "{}", stderr(&output));
    }
    // A prototype without steps: no step is open.
    maker.write_instrument(&REED_PIPE.replace("\"P1\"", "\"P9\""));
    for arguments in [
        &["step", "--found", "h1:leaks"][..],
        &["step", "--measured"],
        &["record", "--test", "leak.h1=0", "--raw", "f32le:8000:1"],
    ] {
        assert!(maker.refused(arguments, 1).contains("P9, which has no steps"), "{arguments:?}");
    }
}

fn hole(at: &str, diameter: &str) -> String {
    format!("at_mm = {at}\ndiameter_mm = {diameter}")
}

#[test]
fn what_was_measured_better_goes_into_every_step_since_the_part_was_cut_and_the_old_files_stay() {
    let maker = played();
    // h1 is cut for the second step, and then left alone; h2 is never cut.
    let cut = REED_PIPE.replace(&hole("1050.0", "12.0"), &hole("1050.0", "12.6 # reamed"));
    maker.write_instrument(&cut);
    maker.told(&["step", "h1 opened"]);
    maker.play(&[], &["C#2"], &[lowest()]);
    let third = cut.replace(&hole("815.0", "12.0"), &hole("815.0", "12.3"));
    maker.write_instrument(&third);
    maker.told(&["step", "h3 opened"]);
    maker.play(&[], &["C#2"], &[lowest()]);

    let better = third.replace("12.6", "12.8").replace(&hole("925.0", "12.0"), &hole("925.0", "11.9"));
    maker.write_instrument(&better);
    let said = stderr(&maker.run(&["check"]));
    for words in
        ["borescribe step \"what was done\"", "borescribe step --measured", "h1 diameter 12.6 mm → 12.8 mm"]
    {
        assert!(said.contains(words), "{said}");
    }
    let told = maker.told(&["step", "--measured", "new calipers"]);
    assert!(told.contains("h1 diameter 12.6 mm → 12.8 mm") && told.contains("P1/01-drilled"), "{told}");
    let frozen = |step: &str| std::fs::read_to_string(maker.path(step).join("instrument.toml")).unwrap();
    let h2_better = |text: &str| text.replace(&hole("925.0", "12.0"), &hole("925.0", "11.9"));
    assert_eq!(frozen("P1/03-h3-opened"), better);
    assert_eq!(frozen("P1/02-h1-opened"), h2_better(&cut.replace("12.6", "12.8")));
    assert_eq!(frozen("P1/01-drilled"), h2_better(REED_PIPE));
    for (step, old) in [("P1/01-drilled", REED_PIPE), ("P1/02-h1-opened", &cut), ("P1/03-h3-opened", &third)]
    {
        let kept: Vec<String> = files(&maker.path(step))
            .into_iter()
            .filter(|(path, _)| path.to_string_lossy().contains("instrument-before-"))
            .map(|(_, bytes)| String::from_utf8(bytes).unwrap())
            .collect();
        assert_eq!(kept.len(), 1, "{step}");
        let (first, rest) = kept[0].split_once('\n').unwrap();
        assert!(first.starts_with("# Kept on ") && first.contains("new calipers; h1 diameter"), "{first}");
        assert_eq!(rest, old, "{step}");
    }
    // Nothing is offered any more, the steps still differ as they were cut, and a second time is refused.
    assert_eq!(stderr(&maker.run(&["check"])), "");
    let steps = maker.json(&["history", "--json"])["prototypes"][0]["steps"].clone();
    assert_eq!(
        steps[1]["changes"],
        serde_json::json!([{"what": "h1 diameter", "old": "12 mm", "new": "12.8 mm"}])
    );
    let before = files(&maker.book);
    assert!(maker.refused(&["step", "--measured"], 1).contains("says nothing different"));
    assert_eq!(files(&maker.book), before);
    // Twice on one day: both old files stay.
    maker.write_instrument(&better.replace("11.9", "11.8"));
    maker.told(&["step", "--measured"]);
    let kept = files(&maker.path("P1/03-h3-opened"));
    assert_eq!(kept.iter().filter(|(path, _)| path.to_string_lossy().contains("-before-")).count(), 2);
}

#[test]
fn a_hole_that_is_new_is_no_better_measure_and_unfrozen_steps_need_none() {
    let maker = played();
    let more =
        format!("{REED_PIPE}[[hole]]\nname = \"h4\"\nat_mm = 700.0\ndiameter_mm = 11.0\nchimney_mm = 3.0\n");
    maker.write_instrument(&more);
    let before = files(&maker.book);
    let told = maker.refused(&["step", "--measured", "x"], 1);
    assert!(
        told.contains("more has changed") && told.contains("borescribe step \"what was done\""),
        "{told}"
    );
    assert_eq!(files(&maker.book), before);
    maker.told(&["step", "h4 drilled"]);
    let told = maker.refused(&["step", "--measured"], 1);
    assert!(told.contains("keeps no measures yet"), "{told}");
}
