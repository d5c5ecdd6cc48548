//! Tests and finds that the program can't use: what is wrong and what to do, in the maker's words.

use crate::workshop::Workshop;

const TAKES: [&str; 3] = ["check", "instrument.toml", "takes"];

fn played() -> Workshop {
    let mut workshop = Workshop::sound(1);
    workshop.play(&["C2"], 1);
    workshop.test(&["leak.v=0"], &["C2"], 1);
    std::fs::create_dir(workshop.bench().path("empty")).unwrap();
    workshop
}

#[track_caller]
fn refused(more: &[&str], code: i32, says: &[&str]) {
    played().bench().refuses(&[&TAKES, more].concat(), code, says);
}

#[test]
fn a_test_needs_changes_and_the_takes_that_were_played_under_them() {
    refused(&["--test", "leak.v=0"], 2, &["--test <CHANGES> <FOLDER_OR_FILE>", "2 values"]);
    refused(&["--test"], 2, &["--test"]);
    refused(&["--test", "", "tests/01"], 2, &["--test", "leak.h3=0"]);
    refused(&["--test", "leak.v=0", "empty"], 1, &["empty", "C2"]);
    refused(&["--test", "leak.v=0", "nowhere"], 1, &["nowhere"]);
}

#[test]
fn a_change_that_can_not_be_read_is_told_with_one_that_could() {
    refused(&["--test", "pressed", "tests/01"], 2, &["pressed", "no change", "h2.diameter=9"]);
    refused(&["--test", "leak.p9=0", "tests/01"], 2, &["leak.p9=0", "Did you mean leak.p"]);
    refused(&["--test", "h5.colour=2", "tests/01"], 2, &["colour", "diameter"]);
    refused(&["--test", "leak.v=0,h5.diameter=", "tests/01"], 2, &["h5.diameter="]);
}

#[test]
fn a_test_can_stop_a_leak_and_not_make_one() {
    refused(&["--test", "leak.v=0.8", "tests/01"], 2, &["leak.v=0.8", "only stop a leak", "leak.NAME=0"]);
}

#[test]
fn a_find_needs_a_place_or_note_and_a_word_for_it() {
    refused(&["--found", "v"], 2, &["v: a word is missing", "leaks|tight|unchanged"]);
    refused(&["--found", "v:wet"], 2, &["wet", "leaks|tight|unchanged", "squeals"]);
    refused(&["--found", "p9:leaks"], 2, &["p9", "What could", "p3"]);
    refused(&["--found", "X9:squeals"], 2, &["X9", "The file has", "C2"]);
    refused(&["--found", "C2:leaks"], 2, &["C2", "What could"]);
}
