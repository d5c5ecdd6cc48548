//! What causes and tests are called at the bench: short sentences with numbers.
//!
//! Must not compute anything about the instrument.

use crate::diagnosis::beliefs::causes::PLACE_LENGTH_MM;
use crate::diagnosis::causes::bore_places::bore_places;
use crate::diagnosis::causes::catalogue::Cause;
use crate::diagnosis::expectation::noise::Noise;
use crate::diagnosis::findings::ranking::{Amount, Kind, Suspect};
use crate::instrument::change::place_name;
use crate::instrument::column::LeakPlace;
use crate::instrument::model::Instrument;

/// At most this many notes are quoted as evidence.
const MOST_EVIDENCE: usize = 4;

/// `12 cents sharp`, `3 cents flat`, `in tune`.
#[must_use]
pub fn sharp_or_flat(cents: f64) -> String {
    let rounded = cents.round();
    match rounded {
        r if r > 0.0 => format!("{} {} sharp", r, plural(r)),
        r if r < 0.0 => format!("{} {} flat", -r, plural(-r)),
        _ => "in tune".to_string(),
    }
}

fn plural(cents: f64) -> &'static str {
    if cents == 1.0 { "cent" } else { "cents" }
}

/// A number to the hundredth, without needless zeros.
#[must_use]
pub fn trimmed(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}

/// A cause as a sentence or two.
#[must_use]
pub fn cause_text(instrument: &Instrument, cause: Cause, amount: &Amount) -> String {
    let mm = amount.mm.unwrap_or(0.0);
    let hole_name = |index: usize| instrument.holes.get(index).map_or("?", |hole| hole.name.as_str());
    match cause {
        Cause::Hole(index) => format!(
            "Hole {} acts {mm:.1} mm {}. Its size, place, chimney and pad lift all leave this same mark: measure \
             them before you change anything.",
            hole_name(index),
            amount.acts.unwrap_or("wrong")
        ),
        Cause::StuckShut(index) => format!(
            "The pad of {} does not open: its note sounds like the one below. Look whether the key is stuck or the \
             hole is blocked.",
            hole_name(index)
        ),
        Cause::Leak(place) => format!(
            "Air leaks at {}, about as much as through a {:.1} mm hole. Notes that should pass it closed come out \
             sharp and weak.",
            leak_place(instrument, place),
            amount.equivalent_mm.unwrap_or(0.0)
        ),
        Cause::Air => {
            let warmer = amount.warmer_c.unwrap_or(0.0);
            format!(
                "All notes are off alike, as if the air inside were {:.0} °C {} than the file says. Nothing to cut: \
                 warm up, or give the room's temperature with --room, and play again.",
                warmer.abs(),
                if warmer > 0.0 { "warmer" } else { "colder" }
            )
        }
        Cause::Top => format!(
            "The top acts {:.0} mm too {}: short notes are off most. Length at the top, the water that the mouthpiece \
             holds, and the reed's give leave one and the same mark.",
            mm.abs(),
            if mm > 0.0 { "long" } else { "short" }
        ),
        Cause::End => format!(
            "The tube acts {:.0} mm too {} at the open end: only the lowest notes are off.",
            mm.abs(),
            if mm > 0.0 { "long" } else { "short" }
        ),
        Cause::Taper => format!(
            "The registers disagree as if the bore {} by {:.1} mm from the mouthpiece to the open end, against the \
             file. Measure the bore at both ends and, with a plug on a stick, in the middle.",
            if mm > 0.0 { "narrowed" } else { "widened" },
            2.0 * mm.abs()
        ),
        Cause::BorePlace(index) => {
            let place = bore_places(instrument).get(index).copied();
            let at_mm = place.map_or(0.0, |place| place.at_mm);
            let at_site = place.and_then(|place| instrument.leak_sites.get(place.site?));
            let at = at_site.map_or_else(String::new, |site| format!(", at {}", site.name));
            let about = format!("about {:.0} mm from the top{at}", 10.0 * (at_mm / 10.0).round());
            if mm > 0.0 {
                format!(
                    "The registers disagree as if the bore had a wide place {about}: as much as a groove {mm:.1} mm \
                     wider and {PLACE_LENGTH_MM:.0} mm long, such as a joint leaves that does not close."
                )
            } else {
                format!(
                    "The registers disagree as if the bore had a narrow place {about}: as much as a ridge that takes \
                     {:.1} mm off the bore over {PLACE_LENGTH_MM:.0} mm, such as the stump of a node, glue, or a post \
                     that stands in.",
                    -mm
                )
            }
        }
        Cause::VentSize(index) => format!(
            "The vent {} acts {mm:.1} mm {}: the upper register is off at both ends and right in the middle. Check \
             its size with drill shanks, and look for dirt in it.",
            hole_name(index),
            amount.acts.unwrap_or("wrong")
        ),
        Cause::VentPlace(index) => format!(
            "The vent {} acts as if it sat {:.0} mm {}: the upper register slopes.",
            hole_name(index),
            mm.abs(),
            if mm > 0.0 { "further down" } else { "nearer the reed" }
        ),
    }
}

