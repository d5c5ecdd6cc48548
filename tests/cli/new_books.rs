//! The command `new`, and the file that it leaves to be filled in.

use crate::bench::{Bench, stderr};

#[test]
fn a_value_left_from_the_example_is_refused_and_says_what_to_measure() {
    let bench = Bench::new();
    assert_eq!(bench.run(&["new", "book"]).status.code(), Some(0));
    let text = std::fs::read_to_string(bench.path("book/instrument.toml")).unwrap();
    let line = text.lines().position(|line| line.starts_with("chamber_ml")).unwrap() + 1;
    let place = format!("instrument.toml:{line}");
    bench.refuses(&["predict", "book"], 1, &[&place, "chamber_ml", "water"]);
    bench.refuses(&["check", "book"], 1, &[&place]);
}

#[test]
fn a_new_book_whose_example_marks_are_gone_is_predicted() {
    let bench = Bench::new();
    bench.run(&["new", "book"]);
    let file = bench.path("book/instrument.toml");
    let text = std::fs::read_to_string(&file).unwrap();
    let filled: Vec<&str> = text
        .lines()
        .map(|line| if line.starts_with('#') { line } else { line.split("# EXAMPLE").next().unwrap() })
        .collect();
    std::fs::write(&file, filled.join("\n")).unwrap();
    let predicted = bench.json(&["predict", "book", "--json"]);
    assert_eq!(predicted["fingerings"][0]["name"], "C#2");
    assert!(predicted["fingerings"][0]["predicted_hz"].as_f64().is_some());
}

#[test]
fn a_folder_in_use_is_left_alone() {
    let bench = Bench::new();
    std::fs::write(bench.path("book/precious.txt"), "mine").unwrap();
    bench.refuses(&["new", "book"], 1, &["book", "nothing was changed"]);
    std::fs::write(bench.path("file"), "mine").unwrap();
    bench.refuses(&["new", "file"], 1, &["file"]);
    assert_eq!(std::fs::read_to_string(bench.path("book/precious.txt")).unwrap(), "mine");
    assert_eq!(std::fs::read_to_string(bench.path("file")).unwrap(), "mine");
    assert!(!bench.path("book/instrument.toml").exists());
}

#[test]
fn an_empty_folder_that_is_there_already_is_used() {
    let bench = Bench::new();
    std::fs::create_dir(bench.path("empty")).unwrap();
    let output = bench.run(&["new", "empty"]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert!(bench.path("empty/instrument.toml").is_file());
}
