//! Writes the page of a check where the maker asked for it.

use std::path::Path;

use super::failure::Failure;
use crate::book::disk::write_whole;
use crate::book::error::BookError;
use crate::report::page::sheet::{Sheet, page};

/// A page is written over what is there, so that nothing but a page may be meant.
///
/// # Errors
/// [`Failure::Usage`] for a name that is no page's.
pub(super) fn refuse_report(report: Option<&Path>) -> Result<(), Failure> {
    let ending = |path: &Path| path.extension().map(|ending| ending.to_string_lossy().to_ascii_lowercase());
    match report {
        Some(path) if !matches!(ending(path).as_deref(), Some("html" | "htm")) => Err(Failure::Usage(
            format!("--report {}: a page's name ends in .html, like check.html", path.display()),
        )),
        _ => Ok(()),
    }
}

/// Writes the page, whole or not at all.
///
/// # Errors
/// [`Failure`] when it can't be drawn or written.
pub(super) fn write_report(path: &Path, sheet: &Sheet<'_>) -> Result<(), Failure> {
    put_whole(path, &page(sheet)?)
}

/// Writes a page or a chart, whole or not at all.
fn put_whole(path: &Path, text: &str) -> Result<(), Failure> {
    write_whole(path, text.as_bytes()).map_err(|error| match error {
        BookError::Disk { source, .. } => Failure::Page { path: path.to_path_buf(), source },
        other => other.into(),
    })
}
