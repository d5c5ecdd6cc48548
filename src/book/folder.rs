//! A bench book on the disk: the prototype on the bench, its steps, and which of them is open.
//!
//! Everything is found from the book's own folder, so that a book may be moved. Must not know what was
//! measured.

use std::path::{Path, PathBuf};

use super::disk::{build_folder, make_folder, write_whole};
use super::error::BookError;
use super::log::{LOG, Log};
use super::names::{A_PROTOTYPES_NAME, is_name_of_a_folder, numbered, prototype_folders, step_name};
use super::note::{self, StepNote};
use super::step::StepFolder;
use super::test::TestLog;
use super::version::{BOOK, listed_prototypes, write_version};
use crate::instrument::file::prototype_of;

/// The instrument file of the prototype on the bench, and of a frozen step.
pub const INSTRUMENT: &str = "instrument.toml";

/// A bench book.
#[derive(Debug, Clone)]
pub struct Book {
    pub(super) root: PathBuf,
    /// Prototypes in the order in which they were begun.
    pub(super) prototypes: Vec<String>,
}

impl Book {
    /// Whether `folder` is the folder of a book.
    #[must_use]
    pub fn is_at(folder: &Path) -> bool {
        folder.join(BOOK).is_file()
            || (folder.join(INSTRUMENT).is_file()
                && (folder.join(LOG).is_file() || !prototype_folders(folder).is_empty()))
    }

    /// The book in `folder` or in the nearest folder above it.
    #[must_use]
    pub fn above(folder: &Path) -> Option<PathBuf> {
        folder.ancestors().find(|folder| Book::is_at(folder)).map(Path::to_path_buf)
    }

    /// Opens the book at `root`.
    ///
    /// # Errors
    /// [`BookError`] when there is none, or a newer program wrote it.
    pub fn open(root: &Path) -> Result<Book, BookError> {
        if !Book::is_at(root) {
            return Err(BookError::NoBook { path: root.to_path_buf() });
        }
        let mut prototypes = listed_prototypes(&root.join(BOOK))?;
        let found = prototype_folders(root);
        prototypes.retain(|name| found.contains(name));
        let unlisted: Vec<String> = found.into_iter().filter(|name| !prototypes.contains(name)).collect();
        prototypes.extend(unlisted);
        Ok(Book { root: root.to_path_buf(), prototypes })
    }

    /// Makes a book in the empty or new folder `root` with its first step open.
    ///
    /// # Errors
    /// [`BookError`] when the file's prototype can't name a folder, or something can't be written.
    pub fn create(root: &Path, instrument: &str, note: &StepNote) -> Result<(Book, StepFolder), BookError> {
        let prototype = prototype_of(instrument).unwrap_or_else(|| "P1".to_string());
        must_name_a_prototype(&prototype)?;
        let step = StepFolder::named(root, &prototype, &step_name(1, &note.what));
        make_folder(&step.takes())?;
        note::write(step.path(), note)?;
        Log::of(root).create()?;
        write_version(root, std::slice::from_ref(&prototype))?;
        // Last: a folder without it is no book yet.
        write_whole(&root.join(INSTRUMENT), instrument.as_bytes())?;
        Ok((Book { root: root.to_path_buf(), prototypes: vec![prototype] }, step))
    }

    /// The book's folder.
    #[must_use]
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// The file of the prototype on the bench.
    #[must_use]
    pub fn instrument_file(&self) -> PathBuf {
        self.root.join(INSTRUMENT)
    }

    /// The log.
    #[must_use]
    pub fn log(&self) -> Log {
        Log::of(&self.root)
    }

    /// The rows of the takes of bench tests.
    #[must_use]
    pub fn test_log(&self) -> TestLog {
        TestLog::of(&self.root)
    }

    /// Prototypes in the order in which they were begun.
    #[must_use]
    pub fn prototypes(&self) -> &[String] {
        &self.prototypes
    }

    /// The steps of a prototype, in their order.
    #[must_use]
    pub fn steps(&self, prototype: &str) -> Vec<StepFolder> {
        let names = numbered(&self.root.join(prototype)).into_iter();
        names.map(|name| StepFolder::named(&self.root, prototype, &name)).collect()
    }

    /// The step that is open: the last one of the prototype that the instrument file names.
    ///
    /// # Errors
    /// [`BookError`] when the file can't be read or names a prototype without steps.
    pub fn open_step(&self) -> Result<StepFolder, BookError> {
        let file = self.instrument_file();
        let text = self.instrument_text()?;
        let on_bench = prototype_of(&text).or_else(|| self.prototypes.last().cloned()).unwrap_or_default();
        if !is_name_of_a_folder(&on_bench) {
            return Err(BookError::Damaged {
                path: file,
                line: text
                    .lines()
                    .position(|line| line.trim_start().starts_with("prototype"))
                    .map(|at| at + 1),
                what: format!("\"{on_bench}\" is no name for a prototype"),
                to_do: format!("{A_PROTOTYPES_NAME} Nothing was changed."),
            });
        }
        self.steps(&on_bench).pop().ok_or_else(|| {
            let from = self.prototypes.last().map_or("P1", String::as_str);
            BookError::Damaged {
                path: file,
                line: None,
                what: format!("it names the prototype {on_bench}, which has no steps in this book"),
                to_do: format!(
                    "Write its old name back, or begin it: borescribe new BOOK --prototype {on_bench} --from {from}"
                ),
            }
        })
    }

