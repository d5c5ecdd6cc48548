//! Writing so that a power cut at any moment leaves the old or the new, never half of one, and so that two
//! programs never write the same unfinished file.
//!
//! Must not know what is written.

use std::ffi::{OsStr, OsString};
use std::fs::{File, OpenOptions};
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

use tempfile::{Builder, NamedTempFile, TempPath};

use super::error::BookError;

/// Ending of what is still being written; whatever has it was never accepted. What is begun and ended under the book's
/// lock has a hidden name besides; a take while it is recorded has not.
pub const UNFINISHED: &str = "part";

/// Characters between a file's own name and [`UNFINISHED`], by which two programs' files differ.
const MARK_LENGTH: usize = 6;

/// Writes a whole file: beside its place first, then moved there, each on the disk before the next. A link stays a
/// link: what it points to is written.
///
/// # Errors
/// [`BookError::Disk`]; then the old file stands as it was.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), BookError> {
    let path = &link_followed(path);
    let at = BookError::disk(path);
    let mut file = hidden_beside(path).map_err(&at)?;
    if let Ok(old) = path.metadata() {
        file.as_file().set_permissions(old.permissions()).map_err(&at)?;
    }
    file.write_all(bytes).and_then(|()| file.as_file().sync_all()).map_err(&at)?;
    file.persist(path).map_err(|refused| at(refused.error))?;
    sync_folder_of(path)
}

/// What a link points to, also when it is not there yet; any other path as it is.
fn link_followed(path: &Path) -> PathBuf {
    let Ok(target) = path.read_link() else { return path.to_path_buf() };
    path.canonicalize().unwrap_or_else(|_| path.with_file_name(target))
}

/// Makes something beside `path` under an unfinished name that no other program has; `mode` is what a new file or
/// folder may be used for, before the system takes away what it does not allow.
fn aside<T>(
    path: &Path,
    (hidden, mode): (bool, u32),
    make: impl FnOnce(&Builder<'_, '_>, &Path) -> std::io::Result<T>,
) -> std::io::Result<T> {
    let mut prefix = OsString::from(if hidden { "." } else { "" });
    prefix.push(path.file_name().unwrap_or_default());
    prefix.push(".");
    let suffix = format!(".{UNFINISHED}");
    let mut builder = Builder::new();
    builder.prefix(&prefix).suffix(&suffix).rand_bytes(MARK_LENGTH);
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(mode));
    #[cfg(not(unix))]
    let _ = mode;
    make(&builder, folder_of(path))
}

/// A new file with a hidden, unfinished name beside `path`; gone again when it is dropped.
fn hidden_beside(path: &Path) -> std::io::Result<NamedTempFile> {
    aside(path, (true, 0o666), |builder, folder| builder.tempfile_in(folder))
}

/// A file on its way to its own name, made under the book's lock; unless it gets there it is gone when this is dropped.
#[derive(Debug)]
pub struct OnItsWay(TempPath);

impl OnItsWay {
    /// An empty file that is to be called `path`.
    ///
    /// # Errors
    /// [`BookError::Disk`] when it can't be made.
    pub fn to(path: &Path) -> Result<OnItsWay, BookError> {
        Ok(OnItsWay(hidden_beside(path).map_err(BookError::disk(path))?.into_temp_path()))
    }

    /// Where it is now.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.0
    }
}

/// Whether this is the name of something that was begun under the book's lock and not ended.
#[must_use]
pub fn is_hidden_unfinished(name: &OsStr) -> bool {
    let name = name.to_string_lossy();
    name.starts_with('.') && name.ends_with(&format!(".{UNFINISHED}"))
}

/// Makes an empty file for a take while it is recorded: `D2.wav.x7Kq2p.part` for `D2.wav`, which no other program has.
///
/// # Errors
/// [`BookError::Disk`] when it can't be made.
pub fn unfinished(path: &Path) -> Result<PathBuf, BookError> {
    let file = aside(path, (false, 0o666), |builder, folder| builder.tempfile_in(folder));
    let file = file.map_err(BookError::disk(path))?;
    let (_, path) = file.keep().map_err(|refused| BookError::disk(path)(refused.error))?;
    Ok(path)
}

/// The name that a take was to have whose unfinished file is called `name`.
#[must_use]
pub fn finished_name(name: &str) -> &str {
    let whole = name.strip_suffix(UNFINISHED).and_then(|name| name.strip_suffix('.')).unwrap_or(name);
    match whole.rsplit_once('.') {
        Some((own, mark)) if mark.len() == MARK_LENGTH && own.contains('.') => own,
        _ => whole,
    }
}

fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

/// Puts the names in the folder of `path` on the disk. Where folders can't be synced (Windows), the system
/// does it itself.
///
/// # Errors
/// [`BookError::Disk`] when the disk refuses.
pub fn sync_folder_of(path: &Path) -> Result<(), BookError> {
    let folder = folder_of(path);
    if cfg!(unix) {
        File::open(folder).and_then(|folder| folder.sync_all()).map_err(BookError::disk(folder))?;
    }
    Ok(())
}

/// Makes a folder and all above it, on the disk.
///
/// # Errors
/// [`BookError::Disk`] when it can't be made.
pub fn make_folder(path: &Path) -> Result<(), BookError> {
    std::fs::create_dir_all(path).map_err(BookError::disk(path))?;
    sync_folder_of(path)
}

