//! The end of the page: troubles of the recordings, and how everything was computed. Computes nothing.

use super::html::{name, section, text};
use super::sheet::Sheet;
use crate::report::check_words::{sentences, troubles};

/// Troubles and remarks; nothing where there are none.
pub(super) fn also(sheet: &Sheet<'_>) -> String {
    let mut items = String::new();
    for (trouble, names) in troubles(sheet.instrument, sheet.check) {
        let names: Vec<String> = names.into_iter().map(name).collect();
        items.push_str(&format!("<li>{}: {}</li>\n", names.join(", "), text(trouble)));
    }
    for sentence in sentences(sheet.check) {
        items.push_str(&format!("<li>{}</li>\n", text(sentence)));
    }
    if items.is_empty() {
        items.push_str("<li>No troubles were noticed.</li>\n");
    }
    section("also", "Recordings and remarks", &format!("<ul>\n{items}</ul>\n"))
}

/// How it was computed.
pub(super) fn how(sheet: &Sheet<'_>) -> String {
    let (instrument, check) = (sheet.instrument, sheet.check);
    let facts = [
        format!("borescribe {}.", sheet.version),
        format!(
            "Air in the instrument: {:.1} °C, {:.0} % humidity. Pitch: A4 = {:.1} Hz.",
            instrument.air.temperature_c, instrument.air.humidity_percent, instrument.a4_hz
        ),
        "Assumed: the file is right within how well things were measured; all takes were played alike; pads that \
         should be closed are closed."
            .to_string(),
        "Only approximate: a predicted pitch by itself is good to about 10 cents, because reed, player and \
         mouthpiece are known only roughly. Differences between notes and between steps are far surer. The ± of a \
         note holds the player's spread; it says nothing of the prediction. Weights rest on how often each fault \
         is thought to happen."
            .to_string(),
    ];
    // Without a single note there is nothing to be off.
    let off = check.rms_before_cents.zip(check.rms_after_cents).map(|(before, after)| {
        format!(
            "Root mean square of measured minus predicted: {before:.1} cents; after the leading causes and what all \
             notes share ({:+.1} cents): {after:.1} cents.",
            check.common_cents + 0.0,
        )
    });
    let items: String = facts.iter().chain(&off).map(|fact| format!("<li>{}</li>\n", text(fact))).collect();
    section("how", "How this was computed", &format!("<ul class=\"faint\">\n{items}</ul>\n"))
}
