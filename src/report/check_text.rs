//! `check` for the terminal: what to do, why, the notes, the cuts; one screen for a usual instrument.
//! Everything else is in the JSON output. Computes nothing.

use crate::diagnosis::check::Check;
use crate::diagnosis::cuts::{Cut, CutKind};
use crate::diagnosis::findings::{Finding, Kind};
use crate::instrument::model::Instrument;
use crate::report::cautions;
use crate::report::layout::{hanging, paragraph, right};
use crate::report::note_table;

/// Findings lighter than this are left to the JSON output unless they lead.
const LEAST_SHOWN: f64 = 0.1;
/// Findings as heavy as this are told with their test, beside the leading one.
const TEST_SHOWN: f64 = 0.5;
/// At most this many findings …
const MOST_FINDINGS: usize = 3;
/// … and this much evidence for the leading one.
const MOST_EVIDENCE: usize = 1;
/// Column in which the text of findings hangs.
const FINDING_INDENT: usize = 7;

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
    push_next(&mut out, check);
    push_findings(&mut out, check);
    out.push('\n');
    out.push_str(&note_table::text(instrument, &check.notes));
    push_cuts(&mut out, instrument, &check.cuts);
    push_remarks(&mut out, instrument, check);
    out
}

fn plural(count: usize, word: &str) -> String {
    if count == 1 { word.to_string() } else { format!("{word}s") }
}

fn push_next(out: &mut String, check: &Check) {
    out.push_str(&paragraph("Next: ", &check.next.text));
    if let Some(stand_in) = &check.next.stand_in {
        out.push_str(&hanging("      Try first: ", stand_in, 6));
    }
    if !check.next.retake.is_empty() {
        out.push_str(&hanging("      Then play again: ", &check.next.retake.join(", "), 6));
    }
    if let Some(caution) = check.cuts.iter().find_map(caution) {
        out.push_str(&paragraph("      ", caution));
    }
}

fn caution(cut: &Cut) -> Option<&'static str> {
    match cut.kind {
        CutKind::Enlarge | CutKind::TrimEnd => Some(cautions::CUTTING),
        CutKind::TrimTop if !cut.undo => Some(cautions::CUTTING),
        CutKind::Shrink => Some(cautions::FILLING),
        CutKind::RaisePad | CutKind::Move | CutKind::TrimTop => None,
    }
}

fn push_findings(out: &mut String, check: &Check) {
    out.push_str("\nWhy\n");
    let told = check.findings.iter().filter(|finding| finding.weight >= LEAST_SHOWN).take(MOST_FINDINGS);
    // The leading one is told however light it is.
    let told = if told.clone().next().is_some() {
        told.collect()
    } else {
        check.findings.first().into_iter().collect::<Vec<_>>()
    };
    for (i, finding) in told.into_iter().enumerate() {
        push_finding(out, finding, if i == 0 { MOST_EVIDENCE } else { 0 });
        let Some(test) = finding.test.as_ref().filter(|_| i == 0 || finding.weight >= TEST_SHOWN) else {
            continue;
        };
        // Where the next action is this test, it was told already.
        if !check.next.text.contains(test) {
            out.push_str(&hanging("       Test: ", test, FINDING_INDENT));
        }
    }
}

fn push_finding(out: &mut String, finding: &Finding, evidence: usize) {
    let place = finding.suspect.place.as_deref().map_or_else(String::new, |place| format!(" {place}"));
    let percent = (100.0 * finding.weight).round().clamp(0.0, 99.0);
    let head =
        format!("  {} % {}{place}: ", right(&format!("{percent:.0}"), 2), finding.suspect.kind.as_str());
    out.push_str(&hanging(&head, &finding.text, FINDING_INDENT));
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
    for evidence in finding.evidence.iter().take(evidence) {
        out.push_str(&paragraph("       ", evidence));
    }
}

fn push_cuts(out: &mut String, instrument: &Instrument, cuts: &[Cut]) {
    if cuts.is_empty() {
        return;
    }
    out.push_str("\nCuts, in the order of work; hear each before the next\n");
    for (i, cut) in cuts.iter().enumerate() {
        let text = format!("{}{}", own_note(instrument, cut), work(cut));
        out.push_str(&paragraph(&format!("  {}. ", i + 1), &text));
    }
}

/// `E2 -7 to -2 cents: `, the first of the notes that the cut moves most.
fn own_note(instrument: &Instrument, cut: &Cut) -> String {
    let size = |i: &usize| (cut.effects[*i].after_cents - cut.effects[*i].before_cents).abs();
    let most = (0..cut.effects.len()).map(|i| size(&i)).fold(0.0, f64::max);
    (0..cut.effects.len()).find(|i| size(i) >= 0.5 * most).map_or_else(String::new, |i| {
        let effect = &cut.effects[i];
        let name = &instrument.fingerings[effect.fingering].name;
        // Rounded first, and no minus before nought.
        let whole = |cents: f64| cents.round() + 0.0;
        format!("{name} {:+} to {:+} cents: ", whole(effect.before_cents), whole(effect.after_cents))
    })
}

/// What is done, in one line; the whole sentence is in the JSON output.
fn work(cut: &Cut) -> String {
    let place = cut.place.as_deref().unwrap_or_default();
    let value = |change: &str| change.split_once('=').map_or_else(String::new, |(_, mm)| mm.to_string());
    let (first, full, tool) = (value(&cut.change), value(&cut.full), &cut.tool);
    match cut.kind {
        CutKind::Enlarge if first == full => format!("{place} to {full} mm ({tool})"),
        CutKind::Enlarge => format!("{place} to {first} mm ({tool}), then {full} mm"),
        CutKind::Shrink => format!("fill the upper edge of {place} until it acts {full} mm smaller"),
        CutKind::RaisePad => format!("pad of {place} up to {full} mm"),
        CutKind::Move => format!("on the next body, {place} at {full} mm"),
        CutKind::TrimEnd if full.starts_with('-') => {
            format!("a ring of {} mm on the open end", full.trim_start_matches('-'))
        }
        CutKind::TrimTop if full.starts_with('-') => {
            format!("the mouthpiece out by {} mm, with a ring in the gap", full.trim_start_matches('-'))
        }
        CutKind::TrimTop => format!("the top shorter by {first} mm, then {full} mm in all"),
        CutKind::TrimEnd if first == full => format!("{full} mm off the open end"),
        CutKind::TrimEnd => format!("{first} mm off the open end, then {full} mm in all"),
    }
}

fn push_remarks(out: &mut String, instrument: &Instrument, check: &Check) {
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
    // Where an undertone or the vent is a finding, the geometry's word on vents was said better.
    let told = |kind: Kind| check.findings.iter().any(|f| f.suspect.kind == kind && f.weight >= LEAST_SHOWN);
    let vent_told = told(Kind::Undertone) || told(Kind::Vent);
    let warnings = check.warnings.iter().filter(|warning| !(vent_told && warning.code.starts_with("vent-")));
    let sentences: Vec<&String> = check.remarks.iter().chain(warnings.map(|warning| &warning.text)).collect();
    if troubles.is_empty() && sentences.is_empty() {
        return;
    }
    out.push_str("\nAlso\n");
    for (text, names) in troubles {
        out.push_str(&paragraph("  - ", &format!("{}: {text}", names.join(", "))));
    }
    for text in sentences {
        out.push_str(&paragraph("  - ", text));
    }
}
