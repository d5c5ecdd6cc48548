//! Puts right what a program left in a book when it was stopped: rows torn off, takes cut off or half set aside, files
//! begun and not ended. Nothing that was accepted is touched.
//!
//! Must not know what the files say, nor speak: the commands tell what was done.

use std::path::{Path, PathBuf};

use super::disk::is_hidden_unfinished;
use super::error::BookError;
use super::folder::Book;
use super::lock::{Alone, try_lock};
use super::names::{numbered, subfolders};
use super::rows::{Record, Rows};
use super::step::StepFolder;

/// Something that was put right.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Healed {
    /// The last row of `file` was cut off, and is in `torn` now.
    TornRow {
        /// The file of rows.
        file: &'static str,
        /// Where the piece is kept.
        torn: &'static str,
    },
    /// A take was cut off; it is kept there.
    CutOff(PathBuf),
    /// A take was half set aside; it is there now.
    SetAside(PathBuf),
}

/// What was put right, and what could not be.
#[derive(Debug, Default)]
pub struct Healing {
    /// What was put right.
    pub healed: Vec<Healed>,
    /// What could not be put right yet. It does no harm until then.
    pub left: Vec<BookError>,
}

/// Whether anything was left half done, or is being done at this moment.
#[must_use]
pub fn is_needed(book: &Book) -> bool {
    let begun = |folder: &Path| unfinished_in(folder).next().is_some();
    let is_half_done = |step: &StepFolder| {
        [step.path(), &step.tests()].into_iter().any(begun)
            || step.take_folders().iter().any(|folder| begun(folder.path()) || folder.is_half_done())
    };
    let (homes, steps) = homes_and_steps(book);
    book.log().needs_repair()
        || book.test_log().needs_repair()
        || homes.iter().any(|home| begun(home))
        || steps.iter().any(is_half_done)
}

/// Puts right what was left. The caller holds the lock for writing; `now` is the time, UTC.
///
/// # Errors
/// [`BookError`] when the rows can't be mended: until then none may be added.
pub fn heal(book: &Book, now: &str) -> Result<Healing, BookError> {
    let mut healing = Healing::default();
    mend(&book.log(), &mut healing.healed)?;
    mend(&book.test_log(), &mut healing.healed)?;
    let (homes, steps) = homes_and_steps(book);
    homes.iter().for_each(|home| clear_unfinished(home));
    let mut folders = steps.iter().flat_map(StepFolder::take_folders);
    let session = match folders.any(|folder| folder.has_cut_off()) {
        true => try_lock(book.root(), Alone::Recording)?,
        false => None,
    };
    for step in &steps {
        // Nobody is recording: what looks like a take in the making is one that was cut off.
        heal_step(step, session.as_ref().map(|_| now), &mut healing);
    }
    Ok(healing)
}

/// The book's folder with those of its prototypes, begun ones too, and all steps.
fn homes_and_steps(book: &Book) -> (Vec<PathBuf>, Vec<StepFolder>) {
    let (mut homes, mut steps) = (vec![book.root().to_path_buf()], Vec::new());
    for prototype in subfolders(book.root()) {
        let home = book.root().join(&prototype);
        steps.extend(numbered(&home).iter().map(|name| StepFolder::named(book.root(), &prototype, name)));
        homes.push(home);
    }
    (homes, steps)
}

/// `rescued_at`: the time, when cut off takes may be moved.
fn heal_step(step: &StepFolder, rescued_at: Option<&str>, healing: &mut Healing) {
    [step.path(), &step.tests()].into_iter().for_each(clear_unfinished);
    for folder in step.take_folders() {
        clear_unfinished(folder.path());
        match folder.end_moves() {
            Ok(moved) => healing.healed.extend(moved.map(Healed::SetAside)),
            Err(error) => healing.left.push(error),
        }
        let Some(now) = rescued_at else { continue };
        match folder.rescue(now) {
            Ok(rescued) => healing.healed.extend(rescued.into_iter().map(Healed::CutOff)),
            Err(error) => healing.left.push(error),
        }
    }
}

