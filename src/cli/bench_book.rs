//! Where a command works: a lone instrument file, or a step of a bench book; and what every command does with a
//! book: wait for its lock, look whether the file has changed, keep rows.

use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::time::Duration;

use super::check::{instrument_file, room_must_be_possible};
use super::clock::now;
use super::failure::Failure;
use super::output::{say, warn};
use crate::analysis::measurement::Measurement;
use crate::book::folder::Book;
use crate::book::healing::{Healed, heal, is_needed};
use crate::book::lock::{Alone, Lock, try_lock};
use crate::book::log::Row;
use crate::book::note::{self, StepNote};
use crate::book::rows::{OfTake, Rows, as_written};
use crate::book::step::StepFolder;
use crate::book::test::{TestFolder, TestRow};
use crate::instrument::difference::{Difference, differences};
use crate::instrument::file::load;
use crate::instrument::model::Instrument;

/// So often a lock is asked for again, and so many times: ten seconds.
const ASK_EVERY: Duration = Duration::from_millis(50);
const ASKS: usize = 200;

/// Where a command works.
#[derive(Debug)]
pub enum Place {
    /// An instrument file that belongs to no book, or is named by itself.
    Lone(PathBuf),
    /// A step of a book.
    Step(Box<BookStep>),
}

/// A step of a book and the geometry that its takes belong to.
#[derive(Debug)]
pub struct BookStep {
    /// The book.
    pub book: Book,
    /// The step.
    pub step: StepFolder,
    /// Its note.
    pub note: StepNote,
    /// The geometry that its takes belong to.
    pub instrument: Instrument,
    /// What the file on the bench says differently since the step's takes were kept.
    pub changed: Vec<Difference>,
}

impl Place {
    /// The place that `path` means: a file, a book's folder, or (for `.`) the book that this folder lies in.
    /// `step` names a step that is not the open one.
    ///
    /// # Errors
    /// [`Failure`] for a book that can't be read, and for a step where there is no book.
    pub fn of(path: &Path, step: Option<&str>) -> Result<Place, Failure> {
        match (book_root(path)?, step) {
            (Some(root), step) => Ok(Place::Step(Box::new(BookStep::open(Book::open(&root)?, step)?))),
            (None, Some(_)) => Err(crate::book::error::BookError::NoBook { path: path.to_path_buf() }.into()),
            (None, None) => Ok(Place::Lone(instrument_file(path))),
        }
    }
}

/// The folder of the book that `path` means.
pub(super) fn book_root(path: &Path) -> Result<Option<PathBuf>, Failure> {
    if path.is_dir() && Book::is_at(path) {
        return Ok(Some(path.to_path_buf()));
    }
    if path != Path::new(".") {
        return Ok(None);
    }
    let here =
        std::env::current_dir().map_err(|source| Failure::File { path: path.to_path_buf(), source })?;
    Ok(Book::above(&here))
}

/// The file that `predict` and `try` work on: in a book always the one on the bench. Says so when it has changed
/// since takes were kept.
///
/// # Errors
/// [`Failure`] for a book that can't be read.
pub fn bench_file(path: &Path) -> Result<PathBuf, Failure> {
    let Some(root) = book_root(path)? else { return Ok(instrument_file(path)) };
    let book = Book::open(&root)?;
    let file = book.instrument_file();
    warn_if_changed(book);
    Ok(file)
}

/// Says so when the file on the bench has changed since the open step's takes were kept.
pub(super) fn warn_if_changed(book: Book) {
    // Without a whole file there is nothing to compare, and the command itself tells what is wrong.
    if load(&book.instrument_file()).is_ok()
        && let Ok(step) = BookStep::open(book, None)
        && let Some(changed) = step.changed_text()
    {
        warn(&changed);
    }
}

/// The book that `path` means.
///
/// # Errors
/// [`Failure`] when there is none or it can't be read.
pub fn open_book(path: &Path) -> Result<Book, Failure> {
    let root = book_root(path)?.unwrap_or_else(|| path.to_path_buf());
    Ok(Book::open(&root)?)
}

