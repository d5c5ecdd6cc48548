//! Who may use whom, as one table; and what breaks it, as file, line and rule.

use crate::lexer::{PathUse, Token, paths, tokens};

/// Longest file that is still read from top to bottom, lines.
pub const LONGEST_FILE: usize = 400;

pub struct SourceFile {
    /// Below `src/`, with `/`.
    pub path: String,
    pub text: String,
}

/// Each room and what it may use besides itself; `room::file` opens only that one file.
const ROOMS: [(&str, &[&str]); 13] = [
    ("units", &[]),
    ("air", &[]),
    ("acoustics", &["air", "units"]),
    ("instrument", &["acoustics", "air", "units"]),
    ("placing", &["instrument", "acoustics", "air", "units"]),
    ("audio", &["units"]),
    ("analysis", &["audio::take", "units"]),
    ("book", &["analysis::measurement", "instrument", "air", "units"]),
    ("diagnosis", &["analysis::measurement", "instrument", "acoustics", "air", "units"]),
    (
        "report",
        &[
            "diagnosis",
            "placing",
            "book",
            "analysis::measurement",
            "analysis::portrait",
            "instrument",
            "units",
        ],
    ),
    (
        "cli",
        &[
            "units",
            "air",
            "acoustics",
            "instrument",
            "placing",
            "audio",
            "analysis",
            "book",
            "diagnosis",
            "report",
        ],
    ),
    ("main", &["cli"]),
    ("lib", &[]),
];

/// Each crate and where it may be named; a place that ends in `/` is a whole room.
const CRATES: [(&str, &[&str]); 14] = [
    ("base64", &["report/page/takes.rs"]),
    ("csv", &["book/table.rs"]),
    ("encoding_rs", &["book/table.rs"]),
    ("symphonia", &["audio/decode.rs", "audio/encode.rs", "audio/packets.rs"]),
    ("hound", &["audio/encode.rs", "audio/wav_head.rs"]),
    ("cpal", &["audio/sound_card.rs"]),
    ("realfft", &["analysis/spectrum.rs"]),
    // In spool.rs for pipes; in the others for folders of tests beside the code.
    ("tempfile", &["audio/spool.rs", "audio/encode.rs", "audio/extract.rs", "book/"]),
    ("pathfinding", &["placing/key_match.rs"]),
    ("toml", &["instrument/file.rs"]),
    ("toml_edit", &["instrument/save.rs", "instrument/note_text.rs", "instrument/remeasured.rs"]),
    ("plotters", &["report/chart.rs"]),
    ("clap", &["cli/args.rs", "cli/book_args.rs", "cli/place_args.rs", "cli/run.rs"]),
    ("serde_json", &["report/", "cli/"]),
];

/// Crates that any room may use.
const FREE_CRATES: [&str; 4] = ["num_complex", "rayon", "serde", "thiserror"];

/// Used in at most one file of each room, which wraps it.
const ONCE_A_ROOM: &str = "nalgebra";

const PRINTING: [&str; 5] = ["print", "println", "eprint", "eprintln", "dbg"];
const CLOCKS: [&str; 2] = ["Instant", "SystemTime"];

/// Everything in `files` that breaks a rule, as `src/FILE:LINE: rule`.
pub fn broken_rules(files: &[SourceFile]) -> Vec<String> {
    let mut broken = Vec::new();
    let mut wrapped: Vec<(String, String)> = Vec::new();
    for file in files {
        let room = room_of(&file.path);
        let home: Vec<&str> = file.path.trim_end_matches(".rs").split('/').collect();
        let home = if matches!(room, "lib" | "main") { Vec::new() } else { home };
        let tokens = tokens(&file.text);
        let Some((_, allowed)) = ROOMS.iter().find(|(name, _)| *name == room) else {
            broken.push(format!("src/{}:1: the room {room} is not in the table of rooms", file.path));
            continue;
        };
        let mut note = |line: usize, rule: String| broken.push(format!("src/{}:{line}: {rule}", file.path));
        for path in paths(&tokens, &home) {
            if let Some(rule) = arrow(&path, room, allowed).or_else(|| crate_room(&path, &file.path)) {
                note(path.line, rule);
            }
            if room != "cli"
                && let Some(rule) = world(&path)
            {
                note(path.line, rule);
            }
            if path.segments[0] == ONCE_A_ROOM {
                let other = wrapped.iter().find(|(known, path)| known == room && *path != file.path);
                if let Some((_, other)) = other {
                    let rule = format!("{ONCE_A_ROOM} is wrapped in src/{other} already: once a room");
                    note(path.line, rule);
                }
                wrapped.push((room.to_string(), file.path.clone()));
            }
        }
        if room != "cli" {
            spoken(&tokens).into_iter().for_each(|(line, rule)| note(line, rule));
        }
    }
    broken
}

