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
