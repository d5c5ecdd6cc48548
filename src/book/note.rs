//! `note.toml` of a bench step: what was done, when, and how it was played.
//!
//! Lines that the maker added stay as they are. Must not know takes or geometry.

use std::path::Path;

use super::disk::write_whole;
use super::error::BookError;
use crate::instrument::file::{Plain, plain_entries};
use crate::instrument::template::within_quotes;

/// Name of the file in a step's folder.
pub const NOTE: &str = "note.toml";

/// What is known of a step besides its geometry and takes.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StepNote {
    /// What was done.
    pub what: String,
    /// When the step was opened, UTC.
    pub when: String,
    /// Temperature of the room, °C.
    pub room_c: Option<f64>,
    /// The reed.
    pub reed: Option<String>,
    /// Who played.
    pub player: Option<String>,
    /// Anything else.
    pub note: Option<String>,
}

impl StepNote {
    /// What `later` says, and what it leaves open as it is here.
    #[must_use]
    pub fn overlaid(&self, later: &StepNote) -> StepNote {
        StepNote {
            what: self.what.clone(),
            when: self.when.clone(),
            room_c: later.room_c.or(self.room_c),
            reed: later.reed.clone().or_else(|| self.reed.clone()),
            player: later.player.clone().or_else(|| self.player.clone()),
            note: later.note.clone().or_else(|| self.note.clone()),
        }
    }

    fn entries(&self) -> Vec<(&'static str, String)> {
        let text = |text: &str| format!("\"{}\"", within_quotes(text));
        let mut entries = vec![("what", text(&self.what)), ("when", text(&self.when))];
        entries.extend(self.room_c.map(|celsius| ("room_c", format!("{celsius:.1}"))));
        let texts = [("reed", &self.reed), ("player", &self.player), ("note", &self.note)];
        entries.extend(texts.into_iter().filter_map(|(key, value)| Some((key, text(value.as_deref()?)))));
        entries
    }
}

/// Reads the note in a step's folder; no file is an empty note.
///
/// # Errors
/// [`BookError`] for a file that can't be read or is wrong.
pub fn read(folder: &Path) -> Result<StepNote, BookError> {
    let path = folder.join(NOTE);
    let text = match std::fs::read(&path) {
        Ok(bytes) => String::from_utf8_lossy(&bytes).into_owned(),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(StepNote::default()),
        Err(source) => return Err(BookError::Disk { path, source }),
    };
    let entries = plain_entries(&text).map_err(|problem| BookError::Damaged {
        path: path.clone(),
        line: Some(problem.line),
        what: problem.what,
        to_do: problem.to_do,
    })?;
    let mut note = StepNote::default();
    for (key, value) in entries {
        match (key.as_str(), value) {
            ("what", Plain::Text(text)) => note.what = text,
            ("when", Plain::Text(text)) => note.when = text,
            ("room_c", Plain::Number(celsius)) => note.room_c = Some(celsius),
            ("reed", Plain::Text(text)) => note.reed = Some(text),
            ("player", Plain::Text(text)) => note.player = Some(text),
            ("note", Plain::Text(text)) => note.note = Some(text),
            _ => {}
        }
    }
    Ok(note)
}

/// Writes the note into a step's folder. Lines of an older one that say something else stay.
///
/// # Errors
/// [`BookError::Disk`].
pub fn write(folder: &Path, note: &StepNote) -> Result<(), BookError> {
    let path = folder.join(NOTE);
    let old = std::fs::read_to_string(&path).unwrap_or_else(|_| HEAD.to_string());
    let mut lines: Vec<String> = old.lines().map(str::to_string).collect();
    for (key, value) in note.entries() {
        let line = format!("{key} = {value}");
        let is_its = |old: &&mut String| {
            old.trim_start().strip_prefix(key).is_some_and(|rest| rest.trim_start().starts_with('='))
        };
        match lines.iter_mut().find(is_its) {
            Some(old) => *old = line,
            None => lines.push(line),
        }
    }
    write_whole(&path, format!("{}\n", lines.join("\n")).as_bytes())
}

const HEAD: &str = "# What was done for this step, and how it was played. Times are UTC, temperatures °C.";

#[cfg(test)]
mod tests {
    use super::*;

    fn example() -> StepNote {
        StepNote {
            what: "h5 \"opened\" to 14 \\ É".into(),
            when: "2026-11-25T14:03:00Z".into(),
            room_c: Some(18.5),
            reed: Some("no. 3, old".into()),
            player: None,
            note: Some("=dull".into()),
        }
    }

    #[test]
    fn a_note_reads_back_as_it_was_written() {
        let folder = tempfile::tempdir().unwrap();
        write(folder.path(), &example()).unwrap();
        assert_eq!(read(folder.path()).unwrap(), example());
        assert_eq!(read(&folder.path().join("none")).unwrap(), StepNote::default());
    }

    #[test]
    fn what_the_maker_wrote_into_it_stays() {
        let folder = tempfile::tempdir().unwrap();
        write(folder.path(), &example()).unwrap();
        let path = folder.path().join(NOTE);
        let text = std::fs::read_to_string(&path).unwrap();
        std::fs::write(&path, format!("{text}# rain all day\nstool = \"low\"\n")).unwrap();
        let later = example().overlaid(&StepNote { room_c: Some(21.0), ..StepNote::default() });
        write(folder.path(), &later).unwrap();
        let text = std::fs::read_to_string(&path).unwrap();
        assert!(text.contains("# rain all day\nstool = \"low\"\n"), "{text}");
        assert_eq!(read(folder.path()).unwrap().room_c, Some(21.0));
        assert_eq!(text.matches("room_c").count(), 1);
    }

    #[test]
    fn a_note_that_is_no_toml_is_told_with_its_line() {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join(NOTE), "what = \"x\"\nroom_c = 18,5\n").unwrap();
        let told = read(folder.path()).unwrap_err().to_string();
        assert!(told.contains("note.toml:2"), "{told}");
    }
}
