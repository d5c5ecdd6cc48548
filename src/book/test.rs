//! A bench test of a step: what was changed while its takes were played, and the rows of those takes.
//!
//! The changes are kept as the maker wrote them. Must not know what they mean, nor sound.

use std::path::{Path, PathBuf};

use super::disk::{build_folder, make_folder};
use super::error::BookError;
use super::keys::{KeyFile, write_keys};
use super::log::{COLUMNS, NUMBERS, Row};
use super::names::number_of;
use super::rows::{OfTake, Record, Rows};
use super::step::StepFolder;
use super::take_folder::TakeFolder;
use crate::instrument::file::Plain;
use crate::instrument::spelling::folded;

/// Name of the file in a test's folder.
pub const TEST: &str = "test.toml";
/// Name of the file with the rows of test takes, in a book's folder.
pub const TESTS: &str = "tests.csv";
/// Where the end of a line of it goes that a power cut tore off.
pub const TESTS_TORN: &str = "tests-torn.txt";

/// The rows of the test takes of one book.
pub type TestLog = Rows<TestRow>;

/// What was changed for a test.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TestNote {
    /// The changes as the maker wrote them, like `leak.v=0`.
    pub changes: Vec<String>,
    /// When the test was begun, UTC.
    pub when: String,
    /// Temperature of the room, °C.
    pub room_c: Option<f64>,
}

/// The folder of a bench test.
#[derive(Debug, Clone, PartialEq)]
pub struct TestFolder {
    step: StepFolder,
    name: String,
    note: TestNote,
}

impl TestFolder {
    /// Its number, as the folder is called: `01`.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// What was changed for it.
    #[must_use]
    pub fn note(&self) -> &TestNote {
        &self.note
    }

    /// Its takes.
    #[must_use]
    pub fn takes(&self) -> TakeFolder {
        self.step.takes_of_test(&self.name)
    }

    /// Its `test.toml`.
    #[must_use]
    pub fn file(&self) -> PathBuf {
        self.takes().path().join(TEST)
    }
}

/// The tests of a step, in their order.
///
/// # Errors
/// [`BookError`] for a `test.toml` that can't be read or names no changes.
pub fn tests_of(step: &StepFolder) -> Result<Vec<TestFolder>, BookError> {
    let names = step.test_names().into_iter();
    names
        .map(|name| {
            let note = read(&step.takes_of_test(&name).path().join(TEST))?;
            Ok(TestFolder { step: step.clone(), name, note })
        })
        .collect()
}

/// The test that takes under these changes go to: the last one of the step when it has the same changes, else a new
/// one. The caller holds the book's lock.
///
/// # Errors
/// [`BookError`] when the last test can't be read or nothing can be written.
pub fn continued_or_begun(step: &StepFolder, note: TestNote) -> Result<TestFolder, BookError> {
    let mut tests = tests_of(step)?;
    let number = tests.last().and_then(|test| number_of(&test.name)).unwrap_or(0) + 1;
    match tests.pop() {
        Some(last) if are_the_same(&last.note.changes, &note.changes) => return Ok(last),
        _ => {}
    }
    let name = format!("{number:02}");
    make_folder(&step.tests())?;
    build_folder(step.takes_of_test(&name).path(), |aside| write(&aside.join(TEST), &note))?;
    Ok(TestFolder { step: step.clone(), name, note })
}

/// Whether two lists hold the same changes, in whatever order and spelling.
#[must_use]
pub fn are_the_same(one: &[String], other: &[String]) -> bool {
    let plain = |changes: &[String]| {
        let mut plain: Vec<String> =
            changes.iter().map(|change| folded(change).split_whitespace().collect()).collect();
        plain.sort();
        plain
    };
    plain(one) == plain(other)
}

fn read(path: &Path) -> Result<TestNote, BookError> {
    let example = "changes = [\"leak.v=0\"]";
    let Some(file) = KeyFile::read(path)? else {
        return Err(BookError::Damaged {
            path: path.to_path_buf(),
            line: None,
            what: "the file is missing".to_string(),
            to_do: format!(
                "Write into it what was changed for this test, like {example}, or move the folder away."
            ),
        });
    };
    let mut note = TestNote::default();
    for entry in file.entries() {
        match entry.key.as_str() {
            "changes" => note.changes = file.texts(entry)?,
            "when" => note.when = file.text(entry)?,
            "room_c" => note.room_c = Some(file.room_c(entry)?),
            _ => {}
        }
    }
    if note.changes.is_empty() {
        let to_do = format!("Write it there, like {example}.");
        return Err(file.refused(None, "it does not say what was changed".to_string(), to_do));
    }
    Ok(note)
}

fn write(path: &Path, note: &TestNote) -> Result<(), BookError> {
    let mut entries =
        vec![("changes", Plain::Texts(note.changes.clone())), ("when", Plain::Text(note.when.clone()))];
    entries.extend(note.room_c.map(|celsius| ("room_c", Plain::Number(celsius))));
    write_keys(path, (HEAD, ""), &entries)
}

