//! Writes the page of a check and its pictures where the maker asked for them.

use std::path::Path;

use super::args::PageArguments;
use super::failure::Failure;
use crate::book::disk::{make_folder, write_whole};
use crate::book::error::BookError;
use crate::report::page::plots::plots;
use crate::report::page::sheet::{Sheet, page};

impl PageArguments {
    /// A page is written over what is there, so that nothing but a page may be meant.
    ///
    /// # Errors
    /// [`Failure::Usage`] for a name that is no page's.
    pub(super) fn must_make_sense(&self) -> Result<(), Failure> {
        let ending =
            |path: &Path| path.extension().map(|ending| ending.to_string_lossy().to_ascii_lowercase());
        match &self.report {
            Some(path) if !matches!(ending(path).as_deref(), Some("html" | "htm")) => Err(Failure::Usage(
                format!("--report {}: a page's name ends in .html, like check.html", path.display()),
            )),
            _ => Ok(()),
        }
    }

    /// Whether anything is to be written.
    pub(super) fn is_wanted(&self) -> bool {
        self.report.is_some() || self.plots.is_some()
    }

    /// Writes what was asked for, each file whole or not at all.
    ///
    /// # Errors
    /// [`Failure`] when it can't be drawn or written.
    pub(super) fn write(&self, sheet: &Sheet<'_>) -> Result<(), Failure> {
        if let Some(report) = &self.report {
            write_page(report, sheet)?;
        }
        if let Some(folder) = &self.plots {
            make_folder(folder).map_err(|error| as_page(folder, error))?;
            for plot in plots(sheet)? {
                put_whole(&folder.join(plot.file), &plot.svg)?;
            }
        }
        Ok(())
    }
}

/// Writes the page.
///
/// # Errors
/// [`Failure`] when it can't be drawn or written.
pub(super) fn write_page(path: &Path, sheet: &Sheet<'_>) -> Result<(), Failure> {
    put_whole(path, &page(sheet)?)
}

/// Writes a text to `path`, whole or not at all.
///
/// # Errors
/// [`Failure::Page`] when the disk refuses.
pub(super) fn put_whole(path: &Path, text: &str) -> Result<(), Failure> {
    write_whole(path, text.as_bytes()).map_err(|error| as_page(path, error))
}

/// What went wrong in the words of a page, not of a book.
fn as_page(path: &Path, error: BookError) -> Failure {
    match error {
        BookError::Disk { source, .. } => Failure::Page { path: path.to_path_buf(), source },
        other => other.into(),
    }
}
