//! A folder of takes in a book: kept, copied, set aside, and what is left of them when a program was stopped.
//!
//! A step has one for its ordinary takes, and one for every bench test. Must not know sound.

use std::path::{Path, PathBuf};

use super::csv;
use super::disk::{UNFINISHED, append, make_folder, move_to_free_name, sync_folder_of, unfinished};
use super::error::BookError;

/// Where the reasons of takes that were set aside are written.
pub const SET_ASIDE: &str = "set-aside.csv";
/// Where the old names of takes that were copied into the book are written.
pub const COPIED: &str = "copied.csv";

/// A folder of takes, with what belongs to it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TakeFolder {
    takes: PathBuf,
    aside: PathBuf,
    /// Where [`SET_ASIDE`] and [`COPIED`] lie.
    lists: PathBuf,
    /// How rows name the folder.
    rows_name: String,
}

impl TakeFolder {
    /// The takes in `takes`, with what was set aside and the lists in `home`; rows call the folder `rows_name`.
    pub(super) fn new(home: &Path, takes: PathBuf, rows_name: String) -> TakeFolder {
        TakeFolder { takes, aside: home.join("set-aside"), lists: home.to_path_buf(), rows_name }
    }

    /// Where the takes are.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.takes
    }

    /// Where takes lie that don't count any more.
    #[must_use]
    pub fn aside(&self) -> &Path {
        &self.aside
    }

    /// Whether it has takes, counting those set aside: they were played on this geometry too.
    #[must_use]
    pub fn has_takes(&self) -> bool {
        let holds_takes = |folder: &Path| {
            std::fs::read_dir(folder).is_ok_and(|entries| {
                entries.flatten().map(|entry| entry.path()).any(|path| path.is_file() && !is_no_take(&path))
            })
        };
        holds_takes(&self.takes) || holds_takes(&self.aside)
    }

    /// How a file of rows names a take of this folder.
    #[must_use]
    pub fn log_name(&self, file: &str) -> String {
        format!("{}/{file}", self.rows_name)
    }

    /// Whether the `file` of a row has been set aside since.
    #[must_use]
    pub fn is_aside(&self, file: &str) -> bool {
        let name = file.rsplit('/').next().unwrap_or(file);
        !name.is_empty() && self.aside.join(name).is_file() && !self.takes.join(name).is_file()
    }

    /// Whether a name is used by a take, or was by one that is set aside.
    #[must_use]
    pub fn is_taken(&self, file: &str) -> bool {
        [&self.takes, &self.aside].iter().any(|folder| folder.join(file).symlink_metadata().is_ok())
    }

    /// Sets a take aside; it stays in the book but doesn't count. The caller holds the book's lock.
    ///
    /// # Errors
    /// [`BookError`] when there is no such take or it can't be moved.
    pub fn set_aside(&self, file: &str, why: &str, when: &str) -> Result<PathBuf, BookError> {
        let from = self.takes.join(file);
        if !from.is_file() {
            return Err(BookError::Refused {
                what: format!("{} has no take {file}", self.takes.display()),
                to_do: "Give the name of a recording in that folder.".to_string(),
            });
        }
        make_folder(&self.aside)?;
        let to = self.aside.join(file);
        move_to_free_name(&from, &to)?;
        sync_folder_of(&from)?;
        self.note_in(SET_ASIDE, &["file", "why", "when"], &[file, why, when])?;
        Ok(to)
    }

    /// Notes where a take came from that was copied into this folder. The caller holds the book's lock.
    ///
    /// # Errors
    /// [`BookError::Disk`].
    pub fn note_origin(&self, file: &str, origin: &str, when: &str) -> Result<(), BookError> {
        self.note_in(COPIED, &["file", "from", "when"], &[file, origin, when])
    }

    fn note_in(&self, list: &str, head: &[&str], row: &[&str]) -> Result<(), BookError> {
        let path = self.lists.join(list);
        let head = if path.is_file() { String::new() } else { csv::line(head) };
        append(&path, &format!("{head}{}", csv::line(row)))
    }

    /// Copies a recording into the folder under the name `file`, whole or not at all, and notes where it came
    /// from. The caller holds the book's lock.
    ///
    /// # Errors
    /// [`BookError`] when the name is taken or the disk refuses.
    pub fn copy_in(&self, from: &Path, file: &str, when: &str) -> Result<PathBuf, BookError> {
        let to = self.takes.join(file);
        let aside = unfinished(&to);
        if let Err(source) = std::fs::copy(from, &aside) {
            let _ = std::fs::remove_file(&aside);
            return Err(BookError::disk(&to)(source));
        }
        self.adopt(&aside, file, &from.display().to_string(), when)
    }

    /// Gives a recording that was written into the takes' folder under an unfinished name the name `file`, and notes
    /// where it came from. The caller holds the book's lock.
    ///
    /// # Errors
    /// [`BookError`] when the name is taken or the disk refuses.
    pub fn adopt(&self, aside: &Path, file: &str, origin: &str, when: &str) -> Result<PathBuf, BookError> {
        let to = self.takes.join(file);
        let synced = std::fs::OpenOptions::new().write(true).open(aside).and_then(|file| file.sync_all());
        if let Err(source) = synced {
            let _ = std::fs::remove_file(aside);
            return Err(BookError::disk(&to)(source));
        }
        self.note_origin(file, origin, when)?;
        move_to_free_name(aside, &to)?;
        Ok(to)
    }

    /// Recordings that a power cut or crash left unfinished are set aside. The caller knows that no other
    /// program is recording, and holds the book's lock. Their new places.
    ///
    /// # Errors
    /// [`BookError`] when one can't be moved.
    pub fn rescue(&self, when: &str) -> Result<Vec<PathBuf>, BookError> {
        let Ok(entries) = std::fs::read_dir(&self.takes) else { return Ok(Vec::new()) };
        let mut left: Vec<PathBuf> =
            entries.flatten().map(|entry| entry.path()).filter(|p| is_unfinished(p)).collect();
        left.sort();
        let mut rescued = Vec::new();
        for path in left {
            // Without a sample there is nothing to keep: 68 bytes are a WAV's heading.
            if path.metadata().is_ok_and(|file| file.len() <= 100) {
                std::fs::remove_file(&path).map_err(BookError::disk(&path))?;
                continue;
            }
            let whole = path.with_extension("");
            let stem = whole.file_stem().unwrap_or_default().to_string_lossy().into_owned();
            let ending = whole.extension().unwrap_or_default().to_string_lossy().into_owned();
            let free =
                (1..).map(|n| format!("{stem}-cut-off-{n}.{ending}")).find(|name| !self.is_taken(name));
            let file = free.unwrap_or_default();
            make_folder(&self.aside)?;
            let to = self.aside.join(&file);
            move_to_free_name(&path, &to)?;
            let why = "the program was stopped while this was being recorded";
            self.note_in(SET_ASIDE, &["file", "why", "when"], &[&file, why, when])?;
            rescued.push(to);
        }
        Ok(rescued)
    }
}