/// Dependencies of the program that this file doesn't know.
pub fn crates_without_room(manifest: &str) -> Vec<String> {
    let mut in_dependencies = false;
    let mut homeless = Vec::new();
    for line in manifest.lines() {
        if line.starts_with('[') {
            in_dependencies = line.contains("dependencies]") && !line.contains("dev-dependencies]");
        } else if in_dependencies && let Some((name, _)) = line.split_once('=') {
            let name = name.trim().replace('-', "_");
            let known = CRATES.iter().any(|(with_room, _)| *with_room == name)
                || FREE_CRATES.contains(&name.as_str())
                || name == ONCE_A_ROOM;
            if !known && !homeless.contains(&name) {
                homeless.push(name);
            }
        }
    }
    homeless
}

fn room_of(path: &str) -> &str {
    path.split('/').next().unwrap_or(path).trim_end_matches(".rs")
}

fn arrow(path: &PathUse, room: &str, allowed: &[&str]) -> Option<String> {
    let [first, target, rest @ ..] = path.segments.as_slice() else { return None };
    let is_ours = first == "crate" && ROOMS.iter().any(|(name, _)| name == target);
    if !is_ours || target == room {
        return None;
    }
    let opened = allowed.iter().any(|open| match open.split_once("::") {
        None => open == target,
        Some((of, file)) => of == target && rest.first().is_some_and(|segment| segment == file),
    });
    let list = if allowed.is_empty() { "nothing of ours".to_string() } else { allowed.join(", ") };
    (!opened).then(|| format!("{room} must not use {}; it may use {list}", path.segments[1..].join("::")))
}

fn crate_room(path: &PathUse, file: &str) -> Option<String> {
    let (name, rooms) = CRATES.iter().find(|(name, _)| *name == path.segments[0])?;
    let home = rooms.iter().any(|place| *place == file || (place.ends_with('/') && file.starts_with(place)));
    (!home).then(|| format!("the crate {name} belongs in {}", rooms.join(", ")))
}

/// The environment, the process and the standard streams are the commands' business.
fn world(path: &PathUse) -> Option<String> {
    let has = |pair: [&str; 2]| path.segments.windows(2).any(|two| two == pair);
    let called = path.segments.join("::");
    if has(["process", "exit"]) || has(["process", "abort"]) {
        return Some(format!("only cli ends the program ({called})"));
    }
    if has(["std", "env"]) || path.segments[0] == "env" {
        return Some(format!("only cli reads the environment ({called})"));
    }
    if ["stdin", "stdout", "stderr"].iter().any(|stream| has(["io", stream])) {
        return Some(format!("only cli uses the standard streams ({called})"));
    }
    None
}

fn spoken(tokens: &[Token]) -> Vec<(usize, String)> {
    let mut found = Vec::new();
    for (i, token) in tokens.iter().enumerate() {
        let word = token.text.as_str();
        if PRINTING.contains(&word) && tokens.get(i + 1).is_some_and(|next| next.text == "!") {
            found.push((token.line, format!("only cli prints ({word}!)")));
        }
        if CLOCKS.contains(&word) {
            found.push((token.line, format!("only cli reads the clock ({word})")));
        }
    }
    found
}
