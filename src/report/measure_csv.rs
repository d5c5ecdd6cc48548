//! Measured takes as comma-separated values: a row a take, units in the names of the columns.
//!
//! Computes nothing.

use crate::analysis::measurement::Measurement;
use crate::book::table::{inert, line};
use crate::units::Note;

/// Names of the columns.
const HEAD: [&str; 16] = [
    "file",
    "pitch_hz",
    "sd_cents",
    "wander_cents",
    "note",
    "cents_from_note",
    "confidence",
    "steady_from_s",
    "steady_to_s",
    "level_dbfs",
    "strongest_partial",
    "undertones",
    "undertone_hz",
    "undertone_ratio",
    "undertone_db",
    "troubles",
];

/// The table with its heading. What is unknown stays empty.
#[must_use]
pub fn csv(takes: &[(String, Measurement)], a4_hz: f64) -> String {
    let rows = takes.iter().map(|(file, take)| line(&row(file, take, a4_hz)));
    std::iter::once(line(&HEAD)).chain(rows).collect()
}

fn row(file: &str, take: &Measurement, a4_hz: f64) -> [String; 16] {
    let number = |value: Option<f64>, digits: usize| {
        value.filter(|v| v.is_finite()).map_or_else(String::new, |v| format!("{v:.digits$}"))
    };
    let note = take.pitch_hz.map(|hz| Note::nearest(hz, a4_hz));
    let strongest = take.partials.iter().max_by(|a, b| a.db.total_cmp(&b.db));
    let undertone = take.undertones.first();
    // Not 1/3: a spreadsheet would make that a date.
    let ratio = undertone.and_then(|u| u.ratio).map(|(over, under)| format!("{over} of {under}"));
    let troubles: Vec<&str> = take.troubles.iter().map(|trouble| trouble.code.as_str()).collect();
    [
        inert(file),
        number(take.pitch_hz, 4),
        number(take.sd_cents, 4),
        number(take.wander_cents, 3),
        note.map_or_else(String::new, |(note, _)| note.to_string()),
        number(note.map(|(_, cents)| cents), 3),
        number(take.pitch_hz.map(|_| take.confidence), 2),
        number(take.steady_s.map(|steady| steady.0), 3),
        number(take.steady_s.map(|steady| steady.1), 3),
        number(take.level_dbfs, 2),
        strongest.map_or_else(String::new, |partial| partial.n.to_string()),
        take.pitch_hz.map_or_else(String::new, |_| take.undertones.len().to_string()),
        number(undertone.map(|u| u.hz), 3),
        ratio.unwrap_or_default(),
        number(undertone.map(|u| u.db), 1),
        troubles.join(" "),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_that_looks_like_a_formula_stays_text() {
        for (name, field) in [("D2.wav", "D2.wav,"), ("=\"a\",b", "\"'=\"\"a\"\",b\",")] {
            let csv = csv(&[(name.to_string(), Measurement::default())], 440.0);
            assert!(csv.lines().nth(1).unwrap().starts_with(field), "{csv}");
        }
    }

    #[test]
    fn every_row_has_as_many_fields_as_the_heading() {
        let takes = [("a.wav".to_string(), Measurement::default())];
        let csv = csv(&takes, 440.0);
        let counts: Vec<usize> = csv.lines().map(|line| line.split(',').count()).collect();
        assert_eq!(counts, [16, 16], "{csv}");
    }
}
