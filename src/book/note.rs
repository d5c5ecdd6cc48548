//! `note.toml` of a bench step: what was done, when, and how it was played.
//!
//! Lines that the maker added stay as they are. Must not know takes or geometry.

use std::path::Path;

use super::error::BookError;
use super::keys::{KeyFile, write_keys};
use crate::instrument::file::Plain;

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
        entries.extend(self.room_c.map(|celsius| ("room_c", Plain::Number(celsius))));
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
    let mut note = StepNote::default();
    let Some(file) = KeyFile::read(&folder.join(NOTE))? else { return Ok(note) };
    for entry in file.entries() {
        match entry.key.as_str() {
            "what" => note.what = file.text(entry)?,
            "when" => note.when = file.text(entry)?,
            "room_c" => note.room_c = Some(file.room_c(entry)?),
            "reed" => note.reed = Some(file.text(entry)?),
            "player" => note.player = Some(file.text(entry)?),
            "note" => note.note = Some(file.text(entry)?),
            "found" => note.found = file.texts(entry)?,
            "touched" => note.touched = file.texts(entry)?,
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
    write_keys(&folder.join(NOTE), (HEAD, ""), &note.entries())
}

const HEAD: &str = "# What was done for this step, and how it was played. Times are UTC, temperatures °C.\n";

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
    fn what_can_not_be_read_is_refused_with_its_line_and_never_written_over() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join(NOTE);
        for (bytes, line, word) in [
            (&b"what = \"x\"\nplayer = \"Andr\xe9\"\n"[..], 2, "UTF-8"),
            (b"room_c = nan\n", 1, "a number"),
            (b"# cold\nroom_c = -400\n", 2, "no room has -400"),
            (b"room_c = \"warm\"\n", 1, "a number"),
            (b"found = [\"v:leaks\", 3]\n", 1, "a list of texts"),
            (b"reed = 3\n", 1, "text in quotes"),
        ] {
            std::fs::write(&path, bytes).unwrap();
            let told = read(folder.path()).unwrap_err().to_string();
            assert!(told.contains(&format!("note.toml:{line}: ")) && told.contains(word), "{told}");
            assert_eq!(std::fs::read(&path).unwrap(), bytes);
        }
        std::fs::write(&path, b"what = \"Andr\xe9\"\n").unwrap();
        assert!(write(folder.path(), &example()).is_err());
        assert_eq!(std::fs::read(&path).unwrap(), b"what = \"Andr\xe9\"\n");
    }

    #[test]
    fn a_note_that_is_no_toml_is_told_with_its_line() {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join(NOTE), "what = \"x\"\nroom_c = 18,5\n").unwrap();
        let told = read(folder.path()).unwrap_err().to_string();
        assert!(told.contains("note.toml:2"), "{told}");
    }
}
