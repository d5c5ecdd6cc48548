//! Predictions as text and JSON. Computes nothing.

use serde_json::{Value, json};

use crate::instrument::model::Instrument;
use crate::instrument::prediction::{PredictedNote, Warning};
use crate::report::layout::{left, paragraph, right, signed};

/// The `predict` object of the JSON output.
#[must_use]
pub fn json(instrument: &Instrument, notes: &[PredictedNote], warnings: &[Warning]) -> Value {
    let fingerings: Vec<Value> = notes
        .iter()
        .map(|note| {
            let fingering = &instrument.fingerings[note.fingering];
            let resonances: Vec<Value> = note
                .resonances
                .iter()
                .map(|r| json!({"hz": r.hz, "magnitude": r.magnitude, "q": r.q}))
                .collect();
            json!({
                "name": fingering.name,
                "register": fingering.register,
                "playable": instrument.playable(fingering),
                "target_hz": note.target_hz,
                "predicted_hz": note.predicted_hz,
                "cents": note.cents(),
                "resonances": resonances,
            })
        })
        .collect();
    json!({
        "instrument": instrument.name,
        "prototype": instrument.prototype,
        "fingerings": fingerings,
        "warnings": warnings_json(warnings),
    })
}

/// Warnings as JSON.
#[must_use]
pub fn warnings_json(warnings: &[Warning]) -> Vec<Value> {
    warnings.iter().map(|w| json!({"code": w.code, "text": w.text})).collect()
}

/// The table for the terminal.
#[must_use]
pub fn text(instrument: &Instrument, notes: &[PredictedNote], warnings: &[Warning]) -> String {
    let mut out = format!("{} {}: what the geometry should sound\n\n", instrument.name, instrument.prototype);
    if notes.is_empty() {
        out.push_str("No fingerings in the file. Add a [[fingering]] to see its note.\n");
        return out;
    }
    let width =
        notes.iter().map(|n| instrument.fingerings[n.fingering].name.chars().count()).max().unwrap_or(0);
    let width = width.max(9);
    out.push_str(&format!(
        "  {} {} {} {} {}\n",
        left("fingering", width),
        right("target Hz", 10),
        right("predicted Hz", 13),
        right("cents", 7),
        right("next resonance", 16)
    ));
    for note in notes {
        let fingering = &instrument.fingerings[note.fingering];
        let predicted = note.predicted_hz.map_or_else(|| "–".to_string(), |hz| format!("{hz:.2}"));
        let next = note
            .resonances
            .get(fingering.register)
            .map_or_else(|| "–".to_string(), |resonance| format!("{:.1}", resonance.hz));
        let planned = if instrument.playable(fingering) { "" } else { "  planned" };
        out.push_str(&format!(
            "  {} {} {} {} {}{planned}\n",
            left(&fingering.name, width),
            right(&format!("{:.2}", note.target_hz), 10),
            right(&predicted, 13),
            right(&signed(note.cents()), 7),
            right(&next, 16)
        ));
    }
    out.push('\n');
    out.push_str(&paragraph(
        "",
        "Cents are above (+) or below (-) the target. Expect the real notes within about 10 cents of this as a \
         whole; differences between notes are much closer.",
    ));
    for warning in warnings {
        out.push_str(&paragraph("  ! ", &warning.text));
    }
    out
}