const HEAD: &str = "# A bench test: what was changed while these takes were played, and undone afterwards.\n";

/// A measured take of a bench test.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TestRow {
    /// The test's folder, `01`.
    pub test: String,
    /// Its changes, with commas between.
    pub changes: String,
    /// What was measured.
    pub row: Row,
}

/// The columns, in their order: those of the log, with the test after the step.
const TEST_COLUMNS: [&str; COLUMNS.len() + ADDED] = [
    "prototype",
    "step",
    "test",
    "changes",
    "fingering",
    "file",
    "hz",
    "sd_cents",
    "level",
    "undertone",
    "troubles",
    "room_c",
    "when",
];
/// Where the columns of the test stand, before every number, and how many they are.
const AT: usize = 2;
const ADDED: usize = 2;

impl Record for TestRow {
    const FILE: &'static str = TESTS;
    const TORN: &'static str = TESTS_TORN;
    const COLUMNS: &'static [&'static str] = &TEST_COLUMNS;
    const NUMBERS: &'static [usize] =
        &[NUMBERS[0] + ADDED, NUMBERS[1] + ADDED, NUMBERS[2] + ADDED, NUMBERS[3] + ADDED];

    fn fields(&self) -> Vec<String> {
        let mut fields = self.row.fields();
        fields.splice(AT..AT, [self.test.clone(), self.changes.clone()]);
        fields
    }

    fn read(mut fields: Vec<String>) -> Option<TestRow> {
        if fields.len() != TEST_COLUMNS.len() {
            return None;
        }
        let mut own = fields.drain(AT..AT + ADDED);
        let (test, changes) = (own.next()?, own.next()?);
        drop(own);
        Some(TestRow { test, changes, row: Row::read(fields)? })
    }

    fn when(&self) -> &str {
        &self.row.when
    }
}

impl OfTake for TestRow {
    fn file(&self) -> &str {
        &self.row.file
    }

    fn says_the_same(&self, other: &TestRow) -> bool {
        self.test == other.test && self.changes == other.changes && self.row.says_the_same(&other.row)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn note(change: &str) -> TestNote {
        TestNote {
            changes: vec![change.to_string()],
            when: "2026-11-25T14:03:00Z".into(),
            room_c: Some(19.5),
        }
    }

    fn step() -> (tempfile::TempDir, StepFolder) {
        let folder = tempfile::tempdir().unwrap();
        let step = StepFolder::named(folder.path(), "P1", "01-start");
        std::fs::create_dir_all(step.takes()).unwrap();
        (folder, step)
    }

    #[test]
    fn the_same_changes_continue_the_last_test_and_others_begin_a_new_one() {
        let (_folder, step) = step();
        for (change, name) in
            [("leak.v=0", "01"), (" LEAK.V = 0", "01"), ("leak.p3=0", "02"), ("leak.v=0", "03")]
        {
            assert_eq!(continued_or_begun(&step, note(change)).unwrap().name(), name, "{change}");
        }
        let tests = tests_of(&step).unwrap();
        assert_eq!(tests.len(), 3);
        assert_eq!(*tests[1].note(), note("leak.p3=0"));
    }

    #[test]
    fn rows_of_test_takes_read_back_and_a_torn_one_costs_no_other() {
        let (folder, _step) = step();
        let log = TestLog::of(folder.path());
        let row = |test: &str| TestRow {
            test: test.into(),
            changes: "leak.p3=0, leak.p4=0".into(),
            row: Row {
                prototype: "P1".into(),
                hz: Some(73.5),
                when: "2026-11-25T14:03:00Z".into(),
                ..Row::default()
            },
        };
        log.append(&[row("01"), row("02")]).unwrap();
        assert_eq!(log.read().unwrap().rows, [row("01"), row("02")]);
        let whole = std::fs::read(log.path()).unwrap();
        std::fs::write(log.path(), &whole[..whole.len() - 9]).unwrap();
        assert!(log.repair().unwrap());
        assert_eq!(log.read().unwrap().rows, [row("01")]);
        assert!(folder.path().join(TESTS_TORN).is_file());
    }

    #[test]
    fn a_test_that_does_not_say_what_was_changed_is_told_with_its_file() {
        let (_folder, step) = step();
        let test = continued_or_begun(&step, note("leak.v=0")).unwrap();
        std::fs::write(test.file(), "when = \"x\"\n").unwrap();
        let told = tests_of(&step).unwrap_err().to_string();
        assert!(told.contains("01/test.toml") && told.contains("changes = "), "{told}");
        std::fs::remove_file(test.file()).unwrap();
        assert!(tests_of(&step).unwrap_err().to_string().contains("missing"));
    }
}