impl BookStep {
    /// The step of `book` that is called `step`, or the open one.
    ///
    /// # Errors
    /// [`Failure`] for a step that is not there and for files that can't be read.
    pub(super) fn open(book: Book, step: Option<&str>) -> Result<BookStep, Failure> {
        let on_bench = book.open_step()?;
        let step = step.map_or_else(|| Ok(on_bench.clone()), |name| book.step_called(name))?;
        let note = note::read(step.path())?;
        if step != on_bench {
            let instrument = load(&step.frozen_file())?;
            return Ok(BookStep { book, step, note, instrument, changed: Vec::new() });
        }
        let current = load(&book.instrument_file());
        if !step.is_frozen() {
            let instrument = current?;
            return Ok(BookStep { book, step, note, instrument, changed: Vec::new() });
        }
        let frozen = load(&step.frozen_file())?;
        // Targets, names and drills may grow with the work; only the geometry is frozen.
        let (instrument, changed) = match current {
            Ok(current) => {
                let changed = differences(&frozen, &current);
                (if changed.is_empty() { current } else { frozen }, changed)
            }
            Err(error) => {
                warn(&format!("{error}\nUntil that is put right, the measures of {} count.", step.name()));
                (frozen, Vec::new())
            }
        };
        Ok(BookStep { book, step, note, instrument, changed })
    }

    /// `P2/01-drilled`.
    #[must_use]
    pub fn name(&self) -> String {
        format!("{}/{}", self.step.prototype(), self.step.name())
    }

    /// What is said when the file has changed since the step's takes were kept; `None` when it has not.
    #[must_use]
    pub fn changed_text(&self) -> Option<String> {
        if self.changed.is_empty() || !self.step.has_takes() {
            return None;
        }
        let list: String = self.changed.iter().map(|change| format!("\n    {change}")).collect();
        Some(format!(
            "instrument.toml has changed since the takes of {} were kept:{list}\n  \
             Was something cut, filled or moved? Then open the next step: borescribe step \"what was done\"\n  \
             Was it only measured better, or typed wrong before? Then: borescribe step --measured \"why\"\n  \
             Was it typed wrong now? Write the old number back.",
            self.name()
        ))
    }

    /// Keeps the geometry with the step's first take; later only what is no geometry follows the file. The caller holds
    /// the lock for writing.
    ///
    /// # Errors
    /// [`Failure::Book`] when it can't be written.
    pub fn freeze(&self) -> Result<(), Failure> {
        let frozen = std::fs::read(self.step.frozen_file()).ok();
        let is_open = self.book.open_step()? == self.step;
        if !is_open || !self.changed.is_empty() {
            return Ok(());
        }
        let current = std::fs::read(self.book.instrument_file()).ok();
        let names = |instrument: &Instrument| -> Vec<String> {
            instrument.fingerings.iter().map(|fingering| format!("{fingering:?}")).collect()
        };
        let out_of_date =
            || load(&self.step.frozen_file()).map_or(true, |old| names(&old) != names(&self.instrument));
        if frozen.is_none() || (frozen != current && out_of_date()) {
            self.book.freeze(&self.step)?;
        }
        Ok(())
    }

    /// Keeps what the options say of room, reed and player with the step.
    ///
    /// # Errors
    /// [`Failure`] for a room that can't be, and when the note can't be written.
    pub fn keep_note(&mut self, said: &StepNote) -> Result<(), Failure> {
        room_must_be_possible(said.room_c)?;
        if self.note.overlaid(said) != self.note {
            let _lock = writing(&self.book)?;
            // Another command may have written into it since it was read.
            self.note = note::read(self.step.path())?.overlaid(said);
            note::write(self.step.path(), &self.note)?;
        }
        Ok(())
    }

    /// A row of the log for a take of this step.
    #[must_use]
    pub fn row(&self, fingering: &str, file: &str, measured: &Measurement) -> Row {
        let row = Row {
            prototype: self.step.prototype().to_string(),
            step: self.step.name().to_string(),
            fingering: fingering.to_string(),
            file: self.step.ordinary().log_name(file),
            room_c: self.note.room_c,
            when: now(),
            ..Row::default()
        };
        row.with(measured)
    }

    /// A row for a take of one of its bench tests.
    #[must_use]
    pub fn test_row(
        &self,
        test: &TestFolder,
        fingering: &str,
        file: &str,
        measured: &Measurement,
    ) -> TestRow {
        let row = Row {
            file: test.takes().log_name(file),
            room_c: test.note().room_c.or(self.note.room_c),
            ..self.row(fingering, file, measured)
        };
        TestRow { test: test.name().to_string(), changes: test.note().changes.join(", "), row }
    }

