//! What `check` does with a bench book: which step, which geometry, and rows for the log.

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use super::args::CheckArguments;
use super::bench_book::{BookStep, Place, put_right, writing};
use super::check::room_must_be_possible;
use super::clock::now;
use super::conditions;
use super::copied::{Goal, copy_in, keep_notes};
use super::failure::Failure;
use super::output::warn;
use super::sequence::Sequence;
use super::takes::{Found, find, is_recording, no_takes};
use super::test_takes::{Tests, copy_tests};
use crate::book::error::BookError;
use crate::book::found::held_at;
use crate::book::history::{History, history};
use crate::book::lock::Lock;
use crate::book::moment::seconds;
use crate::book::note::{NOTE, StepNote};
use crate::diagnosis::takes::condition;
use crate::diagnosis::takes::evening::evenings;
use crate::diagnosis::takes::evidence::FiledTake;
use crate::instrument::column::LeakPlace;
use crate::instrument::file::load;
use crate::instrument::model::Instrument;
use crate::report::page::history::BookSheet;

/// The page of a step, in its folder.
const OWN_PAGE: &str = "check.html";

/// What is to be checked.
pub struct Prepared {
    /// The geometry.
    pub instrument: Instrument,
    /// Files and folders with takes.
    pub paths: Vec<PathBuf>,
    /// Files with the fingering that the maker gave them.
    pub named: Vec<(String, PathBuf)>,
    /// Temperature of the room, °C.
    pub room_c: Option<f64>,
    /// What lies beside takes that were copied into a book, a sentence each.
    pub left_out: Vec<String>,
    /// The step of a book.
    step: Option<Box<BookStep>>,
    /// Whether it is checked with all its takes and nothing else.
    whole_step: bool,
    /// Whether the takes were left out on the command line.
    nothing_named: bool,
}

/// Finds instrument and takes; inside a book both may be left out.
///
/// # Errors
/// [`Failure`] for files that can't be read and options that make no sense.
pub fn prepare(arguments: &CheckArguments) -> Result<Prepared, Failure> {
    room_must_be_possible(arguments.room)?;
    let (path, mut paths) = instrument_and_takes(arguments);
    let mut named: Vec<(String, PathBuf)> =
        arguments.named.chunks_exact(2).map(|pair| (pair[0].clone(), PathBuf::from(&pair[1]))).collect();
    let has_sequence = arguments.one_take.is_some() || !arguments.in_order.is_empty();
    let mut step = match Place::of(&path, arguments.step.as_deref())? {
        Place::Lone(file) => {
            let nothing_named = paths.is_empty() && named.is_empty() && !has_sequence;
            if nothing_named {
                paths.push(file.with_file_name("takes"));
            }
            let instrument = load(&file)?;
            return Ok(Prepared {
                instrument,
                paths,
                named,
                room_c: arguments.room,
                left_out: Vec::new(),
                step: None,
                whole_step: false,
                nothing_named,
            });
        }
        Place::Step(step) => step,
    };
    // Where nothing can be written, the step can be checked all the same; what could not be kept is told then.
    let _ = put_right(&step.book);
    if let Some(changed) = step.changed_text() {
        warn(&changed);
    }
    if step.note.room_c.is_none() && arguments.room.is_some() {
        step.keep_note(&StepNote { room_c: arguments.room, ..StepNote::default() })?;
    }
    let mut left_out = Vec::new();
    let has_files = !(paths.is_empty() && named.is_empty());
    if has_files && arguments.step.is_some() {
        let goal = Goal { folder: step.step.ordinary(), instrument: &step.instrument };
        let found = find(&step.instrument, &paths, &named)?;
        copy_in(&step.book, &goal, &found)?;
        left_out.extend(found.left_out);
    }
    if arguments.step.is_some() {
        left_out.extend(copy_tests(&step, &arguments.test)?);
    }
    let whole_step = arguments.step.is_some() || !(has_files || has_sequence);
    if whole_step {
        named.clear();
        paths = vec![step.step.takes()];
    }
    let room_c = arguments.room.or(step.note.room_c);
    Ok(Prepared {
        instrument: step.instrument.clone(),
        paths,
        named,
        room_c,
        left_out,
        step: Some(step),
        whole_step,
        nothing_named: !(has_files || has_sequence),
    })
}

