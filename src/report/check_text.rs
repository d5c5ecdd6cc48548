//! `check` for the terminal: what to do, why, the notes, the cuts; one screen for a usual instrument.
//! Everything else is in the JSON output. Computes nothing.

use crate::diagnosis::check::Check;
use crate::diagnosis::decide::bench_tests::BenchTest;
use crate::diagnosis::findings::ranking::{Basis, Finding};
use crate::instrument::model::Instrument;
use crate::report::check_words::{
    cautions, hand_over, listed_cautions, others, own_note, percent, sentences, suspect_words, told, troubles,
};
use crate::report::layout::{hanging, paragraph, right};
use crate::report::words::cut::work;
use crate::report::words::next::{self, ANSWER};
use crate::report::{note_table, questions};

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
    let mut out = headline(instrument, check) + "\n";
    out.push_str(&questions::text(instrument, &check.questions));
    push_next(&mut out, instrument, check);
    push_findings(&mut out, instrument, check);
    out.push('\n');
    out.push_str(&note_table::text(instrument, &check.notes));
    push_cuts(&mut out, instrument, check);
    push_remarks(&mut out, instrument, check);
    out
}

/// What was checked, in a line.
#[must_use]
pub fn headline(instrument: &Instrument, check: &Check) -> String {
    let takes: usize = check.notes.iter().map(|note| note.takes.len()).sum();
    format!(
        "{} {}: {} {}, {takes} {}\n",
        instrument.name,
        instrument.prototype,
        check.notes.len(),
        plural(check.notes.len(), "fingering"),
        plural(takes, "take"),
    )
}

fn plural(count: usize, word: &str) -> String {
    if count == 1 { word.to_string() } else { format!("{word}s") }
}

fn push_next(out: &mut String, instrument: &Instrument, check: &Check) {
    let asks = matches!(check.next.tests.first(), Some(BenchTest::Answer { .. }));
    let now = if asks { format!("Cut nothing yet. {ANSWER}") } else { next::text(instrument, check) };
    out.push_str(&paragraph("Next: ", &now));
    if let Some(stand_in) = &check.next.stand_in {
        out.push_str(&hanging("      Try first: ", stand_in, 6));
    }
    if let Some((option, besides)) = hand_over(instrument, check) {
        out.push_str(&hanging("      Then check again with ", &format!("{option}, {besides}"), 6));
    }
    if check.next.tests.is_empty() && !check.next.retake.is_empty() {
        out.push_str(&hanging("      Then play again: ", &check.next.retake.join(", "), 6));
    }
    for caution in cautions(instrument, check) {
        out.push_str(&paragraph("      ", caution));
    }
}

fn push_findings(out: &mut String, instrument: &Instrument, check: &Check) {
    let next = next::text(instrument, check);
    out.push_str("\nWhy\n");
    for (i, finding) in told(check, MOST_FINDINGS).into_iter().enumerate() {
        push_finding(out, finding, if i == 0 { MOST_EVIDENCE } else { 0 });
        let Some(test) = finding.test.as_ref().filter(|_| i == 0 || finding.weight >= TEST_SHOWN) else {
            continue;
        };
        // Where the next action is this test, it was told already.
        if !next.contains(test) {
            out.push_str(&hanging("       Test: ", test, FINDING_INDENT));
        }
    }
}

fn push_finding(out: &mut String, finding: &Finding, evidence: usize) {
    let head = match finding.basis {
        Basis::Weighed => {
            format!("  {} % {}: ", right(&percent(finding), 2), suspect_words(&finding.suspect))
        }
        Basis::Seen => format!("  seen {}: ", suspect_words(&finding.suspect)),
    };
    out.push_str(&hanging(&head, &finding.text, FINDING_INDENT));
    let others = others(finding);
    if !others.is_empty() {
        out.push_str(&paragraph("       ", &format!("Can't be told apart from: {}.", others.join(", "))));
    }
    for evidence in finding.evidence.iter().take(evidence) {
        out.push_str(&paragraph("       ", evidence));
    }
}

fn push_cuts(out: &mut String, instrument: &Instrument, check: &Check) {
    if check.cuts.is_empty() {
        return;
    }
    out.push_str("\nCuts, in the order of work; hear each before the next\n");
    for (i, cut) in check.cuts.iter().enumerate() {
        let own = own_note(instrument, cut).map_or_else(String::new, |own| format!("{own}: "));
        let text = format!("{own}{}", work(cut));
        out.push_str(&paragraph(&format!("  {}. ", i + 1), &text));
    }
    for caution in listed_cautions(instrument, check) {
        out.push_str(&paragraph("  ", caution));
    }
}

fn push_remarks(out: &mut String, instrument: &Instrument, check: &Check) {
    let (troubles, sentences) = (troubles(instrument, check), sentences(check));
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
