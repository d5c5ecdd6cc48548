//! `note.toml` of a bench step: what was done, when, and how it was played.
//!
//! Lines that the maker added stay as they are. Must not know takes or geometry.

use std::path::Path;

use super::disk::write_whole;
use super::error::BookError;
use crate::instrument::file::{Plain, plain_entries};
use crate::instrument::note_text::with_entries;

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
    /// What the maker found without a recording, like `v:leaks` or `D2:hissy`; of two for one place the later counts.
    pub found: Vec<String>,
    /// Places that this step touched, so that what was found of them before holds no more.
    pub touched: Vec<String>,
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
            found: [&self.found[..], &later.found].concat(),
            touched: [&self.touched[..], &later.touched].concat(),
        }
    }

    fn entries(&self) -> Vec<(&'static str, Plain)> {
        let text = |text: &str| Plain::Text(text.to_string());
        let mut entries = vec![("what", text(&self.what)), ("when", text(&self.when))];
        entries.extend(self.room_c.map(|celsius| ("room_c", Plain::Number((celsius * 10.0).round() / 10.0))));
        let texts = [("reed", &self.reed), ("player", &self.player), ("note", &self.note)];
        entries.extend(texts.into_iter().filter_map(|(key, value)| Some((key, text(value.as_deref()?)))));
        let lists = [("found", &self.found), ("touched", &self.touched)];
        let said = lists.into_iter().filter(|(_, list)| !list.is_empty());
        entries.extend(said.map(|(key, list)| (key, Plain::Texts(list.clone()))));
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
            ("found", Plain::Texts(found)) => note.found = found,
            ("touched", Plain::Texts(touched)) => note.touched = touched,
            _ => {}
        }
    }
    Ok(note)
}

/// Writes the note into a step's folder. What an older one says besides stays, comments too.
///
/// # Errors
/// [`BookError`] when the older one can't be read, or the disk refuses.
pub fn write(folder: &Path, note: &StepNote) -> Result<(), BookError> {
    let path = folder.join(NOTE);
    let text = match std::fs::read(&path) {
        Ok(bytes) => with_entries(&text_of(&path, bytes)?, &note.entries())?,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
            format!("{HEAD}\n{}", with_entries("", &note.entries())?)
        }
        Err(source) => return Err(BookError::Disk { path, source }),
    };
    write_whole(&path, text.as_bytes())
}

/// The file's text. One in another coding is left alone: rewriting it would lose letters.
fn text_of(path: &Path, bytes: Vec<u8>) -> Result<String, BookError> {
    String::from_utf8(bytes).map_err(|_| BookError::Damaged {
        path: path.to_path_buf(),
        line: None,
        what: "it is no UTF-8 text".to_string(),
        to_do: "Save it as UTF-8 in your editor. Nothing was changed.".to_string(),
    })
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
            found: vec!["v:leaks".into(), "D2:hissy".into()],
            touched: vec!["p3".into()],
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
