//! The page before the first take, and the page of a whole book.

use std::path::{Path, PathBuf};

use crate::bench::{Bench, REED_PIPE, stderr};
use crate::pages::{all, has_no_empty_chart, is_sound, page, says, shown, words};

#[test]
fn before_the_first_take_a_page_says_what_to_do_and_shows_the_drawing_and_the_prediction() {
    let bench = Bench::new();
    let predicted = bench.json(&["predict", ".", "--json"]);
    // Without a folder of takes, and with an empty one.
    for _ in 0..2 {
        bench.refuses(
            &["check", "instrument.toml", "--report", "page.html"],
            1,
            &["holds no recordings", "C#2.wav"],
        );
        let page = page(&bench, "page.html");
        is_sound(&page);
        has_no_empty_chart(&page);
        says(&page, &"There are no takes yet. Record the lowest note first".into());
        // A tube of 1180 mm in three strips.
        assert_eq!(all(&page, "svg.drawn").len(), 3);
        let rows: Vec<String> = all(&page, "#notes tbody tr").into_iter().map(words).collect();
        let notes = predicted["fingerings"].as_array().unwrap();
        assert_eq!(rows.len(), notes.len());
        for (row, note) in rows.iter().zip(notes) {
            let hz = format!("{:.2}", note["predicted_hz"].as_f64().unwrap());
            assert!(row.contains(&hz), "{row} has no {hz}");
        }
        assert!(!shown(&page).contains("Root mean square"), "nothing was measured");
        std::fs::remove_file(bench.path("page.html")).unwrap();
        std::fs::create_dir_all(bench.path("takes")).unwrap();
    }
    bench.refuses(
        &["check", "instrument.toml", "takes", "--report", "page.html"],
        1,
        &["holds no recordings"],
    );
    bench.refuses(&["check", "instrument.toml"], 1, &["holds no recordings"]);
    assert!(!bench.path("page.html").exists());
}

#[test]
fn a_fresh_book_gets_its_first_page_before_the_first_take() {
    let bench = Bench::new();
    bench.run(&["new", "book"]);
    std::fs::write(bench.path("book/instrument.toml"), REED_PIPE).unwrap();
    bench.refuses(&["check", "book", "--no-report"], 1, &["holds no recordings"]);
    let own = bench.path("book/P1/01-start/check.html");
    assert!(!own.exists());
    bench.refuses(&["check", "book"], 1, &["holds no recordings", "check.html"]);
    let page = page(&bench, "book/P1/01-start/check.html");
    is_sound(&page);
    says(&page, &"There are no takes yet.".into());
}

fn copy(from: &Path, to: &Path) {
    for entry in std::fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        std::fs::copy(&path, to.join(path.file_name().unwrap())).unwrap();
    }
}

#[test]
fn the_page_of_the_whole_sample_book_is_small_without_its_sound() {
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/bittern/P2");
    let mut steps: Vec<PathBuf> =
        std::fs::read_dir(samples).unwrap().map(|entry| entry.unwrap().path()).collect();
    steps.sort();
    assert_eq!(steps.len(), 3);
    let bench = Bench::new();
    bench.run(&["new", "book"]);
    for (i, step) in steps.iter().enumerate() {
        let text = std::fs::read_to_string(step.join("instrument.toml")).unwrap();
        let text = text.replace("prototype = \"P2\"", "prototype = \"P1\"");
        std::fs::write(bench.path("book/instrument.toml"), text).unwrap();
        if i > 0 {
            bench.run(&["step", "next", "--book", "book"]);
        }
        let name = if i == 0 { "01-start".to_string() } else { format!("0{}-next", i + 1) };
        copy(&step.join("takes"), &bench.path(&format!("book/P1/{name}/takes")));
        let output = bench.run(&["check", "book", "--sound", "without"]);
        assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    }
    let own = bench.path("book/P1/03-next/check.html");
    assert!(own.metadata().unwrap().len() < 2_000_000, "{} bytes", own.metadata().unwrap().len());
    let page = page(&bench, "book/P1/03-next/check.html");
    is_sound(&page);
    assert_eq!(all(&page, "#history ol > li").len(), 3);
}
