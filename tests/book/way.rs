//! The way from a plan to a drilled body: each turn of it is one command, and no measure is lost on it.

use std::path::PathBuf;

use borescribe::instrument::file::parse;
use borescribe::instrument::model::Instrument;
use borescribe::instrument::prediction::predict;

use crate::maker::{Maker, Tone, files};
use crate::reed_pipe::REED_PIPE;

/// The pipe before anything is drilled.
fn plan() -> String {
    REED_PIPE.replace("chimney_mm = 3.0\n", "chimney_mm = 3.0\ndrilled = false   # only planned\n")
}

fn on_the_bench(text: &str) -> Maker {
    let maker = Maker::new();
    maker.write_instrument(text);
    maker
}

fn text(maker: &Maker, name: &str) -> String {
    std::fs::read_to_string(maker.path(name)).unwrap()
}

fn bench(maker: &Maker) -> Instrument {
    parse(&text(maker, "instrument.toml")).unwrap()
}

fn play_lowest(maker: &Maker) {
    let hz = predict(&bench(maker))[0].predicted_hz.unwrap();
    maker.play(&["--room", "19.5"], &["C#2"], &[Tone::plain(hz)]);
}

/// The files of a book but for the empty ones that are only locked.
fn kept(maker: &Maker) -> Vec<(PathBuf, Vec<u8>)> {
    files(&maker.book).into_iter().filter(|(_, bytes)| !bytes.is_empty()).collect()
}

/// Each command ends with its exit code, says the words, and leaves every file as it was.
#[track_caller]
fn refuses_all(maker: &Maker, calls: &[(&[&str], i32, &str)]) {
    let before = kept(maker);
    for (arguments, code, words) in calls {
        let told = maker.refused(arguments, *code);
        assert!(told.contains(words), "{arguments:?}: \"{words}\" is not in:\n{told}");
        assert!(kept(maker) == before, "{arguments:?} wrote something");
    }
}

#[test]
fn a_planned_file_begins_a_book_by_one_command() {
    let maker = Maker::new();
    std::fs::write(maker.path("plan.toml"), plan()).unwrap();
    let told = maker.told(&["new", "second", "--plan", "plan.toml", "--what", "blank"]);
    let flowing = told.replace('\n', " ");
    assert!(flowing.contains("3 holes are planned, none is drilled: it is a bare tube."), "{told}");
    assert!(told.contains("borescribe step --drilled h1,h2 "), "{told}");
    assert_eq!(text(&maker, "second/instrument.toml"), plan());
    assert!(maker.path("second/P1/01-blank/takes").is_dir());
    let predicted = maker.json(&["predict", "second", "--json"]);
    let playable = predicted["fingerings"].as_array().unwrap().iter().filter(|f| f["playable"] == true);
    assert_eq!(playable.count(), 1);
}

#[test]
fn a_plan_that_is_none_begins_no_book() {
    let maker = Maker::new();
    std::fs::write(maker.path("marks.toml"), text(&maker, "instrument.toml")).unwrap();
    std::fs::write(maker.path("outside.toml"), plan().replace("\"P1\"", "\"../../P1\"")).unwrap();
    refuses_all(
        &maker,
        &[
            (&["new", "other", "--plan", "marks.toml"], 1, "measure"),
            (&["new", "other", "--plan", "gone.toml"], 1, "gone.toml"),
            (&["new", "other", "--plan", "outside.toml"], 1, "can't hold \".\""),
            (&["new", "other", "--bare"], 2, "--prototype"),
        ],
    );
}

#[test]
fn the_next_prototype_begins_bare_with_the_plans_holes_and_the_old_measures_stay() {
    let maker = on_the_bench(REED_PIPE);
    play_lowest(&maker);
    std::fs::write(maker.path("plan.toml"), REED_PIPE.replace("1050.0", "1040.0   # from the plan")).unwrap();
    let begin = ["new", ".", "--prototype", "P2", "--from", "P1", "--plan", "plan.toml", "--what", "blank"];
    let told = maker.told(&begin);
    let flowing = told.replace('\n', " ");
    assert!(flowing.contains("3 holes are planned, none is drilled"), "{told}");
    assert!(flowing.contains("stays in P1/01-drilled/instrument.toml"), "{told}");
    let body = bench(&maker);
    assert_eq!((body.prototype.as_str(), body.holes[0].at_mm), ("P2", 1040.0));
    assert!(body.holes.iter().all(|hole| !hole.drilled));
    assert!(text(&maker, "instrument.toml").contains("# from the plan"));
    let placed = maker.told(&["place", "-q", "--keep-diameters", "--out", "third.toml"]);
    assert!(placed.contains("new . --prototype \"P3\" --from \"P2\" --plan \"third.toml\""), "{placed}");
    assert_eq!(text(&maker, "P1/01-drilled/instrument.toml"), REED_PIPE);
    assert!(maker.refused(&begin, 1).contains("has a prototype P2 already"));
}

