//! One take's measurement as text and as JSON.
//!
//! Must not know how anything was measured.

use std::fmt::Write;

use serde_json::{Value, json};

use crate::analysis::measurement::{Hidden, HiddenBy, Measurement, Tone, Trouble, Undertone, UndertoneKind};
use crate::report::layout::visible;
use crate::units::Note;

/// Partials named in the text: so many of the strongest.
const PARTIALS_TOLD: usize = 6;
/// Undertones named in the text.
const UNDERTONES_TOLD: usize = 4;
/// Smaller movements and mistunings are not worth a word, cents (a second).
const TOLD_CENTS: f64 = 0.5;
/// Width of the text, columns.
const WIDTH: usize = 80;

/// The object that `measure --json` prints: one entry a take, in order. Unknown is `null`.
#[must_use]
pub fn json(takes: &[(String, Measurement)], a4_hz: f64) -> Value {
    json!({ "takes": takes.iter().map(|(file, take)| take_json(file, take, a4_hz)).collect::<Vec<_>>() })
}

/// One take as JSON.
#[must_use]
pub fn take_json(file: &str, take: &Measurement, a4_hz: f64) -> Value {
    let note = take.pitch_hz.map(|hz| Note::nearest(hz, a4_hz));
    let partials: Vec<Value> =
        take.partials.iter().map(|p| json!({ "n": p.n, "hz": p.hz, "db": p.db })).collect();
    json!({
        "file": file,
        "pitch_hz": take.pitch_hz,
        "sd_cents": take.sd_cents,
        "wander_cents": take.wander_cents,
        "note": note.map(|(note, _)| note.to_string()),
        "cents": note.map(|(_, cents)| cents),
        "voiced": take.pitch_hz.is_some(),
        "confidence": take.confidence,
        "expectation_met": take.expectation_met,
        "expectation_decided": take.expectation_decided,
        "tone_over_noise_db": take.tone_over_noise_db,
        "steady": take.steady_s.map(|(from, to)| [from, to]),
        "level_dbfs": take.level_dbfs,
        "partials": partials,
        "tone": take.tone.as_ref().map(tone_json),
        "undertones": take.undertones.iter().map(undertone_json).collect::<Vec<_>>(),
        "undertones_building_up": take.building_up.iter().map(undertone_json).collect::<Vec<_>>(),
        "undertones_hidden": take.hidden.iter().map(hidden_json).collect::<Vec<_>>(),
        "troubles": take.troubles.iter().map(trouble_json).collect::<Vec<_>>(),
    })
}

/// One trouble as JSON, in `measure` and `check` alike.
#[must_use]
pub fn trouble_json(trouble: &Trouble) -> Value {
    json!({ "code": trouble.code.as_str(), "text": trouble.text })
}

/// One undertone as JSON, in `measure` and `check` alike.
#[must_use]
pub fn undertone_json(undertone: &Undertone) -> Value {
    json!({
        "hz": undertone.hz,
        "ratio": undertone.ratio.map(|(over, under)| format!("{over}/{under}")),
        "db": undertone.db,
        "kind": kind_word(undertone.kind),
        "follows": undertone.follows,
        "family": undertone.family.map(|(over, under)| format!("{over}/{under}")),
        "mixed_with_hz": undertone.mixed_with_hz,
    })
}

fn tone_json(tone: &Tone) -> Value {
    let hiss: Vec<Value> = tone
        .hiss
        .iter()
        .map(
            |h| json!({ "from_hz": h.from_hz, "to_hz": h.to_hz, "tone_over_noise_db": h.tone_over_noise_db }),
        )
        .collect();
    json!({
        "inharmonicity_cents": tone.inharmonicity_cents,
        "odd_over_even_db": tone.odd_over_even_db,
        "centroid_hz": tone.centroid_hz,
        "hiss": hiss,
        "attack_s": tone.attack_s,
        "slope_cents_per_s": tone.slope_cents_per_s,
        "vibrato": tone.vibrato.map(|swing| json!({ "hz": swing.hz, "cents": swing.depth })),
        "beating": tone.beating.map(|swing| json!({ "hz": swing.hz, "db": swing.depth })),
    })
}

fn hidden_json(hidden: &Hidden) -> Value {
    let (over, under) = hidden.ratio;
    let by = match hidden.by {
        HiddenBy::TooShort => "too-short",
        HiddenBy::Hum => "hum",
        HiddenBy::Room => "room",
    };
    json!({ "ratio": format!("{over}/{under}"), "hz": hidden.hz, "by": by })
}

fn kind_word(kind: UndertoneKind) -> &'static str {
    match kind {
        UndertoneKind::Locked => "locked",
        UndertoneKind::Free => "free",
        UndertoneKind::Unclear => "unclear",
    }
}

/// One take as a few lines of text, at most 80 columns wide where the file's name allows it.
#[must_use]
pub fn card(file: &str, take: &Measurement, a4_hz: f64) -> String {
    let mut text = format!("{}\n", visible(file));
    for (what, words) in facts(take, a4_hz) {
        line(&mut text, what, &words);
    }
    text
}

