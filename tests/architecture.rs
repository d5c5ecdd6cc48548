//! Keeps the house in order: reads `src/` and fails when an import points up, a third-party crate
//! leaves its room, something below `cli` prints or looks at the clock, or a file grows too long.

#[path = "architecture/beliefs.rs"]
mod beliefs;
#[path = "architecture/lexer.rs"]
mod lexer;
#[path = "architecture/rules.rs"]
mod rules;
#[path = "architecture/tester.rs"]
mod tester;

use std::path::{Path, PathBuf};

use rules::{LONGEST_FILE, SourceFile, broken_rules, crates_without_room};

#[test]
fn imports_point_down_and_every_crate_stays_in_its_room() {
    let files = source_files();
    assert!(files.len() > 20, "src/ was not found");
    let broken = broken_rules(&files);
    assert!(broken.is_empty(), "\n{}\n", broken.join("\n"));
}

#[test]
fn every_belief_cost_and_threshold_says_where_it_comes_from() {
    let files: Vec<SourceFile> =
        source_files().into_iter().filter(|file| file.path.starts_with("diagnosis/beliefs")).collect();
    assert!(files.len() > 5, "the beliefs were not found");
    let silent: Vec<String> = files.iter().flat_map(beliefs::without_a_source).collect();
    assert!(silent.is_empty(), "say whether it is published, common practice or our choice: {silent:?}");
}

#[test]
fn every_dependency_has_a_room() {
    let manifest = std::fs::read_to_string(root().join("Cargo.toml")).unwrap();
    let homeless = crates_without_room(&manifest);
    assert!(homeless.is_empty(), "give these crates a room in tests/architecture/rules.rs: {homeless:?}");
}

#[test]
fn no_source_file_is_too_long_to_read_in_one_sitting() {
    let long: Vec<String> = source_files()
        .iter()
        .map(|file| (file.path.as_str(), file.text.lines().count()))
        .filter(|(_, lines)| *lines > LONGEST_FILE)
        .map(|(path, lines)| {
            format!("src/{path}:{lines}: more than {LONGEST_FILE} lines: split it by noun, never into utils")
        })
        .collect();
    assert!(long.is_empty(), "\n{}\n", long.join("\n"));
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// All files of `src/`, in the order of their names.
fn source_files() -> Vec<SourceFile> {
    let src = root().join("src");
    let mut folders = vec![src.clone()];
    let mut paths: Vec<PathBuf> = Vec::new();
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|ending| ending == "rs") {
                paths.push(path);
            }
        }
    }
    paths.sort();
    paths
        .iter()
        .map(|path| SourceFile {
            path: path.strip_prefix(&src).unwrap().to_string_lossy().replace('\\', "/"),
            text: std::fs::read_to_string(path).unwrap(),
        })
        .collect()
}
