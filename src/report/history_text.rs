//! A book's history for the terminal. Computes nothing.

use crate::book::history::{History, NoteHistory, PrototypeHistory, StepHistory};
use crate::report::history_words::{found, test_heading, tested_note};
use crate::report::layout::{COLUMNS, hanging, left, right, shortened, signed};

/// Width of a column of figures.
const FIGURE: usize = 8;

/// Each prototype with its steps, what they did, and the prototypes side by side.
#[must_use]
pub fn text(history: &History) -> String {
    let mut out = String::new();
    for prototype in &history.prototypes {
        out.push_str(&format!("{}\n", prototype.name));
        prototype.steps.iter().for_each(|step| out.push_str(&heading(step)));
        out.push_str(&tuning(prototype));
        out.push_str(&changes(prototype));
        out.push_str(&twelfths(prototype));
        out.push_str(&undertones(prototype));
        out.push('\n');
    }
    out.push_str(&side_by_side(history));
    while out.ends_with("\n\n") {
        out.pop();
    }
    if out.is_empty() { "The book has no steps yet.\n".to_string() } else { out }
}

fn heading(step: &StepHistory) -> String {
    let note = &step.note;
    let room = note.room_c.map(|celsius| format!("{celsius} °C"));
    let day = note.when.get(..10).map(str::to_string);
    let details = [day, room, note.reed.clone().map(|reed| format!("reed {reed}")), note.player.clone()];
    let details: Vec<String> = details.into_iter().flatten().filter(|text| !text.is_empty()).collect();
    let mut out = hanging("  ", &format!("{}: {}; {}", step.step, note.what, details.join(", ")), 6);
    if let Some(remark) = &note.note {
        out.push_str(&hanging("      ", remark, 6));
    }
    if !step.changes.is_empty() {
        let list: Vec<String> = step.changes.iter().map(ToString::to_string).collect();
        out.push_str(&hanging("      ", &list.join("; "), 6));
    }
    if let Some(found) = found(step) {
        out.push_str(&hanging("      ", &found, 6));
    }
    for test in &step.tests {
        out.push_str(&hanging("      ", &test_heading(test), 8));
        test.notes.iter().for_each(|note| out.push_str(&hanging("        ", &tested_note(note), 10)));
    }
    out
}

/// A table: one row a name, one column a step, at most as many columns as the screen holds.
fn table<C>(title: &str, heads: &[String], names: &[String], cell: C) -> String
where
    C: Fn(usize, &str) -> String,
{
    let first = names.iter().map(|name| name.chars().count()).max().unwrap_or(0).clamp(8, 24) + 2;
    let width = heads.iter().map(|head| head.chars().count() + 1).max().unwrap_or(0).max(FIGURE);
    let columns: Vec<usize> = (0..heads.len()).collect();
    let mut out = String::new();
    for part in columns.chunks(((COLUMNS - first) / width).max(1)) {
        out.push_str(&format!("\n{title}\n{}", left("", first)));
        part.iter().for_each(|&c| out.push_str(&right(heads.get(c).map_or("", String::as_str), width)));
        out.push('\n');
        for name in names {
            out.push_str(&left(&shortened(&format!("  {name}"), first), first));
            part.iter().for_each(|&c| out.push_str(&right(&cell(c, name), width)));
            out.push('\n');
        }
    }
    out
}

fn numbers(steps: &[&StepHistory]) -> Vec<String> {
    steps.iter().map(|step| step.step.split('-').next().unwrap_or_default().to_string()).collect()
}

fn find<'h>(step: &'h StepHistory, name: &str) -> Option<&'h NoteHistory> {
    step.notes.iter().find(|note| note.name == name)
}

/// Names of all fingerings that any of the steps has, in the order in which they come up.
fn names<'h>(steps: impl Iterator<Item = &'h StepHistory>) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for note in steps.flat_map(|step| &step.notes) {
        if !names.contains(&note.name) {
            names.push(note.name.clone());
        }
    }
    names
}

const RMS: &str = "rms";
const COMMON: &str = "common";
const SPREAD: &str = "spread";

fn tuning_cell(step: &StepHistory, name: &str) -> String {
    let plain = |value: Option<f64>| value.map_or_else(|| "–".to_string(), |v| format!("{v:.1}"));
    match name {
        RMS => plain(step.rms_cents),
        COMMON => signed(step.common_cents),
        SPREAD => plain(step.spread_cents),
        _ => signed(find(step, name).and_then(|note| note.cents_from_target)),
    }
}