/// Makes a folder aside, lets `fill` write into it, and then gives it its name, so that it is whole or not there.
///
/// # Errors
/// [`BookError`] when something can't be written; nothing is left aside then.
pub fn build_folder(path: &Path, fill: impl FnOnce(&Path) -> Result<(), BookError>) -> Result<(), BookError> {
    let at = BookError::disk(path);
    make_folder(folder_of(path))?;
    let aside = aside(path, (true, 0o777), |builder, folder| builder.tempdir_in(folder)).map_err(&at)?;
    fill(aside.path())?;
    std::fs::rename(aside.path(), path).map_err(&at)?;
    // It has its name now, so that there is nothing to clear away.
    let _ = aside.keep();
    sync_folder_of(path)
}

/// Gives a finished file its name, never over another one, whoever made that in the meantime.
///
/// # Errors
/// [`BookError`] when the name is taken or the disk refuses; the file stays where it is.
pub fn move_to_free_name(from: &Path, to: &Path) -> Result<(), BookError> {
    let at = BookError::disk(to);
    let taken = || BookError::Refused {
        what: format!("{} is already there", to.display()),
        to_do: "Nothing is written over it. Move it away, or choose another name.".to_string(),
    };
    if to.symlink_metadata().is_ok() {
        return Err(taken());
    }
    let file = TempPath::try_from_path(from).map_err(&at)?;
    if let Err(refused) = file.persist_noclobber(to) {
        let (error, file) = (refused.error, refused.path);
        // Whatever happens, the take stays.
        let _ = file.keep();
        match error.kind() {
            ErrorKind::AlreadyExists => return Err(taken()),
            // Some disks (exFAT) know neither way of giving a name that is surely free.
            ErrorKind::Unsupported | ErrorKind::InvalidInput | ErrorKind::PermissionDenied => {
                std::fs::rename(from, to).map_err(&at)?;
            }
            _ => return Err(at(error)),
        }
    }
    sync_folder_of(to)
}

/// Appends whole lines to a file, on the disk when this returns. When not all of them could be written, none
/// is left.
///
/// # Errors
/// [`BookError::Disk`] when the disk refuses.
pub fn append(path: &Path, lines: &[u8]) -> Result<(), BookError> {
    let at = BookError::disk(path);
    let is_new = path.symlink_metadata().is_err();
    let mut file = OpenOptions::new().append(true).create(true).open(path).map_err(&at)?;
    let before = file.metadata().map_err(&at)?.len();
    if let Err(source) = file.write_all(lines).and_then(|()| file.sync_data()) {
        let _ = file.set_len(before);
        return Err(at(source));
    }
    if is_new { sync_folder_of(path) } else { Ok(()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_whole_file_replaces_the_old_one_and_leaves_nothing_beside_it() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("É note.toml");
        write_whole(&path, b"old").unwrap();
        write_whole(&path, b"new").unwrap();
        assert_eq!(std::fs::read(&path).unwrap(), b"new");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_link_stays_a_link_and_what_it_points_to_is_written() {
        let folder = tempfile::tempdir().unwrap();
        let (real, link) = (folder.path().join("real.toml"), folder.path().join("link.toml"));
        #[cfg(unix)]
        for is_there in [false, true] {
            if !is_there {
                std::os::unix::fs::symlink("real.toml", &link).unwrap();
            }
            write_whole(&link, b"new").unwrap();
            assert!(link.symlink_metadata().unwrap().is_symlink());
            assert_eq!(std::fs::read(&real).unwrap(), b"new");
        }
    }

    #[test]
    fn every_unfinished_take_has_a_name_of_its_own_and_tells_what_it_was_to_be() {
        let folder = tempfile::tempdir().unwrap();
        let take = folder.path().join("C#2-2.wav");
        let (one, other) = (unfinished(&take).unwrap(), unfinished(&take).unwrap());
        assert_ne!(one, other);
        for path in [one, other] {
            assert_eq!(finished_name(path.file_name().unwrap().to_str().unwrap()), "C#2-2.wav");
        }
        assert_eq!(finished_name("C#2-2.wav.part"), "C#2-2.wav");
    }

    #[test]
    fn a_folder_is_there_whole_or_not_at_all() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("P1/01-start");
        let refused = BookError::Refused { what: String::new(), to_do: String::new() };
        assert!(build_folder(&path, |_| Err(refused)).is_err());
        assert_eq!(std::fs::read_dir(folder.path().join("P1")).unwrap().count(), 0);
        build_folder(&path, |aside| write_whole(&aside.join("note.toml"), b"x")).unwrap();
        assert!(path.join("note.toml").is_file());
        assert_eq!(std::fs::read_dir(folder.path().join("P1")).unwrap().count(), 1);
    }

    #[test]
    fn a_name_that_is_taken_is_never_written_over() {
        let folder = tempfile::tempdir().unwrap();
        let (from, to) = (folder.path().join("a"), folder.path().join("b"));
        std::fs::write(&from, "new").unwrap();
        std::fs::write(&to, "precious").unwrap();
        assert!(move_to_free_name(&from, &to).is_err());
        assert_eq!(std::fs::read_to_string(&to).unwrap(), "precious");
        assert_eq!(std::fs::read_to_string(&from).unwrap(), "new");
    }
}
