//! What `check` does with a bench book: which step, which geometry, copying takes in, and rows for the log.

use std::path::{Path, PathBuf};

use super::args::CheckArguments;
use super::bench_book::{BookStep, Place, writing};
use super::check::room_must_be_possible;
use super::clock::now;
use super::failure::Failure;
use super::output::warn;
use super::takes::{Found, TakeFile, find, is_recording};
use crate::book::history::{History, history};
use crate::book::note::StepNote;
use crate::diagnosis::evidence::FiledTake;
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
    /// The step of a book.
    step: Option<Box<BookStep>>,
    /// Whether it is checked with all its takes and nothing else.
    whole_step: bool,
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
            if paths.is_empty() && named.is_empty() && !has_sequence {
                paths.push(file.with_file_name("takes"));
            }
            let instrument = load(&file)?;
            return Ok(Prepared {
                instrument,
                paths,
                named,
                room_c: arguments.room,
                step: None,
                whole_step: false,
            });
        }
        Place::Step(step) => step,
    };
    if let Some(changed) = step.changed_text() {
        warn(&changed);
    }
    if step.note.room_c.is_none() && arguments.room.is_some() {
        step.keep_note(&StepNote { room_c: arguments.room, ..StepNote::default() })?;
    }
    let has_files = !(paths.is_empty() && named.is_empty());
    if has_files && arguments.step.is_some() {
        copy_in(&step, &find(&step.instrument, &paths, &named)?)?;
    }
    let whole_step = !has_sequence && (!has_files || arguments.step.is_some());
    if (!has_files && !has_sequence) || (has_files && arguments.step.is_some()) {
        named.clear();
        paths = vec![step.step.takes()];
    }
    let room_c = arguments.room.or(step.note.room_c);
    Ok(Prepared { instrument: step.instrument.clone(), paths, named, room_c, step: Some(step), whole_step })
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

/// Copies takes into the step under the names of their fingerings. One that is there already stays as it is.
fn copy_in(step: &BookStep, found: &Found) -> Result<(), Failure> {
    let _lock = writing(&step.book)?;
    for TakeFile { path, fingering } in &found.takes {
        let name = step.instrument.fingerings.get(*fingering).map_or("", |fingering| fingering.name.as_str());
        copy_one(step, path, name)?;
    }
    for path in &found.room {
        copy_one(step, path, "room")?;
    }
    Ok(())
}

fn copy_one(step: &BookStep, path: &Path, name: &str) -> Result<(), Failure> {
    let takes = step.step.takes();
    let same_place =
        |a: &Path, b: &Path| a.canonicalize().ok().is_some_and(|a| b.canonicalize().ok() == Some(a));
    if path.parent().is_some_and(|parent| same_place(parent, &takes)) {
        return Ok(());
    }
    let bytes = std::fs::read(path).map_err(|source| Failure::File { path: path.to_path_buf(), source })?;
    let ending =
        path.extension().map(|ending| ending.to_string_lossy().to_ascii_lowercase()).unwrap_or_default();
    for number in 1.. {
        let file = if number == 1 { format!("{name}.{ending}") } else { format!("{name}-{number}.{ending}") };
        if step.step.is_taken(&file) {
            if std::fs::read(takes.join(&file)).is_ok_and(|known| known == bytes) {
                return Ok(());
            }
            continue;
        }
        step.step.copy_in(path, &file, &now())?;
        return Ok(());
    }
    Ok(())
}

impl Prepared {
    /// Freezes the step's geometry with its first take, and adds rows to the log for takes that lie in the step.
    ///
    /// # Errors
    /// [`Failure`] when the book can't be written; the result of the check stands.
    pub fn keep(&self, found: &Found, takes: &[FiledTake]) -> Result<(), Failure> {
        let Some(step) = &self.step else { return Ok(()) };
        let folder = step.step.takes();
        let rows = found
            .takes
            .iter()
            .zip(takes)
            .filter(|(file, _)| file.path.parent() == Some(folder.as_path()))
            .map(|(_, take)| {
                let fingering = self.instrument.fingerings.get(take.fingering);
                step.row(fingering.map_or("", |f| f.name.as_str()), &take.file, &take.measurement)
            })
            .collect::<Vec<_>>();
        if rows.is_empty() {
            return Ok(());
        }
        step.freeze()?;
        step.log(rows)
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
