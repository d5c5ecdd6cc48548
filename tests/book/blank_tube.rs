//! The page `docs/from-a-blank-tube.md`, played through from its first command to its last: each does its work on the
//! files that the page ships and that the commands before it wrote, and shows what the page shows.

use std::path::{Path, PathBuf};

use assert_cmd::Command;
use borescribe::instrument::file::load;
use borescribe::instrument::prediction::predict;

use crate::maker::{RATE_HZ, SECONDS, Tone, program, stderr};

/// Every command of the page with the lines of its screen that the page shows.
fn commands(page: &str) -> Vec<(String, Vec<String>)> {
    let mut commands: Vec<(String, Vec<String>)> = Vec::new();
    let blocks = page.split("```").skip(1).step_by(2).filter(|block| !block.starts_with("toml"));
    for line in blocks.flat_map(str::lines).filter(|line| !line.trim().is_empty()) {
        match line.strip_prefix("borescribe ") {
            Some(words) => commands.push((words.to_string(), Vec::new())),
            None => commands.last_mut().unwrap().1.push(line.to_string()),
        }
    }
    commands
}

/// Words as a shell takes them apart: what stands in quotes is one.
fn words(line: &str) -> Vec<String> {
    let parts = line.split('"').enumerate().flat_map(|(i, part)| {
        let is_quoted = i % 2 == 1;
        if is_quoted { vec![part.to_string()] } else { part.split_whitespace().map(str::to_string).collect() }
    });
    parts.collect()
}

/// Puts into the book what the page says was measured: the length that was sawn and the chamber.
fn write_what_was_measured(book: &Path) {
    let file = book.join("instrument.toml");
    let text = std::fs::read_to_string(&file).unwrap();
    let measured = |line: &str| match line {
        end if end.starts_with("at_mm = 918") => "at_mm = 933.0\n".to_string(),
        chamber if chamber.starts_with("chamber_ml = ") => "chamber_ml = 12.8\n".to_string(),
        other => format!("{other}\n"),
    };
    let changed: String = text.lines().map(measured).collect();
    assert!(changed.contains("933.0") && changed.contains("12.8"), "{text}");
    std::fs::write(file, changed).unwrap();
}

/// The bare tube, played as its file says, into `record`.
fn bare_tube(book: &Path) -> Vec<u8> {
    let body = load(&book.join("instrument.toml")).unwrap();
    let hz = predict(&body)[0].predicted_hz.unwrap();
    Tone::plain(hz).samples().into_iter().flat_map(|s| (s as f32).to_le_bytes()).collect()
}

#[test]
fn the_page_from_a_blank_tube_can_be_followed_from_its_first_command_to_its_last() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let page = std::fs::read_to_string(root.join("docs/from-a-blank-tube.md")).unwrap();
    let sample = root.join("samples/bittern/P2/03-p3-sealed/instrument.toml");
    let folder = tempfile::TempDir::new().unwrap();
    std::fs::copy(root.join("docs/reed-bunting.toml"), folder.path().join("reed-bunting.toml")).unwrap();
    let commands = commands(&page);
    assert!(commands.len() >= 11, "{commands:?}");
    let mut here: PathBuf = folder.path().to_path_buf();
    for (line, shown) in commands {
        let mut arguments = words(&line);
        let mut input = Vec::new();
        if arguments[0] == "scale" {
            arguments[1] = sample.to_str().unwrap().to_string();
        }
        if arguments[0] == "record" {
            write_what_was_measured(&here);
            input = bare_tube(&here);
            let seconds = SECONDS.to_string();
            let format = format!("f32le:{RATE_HZ}:1");
            let given = ["--seconds", &seconds, "--raw", &format, "--reference", "none"];
            arguments.extend(given.map(str::to_string));
        }
        let output =
            Command::new(program()).current_dir(&here).args(&arguments).write_stdin(input).output().unwrap();
        assert_eq!(output.status.code(), Some(0), "{line}: {}", stderr(&output));
        let screen = String::from_utf8(output.stdout).unwrap();
        for told in shown {
            assert!(screen.lines().any(|line| line.starts_with(&told)), "{line}: {told} is not in\n{screen}");
        }
        if arguments[0] == "new" && arguments[1] == "reed-bunting" {
            here = here.join("reed-bunting");
        }
    }
    // The plan that the page ships is the one that it shows.
    let shipped = std::fs::read_to_string(root.join("docs/reed-bunting.toml")).unwrap();
    let hole = page.split("```toml\n").nth(1).unwrap().split("```").next().unwrap();
    let bare: Vec<&str> = hole.lines().map(|line| line.split('#').next().unwrap().trim()).collect();
    assert!(shipped.contains(&bare.join("\n")), "{bare:?}");
}