fn mend<R: Record>(rows: &Rows<R>, healed: &mut Vec<Healed>) -> Result<(), BookError> {
    if rows.repair()? {
        healed.push(Healed::TornRow { file: R::FILE, torn: R::TORN });
    }
    Ok(())
}

/// Clears away what was begun under the book's lock and not ended. What can't be cleared away now is the next time.
fn clear_unfinished(folder: &Path) {
    for path in unfinished_in(folder) {
        let _ = if path.is_dir() { std::fs::remove_dir_all(path) } else { std::fs::remove_file(path) };
    }
}

fn unfinished_in(folder: &Path) -> impl Iterator<Item = PathBuf> {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    entries.filter(|entry| is_hidden_unfinished(&entry.file_name())).map(|entry| entry.path())
}

#[cfg(test)]
mod tests {
    use super::super::note::StepNote;
    use super::*;
    use crate::instrument::template::plain_tube;

    fn book() -> (tempfile::TempDir, Book) {
        let folder = tempfile::tempdir().unwrap();
        let note = |what: &str| StepNote { what: what.into(), ..StepNote::default() };
        let (book, _) = Book::create(&folder.path().join("book"), &plain_tube("x"), &note("start")).unwrap();
        book.next_step(&note("trimmed")).unwrap();
        (folder, book)
    }

    fn names(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> = std::fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn what_was_begun_and_not_ended_is_cleared_away_in_every_step() {
        let (_folder, book) = book();
        let first = book.root().join("P1/01-start");
        let before = (names(&first), names(&book.root().join("P1")), names(&first.join("takes")));
        std::fs::create_dir_all(book.root().join("P1/.03-x.k3dPq9.part/takes")).unwrap();
        for left in [".check.html.abc123.part", "takes/.D2.wav.abc123.part"] {
            std::fs::write(first.join(left), "half").unwrap();
        }
        assert_eq!(heal(&book, "now").unwrap().healed, []);
        let after = (names(&first), names(&book.root().join("P1")), names(&first.join("takes")));
        assert_eq!(after, before);
    }

    #[test]
    fn a_take_cut_off_in_any_step_is_kept_aside_unless_somebody_is_recording() {
        let (_folder, book) = book();
        let first = book.root().join("P1/01-start");
        std::fs::write(first.join("takes/D2.wav.abc123.part"), vec![1; 5000]).unwrap();
        let session = try_lock(book.root(), Alone::Recording).unwrap();
        assert_eq!(heal(&book, "now").unwrap().healed, []);
        drop(session);
        let kept = first.join("set-aside/D2-cut-off-1.wav");
        assert_eq!(heal(&book, "now").unwrap().healed, [Healed::CutOff(kept.clone())]);
        assert!(kept.is_file());
        assert_eq!(heal(&book, "now").unwrap().healed, []);
    }

    #[test]
    fn a_take_half_set_aside_gets_there_with_its_reason_once() {
        let (_folder, book) = book();
        let first = book.root().join("P1/01-start");
        std::fs::write(first.join("takes/D2.wav"), "sound").unwrap();
        // As if the power had gone after the reason was written; then after the take was moved, before the list.
        let planned = "from = \"D2.wav\"\nfile = \"D2.wav\"\nwhy = \"slipped\"\nwhen = \"now\"\n";
        for _ in 0..2 {
            std::fs::write(first.join(".set-aside.toml"), planned).unwrap();
            let healed = heal(&book, "later").unwrap().healed;
            assert_eq!(healed, [Healed::SetAside(first.join("set-aside/D2.wav"))]);
            let list = std::fs::read_to_string(first.join("set-aside.csv")).unwrap();
            assert_eq!(list, "file,why,when\nD2.wav,slipped,now\n");
            assert_eq!(heal(&book, "later").unwrap().healed, []);
        }
    }
}
