//! A folder of takes in a book: kept, copied, set aside, and what is left of them when a program was stopped.
//!
//! A step has one for its ordinary takes, and one for every bench test. Must not know sound.

use std::path::{Path, PathBuf};

use super::disk::{
    OnItsWay, UNFINISHED, finished_name, make_folder, move_to_free_name, sync_folder_of, write_whole,
};
use super::error::BookError;
use super::rows::{Rows, as_written};
use super::take_lists::{AsideRow, CopiedRow};
use crate::instrument::file::{Plain, plain_entries};
use crate::instrument::note_text::with_entries;

/// A folder of takes, with what belongs to it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TakeFolder {
    takes: PathBuf,
    aside: PathBuf,
    /// Where the lists of takes that were set aside or copied lie.
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
        if !self.takes.join(file).is_file() {
            let is_aside = self.aside.join(file).is_file();
            let (what, to_do) = if is_aside {
                (format!("{file} is set aside already"), "Nothing is left to do.")
            } else {
                (
                    format!("{} has no take {file}", self.takes.display()),
                    "Give the name of a recording in that folder.",
                )
            };
            return Err(BookError::Refused { what, to_do: to_do.to_string() });
        }
        self.move_aside(&Move { from: file.into(), file: file.into(), why: why.into(), when: when.into() })
    }

    /// Moves a take aside with its reason. The reason is on the disk first, so that neither is ever without the other:
    /// what is stopped in between is ended by [`TakeFolder::end_moves`].
    fn move_aside(&self, planned: &Move) -> Result<PathBuf, BookError> {
        let to = self.aside.join(&planned.file);
        if to.symlink_metadata().is_ok() {
            return Err(BookError::Refused {
                what: format!("{} is already there", to.display()),
                to_do: "Move it away first. Nothing was changed.".to_string(),
            });
        }
        make_folder(&self.aside)?;
        planned.write(&self.lists.join(MOVE))?;
        self.end_moves().map_err(|error| match error {
            BookError::Disk { source, .. } if to.is_file() => BookError::Refused {
                what: format!(
                    "{} is set aside and its reason is safe, but it can't be added to {} now: {source}",
                    planned.file,
                    self.set_aside_list().path().display()
                ),
                to_do: "Make room on the disk. The next command adds it; nothing is to be done again."
                    .to_string(),
            },
            other => other,
        })?;
        Ok(to)
    }

    /// Ends a move that was stopped between its reason, the take and the list. The caller holds the book's lock. The
    /// take's new place, when there was such a move.
    ///
    /// # Errors
    /// [`BookError`] when the disk refuses; then it is ended later.
    pub fn end_moves(&self) -> Result<Option<PathBuf>, BookError> {
        let path = self.lists.join(MOVE);
        let Some(planned) = Move::read(&path)? else { return Ok(None) };
        let (from, to) = (self.takes.join(&planned.from), self.aside.join(&planned.file));
        if from.is_file() && to.symlink_metadata().is_err() {
            make_folder(&self.aside)?;
            move_to_free_name(&from, &to)?;
            sync_folder_of(&from)?;
        }
        if to.is_file() {
            let list = self.set_aside_list();
            list.repair()?;
            let row = AsideRow { file: planned.file, why: planned.why, when: planned.when };
            if !list.read()?.rows.contains(&as_written(row.clone())) {
                list.append(&[row])?;
            }
        }
        std::fs::remove_file(&path).map_err(BookError::disk(&path))?;
        Ok(Some(to))
    }

    /// The rows of the lists that belong to the folder, mended. The caller holds the book's lock.
    ///
    /// # Errors
    /// [`BookError`] when the disk refuses.
    pub fn repair_lists(&self) -> Result<(), BookError> {
        self.set_aside_list().repair()?;
        self.copied().repair()?;
        Ok(())
    }

    fn set_aside_list(&self) -> Rows<AsideRow> {
        Rows::of(&self.lists)
    }

    fn copied(&self) -> Rows<CopiedRow> {
        Rows::of(&self.lists)
    }

    /// Copies a recording into the folder under the name `file`, whole or not at all, and notes where it came
    /// from. The caller holds the book's lock.
    ///
    /// # Errors
    /// [`BookError`] when the name is taken or the disk refuses.
    pub fn copy_in(&self, from: &Path, file: &str, when: &str) -> Result<PathBuf, BookError> {
        let copy = OnItsWay::to(&self.takes.join(file))?;
        let copied = std::fs::File::open(from).and_then(|mut original| {
            let mut file = std::fs::OpenOptions::new().write(true).open(copy.path())?;
            std::io::copy(&mut original, &mut file)
        });
        copied.map_err(BookError::disk(&self.takes.join(file)))?;
        self.adopt(copy, file, &from.display().to_string(), when)
    }

    /// Gives a recording that was written beside the takes the name `file`, and notes where it came from. The caller
    /// holds the book's lock.
    ///
    /// # Errors
    /// [`BookError`] when the name is taken or the disk refuses.
    pub fn adopt(
        &self,
        recording: OnItsWay,
        file: &str,
        origin: &str,
        when: &str,
    ) -> Result<PathBuf, BookError> {
        let to = self.takes.join(file);
        let synced = std::fs::OpenOptions::new().write(true).open(recording.path());
        synced.and_then(|file| file.sync_all()).map_err(BookError::disk(&to))?;
        let row = CopiedRow { file: file.into(), from: origin.into(), when: when.into() };
        self.copied().repair()?;
        self.copied().append(&[row])?;
        move_to_free_name(recording.path(), &to)?;
        Ok(to)
    }

    /// Whether a program left something half done here: a move, or, unless one is recording, a take that was cut off.
    #[must_use]
    pub fn is_half_done(&self) -> bool {
        self.lists.join(MOVE).is_file() || self.has_cut_off()
    }

    /// Whether a take is being recorded into the folder, or was when the program was stopped.
    #[must_use]
    pub fn has_cut_off(&self) -> bool {
        let entries = std::fs::read_dir(&self.takes);
        entries.is_ok_and(|entries| entries.flatten().any(|entry| is_cut_off(&entry.path())))
    }

    /// Recordings that a power cut or crash left unfinished are set aside. The caller knows that no other
    /// program is recording, and holds the book's lock. Their new places.
    ///
    /// # Errors
    /// [`BookError`] when one can't be moved.
    pub fn rescue(&self, when: &str) -> Result<Vec<PathBuf>, BookError> {
        let Ok(entries) = std::fs::read_dir(&self.takes) else { return Ok(Vec::new()) };
        let mut left: Vec<PathBuf> =
            entries.flatten().map(|entry| entry.path()).filter(|p| is_cut_off(p)).collect();
        left.sort();
        let mut rescued = Vec::new();
        for path in left {
            // Without a sample there is nothing to keep: 68 bytes are a WAV's heading.
            if path.metadata().is_ok_and(|file| file.len() <= 100) {
                std::fs::remove_file(&path).map_err(BookError::disk(&path))?;
                continue;
            }
            // A name that is no text is none of this program's.
            let Some(name) = path.file_name().and_then(|name| name.to_str()) else { continue };
            let (stem, ending) = finished_name(name).rsplit_once('.').unwrap_or((name, "wav"));
            let named = |number: u32| format!("{stem}-cut-off-{number}.{ending}");
            let free = (1..).map(named).find(|name| !self.is_taken(name));
            rescued.push(self.move_aside(&Move {
                from: name.to_string(),
                file: free.unwrap_or_default(),
                why: "the program was stopped while this was being recorded".to_string(),
                when: when.to_string(),
            })?);
        }
        Ok(rescued)
    }
}

