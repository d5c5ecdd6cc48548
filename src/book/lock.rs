//! Two programs on one book: one writes at a time, one records at a time.
//!
//! The system forgets a lock when its program ends, however it ends. Where a disk knows no locks (some
//! network folders) there is none. Must not wait nor speak: the commands do that.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::ErrorKind;
use std::path::Path;

use super::error::BookError;

/// What is done alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Alone {
    /// Changing files of the book: for a moment.
    Writing,
    /// Recording into it, or opening a step: for as long as it lasts.
    Recording,
}

impl Alone {
    fn file(self) -> &'static str {
        match self {
            Alone::Writing => ".writing",
            Alone::Recording => ".recording",
        }
    }
}

/// Held until it is dropped.
#[derive(Debug)]
#[must_use]
pub struct Lock {
    _file: Option<File>,
}

/// Takes a lock of the book at `root`; `None` when another program holds it.
///
/// # Errors
/// [`BookError::Disk`] when nothing can be written there.
pub fn try_lock(root: &Path, alone: Alone) -> Result<Option<Lock>, BookError> {
    let path = root.join(alone.file());
    let file = OpenOptions::new()
        .create(true)
        .truncate(false)
        .write(true)
        .open(&path)
        .map_err(BookError::disk(&path))?;
    match file.try_lock() {
        Ok(()) => Ok(Some(Lock { _file: Some(file) })),
        Err(TryLockError::WouldBlock) => Ok(None),
        Err(TryLockError::Error(error)) if error.kind() == ErrorKind::Unsupported => {
            Ok(Some(Lock { _file: None }))
        }
        Err(TryLockError::Error(source)) => Err(BookError::Disk { path, source }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_one_holds_a_lock_and_it_is_free_again_afterwards() {
        let folder = tempfile::tempdir().unwrap();
        let held = try_lock(folder.path(), Alone::Writing).unwrap().unwrap();
        assert!(try_lock(folder.path(), Alone::Writing).unwrap().is_none());
        assert!(try_lock(folder.path(), Alone::Recording).unwrap().is_some());
        drop(held);
        assert!(try_lock(folder.path(), Alone::Writing).unwrap().is_some());
    }
}
