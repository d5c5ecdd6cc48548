//! Tests of the tester: small bad pieces of source that it must catch, and good ones that it must not.

use crate::rules::{SourceFile, broken_rules, crates_without_room};

fn broken(path: &str, text: &str) -> Vec<String> {
    broken_rules(&[SourceFile { path: path.into(), text: text.into() }])
}

#[test]
fn an_arrow_that_points_up_is_caught_however_it_is_written() {
    let bad = [
        ("acoustics/hole.rs", "use crate::instrument::model::Hole;"),
        ("analysis/comb.rs", "fn f() {\n let x = crate::diagnosis::check::check();\n}"),
        ("analysis/comb.rs", "use crate::audio::decode;"),
        ("analysis/comb.rs", "use crate::{units::Note, audio::{take::Take, decode::read}};"),
        ("analysis/comb.rs", "use super::super::instrument::file;"),
        ("audio/take.rs", "mod tests { use super::super::super::air::Air; }"),
        ("units.rs", "use super::air::Air;"),
        ("air.rs", "use self::super::units::Note;"),
        ("report/layout.rs", "use crate::acoustics::column::Column as Tube;"),
        ("diagnosis/check.rs", "use crate::analysis::{measurement::Trouble, measure::measure};"),
        ("instrument/file.rs", "fn f(x: &crate::cli::args::Arguments) {}"),
        ("main.rs", "fn main() { borescribe::report::layout::left(); }"),
        ("acoustics/line.rs", "#[cfg(test)] mod tests { use borescribe::instrument::file; }"),
    ];
    for (path, text) in bad {
        let found = broken(path, text);
        assert_eq!(found.len(), 1, "{path}: {text}: {found:?}");
        assert!(found[0].contains("must not use"), "{found:?}");
    }
}

#[test]
fn the_message_names_file_line_and_rule() {
    let found = broken("audio/take.rs", "//! Takes.\n\nuse std::fmt;\nuse crate::instrument::model::Hole;\n");
    assert_eq!(found, ["src/audio/take.rs:4: audio must not use instrument::model::Hole; it may use units"]);
    let grouped = broken("audio/take.rs", "use crate::{\n    units::Note,\n    air::Air,\n};\n");
    assert_eq!(grouped, ["src/audio/take.rs:3: audio must not use air::Air; it may use units"]);
}

#[test]
fn arrows_that_point_down_pass() {
    let good = [
        ("acoustics/hole.rs", "use crate::air::Air; use super::line::{Line, State};"),
        ("acoustics/hole.rs", "#[cfg(test)] mod tests { use super::*; use super::super::line::Line; }"),
        ("analysis/measure.rs", "use crate::audio::take::{Origin, Take};"),
        (
            "audio/take.rs",
            "// use crate::instrument::model;\n/* crate::cli::run */ const A: &str = \"crate::cli::x\";",
        ),
        (
            "audio/take.rs",
            "const A: &str = r#\"use \"crate::cli::x\" \"#; const B: char = '\"'; fn f<'a>(x: &'a u8) {}",
        ),
        ("report/measure.rs", "fn f() -> std::collections::HashMap<u8, u8> { serde_json::json!({}) }"),
        (
            "cli/run.rs",
            "use crate::{air, audio::decode, report}; fn f() { println!(); std::process::exit(1) }",
        ),
        ("main.rs", "use std::process::ExitCode; fn main() -> ExitCode { borescribe::cli::run::run() }"),
        ("diagnosis/causes.rs", "use rayon::prelude::*; fn fingerprint(blueprint: u8) {}"),
    ];
    for (path, text) in good {
        assert_eq!(broken(path, text), Vec::<String>::new(), "{path}: {text}");
    }
}

#[test]
fn a_crate_outside_its_room_is_caught() {
    let bad = [
        ("analysis/band.rs", "use realfft::RealFftPlanner;"),
        ("audio/take.rs", "fn f() { let x = hound::WavReader::open(p); }"),
        ("audio/capture.rs", "use cpal::traits::HostTrait;"),
        ("instrument/reader.rs", "use {std::fmt, toml::Spanned};"),
        ("instrument/reader.rs", "use toml as t;"),
        ("cli/check.rs", "use clap::Parser;"),
        ("diagnosis/check.rs", "fn f() -> serde_json::Value { todo() }"),
    ];
    for (path, text) in bad {
        let found = broken(path, text);
        assert!(found.len() == 1 && found[0].contains("belongs in"), "{path}: {text}: {found:?}");
    }
}

#[test]
fn linear_algebra_is_wrapped_once_a_room() {
    let file =
        |path: &str| SourceFile { path: path.into(), text: "use nalgebra::{DMatrix, DVector};".into() };
    assert!(broken_rules(&[file("diagnosis/gaussian.rs"), file("analysis/smooth.rs")]).is_empty());
    let found = broken_rules(&[file("diagnosis/gaussian.rs"), file("diagnosis/weigh.rs")]);
    assert!(!found.is_empty() && found[0].contains("src/diagnosis/weigh.rs:1"), "{found:?}");
    assert!(found[0].contains("src/diagnosis/gaussian.rs"), "{found:?}");
}

#[test]
fn printing_ending_and_looking_at_the_world_below_the_commands_is_caught() {
    let bad = [
        ("audio/decode.rs", "fn f() { println!(\"x\") }", "prints"),
        ("report/layout.rs", "fn f() { eprintln!() }", "prints"),
        ("audio/decode.rs", "use std::process; fn f() { process::exit(1) }", "ends the program"),
        ("instrument/file.rs", "fn f() { std::env::var(\"X\") }", "environment"),
        ("instrument/file.rs", "use std::{env, fmt};", "environment"),
        ("analysis/track.rs", "use std::time::Instant;", "clock"),
        ("analysis/track.rs", "fn f(x: std::time::SystemTime) {}", "clock"),
        ("audio/capture.rs", "fn f() { std::io::stdin().lock() }", "standard streams"),
    ];
    for (path, text, word) in bad {
        let found = broken(path, text);
        assert!(found.len() == 1 && found[0].contains(word), "{path}: {text}: {found:?}");
    }
}

#[test]
fn a_room_or_a_dependency_that_nobody_listed_is_caught() {
    assert_eq!(broken("attic/box.rs", "").len(), 1);
    let manifest = "[dependencies]\nrayon = \"1\"\nleftpad = \"1\"\n[dev-dependencies]\nproptest = \"1\"\n\
                    [target.'cfg(unix)'.dependencies]\ncpal = \"1\"\nfont-kit = \"2\"\n";
    assert_eq!(crates_without_room(manifest), ["leftpad", "font_kit"]);
}