#[test]
fn a_prototype_that_was_just_begun_is_made_a_bare_tube_until_something_is_kept_in_it() {
    let maker = on_the_bench(REED_PIPE);
    play_lowest(&maker);
    let told = maker.told(&["new", ".", "--prototype", "P2", "--from", "P1"]);
    assert!(bench(&maker).holes.iter().all(|hole| hole.drilled), "plain `new` keeps the holes");
    let bare = ["new", ".", "--prototype", "P2", "--from", "P1", "--bare"];
    assert!(told.contains(&format!("borescribe {}", bare.join(" "))), "{told}");
    // What was measured meanwhile stays.
    maker.write_instrument(&text(&maker, "instrument.toml").replace("1180.0", "1195.0"));
    maker.told(&bare);
    let body = bench(&maker);
    assert!(body.holes.iter().all(|hole| !hole.drilled));
    assert_eq!((body.prototype.as_str(), body.length_mm()), ("P2", 1195.0));
    play_lowest(&maker);
    refuses_all(&maker, &[(&bare, 1, "has a prototype P2 already")]);
}

#[test]
fn the_next_body_is_planned_in_sizes_that_can_be_made_and_the_measured_widths_stay_with_the_last() {
    let measured = REED_PIPE.replace("diameter_mm = 12.0", "diameter_mm = 11.93")
        + "[workshop]\ndrills_mm = [8.0, 9.5, 12.0]\n";
    let widths =
        |text: &str| -> Vec<f64> { parse(text).unwrap().holes.iter().map(|hole| hole.diameter_mm).collect() };
    assert!(widths(&measured).contains(&11.93), "{measured}");
    let maker = on_the_bench(&measured);
    play_lowest(&maker);
    let begin = ["new", ".", "--prototype", "P2", "--from", "P1", "--bare"];
    let told = maker.told(&begin).replace('\n', " ");
    assert!(told.contains("Planned in sizes that you can make: h1 diameter 11.93 mm → 12 mm"), "{told}");
    let wanted: Vec<f64> =
        widths(&measured).into_iter().map(|mm| if mm == 11.93 { 12.0 } else { mm }).collect();
    assert_eq!(widths(&text(&maker, "instrument.toml")), wanted);
    assert_eq!(text(&maker, "P1/01-drilled/instrument.toml"), measured);
    // What a plan has as planned is the maker's word, also where no drill is near.
    let plan = plan().replace("diameter_mm = 12.0", "diameter_mm = 11.87");
    std::fs::write(maker.path("plan.toml"), &plan).unwrap();
    play_lowest(&maker);
    let begin = ["new", ".", "--prototype", "P3", "--from", "P2", "--plan", "plan.toml", "--json"];
    assert_eq!(maker.json(&begin)["changes"], serde_json::json!([]));
    assert_eq!(widths(&text(&maker, "instrument.toml")), widths(&plan));
}

#[test]
fn measures_that_are_kept_nowhere_are_not_replaced_by_a_plan() {
    let maker = on_the_bench(REED_PIPE);
    play_lowest(&maker);
    std::fs::write(maker.path("plan.toml"), plan()).unwrap();
    maker.write_instrument(&REED_PIPE.replace("1050.0", "1049.0"));
    let begin = ["new", ".", "--prototype", "P2", "--from", "P1", "--plan", "plan.toml"];
    refuses_all(&maker, &[(&begin, 1, "h1 at 1050 mm → 1049 mm")]);
    maker.write_instrument(&REED_PIPE.replace("\"P1\"", "\"P2\""));
    refuses_all(&maker, &[(&begin, 1, "kept nowhere else")]);
}

#[test]
fn drilled_holes_are_marked_with_their_sizes_and_the_step_is_opened_by_one_command() {
    let maker = on_the_bench(&plan());
    play_lowest(&maker);
    let told = maker.told(&["step", "--drilled", "H1=11.4,h2", "lowest two drilled"]);
    for words in ["P1/02-lowest-two-drilled is open", "h1 drilled no → yes", "h1 diameter 12 mm → 11.4 mm"]
    {
        assert!(told.contains(words), "{told}");
    }
    assert!(told.contains("Taken as wide as planned: h2 12 mm."), "{told}");
    let wanted = plan().replacen("diameter_mm = 12.0", "diameter_mm = 11.4", 1).replacen(
        "drilled = false   # only",
        "drilled = true   # only",
        2,
    );
    assert_eq!(text(&maker, "instrument.toml"), wanted);
    assert_eq!(text(&maker, "P1/01-drilled/instrument.toml"), plan());
    // Without words the step says what was drilled.
    assert!(maker.told(&["step", "--drilled", "h3"]).contains("P1/03-h3-drilled is open"));
    assert_eq!(text(&maker, "P1/02-lowest-two-drilled/instrument.toml"), wanted);
}

