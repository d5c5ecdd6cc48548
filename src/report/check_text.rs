//! `check` for the terminal: what to do, why, the table, the cuts. Computes nothing.

use crate::diagnosis::check::{Check, CheckedNote};
use crate::diagnosis::cuts::{Cut, CutKind};
use crate::diagnosis::findings::{Finding, Kind};
use crate::instrument::model::Instrument;
use crate::report::cautions;
use crate::report::layout::{hanging, left, paragraph, right, signed};
use crate::units::cents_between;

/// Findings lighter than this are left to the JSON output unless they lead.
const LEAST_SHOWN: f64 = 0.1;

/// The whole screen.
#[must_use]
pub fn text(instrument: &Instrument, check: &Check) -> String {
    let takes: usize = check.notes.iter().map(|note| note.takes.len()).sum();
    let mut out = format!(
        "{} {}: {} {}, {takes} {}\n\n",
        instrument.name,
        instrument.prototype,
        check.notes.len(),
        plural(check.notes.len(), "fingering"),
        plural(takes, "take"),
    );
    out.push_str(&paragraph("Next: ", &check.next.text));
    if let Some(stand_in) = &check.next.stand_in {
        out.push_str(&paragraph("      Try first: ", stand_in));
    }
    if !check.next.retake.is_empty() {
        out.push_str(&paragraph("      Then play again: ", &check.next.retake.join(", ")));
    }
    if let Some(caution) = check.cuts.iter().find_map(caution) {
        out.push_str(&paragraph("      ", caution));
    }
    out.push_str("\nWhy\n");
    for (i, finding) in check.findings.iter().enumerate() {
        if i == 0 || finding.weight >= LEAST_SHOWN {
            push_finding(&mut out, finding);
        }
    }
    push_table(&mut out, instrument, check);
    push_cuts(&mut out, &check.cuts);
    push_notes(&mut out, instrument, check);
    out
}

fn plural(count: usize, word: &str) -> String {
    if count == 1 { word.to_string() } else { format!("{word}s") }
}

fn push_finding(out: &mut String, finding: &Finding) {
    let place = finding.suspect.place.as_deref().map_or_else(String::new, |place| format!(" {place}"));
    let percent = (100.0 * finding.weight).round().clamp(0.0, 99.0);
    let head =
        format!("  {} % {}{place}: ", right(&format!("{percent:.0}"), 2), finding.suspect.kind.as_str());
    out.push_str(&hanging(&head, 7, &finding.text));
    let others: Vec<String> = finding
        .group
        .iter()
        .filter(|suspect| suspect.kind != Kind::Pad || suspect.place != finding.suspect.place)
        .map(|suspect| match &suspect.place {
            Some(place) => format!("{} {place}", suspect.kind.as_str()),
            None => suspect.kind.as_str().to_string(),
        })
        .collect();
    if !others.is_empty() {
        out.push_str(&paragraph("       ", &format!("Can't be told apart from: {}.", others.join(", "))));
    }
    for evidence in finding.evidence.iter().take(2) {
        out.push_str(&paragraph("       ", evidence));
    }
    if let Some(test) = &finding.test {
        out.push_str(&paragraph("       Test: ", test));
    }
}

fn push_table(out: &mut String, instrument: &Instrument, check: &Check) {
    out.push_str("\nNotes, in cents (+ sharp, - flat)\n");
    let width = check
        .notes
        .iter()
        .map(|note| instrument.fingerings[note.fingering].name.chars().count())
        .max()
        .unwrap_or(0)
        .clamp(9, 24);
    out.push_str(&format!(
        "  {} {} {} {} {}  {}\n",
        left("fingering", width),
        right("from target", 11),
        right("±", 5),
        right("from predicted", 14),
        right("explained", 9),
        "remarks"
    ));
    for note in &check.notes {
        let against = |reference: Option<f64>| Some(cents_between(note.measured_hz?, reference?));
        let explained = note.explained_hz.zip(note.predicted_hz).map(|(e, p)| cents_between(e, p));
        let sd = note.sd_cents.map_or_else(|| "–".to_string(), |sd| format!("{sd:.1}"));
        let line = format!(
            "  {} {} {} {} {}  {}",
            left(&instrument.fingerings[note.fingering].name, width),
            right(&signed(against(Some(note.target_hz))), 11),
            right(&sd, 5),
            right(&signed(against(note.predicted_hz)), 14),
            right(&signed(explained.filter(|_| note.measured_hz.is_some())), 9),
            remarks(note)
        );
        out.push_str(line.trim_end());
        out.push('\n');
    }
}

fn remarks(note: &CheckedNote) -> String {
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

fn caution(cut: &Cut) -> Option<&'static str> {
    match cut.kind {
        CutKind::Enlarge | CutKind::TrimEnd => Some(cautions::CUTTING),
        CutKind::Shrink => Some(cautions::FILLING),
        CutKind::RaisePad | CutKind::Move => None,
    }
}

fn push_cuts(out: &mut String, cuts: &[Cut]) {
    if cuts.is_empty() {
        return;
    }
    out.push_str("\nCuts, in the order of work; hear each before the next\n");
    for (i, cut) in cuts.iter().enumerate() {
        out.push_str(&paragraph(&format!("  {}. ", i + 1), &cut.text));
    }
}

fn push_notes(out: &mut String, instrument: &Instrument, check: &Check) {
    let mut troubles: Vec<(String, Vec<&str>)> = Vec::new();
    for note in &check.notes {
        for trouble in &note.troubles {
            let name = instrument.fingerings[note.fingering].name.as_str();
            match troubles.iter_mut().find(|(text, _)| *text == trouble.text) {
                Some((_, names)) => names.push(name),
                None => troubles.push((trouble.text.clone(), vec![name])),
            }
        }
    }
    if troubles.is_empty() && check.remarks.is_empty() && check.warnings.is_empty() {
        return;
    }
    out.push_str("\nAlso\n");
    for (text, names) in troubles {
        out.push_str(&paragraph("  - ", &format!("{}: {text}", names.join(", "))));
    }
    for text in check.remarks.iter().chain(check.warnings.iter().map(|warning| &warning.text)) {
        out.push_str(&paragraph("  - ", text));
    }
}