/// What there is to say of a take, each with what it is about; nothing there: the same as the one before.
#[must_use]
pub fn facts(take: &Measurement, a4_hz: f64) -> Vec<(&'static str, String)> {
    let mut facts = match take.pitch_hz {
        Some(hz) => sounding(take, hz, a4_hz),
        None => vec![("note", "none".to_string())],
    };
    facts.extend(take.troubles.iter().map(|trouble| (trouble.code.as_str(), trouble.text.clone())));
    facts
}

fn sounding(take: &Measurement, hz: f64, a4_hz: f64) -> Vec<(&'static str, String)> {
    let (note, cents) = Note::nearest(hz, a4_hz);
    let side = if cents >= 0.0 { "sharp" } else { "flat" };
    let sure = take.sd_cents.map_or(String::new(), |sd| format!(", sure to ±{} cents", two_figures(sd)));
    let mut facts = vec![("note", format!("{note}, {:.1} cents {side}: {hz:.3} Hz{sure}", cents.abs()))];
    let mut say = |what, words: String| facts.push((what, words));
    if take.expectation_met == Some(false) {
        say("expected", "nothing near the note you expected is heard; this is what is".into());
    }
    if take.confidence < 0.5 && !take.expectation_decided {
        say("octave", "not certain. Say which note it is with --expect".into());
    }
    if take.expectation_decided {
        say("octave", "taken from the note you expected; the sound alone would say another".into());
    }
    if let (Some((from, to)), Some(wander)) = (take.steady_s, take.wander_cents) {
        say("steady", format!("{from:.2} to {to:.2} s, wandering by {wander:.1} cents"));
    }
    if let Some(level) = take.level_dbfs {
        say("level", format!("{level:.0} dB of full scale"));
    }
    let mut strongest: Vec<_> = take.partials.iter().collect();
    strongest.sort_by(|a, b| b.db.total_cmp(&a.db));
    strongest.truncate(PARTIALS_TOLD);
    strongest.sort_by_key(|p| p.n);
    // Rounded first, and no minus before nought.
    let whole = |db: f64| db.round() + 0.0;
    let told: Vec<String> = strongest.iter().map(|p| format!("{}: {} dB", p.n, whole(p.db))).collect();
    say("partials", told.join(", "));
    if let Some(tone) = &take.tone {
        say("tone", tone_words(tone));
    }
    let told: Vec<String> = take.undertones.iter().take(UNDERTONES_TOLD).map(undertone_words).collect();
    say("undertones", if told.is_empty() { "none".into() } else { String::new() });
    for undertone in told {
        say("", undertone);
    }
    if let Some(first) = take.building_up.first() {
        say("at first", format!("{:.2} Hz sounds along until the note speaks", first.hz));
    }
    for hidden in &take.hidden {
        say("can't tell", hidden_words(hidden));
    }
    facts
}

fn undertone_words(undertone: &Undertone) -> String {
    let place = match (undertone.ratio, undertone.kind) {
        (Some((over, under)), UndertoneKind::Unclear) => format!("{over}/{under} of the note or near it"),
        (Some((over, under)), _) => format!("{over}/{under} of the note"),
        (None, _) => match undertone.mixed_with_hz {
            Some(hz) if hz < undertone.hz => format!("{hz:.2} Hz mixed with the note"),
            _ => "at no simple part of the note".into(),
        },
    };
    format!("{:.2} Hz, {place}, {:.0} dB under the strongest partial", undertone.hz, -undertone.db)
}

/// What of the tone is known and worth a word.
fn tone_words(tone: &Tone) -> String {
    let mut said: Vec<String> = Vec::new();
    if let Some(db) = tone.odd_over_even_db {
        let (stronger, weaker) = if db >= 0.0 { ("odd", "even") } else { ("even", "odd") };
        said.push(format!("{stronger} partials {:.0} dB over {weaker}", db.abs()));
    }
    if let Some(hz) = tone.centroid_hz {
        said.push(format!("centre at {hz:.0} Hz"));
    }
    if let Some(worst) = tone.hiss.iter().min_by(|a, b| a.tone_over_noise_db.total_cmp(&b.tone_over_noise_db))
    {
        said.push(format!(
            "most hiss from {:.0} to {:.0} Hz, tone {:.0} dB over it",
            worst.from_hz, worst.to_hz, worst.tone_over_noise_db
        ));
    }
    if let Some(cents) = tone.inharmonicity_cents.filter(|cents| *cents >= TOLD_CENTS) {
        said.push(format!("partials {cents:.1} cents off the multiples"));
    }
    if let Some(s) = tone.attack_s {
        said.push(format!("speaks in {s:.2} s"));
    }
    if tone.slope_cents_per_s.abs() >= TOLD_CENTS {
        let way = if tone.slope_cents_per_s > 0.0 { "rises" } else { "falls" };
        said.push(format!("{way} by {:.1} cents a second", tone.slope_cents_per_s.abs()));
    }
    if let Some(swing) = tone.vibrato {
        said.push(format!("vibrato {:.1} a second, ±{:.1} cents", swing.hz, swing.depth));
    }
    if let Some(swing) = tone.beating {
        said.push(format!("beats {:.1} a second, ±{:.1} dB", swing.hz, swing.depth));
    }
    said.join("; ")
}

