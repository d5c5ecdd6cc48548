//! How the instrument came here: its steps, what the last change did beside what it should have done, and the
//! tuning step by step. Computes nothing but how unsure a difference of two notes is.

use std::f64::consts::SQRT_2;

use super::html::{Last, figures, name, paragraph, section, table, text};
use super::note_chart::{NoteRow, Words, note_charts};
use crate::book::history::{History, PrototypeHistory, StepHistory};
use crate::diagnosis::check::{Check, CheckedNote};
use crate::instrument::model::Instrument;
use crate::report::chart::ChartError;
use crate::report::history_words::{found, test_heading, tested_note};
use crate::report::layout::signed;

/// A book's history and which of its steps was checked.
#[derive(Debug, Clone, Copy)]
pub struct BookSheet<'a> {
    /// All of it.
    pub history: &'a History,
    /// The prototype that was checked.
    pub prototype: &'a str,
    /// The step that was checked, by its folder's name.
    pub step: &'a str,
}

impl<'a> BookSheet<'a> {
    fn prototype(&self) -> Option<&'a PrototypeHistory> {
        self.history.prototypes.iter().find(|prototype| prototype.name == self.prototype)
    }

    /// The step that was checked.
    pub(super) fn step(&self) -> Option<&'a StepHistory> {
        self.prototype()?.steps.iter().find(|step| step.step == self.step)
    }
}

/// What the last change did to each note, as SVG; none where no note was played before and after it.
///
/// # Errors
/// [`ChartError`] when one can't be drawn.
pub(super) fn change_charts(
    instrument: &Instrument,
    check: &Check,
    book: &BookSheet<'_>,
) -> Result<Vec<String>, ChartError> {
    let Some(step) = book.step() else { return Ok(Vec::new()) };
    let sd_of = |wanted: &str| {
        let named = |note: &&CheckedNote| instrument.fingerings[note.fingering].name == wanted;
        check.notes.iter().find(named).and_then(|note| note.sd_cents)
    };
    let rows: Vec<NoteRow<'_>> = step
        .notes
        .iter()
        .filter(|note| note.change_cents.is_some())
        .map(|note| NoteRow {
            name: &note.name,
            measured: note.change_cents,
            sd: sd_of(&note.name).map(|sd| SQRT_2 * sd),
            beside: note.predicted_change_cents,
        })
        .collect();
    if rows.is_empty() {
        return Ok(Vec::new());
    }
    let words = Words {
        id: "changex",
        title: "What the last change did",
        nought: "no change",
        beside: "predicted",
        axis: "cents since last step",
    };
    note_charts(&words, &rows)
}

/// The section.
///
/// # Errors
/// [`ChartError`] when a chart can't be drawn.
pub(super) fn history(
    instrument: &Instrument,
    check: &Check,
    book: &BookSheet<'_>,
) -> Result<String, ChartError> {
    let Some(prototype) = book.prototype() else { return Ok(String::new()) };
    let mut body = String::from("<ol>\n");
    for step in &prototype.steps {
        body.push_str(&one_step(step, step.step == book.step));
    }
    body.push_str("</ol>\n");
    let charts = change_charts(instrument, check, book)?;
    if !charts.is_empty() {
        body.push_str(&figures(&charts, CHANGE));
    }
    body.push_str(&tuning(prototype));
    if book.history.prototypes.len() > 1 {
        body.push_str(&prototypes(book.history));
    }
    for remark in &book.history.remarks {
        body.push_str(&paragraph(remark));
    }
    Ok(section("history", "How it came here", &body))
}

const CHANGE: &str = "Dots: how far each note moved. Triangles: how far the change of measures should have moved it. \
    Bars: both steps taken as unsure as this one.";

fn one_step(step: &StepHistory, checked: bool) -> String {
    let note = &step.note;
    let room = note.room_c.map(|celsius| format!("room {celsius} °C"));
    let day = note.when.get(..10).map(str::to_string);
    let reed = note.reed.as_ref().map(|reed| format!("reed {reed}"));
    let details: Vec<String> = [day, room, reed, note.player.clone()].into_iter().flatten().collect();
    let mut out = format!("<li>{}: {}", name(&step.step), text(&note.what));
    if !details.is_empty() {
        out.push_str(&format!(" <span class=\"faint\">({})</span>", text(&details.join(", "))));
    }
    if checked {
        out.push_str(" <strong>This page is about this step.</strong>");
    }
    if let Some(remark) = &note.note {
        out.push_str(&format!("<br>{}", text(remark)));
    }
    if !step.changes.is_empty() {
        let changes: Vec<String> = step.changes.iter().map(ToString::to_string).collect();
        out.push_str(&format!("<br>Measures: {}", text(&changes.join("; "))));
    }
    if let Some(found) = found(step) {
        out.push_str(&format!("<br>{}", text(&found)));
    }
    for test in &step.tests {
        let notes: Vec<String> = test.notes.iter().map(tested_note).collect();
        out.push_str(&format!("<br>{}", text(&test_heading(test))));
        if !notes.is_empty() {
            out.push_str(&format!(" <span class=\"faint\">({})</span>", text(&notes.join("; "))));
        }
    }
    out.push_str("</li>\n");
    out
}

fn plain_cents(value: Option<f64>) -> String {
    value.map_or_else(|| "–".to_string(), |cents| format!("{cents:.1}"))
}

/// Cents from target, a row a fingering and a column a step.
fn tuning(prototype: &PrototypeHistory) -> String {
    let steps = &prototype.steps;
    let numbers: Vec<String> =
        steps.iter().map(|step| step.step.split('-').next().unwrap_or_default().to_string()).collect();
    let mut head = vec!["fingering"];
    head.extend(numbers.iter().map(String::as_str));
    let mut names: Vec<&str> = Vec::new();
    for note in steps.iter().flat_map(|step| &step.notes) {
        if !names.contains(&note.name.as_str()) {
            names.push(&note.name);
        }
    }
    let of = |step: &StepHistory, wanted: &str| {
        step.notes.iter().find(|note| note.name == wanted).and_then(|note| note.cents_from_target)
    };
    let mut rows: Vec<Vec<String>> = names
        .iter()
        .map(|fingering| {
            let cells = steps.iter().map(|step| signed(of(step, fingering)));
            std::iter::once(name(fingering)).chain(cells).collect()
        })
        .collect();
    let mut whole = |what: &str, value: &dyn Fn(&StepHistory) -> String| {
        rows.push(std::iter::once(what.to_string()).chain(steps.iter().map(value)).collect());
    };
    whole("root mean square", &|step| plain_cents(step.rms_cents));
    whole("all notes together", &|step| signed(step.common_cents));
    whole("spread about that", &|step| plain_cents(step.spread_cents));
    table("Cents from target at each step; + is sharp, - is flat", Last::Figures, &head, &rows)
}

/// Where each body ended.
fn prototypes(history: &History) -> String {
    let head =
        ["prototype", "steps", "root mean square, cents", "all notes together, cents", "spread, cents"];
    let rows: Vec<Vec<String>> = history
        .prototypes
        .iter()
        .map(|prototype| {
            let last = prototype.steps.iter().rev().find(|step| step.rms_cents.is_some());
            vec![
                name(&prototype.name),
                prototype.steps.len().to_string(),
                plain_cents(last.and_then(|step| step.rms_cents)),
                signed(last.and_then(|step| step.common_cents)),
                plain_cents(last.and_then(|step| step.spread_cents)),
            ]
        })
        .collect();
    table("Prototypes, each at the last step that was played", Last::Figures, &head, &rows)
}