    /// A step by its name, with or without its number, by its number, or by prototype and any of them: `01-drilled`,
    /// `drilled`, `1`, `P2/01`. Of several prototypes the one on the bench is meant, of several steps the newest.
    ///
    /// # Errors
    /// [`BookError::Refused`] with all names when there is none.
    pub fn step_called(&self, name: &str) -> Result<StepFolder, BookError> {
        let on_bench = self.open_step()?.prototype().to_string();
        let plain = name.trim().trim_matches(['/', '\\']).replace('\\', "/");
        let (prototype, step) = plain.split_once('/').unwrap_or((&on_bench, &plain));
        let steps = self.steps(prototype);
        let number: Option<u32> = step.parse().ok();
        let words = |known: &StepFolder| known.name().split_once('-').is_some_and(|(_, words)| words == step);
        let found = steps.iter().rev().find(|known| {
            known.name() == step || words(known) || (number.is_some() && known.number() == number)
        });
        found.cloned().ok_or_else(|| {
            let all = self.prototypes.iter().flat_map(|prototype| self.steps(prototype));
            let names: Vec<String> =
                all.map(|step| format!("{}/{}", step.prototype(), step.name())).collect();
            BookError::Refused {
                what: format!("the book has no step {name}"),
                to_do: format!(
                    "It has: {}. To open a new one: borescribe step \"what was changed\"",
                    names.join(", ")
                ),
            }
        })
    }

    /// Keeps the instrument file as it is now with `step`. The caller holds the book's lock.
    ///
    /// # Errors
    /// [`BookError`] when it can't be read or written.
    pub fn freeze(&self, step: &StepFolder) -> Result<(), BookError> {
        let file = self.instrument_file();
        let bytes = std::fs::read(&file).map_err(BookError::disk(&file))?;
        write_whole(&step.frozen_file(), &bytes)
    }

    /// Opens the step after the open one, whose geometry is frozen first when it was not. The caller holds
    /// the book's locks.
    ///
    /// # Errors
    /// [`BookError`] when something can't be written; then the old step is still open.
    pub fn next_step(&self, note: &StepNote) -> Result<StepFolder, BookError> {
        let open = self.open_step()?;
        if !open.is_frozen() {
            self.freeze(&open)?;
        }
        let number = open.number().unwrap_or(0) + 1;
        let step = StepFolder::named(&self.root, open.prototype(), &step_name(number, &note.what));
        build(&step, note)?;
        Ok(step)
    }

    /// The same, with `instrument` as the text of the file on the bench from then on.
    ///
    /// # Errors
    /// [`BookError`] when something can't be written; then the old step is still open, with its file.
    pub fn next_step_with(&self, note: &StepNote, instrument: &str) -> Result<StepFolder, BookError> {
        let open = self.open_step()?;
        if !open.is_frozen() {
            self.freeze(&open)?;
        }
        let file = self.instrument_file();
        let before = std::fs::read(&file).map_err(BookError::disk(&file))?;
        write_whole(&file, instrument.as_bytes())?;
        self.next_step(note).inspect_err(|_| {
            // The first error is the one to tell.
            let _ = write_whole(&file, &before);
        })
    }

    pub(super) fn instrument_text(&self) -> Result<String, BookError> {
        let file = self.instrument_file();
        let bytes = std::fs::read(&file).map_err(BookError::disk(&file))?;
        Ok(String::from_utf8_lossy(&bytes).into_owned())
    }
}

/// Whether a prototype may be called so.
pub(super) fn must_name_a_prototype(name: &str) -> Result<(), BookError> {
    if name.trim().is_empty() || name.chars().any(|c| !(c.is_alphanumeric() || "-_ ".contains(c))) {
        let what = format!("\"{name}\" is no name for a prototype");
        return Err(BookError::Refused { what, to_do: A_PROTOTYPES_NAME.to_string() });
    }
    Ok(())
}

