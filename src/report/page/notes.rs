//! The notes: cents from target as charts by register, and everything measured as a table. Computes nothing.

use std::collections::BTreeSet;

use super::html::{Last, figures, name, section, table, text};
use super::note_chart::{NoteRow, Words, note_charts};
use crate::diagnosis::check::{Check, CheckedNote};
use crate::instrument::model::Instrument;
use crate::report::chart::ChartError;
use crate::report::layout::signed;
use crate::report::note_table::remarks;
use crate::units::cents_between;

/// The charts of one register with its heading.
pub(super) struct RegisterCharts {
    /// Which register.
    pub register: usize,
    /// The drawings.
    pub svgs: Vec<String>,
}

/// Cents from target for every register that has a fingering.
///
/// # Errors
/// [`ChartError`] when one can't be drawn.
pub(super) fn register_charts(
    instrument: &Instrument,
    check: &Check,
) -> Result<Vec<RegisterCharts>, ChartError> {
    let register_of = |note: &&CheckedNote| instrument.fingerings[note.fingering].register;
    let registers: BTreeSet<usize> = check.notes.iter().map(|note| register_of(&note)).collect();
    let mut charts = Vec::new();
    for register in registers {
        let own = check.notes.iter().filter(|note| register_of(note) == register);
        let rows: Vec<NoteRow<'_>> = own
            .map(|note| NoteRow {
                name: &instrument.fingerings[note.fingering].name,
                measured: note.measured_hz.map(|hz| cents_between(hz, note.target_hz)),
                sd: note.sd_cents,
                beside: note.predicted_hz.map(|hz| cents_between(hz, note.target_hz)),
            })
            .collect();
        let words = Words {
            id: &format!("register{register}x"),
            title: &format!("Register {register}: measured and predicted"),
            nought: "target",
            beside: "predicted",
            axis: "cents from target",
        };
        charts.push(RegisterCharts { register, svgs: note_charts(&words, &rows)? });
    }
    Ok(charts)
}

/// The section.
///
/// # Errors
/// [`ChartError`] when a chart can't be drawn.
pub(super) fn notes(instrument: &Instrument, check: &Check) -> Result<String, ChartError> {
    let charts = register_charts(instrument, check)?;
    let svgs: Vec<String> = charts.into_iter().flat_map(|register| register.svgs).collect();
    let mut body = figures(&svgs, "What was measured, and how surely, beside what the file predicts.");
    let head = [
        "fingering",
        "register",
        "target, Hz",
        "predicted, Hz",
        "measured, Hz",
        "cents from target",
        "± cents",
        "cents from predicted",
        "undertones",
        "remarks",
    ];
    let rows: Vec<Vec<String>> = check.notes.iter().map(|note| row(instrument, note)).collect();
    body.push_str(&table("Every note in numbers; + is sharp, - is flat", Last::Words, &head, &rows));
    Ok(section("notes", "The notes", &body))
}

fn row(instrument: &Instrument, note: &CheckedNote) -> Vec<String> {
    let fingering = &instrument.fingerings[note.fingering];
    let hertz = |hz: Option<f64>| hz.map_or_else(|| "–".to_string(), |hz| format!("{hz:.2}"));
    let against =
        |reference: Option<f64>| signed(note.measured_hz.zip(reference).map(|(a, b)| cents_between(a, b)));
    let undertones: Vec<String> = note
        .undertones
        .iter()
        .map(|undertone| match undertone.ratio {
            Some((over, under)) => format!("{over}/{under} at {:.0} dB", undertone.db),
            None => format!("{:.1} Hz at {:.0} dB", undertone.hz, undertone.db),
        })
        .collect();
    vec![
        name(&fingering.name),
        fingering.register.to_string(),
        hertz(Some(note.target_hz)),
        hertz(note.predicted_hz),
        hertz(note.measured_hz),
        against(Some(note.target_hz)),
        note.sd_cents.map_or_else(|| "–".to_string(), |sd| format!("{sd:.1}")),
        against(note.predicted_hz),
        // A line may end between two, not within one.
        text(&undertones.iter().map(|words| words.replace(' ', "\u{a0}")).collect::<Vec<_>>().join(", ")),
        text(&remarks(note)),
    ]
}
