//! What to do: caution first, then the next action; and the list of cuts with what each does. Computes
//! nothing.

use super::html::{Last, name, paragraph, section, table, text};
use crate::diagnosis::check::Check;
use crate::diagnosis::work::cuts::Cut;
use crate::instrument::model::Instrument;
use crate::report::check_words::{cautions, hand_over, listed_cautions, own_note};
use crate::report::words::cut::work;
use crate::report::words::next as words;

/// A note that a cut moves by less is left out of the cut's own table, cents.
const LEAST_TOLD_CENTS: f64 = 0.5;

/// The box at the top.
pub(super) fn next(instrument: &Instrument, check: &Check) -> String {
    let mut body = String::new();
    for caution in cautions(instrument, check) {
        body.push_str(&format!("<p class=\"caution\">{}</p>\n", text(caution)));
    }
    body.push_str(&format!("<p class=\"do\">{}</p>\n", text(&words::text(instrument, check))));
    if let Some(stand_in) = &check.next.stand_in {
        body.push_str(&format!("<p><strong>Try first:</strong> {}</p>\n", text(stand_in)));
    }
    if let Some((option, besides)) = hand_over(instrument, check) {
        body.push_str(&format!(
            "<p><strong>Then check again with</strong> <code>{}</code>, {}</p>\n",
            text(&option),
            text(&besides)
        ));
    }
    if check.next.tests.is_empty() && !check.next.retake.is_empty() {
        let names: Vec<String> = check.next.retake.iter().map(|fingering| name(fingering)).collect();
        body.push_str(&format!("<p><strong>Then play again:</strong> {}</p>\n", names.join(", ")));
    }
    format!("<div class=\"next\">{}</div>\n", section("next", "What to do next", &body))
}

/// The list of cuts; why there is none where there is none.
pub(super) fn cuts(instrument: &Instrument, check: &Check) -> String {
    if check.cuts.is_empty() {
        let none = "None now: either nothing needs cutting, or something else comes first, as said under \
                    \u{201c}What to do next\u{201d}.";
        return section("cuts", "Cuts", &paragraph(none));
    }
    let mut body = paragraph("In the order of work. Hear each before the next.");
    for caution in listed_cautions(instrument, check) {
        body.push_str(&format!("<p class=\"caution\">{}</p>\n", text(caution)));
    }
    for (i, cut) in check.cuts.iter().enumerate() {
        body.push_str(&one_cut(instrument, i + 1, cut));
    }
    section("cuts", "Cuts", &body)
}

fn one_cut(instrument: &Instrument, number: usize, cut: &Cut) -> String {
    let mut out = format!("<h3>{number}. {}</h3>\n", text(&work(cut)));
    if let Some(own) = own_note(instrument, cut) {
        out.push_str(&format!("<p><strong>{}</strong> from target</p>\n", text(&own)));
    }
    out.push_str(&paragraph(&cut.text));
    if let Some(stand_in) = &cut.stand_in {
        out.push_str(&format!("<p><strong>Try first:</strong> {}</p>\n", text(stand_in)));
    }
    let undo = if cut.undo { "This can be undone." } else { "This can\u{2019}t be undone." };
    out.push_str(&paragraph(undo));
    let whole = |cents: f64| format!("{:+.0}", cents.round() + 0.0);
    let rows: Vec<Vec<String>> = cut
        .effects
        .iter()
        .filter(|effect| (effect.after_cents - effect.before_cents).abs() >= LEAST_TOLD_CENTS)
        .map(|effect| {
            vec![
                name(&instrument.fingerings[effect.fingering].name),
                whole(effect.before_cents),
                whole(effect.after_cents),
            ]
        })
        .collect();
    if !rows.is_empty() {
        let head = ["fingering", "before, cents", "after, cents"];
        let caption = format!("What cut {number} does, in cents from target");
        out.push_str(&format!(
            "<details open><summary>What it does to each note</summary>\n{}</details>\n",
            table(&caption, Last::Figures, &head, &rows)
        ));
    }
    out
}
