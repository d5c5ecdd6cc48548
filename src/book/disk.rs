//! Writing so that a power cut at any moment leaves the old or the new, never half of one.
//!
//! Must not know what is written.

use std::fs::{File, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};

use super::error::BookError;

/// Ending of a file that is still being written; whatever has it was never accepted.
pub const UNFINISHED: &str = "part";

/// Writes a whole file: beside its place first, then moved there, each on the disk before the next.
///
/// # Errors
/// [`BookError::Disk`]; then the old file stands as it was.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), BookError> {
    let aside = unfinished(path);
    let result = write_aside(path, &aside, bytes);
    if result.is_err() {
        let _ = std::fs::remove_file(&aside);
    }
    result
}

fn write_aside(path: &Path, aside: &Path, bytes: &[u8]) -> Result<(), BookError> {
    let at = BookError::disk(path);
    let mut file = File::create(aside).map_err(&at)?;
    if let Ok(old) = path.metadata() {
        file.set_permissions(old.permissions()).map_err(&at)?;
    }
    file.write_all(bytes).and_then(|()| file.sync_all()).map_err(&at)?;
    drop(file);
    std::fs::rename(aside, path).map_err(&at)?;
    sync_folder_of(path)
}

/// The name of a file while it is being written.
#[must_use]
pub fn unfinished(path: &Path) -> PathBuf {
    let mut name = path.file_name().unwrap_or_default().to_os_string();
    name.push(".");
    name.push(UNFINISHED);
    path.with_file_name(name)
}

/// Puts the names in the folder of `path` on the disk. Where folders can't be synced (Windows), the system
/// does it itself.
///
/// # Errors
/// [`BookError::Disk`] when the disk refuses.
pub fn sync_folder_of(path: &Path) -> Result<(), BookError> {
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
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
/// [`BookError`] when something can't be written; what is left aside is cleared away the next time.
pub fn build_folder(path: &Path, fill: impl FnOnce(&Path) -> Result<(), BookError>) -> Result<(), BookError> {
    let mut name = std::ffi::OsString::from(".");
    name.push(path.file_name().unwrap_or_default());
    let aside = path.with_file_name(name);
    let _ = std::fs::remove_dir_all(&aside);
    make_folder(&aside)?;
    fill(&aside)?;
    std::fs::rename(&aside, path).map_err(BookError::disk(path))?;
    sync_folder_of(path)
}

/// Gives a finished file its name, never over another one.
///
/// # Errors
/// [`BookError`] when the name is taken or the disk refuses; the file stays where it is.
pub fn move_to_free_name(from: &Path, to: &Path) -> Result<(), BookError> {
    if to.symlink_metadata().is_ok() {
        return Err(BookError::Refused {
            what: format!("{} is already there", to.display()),
            to_do: "Nothing is written over it. Move it away, or choose another name.".to_string(),
        });
    }
    std::fs::rename(from, to).map_err(BookError::disk(to))?;
    sync_folder_of(to)
}

/// Appends whole lines to a file, on the disk when this returns. When not all of them could be written, none
/// is left.
///
/// # Errors
/// [`BookError::Disk`] when the disk refuses.
pub fn append(path: &Path, lines: &str) -> Result<(), BookError> {
    let at = BookError::disk(path);
    let is_new = path.symlink_metadata().is_err();
    let mut file = OpenOptions::new().append(true).create(true).open(path).map_err(&at)?;
    let before = file.metadata().map_err(&at)?.len();
    if let Err(source) = file.write_all(lines.as_bytes()).and_then(|()| file.sync_data()) {
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
