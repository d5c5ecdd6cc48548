//! The notes of a check as a table: side by side when there are many and little is said of each, so that
//! the registers of one fingering often stand next to each other. Computes nothing.

use crate::diagnosis::check::CheckedNote;
use crate::instrument::model::Instrument;
use crate::report::layout::{COLUMNS, left, right, signed};
use crate::units::cents_between;

/// Fewer notes than this always stand in one column.
const FEWEST_SIDE_BY_SIDE: usize = 12;
/// Widths of the columns of figures.
const TARGET: usize = 6;
const UNCERTAINTY: usize = 4;
const PREDICTED: usize = 6;

/// The table with its heading.
#[must_use]
pub fn text(instrument: &Instrument, notes: &[CheckedNote]) -> String {
    let names: Vec<&str> =
        notes.iter().map(|note| instrument.fingerings[note.fingering].name.as_str()).collect();
    let width = names.iter().map(|name| name.chars().count()).max().unwrap_or(0).clamp(4, 24);
    let rows: Vec<String> = names.iter().zip(notes).map(|(name, note)| row(name, width, note)).collect();
    let head =
        format!("  {} {} {} predicted", left("", width), right("target", TARGET), right("±", UNCERTAINTY));
    let half = COLUMNS / 2;
    let side_by_side =
        rows.len() >= FEWEST_SIDE_BY_SIDE && rows.iter().all(|row| row.chars().count() <= half);
    let mut lines = Vec::new();
    if side_by_side {
        let (first, second) = rows.split_at(rows.len().div_ceil(2));
        lines.push(format!("{}{head}", left(&head, half)));
        for (i, row) in first.iter().enumerate() {
            lines.push(format!("{}{}", left(row, half), second.get(i).map_or("", String::as_str)));
        }
    } else {
        lines.push(head);
        lines.extend(rows);
    }
    let mut out =
        String::from("Notes, in cents off target and off what the file predicts (+ sharp, - flat)\n");
    for line in lines {
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}

fn row(name: &str, width: usize, note: &CheckedNote) -> String {
    let against = |reference: Option<f64>| Some(cents_between(note.measured_hz?, reference?));
    let sd = note.sd_cents.map_or_else(|| "–".to_string(), |sd| format!("{sd:.1}"));
    let row = format!(
        "  {} {} {} {} {}",
        left(name, width),
        right(&signed(against(Some(note.target_hz))), TARGET),
        right(&sd, UNCERTAINTY),
        right(&signed(against(note.predicted_hz)), PREDICTED),
        remarks(note)
    );
    row.trim_end().to_string()
}

/// What else there is to say of a note, in a few words.
pub(super) fn remarks(note: &CheckedNote) -> String {
    let mut words: Vec<String> = Vec::new();
    if !note.playable {
        words.push("not playable yet".to_string());
    } else if note.takes.is_empty() {
        words.push("no take".to_string());
    }
    words.extend(note.takes.iter().find_map(|take| take.why.clone()));
    if let Some((over, under)) = note.undertones.iter().find_map(|undertone| undertone.ratio) {
        words.push(format!("undertone {over}/{under}"));
    }
    let first_word = |word: &String| !words.contains(word);
    let codes: Vec<String> =
        note.troubles.iter().map(|trouble| trouble.code.as_str().to_string()).filter(first_word).collect();
    words.extend(codes);
    words.join(", ")
}
