//! Why a book could not be read or written, in the maker's words. Nothing that was accepted is lost by any
//! of these.

use std::path::{Path, PathBuf};

use crate::instrument::problem::FileError;
use crate::instrument::save::SaveError;

/// Why a book could not be used.
#[derive(Debug, thiserror::Error)]
pub enum BookError {
    /// No book here.
    #[error(
        "{} is no bench book, and lies in none\n  Go into the book's folder, or start one: borescribe new DIR",
        path.display()
    )]
    NoBook {
        /// Where it was looked for.
        path: PathBuf,
    },
    /// A newer program wrote the book.
    #[error(
        "{} was written by a newer borescribe (format {format}; this one knows {known})\n  \
         Use the newer program. Nothing was changed.",
        path.display()
    )]
    Newer {
        /// The file with the version.
        path: PathBuf,
        /// The version that it names.
        format: f64,
        /// The newest version that is known here.
        known: u32,
    },
    /// A file of the book says something that can't be.
    #[error("{}{}: {what}\n  {to_do}", path.display(), line.map(|line| format!(":{line}")).unwrap_or_default())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// Its line, from 1, when known.
        line: Option<usize>,
        /// What is wrong.
        what: String,
        /// What to do.
        to_do: String,
    },
    /// The disk or the system says no.
    #[error("{}: {source}\n  {}", path.display(), disk_advice(source))]
    Disk {
        /// The file or folder.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// A name that is used already.
    #[error("{what}\n  {to_do}")]
    Refused {
        /// What can't be done.
        what: String,
        /// What to do.
        to_do: String,
    },
    /// The frozen or current instrument file.
    #[error("{0}")]
    Instrument(#[from] FileError),
    /// The instrument file can't be carried over.
    #[error("{0}")]
    Save(#[from] SaveError),
}

impl BookError {
    /// Turns what the system said about `path` into an error.
    pub(crate) fn disk(path: &Path) -> impl Fn(std::io::Error) -> BookError {
        let path = path.to_path_buf();
        move |source| BookError::Disk { path: path.clone(), source }
    }
}

fn disk_advice(source: &std::io::Error) -> &'static str {
    use std::io::ErrorKind;
    match source.kind() {
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => {
            "The disk is full. Make room and run it again; what was kept before is safe."
        }
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
            "You may not write there. Copy the book to a folder of yours, or change who may write; what is in it is safe."
        }
        ErrorKind::NotFound => "It is not there any more. Was the book moved, or a disk pulled out?",
        _ => "Check that the disk is there, has room, and that you may write to it.",
    }
}
