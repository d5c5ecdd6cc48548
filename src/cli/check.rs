//! The command `check`: the main job.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use super::args::{CheckArguments, PredictArguments};
use super::bench_book::bench_file;
use super::book_check::{Prepared, prepare};
use super::conditions;
use super::failure::Failure;
use super::learned::Lesson;
use super::long_work::LongWork;
use super::output::{put, warn};
use super::page::write_page;
use super::run::{COULD_NOT, FINDINGS};
use super::sequence::{self, Sequence};
use super::take_sheets::{TakePlace, of_files};
use super::takes::measure_all;
use crate::air::{ROOM_C, inside_temperature_c};
use crate::analysis::measurement::TroubleCode;
use crate::diagnosis::check::{Check, Known, check, check_knowing};
use crate::diagnosis::findings::cause_names::{Asked, causes_called};
use crate::diagnosis::findings::ranking::Kind;
use crate::diagnosis::takes::condition::Condition;
use crate::diagnosis::weigh::learned::Expectation;
use crate::instrument::file::load;
use crate::instrument::forecast::forecast;
use crate::instrument::model::Instrument;
use crate::instrument::prediction::{PredictedNote, predict};
use crate::report::layout::{paragraph, visible_path};
use crate::report::page::sheet::Sheet;
use crate::report::page::takes::TakeSheet;
use crate::report::{account, alignment, check_json, check_text, learned, predict as predict_report};

/// Checks the takes against the instrument and prints what was found.
///
/// # Errors
/// [`Failure`] for files that can't be read and options that make no sense.
pub fn run(arguments: &CheckArguments, quiet: bool) -> Result<ExitCode, Failure> {
    arguments.page.must_make_sense()?;
    let mut prepared = prepare(arguments)?;
    set_room(&mut prepared.instrument, prepared.room_c)?;
    let instrument = &prepared.instrument;
    let asked = arguments.explain.as_deref().map(|name| causes_called(instrument, name)).transpose()?;
    let found_besides = prepared.found(arguments)?;
    let mut tests = prepared.tests(arguments)?;
    let lesson = Lesson::of(arguments.learned_from.as_deref(), prepared.own_step())?;
    let expected = lesson.as_ref().map(|lesson| lesson.expectation(instrument)).transpose()?;
    let predicted = predict(instrument);
    let mut sequence = sequence::heard(instrument, &predicted, arguments)?;
    if let Some(sequence) = &mut sequence {
        prepared.keep_sequence(sequence)?;
    }
    let mut found = match prepared.find() {
        Err(failure) if prepared.is_before_the_first_take(&failure) => {
            // What comes first can be told and drawn without a take; nothing is checked yet.
            let result = check(instrument, &[]);
            if let Some(path) = write_pages(&prepared, arguments, &result, &[], quiet)?
                && !quiet
            {
                warn(&format!("the first page, still without takes: {}", visible_path(&path)));
            }
            return Err(failure);
        }
        found => found?,
    };
    let mut left_out = prepared.left_out.clone();
    left_out.extend_from_slice(&found.left_out);
    left_out.extend(tests.all.iter().flat_map(|test| test.files.left_out.iter().cloned()));
    let mut takes = measure_all(&mut found, &predicted, &mut left_out);
    let test_takes = conditions::measured(&predicted, &mut tests.all, &mut left_out);
    if !quiet {
        left_out.iter().for_each(|text| warn(text));
    }
    let troubles = takes.iter().chain(&test_takes).flat_map(|take| &take.measurement.troubles);
    let mut unreadable: Vec<String> = troubles
        .filter(|trouble| trouble.code == TroubleCode::Unreadable)
        .map(|trouble| trouble.text.clone())
        .collect();
    let mut places: Vec<TakePlace> =
        found.takes.iter().map(|take| TakePlace { path: take.path.clone(), span_s: None }).collect();
    if let Some(sequence) = &sequence {
        places.extend_from_slice(&sequence.places);
        takes.extend_from_slice(&sequence.takes);
        unreadable.extend_from_slice(&sequence.unreadable);
        if !quiet {
            sequence.warnings.iter().for_each(|text| warn(text));
        }
    }
    let ordinary_takes = takes.len();
    takes.extend(test_takes);
    if !arguments.one_evening {
        prepared.tell_evenings(&mut takes, &tests);
    }
    let played_under: Vec<Condition> = tests.all.iter().map(|test| test.condition.clone()).collect();
    let weighing = LongWork::begin("weighing what may be wrong");
    let known = Known {
        learned: lesson.as_ref().map(Lesson::learned),
        found: &found_besides,
        conditions: &played_under,
        progress: Some(&|done, of| weighing.tell(|| format!("{done} of {of}"))),
    };
    let book = arguments.learned_from.clone().unwrap_or_default();
    let result =
        check_knowing(instrument, &takes, &known).map_err(|source| Failure::Learning { book, source })?;
    drop(weighing);
    let told = Told { instrument, result: &result, sequence: sequence.as_ref(), expected: expected.as_ref() };
    told.print(asked.as_ref(), arguments.json)?;
    prepared.keep(&found, &takes, &tests)?;
    takes.truncate(ordinary_takes);
    let sheets = match has_page(&prepared, arguments) {
        true => of_files(&takes, &places, arguments.page.sound),
        false => Vec::new(),
    };
    if let Some(path) = write_pages(&prepared, arguments, &result, &sheets, quiet)?
        && !arguments.json
    {
        put(&format!("\nThe same with pictures: {}\n", visible_path(&path)))?;
    }
    if !unreadable.is_empty() {
        unreadable.iter().for_each(|text| warn(text));
        return Ok(ExitCode::from(COULD_NOT));
    }
    let healthy = result.findings.first().is_some_and(|finding| finding.suspect.kind == Kind::Healthy);
    Ok(ExitCode::from(if arguments.findings_exit && !healthy { FINDINGS } else { 0 }))
}

