//! Whether each figure that the diagnosis believes says where it comes from.

use crate::rules::SourceFile;

/// What a figure may say of itself. A file of which all is said at once says it in its first lines.
const LABELS: [&str; 6] = [
    "our choice",
    "our own choice",
    "common practice",
    "published",
    "our own simulations",
    "from the costs above",
];
const OF_ALL: &str = "Our choice, all of them";
/// So a figure begins that is told together with the one before it.
const GOES_ON: [&str; 4] = ["\u{2026}", "The same", "And ", "See ["];

/// The constants, with their file, that do not say it; those that are told together say it once.
pub fn without_a_source(file: &SourceFile) -> Vec<String> {
    if file.text.contains(OF_ALL) {
        return Vec::new();
    }
    // Each run: the names of its constants, and all that is told of them.
    let mut runs: Vec<(Vec<String>, String)> = Vec::new();
    let mut told = String::new();
    for line in file.text.lines() {
        if let Some(words) = line.strip_prefix("///") {
            told.push_str(words);
        } else if let Some(constant) = line.strip_prefix("pub const ") {
            let name = constant.split(':').next().unwrap_or_default().to_string();
            let text = std::mem::take(&mut told).trim().to_string();
            let goes_on = GOES_ON.iter().any(|begin| text.starts_with(begin));
            match runs.last_mut() {
                Some((names, all)) if goes_on || all.ends_with('\u{2026}') => {
                    names.push(name);
                    all.push_str(&text);
                }
                _ => runs.push((vec![name], text)),
            }
        } else {
            told.clear();
        }
    }
    let silent = runs.iter().filter(|(_, text)| !LABELS.iter().any(|label| text.contains(label)));
    silent.flat_map(|(names, _)| names).map(|name| format!("src/{}: {name}", file.path)).collect()
}

#[test]
fn a_figure_without_a_source_is_found() {
    let text = "/// Chance (our choice) \u{2026}\npub const A: f64 = 1.0;\n/// \u{2026} and width.\npub const B: f64 = 2.0;\n\n\
                /// Minutes.\npub const C: f64 = 3.0;\n";
    let file = SourceFile { path: "x.rs".to_string(), text: text.to_string() };
    assert_eq!(without_a_source(&file), ["src/x.rs: C"]);
}
