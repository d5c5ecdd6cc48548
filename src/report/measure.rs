//! One take's measurement as text and as JSON.
//!
//! Must not know how anything was measured.

use serde_json::{Value, json};

use crate::analysis::measurement::Measurement;
use crate::units::Note;

/// The object that `measure --json` prints: one entry a take, in order.
#[must_use]
pub fn json(takes: &[(String, Measurement)], a4_hz: f64) -> Value {
    json!({ "takes": takes.iter().map(|(file, take)| take_json(file, take, a4_hz)).collect::<Vec<_>>() })
}

fn take_json(file: &str, take: &Measurement, a4_hz: f64) -> Value {
    let note = take.pitch_hz.map(|hz| Note::nearest(hz, a4_hz));
    json!({
        "file": file,
        "pitch_hz": take.pitch_hz,
        "sd_cents": take.sd_cents,
        "wander_cents": take.wander_cents,
        "note": note.map(|(note, _)| note.to_string()),
        "cents": note.map(|(_, cents)| cents),
        "voiced": take.pitch_hz.is_some(),
        "confidence": take.confidence,
        "steady": take.steady_s.map(|(from, to)| [from, to]),
        "level_dbfs": take.level_dbfs,
        "partials": take.partials.iter().map(|p| json!({ "n": p.n, "hz": p.hz, "db": p.db })).collect::<Vec<_>>(),
        "undertones": take.undertones.iter().map(|u| json!({
            "hz": u.hz,
            "ratio": u.ratio.map(|(over, under)| format!("{over}/{under}")),
            "db": u.db,
        })).collect::<Vec<_>>(),
        "troubles": take.troubles.iter().map(|t| json!({ "code": t.code.as_str(), "text": t.text })).collect::<Vec<_>>(),
    })
}

/// One take as a few lines of text.
#[must_use]
pub fn card(file: &str, take: &Measurement, a4_hz: f64) -> String {
    match take.pitch_hz {
        Some(hz) => {
            let (note, cents) = Note::nearest(hz, a4_hz);
            format!("{file}: {note} {cents:+.1} cents, {hz:.3} Hz")
        }
        None => format!("{file}: no note"),
    }
}
