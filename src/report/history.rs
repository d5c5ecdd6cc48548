//! A book's history as JSON and as CSV, and a step that was opened as JSON. Computes nothing.

use serde_json::{Value, json};

use crate::book::found::Held;
use crate::book::history::{History, NoteHistory, StepHistory};
use crate::book::table::{inert, line};
use crate::book::tested::{TestHistory, TestedNote, Verdict};
use crate::instrument::difference::Difference;
use crate::instrument::problem::Problem;

/// The JSON object of `history`.
#[must_use]
pub fn json(history: &History) -> Value {
    let prototypes: Vec<Value> = history
        .prototypes
        .iter()
        .map(|prototype| {
            let steps: Vec<Value> = prototype.steps.iter().map(step).collect();
            json!({ "name": prototype.name, "steps": steps })
        })
        .collect();
    json!({ "prototypes": prototypes, "remarks": history.remarks })
}

fn step(step: &StepHistory) -> Value {
    let twelfths: Vec<Value> = step
        .twelfths
        .iter()
        .map(|t| json!({ "lower": t.lower, "upper": t.upper, "cents": t.cents, "predicted_cents": t.predicted_cents }))
        .collect();
    let unknown_when_empty = |text: &str| (!text.is_empty()).then(|| text.to_string());
    json!({
        "step": step.step,
        "text": step.note.what,
        "when": unknown_when_empty(&step.note.when),
        "room_c": step.note.room_c,
        "reed": step.note.reed,
        "player": step.note.player,
        "note": step.note.note,
        "changes": changes(&step.changes),
        "fingerings": step.notes.iter().map(note).collect::<Vec<_>>(),
        "rms_cents": step.rms_cents,
        "common_cents": step.common_cents,
        "spread_cents": step.spread_cents,
        "twelfths": twelfths,
        "tests": step.tests.iter().map(test).collect::<Vec<_>>(),
        "found": step.found.iter().map(Held::written).collect::<Vec<_>>(),
    })
}

fn test(test: &TestHistory) -> Value {
    let fingering = |note: &TestedNote| {
        json!({
            "name": note.name,
            "before_hz": note.before_hz,
            "during_hz": note.during_hz,
            "change_cents": note.change_cents,
            "sd_cents": note.sd_cents,
        })
    };
    json!({
        "test": test.test,
        "changes": test.changes,
        "when": (!test.when.is_empty()).then_some(&test.when),
        "fingerings": test.notes.iter().map(fingering).collect::<Vec<_>>(),
        "verdict": match test.verdict {
            Verdict::Moved { .. } => "moved",
            Verdict::Stayed { .. } => "stayed",
            Verdict::Unclear => "unclear",
        },
    })
}

fn note(note: &NoteHistory) -> Value {
    json!({
        "name": note.name,
        "measured_hz": note.measured_hz,
        "cents_from_target": note.cents_from_target,
        "cents_from_predicted": note.cents_from_predicted,
        "predicted_change_cents": note.predicted_change_cents,
        "change_cents": note.change_cents,
        "takes": note.takes,
        "left_out": note.left_out,
        "undertones": note.undertones,
    })
}

fn changes(changes: &[Difference]) -> Vec<Value> {
    changes
        .iter()
        .map(|change| json!({ "what": change.what, "old": change.old, "new": change.new }))
        .collect()
}

/// The JSON object of `new` and `step`: the step that is open now.
#[must_use]
pub fn opened_json(prototype: &str, step: &str, changed: &[Difference], to_measure: &[Problem]) -> Value {
    let to_measure: Vec<Value> =
        to_measure.iter().map(|problem| json!({ "line": problem.line, "text": problem.to_do })).collect();
    json!({ "prototype": prototype, "step": step, "changes": changes(changed), "to_measure": to_measure })
}

/// One row a fingering and step; text that a spreadsheet would run is made inert.
#[must_use]
pub fn csv(history: &History) -> String {
    let mut out = line(&[
        "prototype",
        "step",
        "text",
        "when",
        "room_c",
        "fingering",
        "hz",
        "cents_from_target",
        "cents_from_predicted",
        "predicted_change_cents",
        "change_cents",
        "takes",
        "undertones",
    ]);
    let number =
        |value: Option<f64>, digits: usize| value.map_or_else(String::new, |v| format!("{v:.digits$}"));
    for prototype in &history.prototypes {
        for step in &prototype.steps {
            for note in &step.notes {
                out.push_str(&line(&[
                    inert(&prototype.name),
                    inert(&step.step),
                    inert(&step.note.what),
                    inert(&step.note.when),
                    number(step.note.room_c, 1),
                    inert(&note.name),
                    number(note.measured_hz, 3),
                    number(note.cents_from_target, 1),
                    number(note.cents_from_predicted, 1),
                    number(note.predicted_change_cents, 1),
                    number(note.change_cents, 1),
                    note.takes.to_string(),
                    inert(&note.undertones.join(" | ")),
                ]));
            }
        }
    }
    out
}