/// Makes a step's folder, whole or not at all.
pub(super) fn build(step: &StepFolder, note: &StepNote) -> Result<(), BookError> {
    if step.path().is_dir() {
        return note::write(step.path(), note);
    }
    build_folder(step.path(), |aside| {
        make_folder(&aside.join("takes"))?;
        note::write(aside, note)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::book::prototype::Beginning;
    use crate::instrument::template::plain_tube;

    fn note(what: &str) -> StepNote {
        StepNote { what: what.into(), ..StepNote::default() }
    }

    fn book() -> (tempfile::TempDir, Book) {
        let folder = tempfile::tempdir().unwrap();
        let root = folder.path().join("Rohr dömmel ♭");
        let (book, _) = Book::create(&root, &plain_tube("x"), &note("start")).unwrap();
        (folder, book)
    }

    #[test]
    fn a_new_book_has_its_first_step_open_and_is_found_from_anywhere_in_it() {
        let (_folder, book) = book();
        let step = book.open_step().unwrap();
        assert_eq!((step.prototype(), step.name()), ("P1", "01-start"));
        assert_eq!(Book::above(&step.takes()).as_deref(), Some(book.root()));
        assert!(!step.is_frozen() && !step.has_takes());
        assert_eq!(Book::open(book.root()).unwrap().prototypes(), ["P1"]);
    }

    #[test]
    fn a_moved_book_is_the_same_book() {
        let (folder, book) = book();
        book.next_step(&note("Trimmed, opened!")).unwrap();
        let moved = folder.path().join("moved");
        std::fs::rename(book.root(), &moved).unwrap();
        let step = Book::open(&moved).unwrap().open_step().unwrap();
        assert_eq!(step.name(), "02-trimmed-opened");
        assert!(step.path().starts_with(&moved));
    }

    #[test]
    fn a_step_is_found_by_number_name_or_prototype() {
        let (_folder, mut book) = book();
        book.next_step(&note("trimmed")).unwrap();
        book.next_prototype("P2", "P1", &Beginning::Measures, &note("drilled")).unwrap();
        for (typed, name) in [
            ("1", "01-drilled"),
            ("P1/02", "02-trimmed"),
            ("P1/trimmed", "02-trimmed"),
            ("P1/01-start", "01-start"),
        ] {
            assert_eq!(book.step_called(typed).unwrap().name(), name);
        }
        let told = book.step_called("3").unwrap_err().to_string();
        assert!(told.contains("P1/01-start, P1/02-trimmed, P2/01-drilled"), "{told}");
    }

    #[test]
    fn the_next_prototype_carries_the_measures_over_and_keeps_the_last_one() {
        let (_folder, mut book) = book();
        let before = std::fs::read_to_string(book.instrument_file()).unwrap();
        let begun = book.next_prototype("P2", "P1", &Beginning::Measures, &note("drilled")).unwrap();
        assert_eq!(begun.step.path(), book.open_step().unwrap().path());
        let after = std::fs::read_to_string(book.instrument_file()).unwrap();
        assert_eq!(after, before.replace("prototype = \"P1\"", "prototype = \"P2\""));
        let kept = std::fs::read_to_string(book.root().join("P1/01-start/instrument.toml")).unwrap();
        assert_eq!(kept, before);
        let told = book.next_prototype("P2", "P1", &Beginning::Measures, &note("x")).unwrap_err().to_string();
        assert!(told.contains("already"), "{told}");
        assert_eq!(Book::open(book.root()).unwrap().prototypes(), ["P1", "P2"]);
    }

    #[test]
    fn a_prototype_that_a_power_cut_left_half_begun_is_begun_again() {
        let (_folder, mut book) = book();
        let before = std::fs::read(book.instrument_file()).unwrap();
        book.next_prototype("P2", "P1", &Beginning::Measures, &note("drilled")).unwrap();
        // As if the power had gone before the last write.
        std::fs::write(book.instrument_file(), before).unwrap();
        let mut again = Book::open(book.root()).unwrap();
        assert_eq!(again.open_step().unwrap().prototype(), "P1");
        again.next_prototype("P2", "P1", &Beginning::Measures, &note("drilled")).unwrap();
        assert_eq!(again.open_step().unwrap().prototype(), "P2");
    }

    #[test]
    fn a_prototype_outside_the_book_is_no_prototype() {
        let (_folder, book) = book();
        let text = std::fs::read_to_string(book.instrument_file()).unwrap();
        for outside in ["../other/P1", "/tmp/P1", "..", ".hidden"] {
            let named = text.replace("prototype = \"P1\"", &format!("prototype = \"{outside}\""));
            std::fs::write(book.instrument_file(), named).unwrap();
            let told = book.open_step().unwrap_err().to_string();
            assert!(told.contains("instrument.toml:") && told.contains("no name for a prototype"), "{told}");
        }
    }

    #[test]
    fn what_the_maker_wrote_into_the_books_own_file_stays() {
        let (_folder, mut book) = book();
        let path = book.root().join(BOOK);
        let text = std::fs::read_to_string(&path).unwrap() + "# lent to J.\nshelf = 3\n";
        std::fs::write(&path, &text).unwrap();
        book.next_prototype("P2", "P1", &Beginning::Measures, &note("drilled")).unwrap();
        let after = std::fs::read_to_string(&path).unwrap();
        assert_eq!(after, text.replace("[\"P1\"]", "[\"P1\", \"P2\"]"));
        std::fs::write(&path, b"# Andr\xe9\nformat = 1\n").unwrap();
        let told = Book::open(book.root()).unwrap_err().to_string();
        assert!(told.contains("book.toml:1") && told.contains("UTF-8"), "{told}");
    }

    #[test]
    fn a_book_of_a_newer_program_is_left_alone() {
        let (_folder, book) = book();
        std::fs::write(book.root().join(BOOK), "format = 2\nprototypes = []\n").unwrap();
        let told = Book::open(book.root()).unwrap_err().to_string();
        assert!(told.contains("newer") && told.contains("format 2"), "{told}");
    }
}
