//! The `check` object of the JSON output. Computes nothing.

use serde_json::{Map, Value, json};

use crate::diagnosis::check::{Check, CheckedNote};
use crate::diagnosis::decide::bench_tests::BenchTest;
use crate::diagnosis::findings::ranking::{Amount, Finding, Suspect};
use crate::diagnosis::work::cuts::Cut;
use crate::instrument::model::Instrument;
use crate::report::measure::{trouble_json, undertone_json};
use crate::report::predict::warnings_json;
use crate::report::questions;
use crate::report::words::next;
use crate::units::cents_between;

/// The whole object; `alignment` tells what the notes of a long recording were taken as.
#[must_use]
pub fn json(instrument: &Instrument, check: &Check, alignment: Option<Value>) -> Value {
    let fingerings: Vec<Value> = check.notes.iter().map(|note| note_json(instrument, note)).collect();
    json!({
        "instrument": instrument.name,
        "prototype": instrument.prototype,
        "alignment": alignment,
        "questions": questions::json(instrument, &check.questions),
        "fingerings": fingerings,
        "findings": check.findings.iter().map(finding_json).collect::<Vec<_>>(),
        "next": {
            "do": check.next.action.as_str(),
            "where": check.next.place,
            "text": next::text(instrument, check),
            "changes": check.next.changes,
            "tests": check.next.tests.iter().map(|test| test_json(instrument, test)).collect::<Vec<_>>(),
            "done": check.next.done,
            "stand_in": check.next.stand_in,
            "retake": check.next.retake,
        },
        "cuts": check.cuts.iter().map(|cut| cut_json(instrument, cut)).collect::<Vec<_>>(),
        "fit": {
            "rms_before_cents": check.rms_before_cents,
            "rms_after_cents": check.rms_after_cents,
            "common_cents": check.common_cents,
            "target_cents": check.target_cents,
        },
        "remarks": check.remarks,
        "warnings": warnings_json(&check.warnings),
    })
}

/// A bench test: what to change meanwhile and what to play, or what to measure.
fn test_json(instrument: &Instrument, test: &BenchTest) -> Value {
    let text = next::test_text(instrument, test);
    match test {
        BenchTest::Measure { what, .. } | BenchTest::Answer { what, .. } => {
            json!({"measure": what, "text": text})
        }
        BenchTest::Play { play, .. } => {
            let changes = next::changes(instrument, test);
            let names: Vec<&str> =
                play.fingerings.iter().map(|&f| instrument.fingerings[f].name.as_str()).collect();
            json!({"changes": changes, "play": names, "takes": play.takes, "text": text})
        }
    }
}

fn note_json(instrument: &Instrument, note: &CheckedNote) -> Value {
    let fingering = &instrument.fingerings[note.fingering];
    let against = |reference: Option<f64>| Some(cents_between(note.measured_hz?, reference?));
    let takes: Vec<Value> = note
        .takes
        .iter()
        .map(|take| json!({"file": take.file, "cents": take.cents, "used": take.used, "why": take.why}))
        .collect();
    json!({
        "name": fingering.name,
        "target_hz": note.target_hz,
        "predicted_hz": note.predicted_hz,
        "explained_hz": note.explained_hz,
        "measured_hz": note.measured_hz,
        "sd_cents": note.sd_cents,
        "cents_from_target": against(Some(note.target_hz)),
        "cents_from_predicted": against(note.predicted_hz),
        "sounded_register": note.sounded_register,
        "playable": note.playable,
        "takes": takes,
        "undertones": note.undertones.iter().map(undertone_json).collect::<Vec<_>>(),
        "troubles": note.troubles.iter().map(trouble_json).collect::<Vec<_>>(),
    })
}

fn finding_json(finding: &Finding) -> Value {
    json!({
        "cause": finding.suspect.kind.as_str(),
        "where": finding.suspect.place,
        "group": finding.group.iter().map(suspect_json).collect::<Vec<_>>(),
        "weight": finding.weight,
        "group_weight": finding.group_weight,
        "basis": finding.basis.as_str(),
        "amount": amount_json(&finding.amount),
        "text": finding.text,
        "evidence": finding.evidence,
        "test": finding.test,
    })
}

fn suspect_json(suspect: &Suspect) -> Value {
    json!({"cause": suspect.kind.as_str(), "where": suspect.place})
}

/// Only what applies to the cause.
pub(super) fn amount_json(amount: &Amount) -> Value {
    let mut object = Map::new();
    let mut put = |key: &str, value: Value| {
        if !value.is_null() {
            object.insert(key.to_string(), value);
        }
    };
    put("acts", json!(amount.acts));
    put("mm", json!(amount.mm));
    put("cents", json!(amount.cents));
    put("stuck", json!(amount.stuck));
    put("equivalent_mm", json!(amount.equivalent_mm));
    put("warmer_c", json!(amount.warmer_c));
    Value::Object(object)
}

fn cut_json(instrument: &Instrument, cut: &Cut) -> Value {
    let effects: Vec<Value> = cut
        .effects
        .iter()
        .map(|effect| {
            json!({
                "name": instrument.fingerings[effect.fingering].name,
                "before_cents": effect.before_cents,
                "after_cents": effect.after_cents,
            })
        })
        .collect();
    json!({
        "where": cut.place,
        "what": cut.kind.as_str(),
        "change": [cut.change],
        "full": [cut.full],
        "tool": cut.tool,
        "undo": cut.undo,
        "stand_in": cut.stand_in,
        "effects": effects,
        "text": cut.text,
    })
}
