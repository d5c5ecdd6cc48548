//! What the log tells over steps and prototypes: tuning, and what each change did and should have done.
//!
//! Nothing is stored: targets and predictions come from the frozen geometry, pitches from the log. Must not
//! know causes or how it is printed.

use super::error::BookError;
use super::folder::Book;
use super::found::{self, Held, StepFinds, changed_places};
use super::log::Row;
use super::note::{self, StepNote};
use super::rows::{Record, Rows};
use super::step::StepFolder;
use super::test::tests_of;
use super::tested::{self, TestHistory};
use crate::air::inside_temperature_c;
use crate::instrument::difference::{Difference, differences};
use crate::instrument::file::load;
use crate::instrument::model::Instrument;
use crate::instrument::prediction::{PredictedNote, predict};
use crate::instrument::twelfth::twelfths;
use crate::units::cents_between;

/// A take this far from its prediction and from its target was no take of this note: a wrong fingering or
/// another register.
const STRANGE_CENTS: f64 = 150.0;

/// A whole book.
#[derive(Debug, Clone, Default)]
pub struct History {
    /// Prototypes in the order in which they were begun.
    pub prototypes: Vec<PrototypeHistory>,
    /// What could not be used, in sentences.
    pub remarks: Vec<String>,
}

/// One prototype.
#[derive(Debug, Clone)]
pub struct PrototypeHistory {
    /// Its name.
    pub name: String,
    /// Its steps, in their order.
    pub steps: Vec<StepHistory>,
}

/// One bench step.
#[derive(Debug, Clone)]
pub struct StepHistory {
    /// Its folder's name.
    pub step: String,
    /// What was done, when and how it was played.
    pub note: StepNote,
    /// Measures that changed since the step before.
    pub changes: Vec<Difference>,
    /// Fingerings, in the file's order.
    pub notes: Vec<NoteHistory>,
    /// Root mean square of the cents from target.
    pub rms_cents: Option<f64>,
    /// What all notes are off together: the mean.
    pub common_cents: Option<f64>,
    /// How far the notes are apart from that mean, standard deviation.
    pub spread_cents: Option<f64>,
    /// Twelfths as played.
    pub twelfths: Vec<TwelfthHistory>,
    /// Its bench tests.
    pub tests: Vec<TestHistory>,
    /// What was found without a recording and holds here: in this step, or before and not touched since.
    pub found: Vec<Held>,
}

/// One fingering at one step.
#[derive(Debug, Clone, PartialEq)]
pub struct NoteHistory {
    /// Its name.
    pub name: String,
    /// Median pitch of its takes, hertz.
    pub measured_hz: Option<f64>,
    /// The same in cents from target.
    pub cents_from_target: Option<f64>,
    /// The same in cents from what the geometry predicts.
    pub cents_from_predicted: Option<f64>,
    /// What the change of geometry (and of the room, when both steps tell it) should have done, cents.
    pub predicted_change_cents: Option<f64>,
    /// What it did, cents.
    pub change_cents: Option<f64>,
    /// Takes that count.
    pub takes: usize,
    /// Takes of another note, which don't.
    pub left_out: usize,
    /// Undertones of the takes, as the log has them; empty for none.
    pub undertones: Vec<String>,
}

/// One twelfth at one step.
#[derive(Debug, Clone, PartialEq)]
pub struct TwelfthHistory {
    /// Name of the fingering below.
    pub lower: String,
    /// Name of the fingering above.
    pub upper: String,
    /// As played, cents.
    pub cents: f64,
    /// As the geometry predicts, cents.
    pub predicted_cents: f64,
}

/// A step's geometry and what it should sound.
pub(super) struct Body {
    pub(super) instrument: Instrument,
    predicted: Vec<PredictedNote>,
    room_known: bool,
}

