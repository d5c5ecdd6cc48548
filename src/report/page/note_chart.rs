//! Charts with a row for each note and cents across: where a note stands and how sure that is. Computes
//! nothing but where the axes end.

use crate::report::chart::{ChartError, svg};
use crate::report::figure::{Axis, Figure, Form, Ink, Layer, NARROW, Panel, Sign, Stroke};
use crate::report::layout::signed;

/// Rows of one chart; more make another one, so that none takes half a sheet of paper.
pub(super) const MOST_ROWS: usize = 18;
/// Height of a row in the charts' measure.
pub(super) const ROW: u32 = 36;
/// The axis reaches at least this far, cents.
const LEAST_REACH: f64 = 10.0;

/// One row.
pub(super) struct NoteRow<'a> {
    /// The fingering.
    pub name: &'a str,
    /// What was measured, cents.
    pub measured: Option<f64>,
    /// Its standard uncertainty, cents.
    pub sd: Option<f64>,
    /// What it is laid beside, cents.
    pub beside: Option<f64>,
}

/// What a set of such charts shows.
pub(super) struct Words<'a> {
    /// A word of letters and digits, different for each set of a page.
    pub id: &'a str,
    /// A line above each chart.
    pub title: &'a str,
    /// What nought stands for.
    pub nought: &'a str,
    /// What the measured pitch is laid beside.
    pub beside: &'a str,
    /// The axis with its unit.
    pub axis: &'a str,
}

/// The charts as SVG, [`MOST_ROWS`] rows each, all with the same axis; none without rows.
///
/// # Errors
/// [`ChartError`] when one can't be drawn.
pub(super) fn note_charts(words: &Words<'_>, rows: &[NoteRow<'_>]) -> Result<Vec<String>, ChartError> {
    let reach = reach(rows);
    let count = rows.len().div_ceil(MOST_ROWS).max(1);
    let charts = rows.chunks(rows.len().div_ceil(count).max(1)).enumerate();
    charts.map(|(i, rows)| note_chart(words, rows, i + 1, reach)).collect()
}

/// From where to where the axis goes.
fn reach(rows: &[NoteRow<'_>]) -> (f64, f64) {
    let (mut low, mut high) = (-LEAST_REACH, LEAST_REACH);
    for row in rows {
        let sd = row.sd.unwrap_or(0.0);
        let values = [row.measured.map(|m| m - sd), row.measured.map(|m| m + sd), row.beside];
        for value in values.into_iter().flatten() {
            low = low.min(value);
            high = high.max(value);
        }
    }
    let room = 0.06 * (high - low);
    (low - room, high + room)
}

fn note_chart(
    words: &Words<'_>,
    rows: &[NoteRow<'_>],
    number: usize,
    (from, to): (f64, f64),
) -> Result<String, ChartError> {
    let places = || (0..rows.len()).map(|i| -(i as f64));
    let (top, bottom) = (0.6, 0.4 - rows.len() as f64);
    let measured = rows.iter().zip(places()).filter_map(|(row, at)| Some((row.measured?, at, String::new())));
    let bars = rows.iter().zip(places()).filter_map(|(row, at)| {
        let (measured, sd) = (row.measured?, row.sd?);
        Some((measured - sd, measured + sd, at))
    });
    let beside = rows.iter().zip(places()).filter_map(|(row, at)| Some((row.beside?, at, String::new())));
    let layer = |key: &str, ink, form| Layer { key: key.to_string(), ink, form };
    let nought = Form::Line(vec![(0.0, Some(bottom)), (0.0, Some(top))], Stroke::Dashed);
    let panel = Panel {
        title: String::new(),
        height: ROW * rows.len() as u32,
        x: Axis { label: format!("{}: left flat, right sharp", words.axis), from, to, names: Vec::new() },
        y: Axis {
            label: String::new(),
            from: bottom,
            to: top,
            names: rows.iter().zip(places()).map(|(row, at)| (at, row.name.to_string())).collect(),
        },
        layers: vec![
            layer(words.nought, Ink::Plain, nought),
            layer(words.beside, Ink::Second, Form::Marks(beside.collect(), Sign::Triangle)),
            layer("measured", Ink::First, Form::Marks(measured.collect(), Sign::Dot)),
            layer("uncertainty, one standard", Ink::First, Form::Bars(bars.collect())),
        ],
    };
    let told: Vec<String> = rows.iter().map(|row| told(words, row)).collect();
    svg(&Figure {
        id: &format!("{}{number}", words.id),
        title: words.title,
        description: &format!("{}. {}.", words.axis, told.join("; ")),
        width: NARROW,
        panels: &[panel],
    })
}

/// One row in words.
fn told(words: &Words<'_>, row: &NoteRow<'_>) -> String {
    let sd = row.sd.map_or_else(String::new, |sd| format!(" ± {sd:.1}"));
    let measured = match row.measured {
        Some(_) => format!("measured {}{sd}", signed(row.measured)),
        None => "not measured".to_string(),
    };
    let beside = match row.beside {
        Some(_) => format!(", {} {}", words.beside, signed(row.beside)),
        None => String::new(),
    };
    format!("{}: {measured}{beside}", row.name)
}