fn hidden_words(hidden: &Hidden) -> String {
    let (over, under) = hidden.ratio;
    let why = match hidden.by {
        HiddenBy::TooShort => "too little of the note is steady",
        HiddenBy::Hum => "mains hum lies there",
        HiddenBy::Room => "the room sounds there too",
    };
    format!("an undertone at {over}/{under} of the note ({:.1} Hz): {why}", hidden.hz)
}

/// Two figures that mean something, without an exponent.
fn two_figures(value: f64) -> String {
    let digits = (1 - value.abs().max(1e-6).log10().floor() as i32).clamp(0, 4) as usize;
    format!("{value:.digits$}")
}

/// A line of the card: what it is, and the text wrapped beside it.
fn line(text: &mut String, what: &str, words: &str) {
    const INDENT: usize = 16;
    let mut column = INDENT;
    // Writing into a string can't fail.
    let _ = write!(text, "  {what:<width$}", width = INDENT - 2);
    for word in words.split_whitespace() {
        let length = word.chars().count();
        if column > INDENT && column + 1 + length > WIDTH {
            let _ = write!(text, "\n{:INDENT$}", "");
            column = INDENT;
        } else if column > INDENT {
            text.push(' ');
            column += 1;
        }
        text.push_str(word);
        column += length;
    }
    while text.ends_with(' ') {
        text.pop();
    }
    text.push('\n');
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::measurement::{Hiss, Partial, Swing, Trouble, TroubleCode};

    fn example() -> Measurement {
        Measurement {
            pitch_hz: Some(73.9),
            sd_cents: Some(0.0432),
            wander_cents: Some(1.26),
            confidence: 1.0,
            steady_s: Some((0.41, 5.8)),
            level_dbfs: Some(-18.3),
            tone_over_noise_db: None,
            partials: vec![
                Partial { n: 1, hz: 73.9, db: -3.0 },
                Partial { n: 3, hz: 221.7, db: 0.0 },
                Partial { n: 5, hz: 369.5, db: -9.0 },
            ],
            tone: Some(Tone {
                inharmonicity_cents: Some(0.02),
                odd_over_even_db: Some(17.2),
                centroid_hz: Some(188.4),
                hiss: vec![Hiss { from_hz: 250.0, to_hz: 500.0, tone_over_noise_db: 31.0 }],
                attack_s: Some(0.12),
                slope_cents_per_s: -0.8,
                vibrato: None,
                beating: Some(Swing { hz: 3.1, depth: 0.9 }),
            }),
            undertones: vec![Undertone {
                hz: 24.63,
                ratio: Some((1, 3)),
                db: -28.4,
                kind: UndertoneKind::Locked,
                follows: Some(true),
                family: Some((1, 3)),
                mixed_with_hz: None,
            }],
            building_up: Vec::new(),
            hidden: vec![Hidden { ratio: (1, 2), hz: 36.96, by: HiddenBy::Hum }],
            troubles: vec![Trouble {
                code: TroubleCode::Hum,
                text: "50 Hz mains hum lies 21 dB under the note. Move away from transformers and chargers"
                    .into(),
            }],
            expectation_met: None,
            expectation_decided: false,
            unasked: None,
        }
    }

    #[test]
    fn a_card_says_everything_in_eighty_columns() {
        let card = card("D2.wav", &example(), 440.0);
        let want = "\
D2.wav
  note          D2, 11.4 cents sharp: 73.900 Hz, sure to ±0.043 cents
  steady        0.41 to 5.80 s, wandering by 1.3 cents
  level         -18 dB of full scale
  partials      1: -3 dB, 3: 0 dB, 5: -9 dB
  tone          odd partials 17 dB over even; centre at 188 Hz; most hiss from
                250 to 500 Hz, tone 31 dB over it; speaks in 0.12 s; falls by
                0.8 cents a second; beats 3.1 a second, ±0.9 dB
  undertones
                24.63 Hz, 1/3 of the note, 28 dB under the strongest partial
  can't tell    an undertone at 1/2 of the note (37.0 Hz): mains hum lies there
  hum           50 Hz mains hum lies 21 dB under the note. Move away from
                transformers and chargers
";
        assert_eq!(card, want);
    }

    #[test]
    fn json_has_null_for_what_is_unknown() {
        let value = take_json("x.wav", &Measurement::default(), 440.0);
        for key in ["pitch_hz", "sd_cents", "note", "cents", "steady", "level_dbfs"] {
            assert!(value[key].is_null(), "{key}");
        }
        assert_eq!(value["voiced"], false);
    }

    #[test]
    fn json_tells_an_undertone_by_its_ratio_and_kind() {
        let value = json(&[("D2.wav".into(), example())], 440.0);
        let undertone = &value["takes"][0]["undertones"][0];
        assert_eq!(undertone["ratio"], "1/3");
        assert_eq!(undertone["kind"], "locked");
    }
}
