//! Bench tests of a book: where their takes go, what is said before and after them, and what a check reads of them.

use std::path::{Path, PathBuf};

use super::bench_book::{BookStep, writing};
use super::clock::now;
use super::conditions::{self, Test, condition};
use super::copied::{Goal, copy_in};
use super::failure::Failure;
use super::live_source::{Key, Source};
use super::output::say;
use super::played::Played;
use super::takes::{Found, find, is_recording, sorted_entries};
use crate::book::error::BookError;
use crate::book::test::{TestFolder, TestNote, TestRow, continued_or_begun, tests_of};
use crate::diagnosis::takes::condition::Condition;
use crate::diagnosis::takes::evidence::FiledTake;
use crate::instrument::model::Instrument;

/// The folder for takes under `condition`: that of the step's last test when it had the same changes, else a new one.
///
/// # Errors
/// [`Failure`] when the book can't be read or written.
pub fn test_folder(step: &BookStep, condition: &Condition) -> Result<TestFolder, Failure> {
    let _lock = writing(&step.book)?;
    let note = TestNote { changes: condition.written.clone(), when: now(), room_c: step.note.room_c };
    Ok(continued_or_begun(&step.step, note)?)
}

/// Says what a test wants done before the first note, and waits until it is. False when the maker stops instead.
///
/// # Errors
/// [`Failure::File`] when the keyboard can't be read.
pub fn begin_test(played: &Played, source: &mut Source<'_>, quiet: bool) -> Result<bool, Failure> {
    let Some(test) = &played.test else { return Ok(true) };
    let now = format!("Now: {}.", test.words);
    if source.is_card() {
        return Ok(source.ask(&format!("{now} Enter when it is done, q stops: "))? != Key::Stop);
    }
    if !quiet {
        say(&format!("{now}\n"));
    }
    Ok(true)
}

/// Says that the change is to be undone: whatever is played next would suffer from it.
pub fn end_test(played: &Played, quiet: bool) {
    if let Some(test) = played.test.as_ref().filter(|_| !quiet) {
        say(&format!("The test is over. Undo it now: {}.\n", test.words));
    }
}

/// The tests that are part of a check.
#[derive(Default)]
pub struct Tests {
    /// Those that lie in the book.
    kept: Vec<TestFolder>,
    /// All of them: those in the book, in that order, then those that the command line names.
    pub all: Vec<Test>,
}

impl Tests {
    /// The bench tests of `step` that have takes, and those that `words` name: pairs of changes and a folder or file.
    ///
    /// # Errors
    /// [`Failure::Book`] for a `test.toml` that can't be read, or whose changes mean nothing on this instrument;
    /// others for words that are no changes and folders without takes.
    pub fn of(step: Option<&BookStep>, instrument: &Instrument, words: &[String]) -> Result<Tests, Failure> {
        let mut tests = Tests::default();
        for folder in step.map(|step| tests_of(&step.step)).transpose()?.unwrap_or_default() {
            let takes = folder.takes();
            let condition = condition(instrument, &folder.note().changes.join(","))
                .map_err(|failure| no_longer_means_anything(&folder.file(), &failure))?;
            if !sorted_entries(takes.path())?.iter().any(|path| is_recording(path)) {
                continue;
            }
            let mut files = find(instrument, &[takes.path().to_path_buf()], &[])?;
            let room = step.map(|step| step.step.takes().join("room.wav")).filter(|room| room.is_file());
            files.room.extend(room);
            tests.kept.push(folder);
            tests.all.push(Test { condition, files });
        }
        let is_kept = |path: &Path| {
            let path = path.canonicalize().ok();
            path.is_some_and(|path| {
                tests.kept.iter().any(|test| test.takes().path().canonicalize().ok().as_ref() == Some(&path))
            })
        };
        let pairs = words.chunks_exact(2).filter(|pair| !is_kept(Path::new(&pair[1])));
        let named: Vec<String> = pairs.flatten().cloned().collect();
        tests.all.extend(conditions::tests(instrument, &named)?);
        Ok(tests)
    }

    /// What the book calls a take of a test that lies in it; `None` for other takes.
    #[must_use]
    pub fn log_name(&self, take: &FiledTake) -> Option<String> {
        let test = self.kept.get(take.condition.checked_sub(1)?)?;
        Some(test.takes().log_name(&take.file))
    }

    /// Rows for the takes of tests that lie in `step`; a take's condition is its test's place, from 1.
    #[must_use]
    pub fn rows(&self, step: &BookStep, takes: &[FiledTake]) -> Vec<TestRow> {
        let row = |take: &FiledTake| {
            let test = self.kept.get(take.condition.checked_sub(1)?)?;
            let fingering = step.instrument.fingerings.get(take.fingering)?;
            Some(step.test_row(test, &fingering.name, &take.file, &take.measurement))
        };
        takes.iter().filter_map(row).collect()
    }
}

fn no_longer_means_anything(file: &Path, failure: &Failure) -> Failure {
    let told = failure.to_string();
    let what = told.lines().next().unwrap_or_default().to_string();
    Failure::Book(BookError::Damaged {
        path: file.to_path_buf(),
        line: None,
        what: format!("its changes mean nothing on this instrument: {what}"),
        to_do: "Was a hole renamed? Write its new name into changes. If the test should not count any more, move its \
                folder out of tests."
            .to_string(),
    })
}

/// Copies the takes of tests that were named on the command line into tests of the step: pairs of changes and a folder
/// or file. What lies beside the takes and was left out is returned, a sentence each.
///
/// # Errors
/// [`Failure`] for changes that are none, takes that can't be read, and a book that can't be written.
pub fn copy_tests(step: &BookStep, words: &[String]) -> Result<Vec<String>, Failure> {
    // Everything is read before anything is written.
    let mut tests: Vec<(Condition, Found)> = Vec::new();
    for pair in words.chunks_exact(2) {
        let found = find(&step.instrument, &[PathBuf::from(&pair[1])], &[])?;
        tests.push((condition(&step.instrument, &pair[0])?, found));
    }
    let mut left_out = Vec::new();
    for (condition, found) in tests {
        let folder = test_folder(step, &condition)?;
        let goal = Goal { folder: folder.takes(), instrument: &step.instrument };
        copy_in(&step.book, &goal, &found)?;
        left_out.extend(found.left_out);
    }
    Ok(left_out)
}