/// Reads the whole history of a book.
///
/// # Errors
/// [`BookError`] when the log or a note can't be read. A geometry that can't be used costs its step's figures
/// and is told in the remarks.
pub fn history(book: &Book) -> Result<History, BookError> {
    let mut history = History::default();
    let rows = read_rows(&book.log(), &mut history.remarks)?;
    let test_rows = read_rows(&book.test_log(), &mut history.remarks)?;
    for prototype in book.prototypes() {
        let mut steps: Vec<StepHistory> = Vec::new();
        let mut before: Option<Body> = None;
        let mut held: Vec<Held> = Vec::new();
        for folder in book.steps(prototype) {
            let note = note::read(folder.path())?;
            let mut remark = |error: BookError| {
                let first = error.to_string().lines().next().unwrap_or_default().to_string();
                history.remarks.push(format!("{prototype}/{}: {first}", folder.name()));
            };
            let body = body(book, &folder, &note).map_err(&mut remark).ok();
            let tests = tests_of(&folder).map_err(&mut remark).unwrap_or_default();
            let own: Vec<&Row> = latest_rows(&rows, &folder);
            held = found::next(held, &finds(&folder, &note, before.as_ref(), body.as_ref()));
            let mut step = step_history(&folder, note, body.as_ref(), before.as_ref(), steps.last(), &own);
            step.found.clone_from(&held);
            if let Some(body) = &body {
                step.tests = tested::tests(body, &tests, &test_rows, &body.takes(&own));
            }
            steps.push(step);
            before = body;
        }
        history.prototypes.push(PrototypeHistory { name: prototype.clone(), steps });
    }
    Ok(history)
}

/// The good rows of a file; what is wrong with the others is added to the remarks.
fn read_rows<R: Record>(rows: &Rows<R>, remarks: &mut Vec<String>) -> Result<Vec<R>, BookError> {
    let reading = rows.read()?;
    let file = R::FILE;
    for line in &reading.bad_lines {
        remarks.push(format!("{file}:{line} is no row and was left out. Put it right or take it out"));
    }
    if reading.torn {
        remarks.push(format!("the last line of {file} is cut off; the next check puts it right"));
    }
    Ok(reading.rows)
}

/// What a step says of finds.
fn finds<'a>(
    folder: &'a StepFolder,
    note: &'a StepNote,
    before: Option<&Body>,
    now: Option<&Body>,
) -> StepFinds<'a> {
    let bodies = before.zip(now);
    let changed = bodies.map(|(before, now)| changed_places(&before.instrument, &now.instrument));
    StepFinds {
        step: folder.name(),
        found: &note.found,
        touched: &note.touched,
        changed: changed.unwrap_or_default(),
    }
}

/// The step's frozen geometry, in the air of its room when that is known; that on the bench when the step is
/// open and nothing is frozen.
pub(super) fn body(book: &Book, folder: &StepFolder, note: &StepNote) -> Result<Body, BookError> {
    let file = if folder.is_frozen() { folder.frozen_file() } else { book.instrument_file() };
    let mut instrument = load(&file)?;
    if let Some(room_c) = note.room_c {
        instrument.air.temperature_c = inside_temperature_c(room_c, instrument.length_mm() / 1000.0);
    }
    let predicted = predict(&instrument);
    Ok(Body { instrument, predicted, room_known: note.room_c.is_some() })
}

/// The step's rows: the last one of each take that still counts.
pub(super) fn latest_rows<'a>(rows: &'a [Row], folder: &StepFolder) -> Vec<&'a Row> {
    let takes = folder.ordinary();
    let mut latest: Vec<&Row> = Vec::new();
    for row in rows {
        if row.prototype != folder.prototype() || row.step != folder.name() || takes.is_aside(&row.file) {
            continue;
        }
        match latest.iter_mut().find(|known| known.file == row.file) {
            Some(known) => *known = row,
            None => latest.push(row),
        }
    }
    latest
}

fn step_history(
    folder: &StepFolder,
    note: StepNote,
    body: Option<&Body>,
    before: Option<&Body>,
    step_before: Option<&StepHistory>,
    rows: &[&Row],
) -> StepHistory {
    let mut notes: Vec<NoteHistory> = Vec::new();
    let compared = before.zip(body).map(|(before, body)| (before, comparable(before, body)));
    if let Some(body) = body {
        for (index, mut told) in step_notes(body, rows).into_iter().enumerate() {
            told.predicted_change_cents = compared
                .as_ref()
                .and_then(|(before, new)| predicted_change(before, &told.name, new.get(index)));
            let earlier =
                step_before.and_then(|step| step.notes.iter().find(|known| known.name == told.name));
            told.change_cents =
                earlier.and_then(|earlier| Some(cents_between(told.measured_hz?, earlier.measured_hz?)));
            notes.push(told);
        }
    }
    let cents: Vec<f64> = notes.iter().filter_map(|note| note.cents_from_target).collect();
    let mean =
        |values: &[f64]| (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64);
    let common_cents = mean(&cents);
    let square =
        |offset: f64| mean(&cents.iter().map(|c| (c - offset).powi(2)).collect::<Vec<_>>()).map(f64::sqrt);
    StepHistory {
        step: folder.name().to_string(),
        note,
        changes: before
            .zip(body)
            .map(|(old, new)| differences(&old.instrument, &new.instrument))
            .unwrap_or_default(),
        rms_cents: square(0.0),
        spread_cents: common_cents.filter(|_| cents.len() > 1).and_then(square),
        common_cents,
        twelfths: body.map(|body| played_twelfths(body, &notes)).unwrap_or_default(),
        notes,
        tests: Vec::new(),
        found: Vec::new(),
    }
}

