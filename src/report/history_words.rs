//! Sentences about bench tests and finds that the history has in the terminal and on the page.
//!
//! Computes nothing.

use crate::book::history::StepHistory;
use crate::book::tested::{TestHistory, TestedNote, Verdict};
use crate::report::layout::signed;

/// A test's heading: `Test 01, leak.v=0: C2 moved by -20 ± 4 cents`.
#[must_use]
pub fn test_heading(test: &TestHistory) -> String {
    format!("Test {}, {}: {}", test.test, test.changes.join(", "), verdict(&test.verdict))
}

fn verdict(verdict: &Verdict) -> String {
    match verdict {
        Verdict::Moved { name, cents, sd_cents } => {
            format!("{name} moved by {cents:+.0} ± {:.0} cents", sd_cents.max(1.0))
        }
        Verdict::Stayed { within_cents } => format!("stayed within {:.0} cents", within_cents.ceil()),
        Verdict::Unclear => "unclear; play these notes again, with and without the change".to_string(),
    }
}

/// A note before and during a test: `C2 65.406 → 64.655 Hz, -20.0 ± 4.2 cents`.
#[must_use]
pub fn tested_note(note: &TestedNote) -> String {
    let hz = |value: Option<f64>| value.map_or_else(|| "not played".to_string(), |hz| format!("{hz:.2}"));
    let mut out = format!("{} {} → {} Hz", note.name, hz(note.before_hz), hz(note.during_hz));
    if let (Some(cents), Some(sd)) = (note.change_cents, note.sd_cents) {
        out.push_str(&format!(", {} ± {sd:.1} cents", signed(Some(cents))));
    }
    out
}

/// What was found without a recording and holds at this step; `None` when there is nothing.
#[must_use]
pub fn found(step: &StepHistory) -> Option<String> {
    let find = |held: &crate::book::found::Held| {
        if held.step == step.step {
            held.written()
        } else {
            format!("{} (since {})", held.written(), held.step)
        }
    };
    let all: Vec<String> = step.found.iter().map(find).collect();
    (!all.is_empty()).then(|| format!("Found: {}", all.join(", ")))
}