    /// Freezes the step's geometry with its first take, and adds the rows that the log, and the file of test takes, do
    /// not hold yet.
    ///
    /// # Errors
    /// [`Failure`] when something can't be read or written; the takes themselves are safe.
    pub fn keep_rows(&self, rows: Vec<Row>, test_rows: Vec<TestRow>) -> Result<(), Failure> {
        if rows.is_empty() && test_rows.is_empty() {
            return Ok(());
        }
        let _lock = writing(&self.book)?;
        self.freeze()?;
        add_new(&self.book.log(), rows)?;
        add_new(&self.book.test_log(), test_rows)
    }
}

/// Adds the rows that the file does not hold yet. The caller holds the lock for writing.
fn add_new<R: OfTake>(log: &Rows<R>, rows: Vec<R>) -> Result<(), Failure> {
    if rows.is_empty() {
        return Ok(());
    }
    let known = log.read()?.rows;
    let is_new = |row: &R| {
        known.iter().rev().find(|old| old.file() == row.file()).is_none_or(|old| !old.says_the_same(row))
    };
    let new: Vec<R> = rows.into_iter().map(as_written).filter(is_new).collect();
    Ok(log.append(&new)?)
}

/// Puts right what a program left in the book when it was stopped, and says so. Where nothing was left, nothing is
/// touched.
///
/// # Errors
/// As of [`writing`].
pub fn put_right(book: &Book) -> Result<(), Failure> {
    if is_needed(book) { writing(book).map(drop) } else { Ok(()) }
}

fn healed(book: &Book) -> Result<(), Failure> {
    let healing = heal(book, &now())?;
    for healed in &healing.healed {
        warn(&match healed {
            Healed::TornRow { file, torn } => format!(
                "the last line of {file} was cut off, by a power cut perhaps. It is in {torn} now; every other row is \
                 whole. A check adds the row again."
            ),
            Healed::CutOff(take) => {
                format!("a take was cut off when the program was stopped. It is kept as {}.", take.display())
            }
            Healed::SetAside(take) => format!(
                "a take that was being set aside when the program was stopped is set aside now: {}.",
                take.display()
            ),
        });
    }
    healing.left.iter().for_each(|error| warn(&error.to_string()));
    Ok(())
}

/// The lock for changing files of the book; waits while another program writes, and says so. What that left half done
/// when it was stopped is put right before anything else is written.
///
/// # Errors
/// [`Failure::Busy`] after ten seconds; [`Failure::Book`] when nothing can be written there.
pub fn writing(book: &Book) -> Result<Lock, Failure> {
    for ask in 0..ASKS {
        if let Some(lock) = try_lock(book.root(), Alone::Writing)? {
            healed(book)?;
            return Ok(lock);
        }
        if ask == 10 {
            warn("another borescribe is writing into this book: waiting for it …");
        }
        std::thread::sleep(ASK_EVERY);
    }
    Err(Failure::Busy("writing into"))
}

/// The lock for recording into the book or opening a step.
///
/// # Errors
/// [`Failure::Busy`] while another program does either; [`Failure::Book`] when nothing can be written there.
pub fn recording(book: &Book) -> Result<Lock, Failure> {
    try_lock(book.root(), Alone::Recording)?.ok_or(Failure::Busy("recording into"))
}

/// Asks at the terminal what the step's note does not say yet; without a terminal nothing is asked.
#[must_use]
pub fn ask_note(known: &StepNote) -> StepNote {
    let mut answers = StepNote::default();
    if !(std::io::stdin().is_terminal() && std::io::stderr().is_terminal()) {
        return answers;
    }
    let answer = |question: &str| -> Option<String> {
        say(&format!("{question} (Enter when not known): "));
        let mut line = String::new();
        std::io::stdin().read_line(&mut line).ok()?;
        let line = line.trim().to_string();
        (!line.is_empty()).then_some(line)
    };
    while known.room_c.is_none() && answers.room_c.is_none() {
        let Some(text) = answer("Temperature of the room in °C") else { break };
        answers.room_c =
            text.replace(',', ".").parse().ok().filter(|c| room_must_be_possible(Some(*c)).is_ok());
    }
    if known.reed.is_none() {
        answers.reed = answer("Which reed");
    }
    if known.player.is_none() {
        answers.player = answer("Who plays");
    }
    answers
}
