//! Instrument files that can't be right: the program names file, line and reason, all at once.

use crate::bench::{Bench, REED_PIPE};

/// The file with `good` once replaced by `bad`, and the line where that is.
fn spoilt(good: &str, bad: &str) -> (Bench, String) {
    let at = REED_PIPE.find(good).unwrap();
    let line = REED_PIPE[..at].matches('\n').count() + 1 + bad[..bad.len() - bad.trim_start().len()].len();
    (Bench::with(&REED_PIPE.replacen(good, bad, 1)), format!("instrument.toml:{line}"))
}

#[track_caller]
fn assert_refused(good: &str, bad: &str, says: &[&str]) {
    let (bench, place) = spoilt(good, bad);
    let mut says = says.to_vec();
    says.push(&place);
    bench.refuses(&["predict", "instrument.toml"], 1, &says);
    bench.refuses(&["check", "instrument.toml", "takes"], 1, &says);
}

#[test]
fn two_fingerings_of_one_name_are_refused() {
    assert_refused("name = \"D#2\"", "name = \"C#2\"", &["C#2", "same name"]);
    assert_refused("name = \"D#2\"", "name = \"c♯2\"", &["c♯2", "C#2", "differ only"]);
}

#[test]
fn a_hole_outside_the_tube_is_refused() {
    assert_refused("at_mm = 1050.0", "at_mm = 1250.0", &["h1", "1250 mm", "open end at 1180 mm"]);
}

#[test]
fn a_hole_wider_than_the_bore_is_refused() {
    assert_refused("diameter_mm = 12.0", "diameter_mm = 21.5", &["h1", "21.5 mm", "only 20 mm"]);
}

#[test]
fn a_negative_chimney_is_refused() {
    assert_refused("chimney_mm = 3.0", "chimney_mm = -3.0", &["h1", "chimney_mm", "-3 mm"]);
}

#[test]
fn a_decimal_comma_is_called_by_name() {
    assert_refused("diameter_mm = 12.0", "diameter_mm = 12,0", &["comma", "point"]);
}

#[test]
fn malformed_toml_is_refused_with_its_place() {
    assert_refused("name = \"h1\"", "name = \"h1", &[]);
    assert_refused("[[fingering]]", "[[fingering]", &[]);
}

#[test]
fn an_unknown_key_is_refused_with_the_nearest_known_one() {
    assert_refused("chimney_mm = 3.0", "chimny_mm = 3.0", &["chimny_mm", "chimney_mm"]);
}

#[test]
fn numbers_that_are_none_are_refused() {
    assert_refused("at_mm = 1050.0", "at_mm = nan", &["h1", "at_mm"]);
    assert_refused("at_mm = 1050.0", "at_mm = inf", &["h1", "at_mm"]);
    assert_refused("at_mm = 1050.0", "at_mm = \"far\"", &["h1", "at_mm"]);
}

#[test]
fn a_fingering_that_opens_a_hole_that_is_not_there_is_refused() {
    assert_refused("open = [\"h1\"]", "open = [\"h9\"]", &["h9", "D#2"]);
}

#[test]
fn everything_wrong_is_told_at_once() {
    let text = REED_PIPE.replacen("chimney_mm = 3.0", "chimney_mm = -3.0", 1).replacen(
        "at_mm = 925.0",
        "at_mm = 9250.0",
        1,
    );
    Bench::with(&text).refuses(&["predict", "."], 1, &["chimney_mm", "9250"]);
}

#[test]
fn a_file_of_a_newer_format_is_refused_with_both_numbers() {
    assert_refused("format = 1", "format = 7", &["7", "1"]);
}

#[test]
fn an_empty_file_and_a_file_that_is_no_text_are_refused() {
    let bench = Bench::with("");
    bench.refuses(&["predict", "instrument.toml"], 1, &["instrument.toml", "empty"]);
    std::fs::write(bench.path("instrument.toml"), [0x66, 0xff, 0xfe, 0x00]).unwrap();
    bench.refuses(&["predict", "instrument.toml"], 1, &["instrument.toml", "text"]);
}