#[test]
fn holes_that_cannot_have_been_drilled_so_are_refused_and_nothing_is_written() {
    let maker = on_the_bench(&plan().replacen("drilled = false   # only planned\n", "", 1));
    play_lowest(&maker);
    refuses_all(
        &maker,
        &[
            (&["step", "--drilled", "h22"], 2, "Did you mean h2?"),
            (&["step", "--drilled", "thumb"], 2, "It has: h1, h2, h3."),
            (&["step", "--drilled", "h2,h1"], 2, "h1 is drilled already"),
            (&["step", "--drilled", "h2,h2=9"], 2, "h2 is named twice"),
            (&["step", "--drilled", "h2=8,4"], 2, "decimal point"),
            (&["step", "--drilled", "h2=wide"], 2, "\"wide\" is no size"),
            (&["step", "--drilled", "h2=NaN"], 2, "lies between"),
            (&["step", "--drilled", "h2=-3"], 2, "lies between"),
            (&["step", "--drilled", "h2=25"], 1, "Measure the hole again"),
            (&["step", "--drilled", "h2", "--measured", "x"], 2, "cannot be used with"),
        ],
    );
}

#[test]
fn a_mouthpiece_that_is_pulled_out_moves_every_place_of_the_file_and_back() {
    let maker = on_the_bench(REED_PIPE);
    play_lowest(&maker);
    let told = maker.told(&["step", "--mouthpiece-out", "2.5"]);
    assert!(told.contains("P1/02-mouthpiece-pulled-out-2-5-mm is open"), "{told}");
    assert!(told.contains("2.5 mm farther out"), "{told}");
    let (old, new) = (parse(REED_PIPE).unwrap(), bench(&maker));
    assert_eq!(new.length_mm(), old.length_mm() + 2.5);
    for (was, is) in old.holes.iter().zip(&new.holes) {
        assert_eq!(is.at_mm, was.at_mm + 2.5);
    }
    let pitch = |of: &Instrument| predict(of)[0].predicted_hz.unwrap();
    assert!(pitch(&new) < pitch(&old));
    maker.told(&["step", "--mouthpiece-out", "-2.5", "pushed in again"]);
    assert_eq!(text(&maker, "instrument.toml"), REED_PIPE);
    refuses_all(
        &maker,
        &[
            (&["step", "--mouthpiece-out", "0"], 2, "moves nothing"),
            (&["step", "--mouthpiece-out", "NaN"], 2, "--mouthpiece-out"),
            (&["step", "--mouthpiece-out", "-900"], 2, "pushes the mouthpiece into h3"),
        ],
    );
}

#[test]
fn a_new_plan_moves_what_is_not_drilled_and_leaves_what_was_measured() {
    let half = plan().replacen("drilled = false   # only planned\n", "", 1).replace("1180.0", "1195.0");
    let maker = on_the_bench(&half);
    play_lowest(&maker);
    let moved = plan().replace("1050.0", "1044.0").replace("925.0", "921.5").replace("815.0", "811.0");
    std::fs::write(maker.path("plan.toml"), &moved).unwrap();
    let told = maker.told(&["step", "--plan", "plan.toml", "--drilled", "h2=11.9", "placed again, h2"]);
    assert!(told.contains("h3 at 815 mm → 811 mm") && told.contains("h2 at 925 mm → 921.5 mm"), "{told}");
    let body = bench(&maker);
    let places: Vec<f64> = body.holes.iter().map(|hole| hole.at_mm).collect();
    assert_eq!((places, body.length_mm()), (vec![1050.0, 921.5, 811.0], 1195.0));
    assert_eq!((body.holes[1].diameter_mm, body.holes[2].drilled), (11.9, false));
    let other = moved.replace("\"h3\"", "\"h9\"");
    std::fs::write(maker.path("other.toml"), other).unwrap();
    refuses_all(
        &maker,
        &[
            (&["step", "--plan", "other.toml"], 2, "h3 is only in the file on the bench"),
            (&["step", "--plan", "plan.toml"], 2, "nothing changes"),
        ],
    );
}

#[test]
fn a_plain_tube_that_agrees_with_its_file_is_told_what_comes_next() {
    let maker = on_the_bench(&plan());
    let hz = predict(&bench(&maker))[0].predicted_hz.unwrap();
    maker.play(&["--room", "19.5"], &["C#2", "C#2", "C#2"], &[Tone::plain(hz); 3]);
    let told = maker.json(&["check", "--json"])["next"]["text"].as_str().unwrap().to_string();
    for words in [
        "agrees with the file",
        "reed and mouthpiece stand for",
        "borescribe place",
        "step --plan plan.toml",
        "step --drilled h1",
    ] {
        assert!(told.contains(words), "\"{words}\" is not in {told}");
    }
}
