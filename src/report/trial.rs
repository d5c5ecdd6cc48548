//! `try` as text and JSON. Computes nothing.

use serde_json::{Value, json};

use crate::instrument::model::Instrument;
use crate::instrument::trial::{Moved, Trial, TriedNote};
use crate::instrument::work::{Work, described, work_of};
use crate::report::cautions;
use crate::report::layout::{left, paragraph, right, shortened, signed};
use crate::report::predict::warnings_json;

/// The longest name of a fingering that is shown whole.
const NAME_COLUMNS: usize = 20;

/// The `try` object of the JSON output. `saved`: the file that was written.
#[must_use]
pub fn json(trial: &Trial, stand_ins: &[String], saved: Option<&str>) -> Value {
    let instrument = &trial.before.instrument;
    let changes: Vec<&str> = trial.steps.iter().map(|step| step.written.as_str()).collect();
    let described: Vec<String> = trial.steps.iter().map(|step| described(instrument, step)).collect();
    let fingerings: Vec<Value> = trial.notes.iter().map(|note| note_json(instrument, note)).collect();
    json!({
        "instrument": instrument.name,
        "prototype": instrument.prototype,
        "changes": changes,
        "described": described,
        "fingerings": fingerings,
        "planned_left_out": trial.planned,
        "warnings": warnings_json(&trial.warnings),
        "stand_ins": stand_ins,
        "cautions": cautions(trial),
        "saved": saved,
    })
}

fn note_json(instrument: &Instrument, note: &TriedNote) -> Value {
    let fingering = &instrument.fingerings[note.fingering];
    let moved = |moved: &Moved| {
        json!({
            "before_hz": moved.before_hz,
            "after_hz": moved.after_hz,
            "change_cents": moved.change_cents(),
        })
    };
    json!({
        "name": fingering.name,
        "register": fingering.register,
        "target_hz": note.target_hz,
        "before_hz": note.wanted.before_hz,
        "after_hz": note.wanted.after_hz,
        "change_cents": note.wanted.change_cents(),
        "from_target_cents": note.from_target_cents(),
        "second_resonance": note.second.as_ref().map(moved),
    })
}

/// The table for the terminal.
#[must_use]
pub fn text(trial: &Trial, stand_ins: &[String], saved: Option<&str>) -> String {
    let instrument = &trial.before.instrument;
    let title = format!("{} {}: what the changes would do", instrument.name, instrument.prototype);
    let mut out = paragraph("", &title);
    for step in &trial.steps {
        out.push_str(&paragraph("  ", &described(instrument, step)));
    }
    if trial.steps.is_empty() {
        out.push_str(&paragraph("  ", "No change is given; this is the instrument as it is."));
    }
    out.push('\n');
    push_table(&mut out, trial);
    if trial.planned > 0 {
        let fingerings = if trial.planned == 1 { "fingering opens" } else { "fingerings open" };
        let text = format!("{} more {fingerings} holes that are only planned.", trial.planned);
        out.push_str(&paragraph("  ", &text));
    }
    out.push('\n');
    out.push_str(&paragraph(
        "",
        "All from the geometry, in cents: + sharp, - flat. The changes are much surer than the distance from \
         target; cut half, play, and cut again.",
    ));
    for warning in &trial.warnings {
        out.push_str(&paragraph("  ! ", &warning.text));
    }
    for stand_in in stand_ins {
        out.push_str(&paragraph("Try first: ", stand_in));
    }
    for caution in cautions(trial) {
        out.push_str(&paragraph("", caution));
    }
    if let Some(file) = saved {
        out.push_str(&format!("Saved as {file}.\n"));
    }
    out
}

fn push_table(out: &mut String, trial: &Trial) {
    let instrument = &trial.before.instrument;
    if trial.notes.is_empty() {
        out.push_str("No fingering of the file can be played yet.\n");
        return;
    }
    let name = |note: &TriedNote| shortened(&instrument.fingerings[note.fingering].name, NAME_COLUMNS);
    let width = trial.notes.iter().map(|note| name(note).chars().count()).max().unwrap_or(0).max(9);
    out.push_str(&format!(
        "  {} {} {} {} {} {} {}\n",
        left("fingering", width),
        right("reg", 3),
        right("before Hz", 9),
        right("after Hz", 9),
        right("change", 7),
        right("from target", 11),
        right("2nd resonance", 13)
    ));
    for note in &trial.notes {
        let hz = |hz: Option<f64>| right(&hz.map_or_else(|| "–".to_string(), |hz| format!("{hz:.2}")), 9);
        let second = match &note.second {
            Some(second) => signed(second.change_cents()),
            None => String::new(),
        };
        let after = match (note.wanted.before_hz, note.wanted.after_hz) {
            (Some(_), None) => right("lost", 9),
            (_, after_hz) => hz(after_hz),
        };
        let line = format!(
            "  {} {} {} {after} {} {} {}",
            left(&name(note), width),
            right(&instrument.fingerings[note.fingering].register.to_string(), 3),
            hz(note.wanted.before_hz),
            right(&signed(note.wanted.change_cents()), 7),
            right(&signed(note.from_target_cents()), 11),
            right(&second, 13)
        );
        out.push_str(line.trim_end());
        out.push('\n');
    }
}

fn cautions(trial: &Trial) -> Vec<&'static str> {
    let takes = |work: Work| trial.steps.iter().any(|step| work_of(step) == Some(work));
    let mut lines = Vec::new();
    if takes(Work::Cutting) {
        lines.push(cautions::CUTTING);
    }
    if takes(Work::Filling) {
        lines.push(cautions::FILLING);
    }
    lines
}