/// The step's own page, unless another was asked for, or none.
fn own_page(prepared: &Prepared, arguments: &CheckArguments) -> Option<PathBuf> {
    prepared.own_page().filter(|_| arguments.page.report.is_none() && !arguments.no_report)
}

fn has_page(prepared: &Prepared, arguments: &CheckArguments) -> bool {
    arguments.page.is_wanted() || own_page(prepared, arguments).is_some()
}

/// Writes the page and pictures that were asked for, and the step's own page, whose path it returns. Nobody asked for
/// that one, so that a book that can't be written is no failure.
fn write_pages(
    prepared: &Prepared,
    arguments: &CheckArguments,
    result: &Check,
    takes: &[TakeSheet],
    quiet: bool,
) -> Result<Option<PathBuf>, Failure> {
    if !has_page(prepared, arguments) {
        return Ok(None);
    }
    // A page without history is still worth having.
    let history = prepared.history().unwrap_or_else(|failure| {
        warn(&failure.to_string());
        None
    });
    let sheet = Sheet {
        instrument: &prepared.instrument,
        check: result,
        takes,
        book: history.as_ref().and_then(|history| prepared.book_sheet(history)),
        story: None,
        version: env!("CARGO_PKG_VERSION"),
    };
    // No two programs write the pages of one book at once.
    let _lock = prepared.lock();
    arguments.page.write(&sheet)?;
    let Some(path) = own_page(prepared, arguments) else { return Ok(None) };
    match write_page(&path, &sheet) {
        Ok(()) => Ok(Some(path.strip_prefix(".").map(Path::to_path_buf).unwrap_or(path))),
        Err(failure) => {
            if !quiet {
                warn(&failure.to_string());
            }
            Ok(None)
        }
    }
}

/// What is printed.
struct Told<'a> {
    instrument: &'a Instrument,
    result: &'a Check,
    /// What the notes of a long recording were taken as.
    sequence: Option<&'a Sequence>,
    /// What another book's takes taught.
    expected: Option<&'a Expectation>,
}

impl Told<'_> {
    /// The result, or the cause that was asked for; before it what the notes of a sequence were taken as.
    fn print(&self, asked: Option<&Asked>, as_json: bool) -> Result<(), Failure> {
        let Told { instrument, result, .. } = *self;
        let explained = asked.map(|asked| asked.among(&result.accounts));
        if as_json {
            let alignment =
                self.sequence.map(|heard| alignment::json(instrument, &heard.alignment, &heard.sources));
            let mut told = check_json::json(instrument, result, alignment);
            if let Some(accounts) = explained {
                told["explained"] = account::json(instrument, &accounts);
            }
            if let Some(expected) = self.expected {
                told["learned"] = learned::json(instrument, expected);
            }
            return put(&format!("{told}\n"));
        }
        let mut told = self.sequence.map_or_else(String::new, |heard| {
            alignment::text(instrument, &heard.alignment, &heard.sources) + "\n"
        });
        match explained {
            None => told.push_str(&check_text::text(instrument, result)),
            Some(accounts) => {
                told.push_str(&format!("{}\n", check_text::headline(instrument, result)));
                told.push_str(&account::text(instrument, &accounts));
            }
        }
        if let Some(expected) = self.expected {
            told.push_str(&format!("\n{}", paragraph("", &learned::summary(expected))));
        }
        put(&told)
    }
}

/// Predicts every fingering and prints the table.
///
/// # Errors
/// [`Failure`] for an instrument file that can't be read or is wrong.
pub fn run_predict(arguments: &PredictArguments) -> Result<ExitCode, Failure> {
    let mut instrument = load(&bench_file(&arguments.instrument)?)?;
    set_room(&mut instrument, arguments.room)?;
    let lesson = Lesson::of(arguments.learned_from.as_deref(), None)?;
    let expected = lesson.as_ref().map(|lesson| lesson.expectation(&instrument)).transpose()?;
    let forecast = forecast(&instrument);
    if arguments.json {
        let mut told = predict_report::json(&instrument, &forecast);
        if let Some(expected) = &expected {
            told["learned"] = learned::json(&instrument, expected);
        }
        put(&format!("{told}\n"))?;
    } else {
        let mut told = predict_report::text(&instrument, &forecast);
        if let Some(expected) = &expected {
            let cents: Vec<Option<f64>> = forecast.notes.iter().map(PredictedNote::cents).collect();
            told.push_str(&learned::section(&instrument, expected, &cents));
        }
        put(&told)?;
    }
    Ok(ExitCode::SUCCESS)
}

/// A folder stands for the `instrument.toml` in it.
pub(super) fn instrument_file(path: &Path) -> PathBuf {
    if path.is_dir() { path.join("instrument.toml") } else { path.to_path_buf() }
}

/// Whether a room can have this temperature.
///
/// # Errors
/// [`Failure::Usage`] when it can't.
pub(super) fn room_must_be_possible(room_c: Option<f64>) -> Result<(), Failure> {
    match room_c {
        Some(room_c) if !ROOM_C.contains(&room_c) => {
            Err(Failure::Usage(format!("--room {room_c}: give the room's temperature in °C, like 19")))
        }
        _ => Ok(()),
    }
}

/// The inside air follows from the room's temperature, when that is given.
pub(super) fn set_room(instrument: &mut Instrument, room_c: Option<f64>) -> Result<(), Failure> {
    room_must_be_possible(room_c)?;
    if let Some(room_c) = room_c {
        instrument.measure_air(inside_temperature_c(room_c, instrument.length_mm() / 1000.0));
    }
    Ok(())
}
