//! `book.toml`: the version of a book and the order of its prototypes.
//!
//! Must not know steps or takes.

use std::path::Path;

use super::disk::write_whole;
use super::error::BookError;
use crate::instrument::file::{Plain, plain_entries};

/// Name of the file.
pub const BOOK: &str = "book.toml";
/// The version that this program writes, and the newest that it reads.
pub const FORMAT: u32 = 1;

/// The prototypes that `book.toml` lists; none when there is no such file.
pub(super) fn listed_prototypes(path: &Path) -> Result<Vec<String>, BookError> {
    let text = match std::fs::read(path) {
        Ok(bytes) => String::from_utf8_lossy(&bytes).into_owned(),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
        Err(source) => return Err(BookError::Disk { path: path.to_path_buf(), source }),
    };
    let entries = plain_entries(&text).map_err(|problem| BookError::Damaged {
        path: path.to_path_buf(),
        line: Some(problem.line),
        what: problem.what,
        to_do: problem.to_do,
    })?;
    let mut prototypes = Vec::new();
    for (key, value) in entries {
        match (key.as_str(), value) {
            ("format", Plain::Number(format)) if format > f64::from(FORMAT) => {
                return Err(BookError::Newer { path: path.to_path_buf(), format, known: FORMAT });
            }
            ("prototypes", Plain::Texts(names)) => prototypes = names,
            _ => {}
        }
    }
    Ok(prototypes)
}

pub(super) fn write_version(root: &Path, prototypes: &[String]) -> Result<(), BookError> {
    let names: Vec<String> = prototypes.iter().map(|name| format!("\"{name}\"")).collect();
    let text = format!(
        "# A bench book. Each prototype has a folder, each bench step one in it; log.csv has one row a take.\n\
         format = {FORMAT}\n# In the order in which they were begun.\nprototypes = [{}]\n",
        names.join(", ")
    );
    write_whole(&root.join(BOOK), text.as_bytes())
}