/// Inside a book a first word that is a recording, or a folder without an instrument file, is a take.
fn instrument_and_takes(arguments: &CheckArguments) -> (PathBuf, Vec<PathBuf>) {
    let first = &arguments.instrument;
    let here = PathBuf::from(".");
    let is_takes_folder = || {
        first.is_dir()
            && !first.join("instrument.toml").is_file()
            && matches!(super::bench_book::book_root(&here), Ok(Some(_)))
    };
    let mut takes = arguments.takes.clone();
    if *first != here && (is_recording(first) || is_takes_folder()) {
        takes.insert(0, first.clone());
        return (here, takes);
    }
    (first.clone(), takes)
}

impl Prepared {
    /// The takes that are to be checked.
    ///
    /// # Errors
    /// [`Failure::NoTakes`] when none was named and none is there yet; others as of [`find`].
    pub fn find(&self) -> Result<Found, Failure> {
        match self.paths.first() {
            Some(folder) if self.nothing_named && !folder.exists() => Err(no_takes(&self.instrument, folder)),
            _ => find(&self.instrument, &self.paths, &self.named),
        }
    }

    /// Whether `failure` only says that nothing was played yet.
    #[must_use]
    pub fn is_before_the_first_take(&self, failure: &Failure) -> bool {
        self.nothing_named && matches!(failure, Failure::NoTakes { .. })
    }

    /// The tests that belong to the check: of a whole step all that were played in it, and those that are named.
    ///
    /// # Errors
    /// [`Failure`] for changes that are none any more, and folders that can't be read.
    pub fn tests(&self, arguments: &CheckArguments) -> Result<Tests, Failure> {
        let step = self.step.as_deref().filter(|_| self.whole_step);
        // With --step they are copied into the book, and lie there now.
        let is_copied = self.step.is_some() && arguments.step.is_some();
        let words = if is_copied { &[][..] } else { &arguments.test };
        Tests::of(step, &self.instrument, words)
    }

    /// What was found without a recording: what the book keeps and still holds, and what the options say, which counts
    /// for this check only and before what the book says of the same place.
    ///
    /// # Errors
    /// [`Failure`] for names that nothing has and words that mean nothing, in the options or in a note.
    pub fn found(&self, arguments: &CheckArguments) -> Result<Vec<condition::Found>, Failure> {
        let said = conditions::found(&self.instrument, &arguments.tight, &arguments.found)?;
        let mut all = Vec::new();
        if let Some(step) = &self.step {
            for held in held_at(&step.book, &step.step)? {
                let found = conditions::parse_found(&self.instrument, &held.written()).map_err(|what| {
                    let step = step.step.path().with_file_name(&held.step);
                    let to_do =
                        "Was a hole renamed? Write its new name into found, or take it out.".to_string();
                    BookError::Damaged {
                        path: step.join(NOTE),
                        line: None,
                        what: format!("found: {what}"),
                        to_do,
                    }
                })?;
                all.push(found);
            }
        }
        let is_said = |place: LeakPlace| {
            said.iter().any(|found| matches!(found, condition::Found::Place(other, _) if *other == place))
        };
        all.retain(|found| !matches!(found, condition::Found::Place(place, _) if is_said(*place)));
        all.extend(said);
        Ok(all)
    }