/// `h3's pad`, `p3`.
#[must_use]
pub fn leak_place(instrument: &Instrument, place: LeakPlace) -> String {
    match place {
        LeakPlace::Hole(_) => format!("the pad of {}", place_name(instrument, place)),
        LeakPlace::Site(_) => place_name(instrument, place).to_string(),
    }
}

/// The notes that a cause moves most: what was measured and what it would do.
#[must_use]
pub fn evidence(instrument: &Instrument, noise: &Noise, shift: &[f64]) -> Vec<String> {
    let mut order: Vec<usize> = (0..noise.ordinary()).collect();
    order.sort_by(|&a, &b| shift[b].abs().total_cmp(&shift[a].abs()));
    order
        .iter()
        .take(MOST_EVIDENCE)
        .filter(|&&i| shift[i].abs() >= 1.0)
        .map(|&i| {
            format!(
                "{}: {} of the prediction; this alone would make it {}.",
                instrument.fingerings[noise.fingerings[i]].name,
                sharp_or_flat(noise.offsets_cents[i]),
                sharp_or_flat(shift[i])
            )
        })
        .collect()
}

/// The bench test that would confirm a cause or split its group.
#[must_use]
pub fn test(instrument: &Instrument, cause: Cause, amount: &Amount, group: &[Suspect]) -> Option<String> {
    let own = match cause {
        Cause::Hole(index) => {
            let hole = instrument.holes.get(index)?;
            match hole.pad {
                Some(_) if amount.acts == Some("too small") => format!(
                    "Take the pad of {} off and play its note: more than 5 cents higher means the pad hung too low. \
                     Then measure the hole with calipers.",
                    hole.name
                ),
                _ => format!("Measure {} again with calipers: diameter, place and chimney.", hole.name),
            }
        }
        Cause::StuckShut(index) => {
            format!("Look at {} and press its key.", instrument.holes.get(index)?.name)
        }
        Cause::Leak(place) => format!(
            "{} and play the affected notes again. If they fall back and speak easily, it leaked there.",
            capitalized(&how_to_close(instrument, place_name(instrument, place)))
        ),
        Cause::Air => {
            "Measure the room's temperature, warm up for ten minutes, and play the lowest note again."
                .to_string()
        }
        Cause::Top => {
            "Weigh the water that the mouthpiece holds (1 g is 1 ml), and try another reed.".to_string()
        }
        Cause::End => "Measure the whole length again, from the shoulder to the open end.".to_string(),
        Cause::Taper => "Measure the bore at both ends in two directions.".to_string(),
        Cause::BorePlace(_) => {
            "Look down the bore with a lamp and feel there with a plug on a stick; at a joint, measure tenon and \
             socket."
                .to_string()
        }
        Cause::VentSize(_) | Cause::VentPlace(_) => {
            "Measure the vent's place and try drill shanks in it until one just passes.".to_string()
        }
    };
    let others: Vec<String> = group
        .iter()
        .filter(|suspect| suspect.kind == Kind::Leak)
        .filter_map(|suspect| Some(how_to_close(instrument, suspect.place.as_deref()?)))
        .collect();
    Some(if others.is_empty() {
        own
    } else {
        format!("{own} If nothing changes, {}.", others.join("; then "))
    })
}

/// How a place is closed for a trial: `press the pad of h3 hard`.
fn how_to_close(instrument: &Instrument, place: &str) -> String {
    match instrument.holes.iter().find(|hole| hole.name == place) {
        Some(hole) if hole.pad.is_some() => format!("press the pad of {place} hard"),
        Some(hole) if hole.vent => format!("press the pad of {place} hard, or stop {place} with putty"),
        Some(_) => format!("put tape over {place}"),
        None => format!("wrap stretch film tightly round {place}"),
    }
}

/// How several places are closed for one test: `Press the pads of h3, h4 hard and wrap stretch film tightly round p3`.
#[must_use]
pub fn closing(instrument: &Instrument, places: &[LeakPlace]) -> String {
    let ways: Vec<String> =
        places.iter().map(|place| how_to_close(instrument, place_name(instrument, *place))).collect();
    let text = match ways.as_slice() {
        [one] => one.clone(),
        many => {
            let sites = places.iter().filter(|place| matches!(place, LeakPlace::Site(_))).count();
            let names: Vec<&str> = places.iter().map(|place| place_name(instrument, *place)).collect();
            if sites == many.len() {
                format!("wrap stretch film tightly round {}, all at once", names.join(", "))
            } else {
                format!("at the same time {}", many.join(" and "))
            }
        }
    };
    capitalized(&text)
}

/// The text with its first letter as a capital.
#[must_use]
pub fn capitalized(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// What `healthy` means, with the figures of this step.
#[must_use]
pub fn healthy_text(noise: &Noise) -> String {
    let offsets_cents = &noise.offsets_cents[..noise.ordinary()];
    let n = offsets_cents.len().max(1) as f64;
    let mean = offsets_cents.iter().sum::<f64>() / n;
    let spread = (offsets_cents.iter().map(|c| (c - mean).powi(2)).sum::<f64>() / n).sqrt();
    format!(
        "Nothing points to a fault: the notes lie {} {} about the prediction, {} on the whole, which player, ruler \
         and air explain.",
        spread.round(),
        plural(spread.round()),
        sharp_or_flat(mean)
    )
}
