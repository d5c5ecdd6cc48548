//! The pages of the documentation: what they show can be used as it stands, and what they point at is there.

use std::path::{Path, PathBuf};

use crate::bench::Bench;

fn pages() -> Vec<PathBuf> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let docs = std::fs::read_dir(root.join("docs")).unwrap().map(|entry| entry.unwrap().path());
    let mut pages: Vec<PathBuf> =
        docs.filter(|path| path.extension().is_some_and(|end| end == "md")).collect();
    pages.push(root.join("README.md"));
    pages
}

#[test]
fn the_instrument_file_that_is_explained_is_a_valid_one() {
    let page = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/instrument-file.md");
    let page = std::fs::read_to_string(page).unwrap();
    let file = page.split("```toml\n").nth(1).unwrap().split("```").next().unwrap();
    let json = Bench::with(file).json(&["predict", ".", "--json"]);
    let fingerings = json["fingerings"].as_array().unwrap();
    assert_eq!(fingerings.len(), 2);
    assert!(fingerings.iter().all(|fingering| fingering["predicted_hz"].is_number()), "{json}");
}

#[test]
fn every_link_and_picture_of_the_pages_is_there() {
    let mut found = 0;
    for page in pages() {
        let text = std::fs::read_to_string(&page).unwrap();
        for target in text.split("](").skip(1).filter_map(|rest| rest.split(')').next()) {
            if target.contains("://") {
                continue;
            }
            found += 1;
            let file = target.split('#').next().unwrap();
            assert!(page.parent().unwrap().join(file).is_file(), "{}: {target} is not there", page.display());
        }
    }
    assert!(found > 10, "only {found} links were found");
}

/// Every `borescribe` line in the code blocks of a page, and the lines of its screen that the page shows.
fn shown_commands(page: &str) -> Vec<(Vec<String>, Vec<String>)> {
    let mut commands: Vec<(Vec<String>, Vec<String>)> = Vec::new();
    let blocks = page.split("```").skip(1).step_by(2);
    for line in blocks.flat_map(str::lines).filter(|line| !line.trim().is_empty()) {
        match line.strip_prefix("borescribe ") {
            Some(words) => commands.push((words.split(' ').map(str::to_string).collect(), Vec::new())),
            None => commands.last_mut().unwrap().1.push(line.to_string()),
        }
    }
    commands
}

#[test]
fn the_figures_of_the_questions_page_are_what_the_program_says() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let page = std::fs::read_to_string(root.join("docs/questions.md")).unwrap();
    let sample = root.join("samples/bittern/P2/03-p3-sealed/instrument.toml");
    let bench = Bench::new();
    let commands = shown_commands(&page);
    assert!(commands.len() >= 8, "{commands:?}");
    for (words, lines) in commands {
        assert!(!lines.is_empty(), "{words:?} shows nothing");
        let arguments: Vec<&str> = words
            .iter()
            .map(|word| if word == "bittern" { sample.to_str().unwrap() } else { word })
            .collect();
        let screen = String::from_utf8(bench.run(&arguments).stdout).unwrap();
        for line in lines {
            assert!(
                screen.lines().any(|told| told.starts_with(&line)),
                "{words:?}: {line} is not in\n{screen}"
            );
        }
    }
}

#[test]
fn the_bends_and_walls_of_the_questions_page_are_what_the_program_says() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let page = std::fs::read_to_string(root.join("docs/questions.md")).unwrap();
    let sample =
        std::fs::read_to_string(root.join("samples/bittern/P2/03-p3-sealed/instrument.toml")).unwrap();
    let told = |text: &str| Bench::with(text).json(&["predict", "instrument.toml", "--json"]);
    let lowest_twelfth = |text: &str| {
        let told = told(text);
        let first = &told["twelfths"][0];
        assert_eq!((&first["lower"], &first["upper"]), (&"C2".into(), &"G3".into()));
        format!("{:.1}", first["from_tempered_cents"].as_f64().unwrap())
    };
    for (at_mm, cents) in [(300, "9.7"), (700, "5.0"), (1100, "6.2")] {
        let bent = format!("{sample}\n[[bend]]\nat_mm = {at_mm}.0\nradius_mm = 40.0\nangle_deg = 180.0\n");
        assert_eq!(lowest_twelfth(&bent), cents, "bend at {at_mm} mm");
        assert!(page.contains(cents));
    }
    assert_eq!(lowest_twelfth(&sample), "7.0");
    let rough: String = sample
        .lines()
        .filter(|line| !line.starts_with("finish"))
        .map(|line| {
            if line.starts_with("[wall]") {
                "[wall]\nfinish = \"raw wood\"\n".to_string()
            } else {
                format!("{line}\n")
            }
        })
        .collect();
    let (smooth, rough) = (told(&sample), told(&rough));
    let peak = |told: &serde_json::Value| {
        format!("{:.1}", told["fingerings"][0]["resonances"][0]["magnitude"].as_f64().unwrap())
    };
    assert_eq!((peak(&smooth).as_str(), peak(&rough).as_str()), ("36.1", "28.1"));
    for (a, b) in smooth["fingerings"].as_array().unwrap().iter().zip(rough["fingerings"].as_array().unwrap())
    {
        if a["register"] == 1 {
            assert!((a["cents"].as_f64().unwrap() - b["cents"].as_f64().unwrap()).abs() < 0.1, "{a} {b}");
        }
    }
}