/// All fingerings with what their takes measured; nothing yet about changes.
pub(super) fn step_notes(body: &Body, rows: &[&Row]) -> Vec<NoteHistory> {
    body.takes(rows).iter().zip(&body.predicted).map(|(takes, note)| note_history(takes, note)).collect()
}

/// The takes of one fingering in which a note was found.
pub(super) struct NoteTakes<'a> {
    /// The fingering's name.
    pub(super) name: &'a str,
    /// Those that count.
    pub(super) own: Vec<&'a Row>,
    /// Those of another note.
    strange: Vec<&'a Row>,
}

impl Body {
    /// The takes of every fingering, in the file's order.
    pub(super) fn takes<'a>(&'a self, rows: &[&'a Row]) -> Vec<NoteTakes<'a>> {
        let notes = self.instrument.fingerings.iter().zip(&self.predicted);
        notes
            .map(|(fingering, predicted)| {
                let is_strange = |hz: f64| {
                    let far = |from_hz: f64| cents_between(hz, from_hz).abs() > STRANGE_CENTS;
                    far(predicted.target_hz) && predicted.predicted_hz.is_none_or(far)
                };
                let named =
                    rows.iter().copied().filter(|row| row.fingering == fingering.name && row.hz.is_some());
                let (strange, own) = named.partition(|row| row.hz.is_some_and(is_strange));
                NoteTakes { name: &fingering.name, own, strange }
            })
            .collect()
    }
}

fn note_history(takes: &NoteTakes<'_>, predicted: &PredictedNote) -> NoteHistory {
    let own = &takes.own;
    let measured_hz = median(own.iter().filter_map(|row| row.hz).collect());
    NoteHistory {
        measured_hz,
        cents_from_target: measured_hz.map(|hz| cents_between(hz, predicted.target_hz)),
        cents_from_predicted: measured_hz.and_then(|hz| Some(cents_between(hz, predicted.predicted_hz?))),
        takes: own.len(),
        left_out: takes.strange.len(),
        undertones: own.iter().map(|row| row.undertone.clone()).filter(|text| !text.is_empty()).collect(),
        ..NoteHistory::unplayed(takes.name)
    }
}

impl NoteHistory {
    fn unplayed(name: &str) -> NoteHistory {
        NoteHistory {
            name: name.to_string(),
            measured_hz: None,
            cents_from_target: None,
            cents_from_predicted: None,
            predicted_change_cents: None,
            change_cents: None,
            takes: 0,
            left_out: 0,
            undertones: Vec::new(),
        }
    }
}

/// What the new body should sound, to be held against the old one's. A room that only one of both steps tells is
/// left out of it: both are then reckoned in the air of the old one.
fn comparable(before: &Body, now: &Body) -> Vec<PredictedNote> {
    if before.room_known == now.room_known {
        return now.predicted.clone();
    }
    predict(&Instrument { air: before.instrument.air, ..now.instrument.clone() })
}

fn predicted_change(before: &Body, name: &str, new: Option<&PredictedNote>) -> Option<f64> {
    let old = before.instrument.fingerings.iter().position(|fingering| fingering.name == name)?;
    Some(cents_between(new?.predicted_hz?, before.predicted.get(old)?.predicted_hz?))
}

fn played_twelfths(body: &Body, notes: &[NoteHistory]) -> Vec<TwelfthHistory> {
    let pairs = twelfths(&body.instrument, &body.predicted).into_iter();
    pairs
        .filter_map(|pair| {
            let (lower, upper) = (notes.get(pair.lower)?, notes.get(pair.upper?)?);
            Some(TwelfthHistory {
                lower: lower.name.clone(),
                upper: upper.name.clone(),
                cents: cents_between(upper.measured_hz?, lower.measured_hz?),
                predicted_cents: pair.cents,
            })
        })
        .collect()
}

fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let middle = values.len() / 2;
    let upper = *values.get(middle)?;
    if values.len() % 2 == 1 {
        Some(upper)
    } else {
        Some(0.5 * (upper + values.get(middle.checked_sub(1)?)?))
    }
}