/// Files that lie beside takes: lists, notes, hidden files, and takes that were never finished.
fn is_no_take(path: &Path) -> bool {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    name.starts_with('.') || name.ends_with(".csv") || name.ends_with(".toml") || is_unfinished(path)
}

fn is_unfinished(path: &Path) -> bool {
    path.extension().is_some_and(|ending| ending == UNFINISHED)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn step() -> (tempfile::TempDir, TakeFolder) {
        let folder = tempfile::tempdir().unwrap();
        let home = folder.path().join("P1/01-start");
        let step = TakeFolder::new(&home, home.join("takes"), "P1/01-start/takes".to_string());
        std::fs::create_dir_all(step.path()).unwrap();
        (folder, step)
    }

    #[test]
    fn a_take_set_aside_stays_in_the_book_with_its_reason_and_its_name_is_never_used_again() {
        let (_folder, step) = step();
        std::fs::write(step.path().join("D2.wav"), "sound").unwrap();
        let to = step.set_aside("D2.wav", "reed slipped, \"loud\"", "now").unwrap();
        assert_eq!(std::fs::read_to_string(to).unwrap(), "sound");
        let reasons = std::fs::read_to_string(step.lists.join(SET_ASIDE)).unwrap();
        assert_eq!(reasons, "file,why,when\nD2.wav,\"reed slipped, \"\"loud\"\"\",now\n");
        assert!(step.is_taken("D2.wav") && step.has_takes() && step.is_aside("P1/01-start/takes/D2.wav"));
        assert!(step.set_aside("D2.wav", "", "").is_err());
    }

    #[test]
    fn a_take_that_was_cut_off_is_set_aside_and_an_empty_one_is_cleared_away() {
        let (_folder, step) = step();
        std::fs::write(step.path().join("C#2-2.wav.part"), vec![1_u8; 5000]).unwrap();
        std::fs::write(step.path().join("D2.wav.part"), vec![1_u8; 44]).unwrap();
        assert!(!step.has_takes());
        let rescued = step.rescue("now").unwrap();
        assert_eq!(rescued, [step.aside().join("C#2-2-cut-off-1.wav")]);
        assert_eq!(std::fs::read_dir(step.path()).unwrap().count(), 0);
        assert!(step.rescue("now").unwrap().is_empty());
    }

    #[test]
    fn a_copied_take_keeps_its_old_name_in_a_list() {
        let (folder, step) = step();
        let from = folder.path().join("Memo 7.m4a");
        std::fs::write(&from, "sound").unwrap();
        step.copy_in(&from, "D2.m4a", "now").unwrap();
        let list = std::fs::read_to_string(step.lists.join(COPIED)).unwrap();
        assert!(list.contains("Memo 7.m4a") && list.contains("D2.m4a"), "{list}");
        assert!(from.is_file() && step.copy_in(&from, "D2.m4a", "now").is_err());
    }
}
