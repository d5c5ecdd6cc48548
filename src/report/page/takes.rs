//! The takes one by one, folded away: spectrum and pitch, what was measured, and the sound itself. Computes
//! nothing.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;

use super::html::{figure, name, paragraph, plain, section, text};
use crate::analysis::measurement::Measurement;
use crate::analysis::portrait::Portrait;
use crate::diagnosis::check::{Check, CheckedTake};
use crate::instrument::model::Instrument;
use crate::report::chart::ChartError;
use crate::report::figure::NARROW;
use crate::report::layout::signed;
use crate::report::measure::facts;
use crate::report::take_chart::take_chart;

/// One take as the page shows it.
#[derive(Debug, Clone)]
pub struct TakeSheet {
    /// Name of its file.
    pub file: String,
    /// Index of the fingering that it was filed under.
    pub fingering: usize,
    /// What was measured.
    pub measurement: Measurement,
    /// Its spectrum and pitch; `None` when no note is heard in it.
    pub portrait: Option<Portrait>,
    /// Its sound as a WAV file, when the page carries it.
    pub wav: Option<Vec<u8>>,
}

/// The section; nothing without takes.
///
/// # Errors
/// [`ChartError`] when a chart can't be drawn.
pub(super) fn takes(
    instrument: &Instrument,
    check: &Check,
    sheets: &[TakeSheet],
) -> Result<String, ChartError> {
    if sheets.is_empty() {
        return Ok(String::new());
    }
    let carried = sheets.iter().filter(|sheet| sheet.wav.is_some()).count();
    let sees = "Open a take to see its spectrum and its pitch through time";
    let mut body = if carried == 0 {
        format!("<p>{sees}. The page carries no sound; <code>--sound with</code> puts it in.</p>\n")
    } else {
        paragraph(&format!(
            "{sees}, and to hear it. The sound is kept small: one channel, no highs; what was measured is the take \
             itself."
        ))
    };
    let mut number = 0;
    for note in &check.notes {
        let own = sheets.iter().filter(|sheet| sheet.fingering == note.fingering);
        for (sheet, checked) in own.zip(&note.takes) {
            number += 1;
            body.push_str(&one(instrument, sheet, checked, number)?);
        }
    }
    Ok(section("takes", "The takes", &body))
}

fn one(
    instrument: &Instrument,
    sheet: &TakeSheet,
    checked: &CheckedTake,
    number: usize,
) -> Result<String, ChartError> {
    let fingering = &instrument.fingerings[sheet.fingering].name;
    let found = match checked.cents {
        Some(_) => format!("{} cents from target", signed(checked.cents)),
        None => "no note".to_string(),
    };
    let counts = match (&checked.why, checked.used) {
        (Some(why), _) => format!(", left out: {why}"),
        (None, false) => ", left out".to_string(),
        (None, true) => String::new(),
    };
    let mut out = format!(
        "<details class=\"take\"><summary>{}: {}, {}{}</summary>\n",
        name(fingering),
        name(&sheet.file),
        text(&found),
        text(&counts)
    );
    if let Some(wav) = &sheet.wav {
        out.push_str(&format!(
            "<audio controls preload=\"none\" aria-label=\"{}\" src=\"data:audio/wav;base64,{}\"></audio>\n",
            plain(&format!("Sound of {}", sheet.file)),
            STANDARD.encode(wav)
        ));
    }
    if let Some(svg) = chart(instrument, sheet, number)? {
        out.push_str(&figure(&svg, "Shaded: the steady part, and the mean with its standard uncertainty."));
    }
    out.push_str("<dl>");
    for (what, words) in facts(&sheet.measurement, instrument.a4_hz) {
        // What is nothing but a heading for what follows would be an empty line.
        let what = if what.is_empty() { String::new() } else { format!("<dt>{}</dt>", text(what)) };
        let words = if words.is_empty() { String::new() } else { format!("<dd>{}</dd>", text(&words)) };
        out.push_str(&format!("{what}{words}"));
    }
    out.push_str("</dl>\n</details>\n");
    Ok(out)
}

/// Spectrum and pitch of the take as SVG; `None` when no note is heard in it. `number` is its own on the page.
///
/// # Errors
/// [`ChartError`] when it can't be drawn.
pub(super) fn chart(
    instrument: &Instrument,
    sheet: &TakeSheet,
    number: usize,
) -> Result<Option<String>, ChartError> {
    let id = format!("take{number}x");
    let drawn = sheet.portrait.as_ref().map(|portrait| {
        take_chart((&id, NARROW), &sheet.file, &sheet.measurement, portrait, instrument.a4_hz)
    });
    drawn.transpose()
}