fn tuning(prototype: &PrototypeHistory) -> String {
    let steps: Vec<&StepHistory> = prototype.steps.iter().collect();
    let mut rows = names(prototype.steps.iter());
    rows.extend([RMS, COMMON, SPREAD].map(str::to_string));
    let title = "Cents from target (+ sharp, - flat); common: the mean; spread: about the mean";
    table(title, &numbers(&steps), &rows, |c, name| {
        steps.get(c).map_or_else(String::new, |s| tuning_cell(s, name))
    })
}

/// What each step did beside what it should have done; nothing when no step has both.
fn changes(prototype: &PrototypeHistory) -> String {
    let has_both = |note: &NoteHistory| note.change_cents.is_some() && note.predicted_change_cents.is_some();
    let steps: Vec<&StepHistory> =
        prototype.steps.iter().filter(|step| step.notes.iter().any(has_both)).collect();
    if steps.is_empty() {
        return String::new();
    }
    let cell = |c: usize, name: &str| {
        let Some(note) = steps.get(c).and_then(|step| find(step, name)) else { return "–".to_string() };
        match (note.change_cents, note.predicted_change_cents) {
            (None, None) => "–".to_string(),
            (did, should) => format!("{} ({})", signed(did), signed(should)),
        }
    };
    let rows = names(steps.iter().copied());
    table(
        "What each step did, in cents, and in brackets what it was predicted to do",
        &wide(&steps),
        &rows,
        cell,
    )
}

/// Numbers of steps as heads of columns that hold two figures.
fn wide(steps: &[&StepHistory]) -> Vec<String> {
    numbers(steps).into_iter().map(|number| right(&number, 16)).collect()
}

fn twelfths(prototype: &PrototypeHistory) -> String {
    let steps: Vec<&StepHistory> = prototype.steps.iter().filter(|step| !step.twelfths.is_empty()).collect();
    let mut rows: Vec<String> = Vec::new();
    for pair in steps.iter().flat_map(|step| &step.twelfths) {
        let name = format!("{}–{}", pair.lower, pair.upper);
        if !rows.contains(&name) {
            rows.push(name);
        }
    }
    if rows.is_empty() {
        return String::new();
    }
    let cell = |c: usize, name: &str| {
        let pairs = steps.get(c).map(|step| step.twelfths.iter());
        let found = pairs.and_then(|mut pairs| pairs.find(|p| format!("{}–{}", p.lower, p.upper) == name));
        signed(found.map(|pair| pair.cents - 1900.0))
    };
    table("Twelfths as played, cents wider (+) than nineteen semitones", &numbers(&steps), &rows, cell)
}

fn undertones(prototype: &PrototypeHistory) -> String {
    let mut out = String::new();
    for step in &prototype.steps {
        let heard: Vec<String> = step
            .notes
            .iter()
            .filter_map(|note| Some(format!("{} {}", note.name, note.undertones.first()?)))
            .collect();
        if !heard.is_empty() {
            out.push_str(&hanging(&format!("  {}: ", step.step), &heard.join(", "), 6));
        }
    }
    if out.is_empty() {
        out
    } else {
        format!("\nUndertones: part of the note, dB to its strongest partial\n{out}")
    }
}

/// The last played step of each prototype beside the others.
fn side_by_side(history: &History) -> String {
    let last: Vec<(&str, &StepHistory)> = history
        .prototypes
        .iter()
        .filter_map(|p| Some((p.name.as_str(), p.steps.iter().rev().find(|step| step.rms_cents.is_some())?)))
        .collect();
    if last.len() < 2 {
        return String::new();
    }
    let number = |step: &StepHistory| step.step.split('-').next().unwrap_or_default().to_string();
    let heads: Vec<String> = last.iter().map(|(name, step)| format!("{name}/{}", number(step))).collect();
    let mut rows = names(last.iter().map(|(_, step)| *step));
    rows.extend([RMS, COMMON, SPREAD].map(str::to_string));
    let cell =
        |c: usize, name: &str| last.get(c).map_or_else(String::new, |(_, step)| tuning_cell(step, name));
    table("Prototypes side by side: cents from target at the last step that was played", &heads, &rows, cell)
}