    /// Tells each take of a step its evening, by when the book's rows first measured it; a take without a row is being
    /// measured now. Outside of a book nobody knows, and all takes are of one evening.
    pub fn tell_evenings(&self, takes: &mut [FiledTake], tests: &Tests) {
        let Some(step) = self.step.as_ref().filter(|_| self.whole_step) else { return };
        // Rows that can't be read are reported by the command that adds the next one.
        let (rows, test_rows) = (step.book.log().read(), step.book.test_log().read());
        let (Ok(rows), Ok(test_rows)) = (rows, test_rows) else { return };
        let all = rows.rows.iter().chain(test_rows.rows.iter().map(|test| &test.row));
        let mut first: HashMap<&str, Option<u64>> = HashMap::new();
        for row in all {
            first.entry(&row.file).or_insert_with(|| row.measured_at_s());
        }
        let now_s = seconds(&now());
        let played_at_s = |take: &FiledTake| {
            let name = match take.condition {
                0 => Some(step.step.ordinary().log_name(&take.file)),
                _ => tests.log_name(take),
            };
            name.and_then(|name| first.get(name.as_str()).copied().unwrap_or(now_s))
        };
        let numbers = evenings(&takes.iter().map(played_at_s).collect::<Vec<_>>());
        takes.iter_mut().zip(numbers).for_each(|(take, evening)| take.evening = evening);
    }

    /// What a long recording or files in order were taken as become takes of the step that `--step` names; from then
    /// on they are checked there.
    ///
    /// # Errors
    /// [`Failure`] when a recording can't be read again or the book can't be written.
    pub fn keep_sequence(&self, sequence: &mut Sequence) -> Result<(), Failure> {
        let Some(step) = self.step.as_ref().filter(|_| self.whole_step) else { return Ok(()) };
        keep_notes(step, &sequence.takes, &sequence.places)?;
        sequence.takes.clear();
        sequence.places.clear();
        Ok(())
    }

    /// Freezes the step's geometry with its first take, and adds rows for takes that lie in the step or in one
    /// of its tests.
    ///
    /// # Errors
    /// [`Failure`] when the book can't be written; the result of the check stands.
    pub fn keep(&self, found: &Found, takes: &[FiledTake], tests: &Tests) -> Result<(), Failure> {
        let Some(step) = &self.step else { return Ok(()) };
        let folder = step.step.takes();
        let rows = found
            .takes
            .iter()
            .zip(takes.iter().filter(|take| take.condition == 0))
            .filter(|(file, _)| file.path.parent() == Some(folder.as_path()))
            .map(|(_, take)| {
                let fingering = self.instrument.fingerings.get(take.fingering);
                step.row(fingering.map_or("", |f| f.name.as_str()), &take.file, &take.measurement)
            })
            .collect();
        step.keep_rows(rows, tests.rows(step, takes))
    }

    /// The lock of the book whose pages are written; `None` outside a book, and where none can be had, which the
    /// writing itself tells.
    #[must_use]
    pub fn lock(&self) -> Option<Lock> {
        writing(&self.step.as_ref()?.book).ok()
    }

    /// The step that is checked: its book's folder, its prototype, its name; `None` outside a book.
    #[must_use]
    pub fn own_step(&self) -> Option<(&Path, &str, &str)> {
        let step = self.step.as_ref()?;
        Some((step.book.root(), step.step.prototype(), step.step.name()))
    }

    /// Where the step's own page goes; `None` outside a book and when other takes than the step's are checked.
    #[must_use]
    pub fn own_page(&self) -> Option<PathBuf> {
        let step = self.step.as_ref().filter(|_| self.whole_step)?;
        Some(step.step.path().join(OWN_PAGE))
    }

    /// The book's history; `None` outside a book.
    ///
    /// # Errors
    /// [`Failure`] when the book can't be read.
    pub fn history(&self) -> Result<Option<History>, Failure> {
        Ok(self.step.as_ref().map(|step| history(&step.book)).transpose()?)
    }

    /// This step's place in its book.
    #[must_use]
    pub fn book_sheet<'a>(&'a self, history: &'a History) -> Option<BookSheet<'a>> {
        let step = &self.step.as_ref()?.step;
        Some(BookSheet { history, prototype: step.prototype(), step: step.name() })
    }
}
