//! Small files of keys in a book (`note.toml`, `test.toml`, `book.toml`): what can't be read is refused with its line, and
//! what is written leaves every other line as the maker typed it.
//!
//! Must not know what the keys mean.

use std::path::{Path, PathBuf};

use super::disk::write_whole;
use super::error::BookError;
use crate::air::ROOM_C;
use crate::instrument::file::{Plain, PlainEntry, plain_entries};
use crate::instrument::note_text::with_entries;

/// A file of keys.
pub(super) struct KeyFile {
    path: PathBuf,
    entries: Vec<PlainEntry>,
}

impl KeyFile {
    /// Reads the file; `None` when there is none.
    pub fn read(path: &Path) -> Result<Option<KeyFile>, BookError> {
        // As it is edited: else a text of several lines in a file of Windows would seem changed with every writing.
        let Some(text) = text_of(path)?.map(|text| text.replace("\r\n", "\n")) else { return Ok(None) };
        let entries = plain_entries(&text).map_err(|problem| BookError::Damaged {
            path: path.to_path_buf(),
            line: Some(problem.line),
            what: problem.what,
            to_do: problem.to_do,
        })?;
        Ok(Some(KeyFile { path: path.to_path_buf(), entries }))
    }

    /// The entries, in the order of the file.
    pub fn entries(&self) -> &[PlainEntry] {
        &self.entries
    }

    /// A text.
    pub fn text(&self, entry: &PlainEntry) -> Result<String, BookError> {
        match &entry.value {
            Plain::Text(text) => Ok(text.clone()),
            _ => Err(self.wrong(entry, "text in quotes")),
        }
    }

    /// A list of texts; a single text is a list of one.
    pub fn texts(&self, entry: &PlainEntry) -> Result<Vec<String>, BookError> {
        match &entry.value {
            Plain::Texts(texts) => Ok(texts.clone()),
            Plain::Text(text) => Ok(vec![text.clone()]),
            _ => Err(self.wrong(entry, "a list of texts, like [\"one\", \"two\"]")),
        }
    }

    /// A number.
    pub fn number(&self, entry: &PlainEntry) -> Result<f64, BookError> {
        match entry.value {
            Plain::Number(number) if number.is_finite() => Ok(number),
            _ => Err(self.wrong(entry, "a number")),
        }
    }

    /// The temperature of a room, °C.
    pub fn room_c(&self, entry: &PlainEntry) -> Result<f64, BookError> {
        let room_c = self.number(entry)?;
        if ROOM_C.contains(&room_c) {
            return Ok(room_c);
        }
        Err(self.refused(
            Some(entry.line),
            format!("no room has {room_c} °C"),
            "Write the room's temperature in °C, like room_c = 19.".to_string(),
        ))
    }

    /// What is wrong with the file, and where.
    pub fn refused(&self, line: Option<usize>, what: String, to_do: String) -> BookError {
        BookError::Damaged { path: self.path.clone(), line, what, to_do }
    }

    fn wrong(&self, entry: &PlainEntry, should_be: &str) -> BookError {
        self.refused(
            Some(entry.line),
            format!("{} should be {should_be}", entry.key),
            "Correct the line. Nothing was changed.".to_string(),
        )
    }
}

/// Writes the keys into the file at `path`. Everything else in it stays, comments and order too; one that is not there
/// yet gets the comment `head`, and below it the keys of `body`.
pub(super) fn write_keys(
    path: &Path,
    (head, body): (&str, &str),
    keys: &[(&str, Plain)],
) -> Result<(), BookError> {
    let old = text_of(path)?;
    let new = match &old {
        Some(text) => with_entries(text, keys)?,
        None => format!("{head}{}", with_entries(body, keys)?),
    };
    if old.as_ref() == Some(&new) { Ok(()) } else { write_whole(path, new.as_bytes()) }
}

/// The file's text; `None` when there is no file. One in another coding is refused: what can't be read would be lost
/// with the next writing.
fn text_of(path: &Path) -> Result<Option<String>, BookError> {
    let bytes = match std::fs::read(path) {
        Ok(bytes) => bytes,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(None),
        Err(source) => return Err(BookError::Disk { path: path.to_path_buf(), source }),
    };
    String::from_utf8(bytes).map(Some).map_err(|error| {
        let good = error.as_bytes().get(..error.utf8_error().valid_up_to()).unwrap_or_default();
        BookError::Damaged {
            path: path.to_path_buf(),
            line: Some(1 + good.iter().filter(|&&byte| byte == b'\n').count()),
            what: "there is a letter that is not written in UTF-8".to_string(),
            to_do: "Save the file as UTF-8 in your editor. Nothing was changed.".to_string(),
        }
    })
}