/// A take on its way aside, as it is kept in [`MOVE`] until it is there and in the list.
struct Move {
    from: String,
    file: String,
    why: String,
    when: String,
}

/// Hidden beside the lists, and only there while a take is moved.
const MOVE: &str = ".set-aside.toml";

impl Move {
    fn write(&self, path: &Path) -> Result<(), BookError> {
        let text = |text: &String| Plain::Text(text.clone());
        let entries = [
            ("from", text(&self.from)),
            ("file", text(&self.file)),
            ("why", text(&self.why)),
            ("when", text(&self.when)),
        ];
        write_whole(path, with_entries("", &entries)?.as_bytes())
    }

    /// The move that is kept in the file; what is no such file is none.
    fn read(path: &Path) -> Result<Option<Move>, BookError> {
        let text = match std::fs::read_to_string(path) {
            Ok(text) => text,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(None),
            Err(source) => return Err(BookError::Disk { path: path.to_path_buf(), source }),
        };
        let entries = plain_entries(&text).unwrap_or_default();
        let of = |key: &str| {
            entries.iter().find(|entry| entry.key == key).and_then(|entry| match &entry.value {
                Plain::Text(text) => Some(text.clone()),
                _ => None,
            })
        };
        // Only names in these two folders: nothing else is ever moved.
        let name = |key: &str| of(key).filter(|name| !name.contains(['/', '\\']) && !name.starts_with('.'));
        let (Some(from), Some(file)) = (name("from"), name("file")) else { return Ok(None) };
        Ok(Some(Move {
            from,
            file,
            why: of("why").unwrap_or_default(),
            when: of("when").unwrap_or_default(),
        }))
    }
}

/// Files that lie beside takes: lists, notes, hidden files, and takes that were never finished.
fn is_no_take(path: &Path) -> bool {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    name.starts_with('.') || name.ends_with(".csv") || name.ends_with(".toml") || is_cut_off(path)
}

/// Whether this is a take that is being recorded, or was when the program was stopped.
fn is_cut_off(path: &Path) -> bool {
    let is_hidden = path.file_name().is_some_and(|name| name.to_string_lossy().starts_with('.'));
    !is_hidden && path.extension().is_some_and(|ending| ending == UNFINISHED)
}

#[cfg(test)]
mod tests {
    use super::super::take_lists::{COPIED, SET_ASIDE};
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
