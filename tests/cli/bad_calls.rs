//! Wrong usage, and files that are not there.

use crate::bench::Bench;

#[test]
fn a_missing_instrument_file_is_named_with_what_to_do() {
    let bench = Bench::new();
    for command in [&["predict", "lost.toml"][..], &["check", "lost.toml", "takes"][..]] {
        bench.refuses(command, 1, &["lost.toml", "new"]);
    }
}

#[test]
fn a_folder_without_an_instrument_file_is_named() {
    let bench = Bench::new();
    std::fs::create_dir(bench.path("empty")).unwrap();
    bench.refuses(&["predict", "empty"], 1, &["empty/instrument.toml"]);
}

#[test]
fn a_missing_take_is_named() {
    let bench = Bench::new();
    bench.refuses(&["check", "instrument.toml", "nowhere/C#2.wav"], 1, &["nowhere/C#2.wav"]);
    bench.refuses(&["check", "instrument.toml", "nowhere"], 1, &["nowhere"]);
}

#[test]
fn a_missing_file_given_by_name_is_named() {
    let bench = Bench::new();
    bench.refuses(&["check", "instrument.toml", "--as", "C#2", "lost.wav"], 1, &["lost.wav"]);
}

#[test]
fn a_folder_without_takes_says_how_to_name_them() {
    let bench = Bench::new();
    std::fs::create_dir(bench.path("takes")).unwrap();
    std::fs::write(bench.path("takes/notes.txt"), "cold evening").unwrap();
    bench.refuses(&["check", "instrument.toml", "takes"], 1, &["takes", "no recordings", "C#2.wav"]);
}

#[test]
fn words_that_no_command_knows_are_wrong_usage() {
    let bench = Bench::new();
    bench.refuses(&["polish"], 2, &["polish"]);
    bench.refuses(&["check", "--colour-me"], 2, &["--colour-me"]);
    bench.refuses(&["measure"], 2, &["FILE"]);
    bench.refuses(&[], 2, &["check"]);
}

#[test]
fn options_with_impossible_values_are_wrong_usage() {
    let bench = Bench::new();
    bench.play(&["C#2"]);
    bench.refuses(&["predict", ".", "--room", "400"], 2, &["--room 400", "°C"]);
    bench.refuses(&["predict", ".", "--room", "warm"], 2, &["warm"]);
    bench.refuses(&["predict", ".", "--room", "NaN"], 2, &["--room"]);
    bench.refuses(&["measure", "takes/C#2.wav", "--expect", "H9x"], 2, &["--expect"]);
    bench.refuses(&["measure", "takes/C#2.wav", "--expect", "-3"], 2, &["--expect"]);
    bench.refuses(&["measure", "takes/C#2.wav", "--from", "2", "--to", "1"], 2, &["--from 2", "--to 1"]);
    bench.refuses(&["check", ".", "--as", "H9", "takes/C#2.wav"], 2, &["--as H9", "C#2, D#2, F2, G2"]);
}
