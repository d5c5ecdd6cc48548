//! Undertones note by note: how strong, and at which part of the note. Computes nothing but where the axes end.

use super::html::{figures, paragraph, section};
use super::note_chart::{MOST_ROWS, ROW};
use crate::analysis::measurement::Undertone;
use crate::diagnosis::check::Check;
use crate::instrument::model::Instrument;
use crate::report::chart::{ChartError, svg};
use crate::report::figure::{Axis, Figure, Form, Ink, Layer, NARROW, Panel, Sign};

/// How far a level may be off, dB: the tests hold the measuring of a steady line to half of it.
const LEVEL_UNSURE_DB: f64 = 1.0;
/// The axis reaches at least from here, dB; weaker ones are seldom found.
const LEAST_REACH_DB: f64 = -50.0;
const ROOM_DB: f64 = 4.0;

/// A note with its undertones.
struct Row<'a> {
    name: &'a str,
    undertones: &'a [Undertone],
}

/// The charts as SVG; none without undertones.
///
/// # Errors
/// [`ChartError`] when one can't be drawn.
pub(super) fn undertone_charts(instrument: &Instrument, check: &Check) -> Result<Vec<String>, ChartError> {
    let sounding = check.notes.iter().filter(|note| !note.undertones.is_empty());
    let rows: Vec<Row<'_>> = sounding
        .map(|note| Row { name: &instrument.fingerings[note.fingering].name, undertones: &note.undertones })
        .collect();
    let levels = rows.iter().flat_map(|row| row.undertones).map(|undertone| undertone.db);
    let from = levels.fold(LEAST_REACH_DB, f64::min) - ROOM_DB;
    let count = rows.len().div_ceil(MOST_ROWS).max(1);
    let charts = rows.chunks(rows.len().div_ceil(count).max(1)).enumerate();
    charts.map(|(i, rows)| chart(rows, i + 1, from)).collect()
}

/// The section.
///
/// # Errors
/// [`ChartError`] when a chart can't be drawn.
pub(super) fn undertones(instrument: &Instrument, check: &Check) -> Result<String, ChartError> {
    let charts = undertone_charts(instrument, check)?;
    let heard = check.notes.iter().any(|note| note.measured_hz.is_some());
    if charts.is_empty() {
        let none = if heard { "None was heard under any note." } else { "No note was measured." };
        return Ok(section("undertones", "Undertones", &paragraph(none)));
    }
    let mut body = figures(&charts, CAPTION);
    body.push_str(&paragraph("Under notes that are not shown none was heard."));
    Ok(section("undertones", "Undertones", &body))
}

const CAPTION: &str = "A triangle for each undertone: the word says which part of the note it is. 0 dB is the note's \
    strongest partial. Bars: how far a level may be off, 1 dB.";

fn chart(rows: &[Row<'_>], number: usize, from: f64) -> Result<String, ChartError> {
    let places = || (0..rows.len()).map(|i| -(i as f64));
    let each = || {
        rows.iter()
            .zip(places())
            .flat_map(|(row, at)| row.undertones.iter().map(move |undertone| (undertone, at)))
    };
    let marks = each().map(|(undertone, at)| (undertone.db, at, part(undertone))).collect();
    let bars = each()
        .map(|(undertone, at)| (undertone.db - LEVEL_UNSURE_DB, undertone.db + LEVEL_UNSURE_DB, at))
        .collect();
    let layer = |key: &str, form| Layer { key: key.to_string(), ink: Ink::Second, form };
    let panel = Panel {
        title: String::new(),
        // Words stand above the signs, so the rows need more room.
        height: 2 * ROW * rows.len() as u32,
        x: Axis {
            label: "dB from the strongest partial: right is stronger".to_string(),
            from,
            to: 0.0,
            names: Vec::new(),
        },
        y: Axis {
            label: String::new(),
            from: 0.4 - rows.len() as f64,
            to: 0.8,
            names: rows.iter().zip(places()).map(|(row, at)| (at, row.name.to_string())).collect(),
        },
        layers: vec![
            layer("undertone", Form::Marks(marks, Sign::Triangle)),
            layer("how far off it may be", Form::Bars(bars)),
        ],
    };
    let told: Vec<String> = rows
        .iter()
        .map(|row| {
            let all: Vec<String> =
                row.undertones.iter().map(|u| format!("{} at {:.0} dB", part(u), u.db)).collect();
            format!("{}: {}", row.name, all.join(", "))
        })
        .collect();
    svg(&Figure {
        id: &format!("undertones{number}x"),
        title: "Undertones, note by note",
        description: &format!("Level in dB from the strongest partial. {}.", told.join("; ")),
        width: NARROW,
        panels: &[panel],
    })
}

/// `1/3`, or the frequency where it is no simple part of the note.
fn part(undertone: &Undertone) -> String {
    match undertone.ratio {
        Some((over, under)) => format!("{over}/{under}"),
        None => format!("{:.0} Hz", undertone.hz),
    }
}
