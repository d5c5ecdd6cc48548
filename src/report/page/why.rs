//! Why: the causes with their weight, evidence and test, each of the heavier ones with the picture of its
//! evidence. Computes nothing.

use super::html::{figures, paragraph, section, text};
use super::note_chart::{NoteRow, Words, note_charts};
use crate::diagnosis::check::Check;
use crate::diagnosis::findings::ranking::{Basis, Finding, Kind};
use crate::instrument::model::Instrument;
use crate::report::chart::ChartError;
use crate::report::check_words::{is_hardly_healthy, others, percent, suspect_words};

/// So many causes are drawn, from the likeliest on.
const MOST_DRAWN: usize = 3;

/// The picture of one cause: what it would do to each note beside what was measured; empty where it is no
/// cause of pitch.
///
/// # Errors
/// [`ChartError`] when it can't be drawn.
pub(super) fn evidence_charts(
    instrument: &Instrument,
    check: &Check,
    finding: &Finding,
    number: usize,
) -> Result<Vec<String>, ChartError> {
    let rows: Vec<NoteRow<'_>> = finding
        .pattern
        .iter()
        .map(|mark| NoteRow {
            name: &instrument.fingerings[mark.fingering].name,
            measured: Some(mark.measured_cents),
            sd: check.notes.get(mark.fingering).and_then(|note| note.sd_cents),
            beside: Some(mark.expected_cents),
        })
        .collect();
    let words = Words {
        id: &format!("cause{number}x"),
        title: &format!("If the cause is: {}", suspect_words(&finding.suspect)),
        nought: "predicted by the file",
        beside: "with this cause",
        axis: "cents from predicted",
    };
    note_charts(&words, &rows)
}

/// The section: every finding that was made, but for health that hardly anything speaks for.
///
/// # Errors
/// [`ChartError`] when a picture can't be drawn.
pub(super) fn why(instrument: &Instrument, check: &Check) -> Result<String, ChartError> {
    let mut body = String::from(
        "<p class=\"faint\">How likely each cause is, given these takes and how well everything can be known. \
         Causes are weighed alone and in pairs, so the weights need not make 100 %.</p>\n",
    );
    let mut drawn = 0;
    for (i, finding) in check.findings.iter().enumerate().filter(|(i, f)| *i == 0 || !is_hardly_healthy(f)) {
        let mut charts = Vec::new();
        if drawn < MOST_DRAWN && !finding.pattern.is_empty() {
            drawn += 1;
            charts = evidence_charts(instrument, check, finding, i + 1)?;
        }
        // One chart stands beside its words where the page is wide enough; several have a row of their own.
        let class = if charts.len() == 1 { "finding beside" } else { "finding" };
        body.push_str(&format!("<div class=\"{class}\">\n<div>{}</div>\n", told(finding)));
        if !charts.is_empty() {
            body.push_str(&figures(&charts, EVIDENCE));
        }
        body.push_str("</div>\n");
    }
    Ok(section("why", "Why", &body))
}

const EVIDENCE: &str = "Triangles: what this cause at its likeliest size would do, with the offset that all notes \
    share. The nearer they lie to the dots, the better it explains the takes.";

fn told(finding: &Finding) -> String {
    let how_sure = match finding.basis {
        Basis::Weighed => format!("{}\u{a0}%", percent(finding)),
        Basis::Seen => "seen".to_string(),
    };
    let suspect = text(&suspect_words(&finding.suspect));
    let mut out = format!("<div class=\"finding-head\"><h3>{suspect}, {how_sure}</h3>\n");
    out.push_str(&paragraph(&finding.text));
    let others = others(finding);
    if !others.is_empty() {
        out.push_str(&paragraph(&format!("Can't be told apart from: {}.", others.join(", "))));
    }
    out.push_str("</div>\n");
    if !finding.evidence.is_empty() {
        out.push_str("<ul>\n");
        for evidence in &finding.evidence {
            out.push_str(&format!("<li>{}</li>\n", text(evidence)));
        }
        out.push_str("</ul>\n");
    }
    if let Some(test) = &finding.test {
        out.push_str(&format!("<p><strong>Test:</strong> {}</p>\n", text(test)));
    }
    if matches!(finding.suspect.kind, Kind::Undertone | Kind::Vent) {
        out.push_str("<p><a href=\"#undertones\">The undertones, note by note</a></p>\n");
    }
    out
}
