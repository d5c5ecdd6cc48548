//! What was learnt from another book's takes, as text and JSON. Computes nothing.

use serde_json::{Value, json};

use crate::diagnosis::weigh::learned::{Expectation, ExpectedOffset};
use crate::instrument::model::Instrument;
use crate::report::layout::{left, paragraph, right, shortened, signed};

/// The longest name of a fingering that is shown whole.
const NAME_COLUMNS: usize = 16;

/// The key `learned` of the JSON output.
#[must_use]
pub fn json(instrument: &Instrument, expected: &Expectation) -> Value {
    let note = |(fingering, offset): (usize, &Option<ExpectedOffset>)| {
        json!({
            "name": instrument.fingerings[fingering].name,
            "above_predicted_cents": offset.map(|offset| offset.cents),
            "sd_cents": offset.map(|offset| offset.sd_cents),
        })
    };
    json!({
        "from": expected.source,
        "notes": expected.taught_by,
        "cents": expected.mean.cents,
        "sd_cents": expected.mean.sd_cents,
        "unlearnt_sd_cents": expected.unlearnt_sd_cents,
        "same_mouthpiece_and_reed": expected.same_top,
        "taken_out": expected.taken_out,
        "fingerings": expected.notes.iter().enumerate().map(note).collect::<Vec<_>>(),
    })
}

/// What was learnt, in a few sentences.
#[must_use]
pub fn summary(expected: &Expectation) -> String {
    let ExpectedOffset { cents, sd_cents } = expected.mean;
    let mut text = format!(
        "Learnt from {} ({} notes): with this player, mouthpiece and reed the notes sound {cents:+.1} ± {sd_cents:.1} cents \
         off the prediction on the whole; not knowing it, 0 ± {:.1}.",
        expected.source, expected.taught_by, expected.unlearnt_sd_cents
    );
    if !expected.same_top {
        text.push_str(
            " The mouthpiece or the reed is not the one there: what they do was not carried over, only what the others share.",
        );
    }
    if let Some(fault) = &expected.taken_out {
        text.push_str(&format!(" A likely fault there, {fault}, was taken out first."));
    }
    text
}

/// Every note of `cents_from_target`, in the file's order, as it is expected when played.
fn table(instrument: &Instrument, expected: &Expectation, cents_from_target: &[Option<f64>]) -> String {
    let name = |fingering: usize| shortened(&instrument.fingerings[fingering].name, NAME_COLUMNS);
    let notes = expected.notes.iter().zip(cents_from_target).enumerate();
    let width = (0..expected.notes.len()).map(|f| name(f).chars().count()).max().unwrap_or(0).max(9);
    let mut out = format!(
        "  {} {} {} {} {}\n",
        left("", width),
        right("predicted", 9),
        right("learnt", 7),
        right("as played", 10),
        right("±", 5)
    );
    for (fingering, (offset, &predicted)) in notes {
        let Some(offset) = offset else { continue };
        out.push_str(&format!(
            "  {} {} {} {} {}\n",
            left(&name(fingering), width),
            right(&signed(predicted), 9),
            right(&signed(Some(offset.cents)), 7),
            right(&signed(predicted.map(|cents| cents + offset.cents)), 10),
            right(&format!("{:.1}", offset.sd_cents), 5)
        ));
    }
    out
}

/// Every note as it is expected when played, and what that rests on; `predicted` is each fingering's prediction in cents
/// from its target, in the file's order.
#[must_use]
pub fn section(instrument: &Instrument, expected: &Expectation, predicted: &[Option<f64>]) -> String {
    format!(
        "\nAs you play, in cents from target (+ sharp, - flat)\n{}{}",
        table(instrument, expected, predicted),
        paragraph("", &summary(expected))
    )
}

/// What a layout was placed with, and how unsure that leaves it.
#[must_use]
pub fn placed(expected: &Expectation) -> String {
    let known = || expected.notes.iter().flatten().map(|offset| offset.sd_cents);
    format!(
        "The notes above are as you will play them: what was learnt is in. It is known to ± {:.1} to {:.1} cents a note, on \
         top of what drilling and measuring do. Without --learned-from, predict tells this layout {:+.1} cents off on the \
         whole: hold the plain tube against predict with the same book, and don't correct chamber or reed for it as well. {}",
        known().fold(f64::INFINITY, f64::min),
        known().fold(0.0, f64::max),
        -expected.mean.cents + 0.0,
        summary(expected)
    )
}
