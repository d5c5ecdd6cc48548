//! `book.toml`: the version of a book and the order of its prototypes.
//!
//! Must not know steps or takes.

use std::path::Path;

use super::error::BookError;
use super::keys::{KeyFile, write_keys};
use crate::instrument::file::Plain;

/// Name of the file.
pub const BOOK: &str = "book.toml";
/// The version that this program writes, and the newest that it reads.
pub const FORMAT: u32 = 1;

/// The prototypes that `book.toml` lists; none when there is no such file.
pub(super) fn listed_prototypes(path: &Path) -> Result<Vec<String>, BookError> {
    let mut prototypes = Vec::new();
    let Some(file) = KeyFile::read(path)? else { return Ok(prototypes) };
    for entry in file.entries() {
        match entry.key.as_str() {
            "format" => {
                let format = file.number(entry)?;
                if format > f64::from(FORMAT) {
                    return Err(BookError::Newer { path: path.to_path_buf(), format, known: FORMAT });
                }
            }
            "prototypes" => prototypes = file.texts(entry)?,
            _ => {}
        }
    }
    Ok(prototypes)
}

/// Writes the list of prototypes; whatever else the file says stays.
pub(super) fn write_version(root: &Path, prototypes: &[String]) -> Result<(), BookError> {
    let body = format!("format = {FORMAT}\n# In the order in which they were begun.\nprototypes = []\n");
    write_keys(&root.join(BOOK), (HEAD, &body), &[("prototypes", Plain::Texts(prototypes.to_vec()))])
}

const HEAD: &str =
    "# A bench book. Each prototype has a folder, each bench step one in it; log.csv has one row a take.\n";
