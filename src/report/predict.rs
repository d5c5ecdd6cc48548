//! Predictions as text and JSON. Computes nothing.

use serde_json::{Value, json};

use crate::instrument::advice::Warning;
use crate::instrument::forecast::{Forecast, Top};
use crate::instrument::model::Instrument;
use crate::instrument::prediction::PredictedNote;
use crate::instrument::twelfth::{PURE_CENTS, TEMPERED_CENTS, Twelfth};
use crate::instrument::vent::VentedNote;
use crate::report::layout::{left, paragraph, right, shortened, signed};
use crate::report::questions;

/// The longest name of a fingering that is shown whole.
const NAME_COLUMNS: usize = 16;

/// The `predict` object of the JSON output.
#[must_use]
pub fn json(instrument: &Instrument, forecast: &Forecast) -> Value {
    let fingerings: Vec<Value> = forecast
        .notes
        .iter()
        .zip(forecast.cutoffs_hz.iter().zip(&forecast.finished_cents))
        .map(|(note, (cutoff_hz, finished_cents))| {
            let fingering = &instrument.fingerings[note.fingering];
            let resonances: Vec<Value> = note
                .resonances
                .iter()
                .map(|r| json!({"hz": r.hz, "magnitude": r.magnitude, "q": r.q}))
                .collect();
            json!({
                "name": fingering.name,
                "register": fingering.register,
                "playable": instrument.playable(fingering),
                "target_hz": note.target_hz,
                "predicted_hz": note.predicted_hz,
                "cents": note.cents(),
                "finished_cents": finished_cents,
                "resonances": resonances,
                "cutoff_hz": cutoff_hz,
            })
        })
        .collect();
    let name = |fingering: usize| instrument.fingerings[fingering].name.as_str();
    let twelfth = |t: &Twelfth| {
        json!({
            "lower": name(t.lower),
            "upper": t.upper.map(name),
            "cents": t.cents,
            "from_pure_cents": t.cents - PURE_CENTS,
            "from_tempered_cents": t.cents - TEMPERED_CENTS,
        })
    };
    let vent = |v: &VentedNote| {
        json!({
            "name": name(v.fingering),
            "vent": instrument.holes[v.vent].name,
            "second_over_first": v.ratio,
            "first_peak_share": v.height_share,
            "place_share": v.place_share,
        })
    };
    json!({
        "instrument": instrument.name,
        "prototype": instrument.prototype,
        "questions": questions::json(instrument, &forecast.questions),
        "fingerings": fingerings,
        "twelfths": forecast.twelfths.iter().map(twelfth).collect::<Vec<_>>(),
        "vented": forecast.vents.iter().map(vent).collect::<Vec<_>>(),
        "top": top_json(&forecast.top),
        "warnings": warnings_json(&forecast.warnings),
    })
}

fn top_json(top: &Top) -> Value {
    json!({
        "bore_mm": top.bore_mm,
        "suits_bore_mm": top.suits_bore_mm,
        "chamber_ml": top.chamber_ml,
        "chamber_wanted_ml": top.chamber_wanted.map(|wanted| wanted.ml),
        "chamber_doubt_ml": top.chamber_wanted.map(|wanted| wanted.doubt_ml),
        "chamber_length_mm": top.chamber_mm,
        "reed_ml": top.reed_ml,
        "reed_length_mm": top.reed_mm,
        "reed_assumed": top.reed_assumed,
        "embouchure_mm": top.embouchure_mm,
        "embouchure_assumed": top.embouchure_assumed,
    })
}

/// Warnings as JSON.
#[must_use]
pub fn warnings_json(warnings: &[Warning]) -> Vec<Value> {
    warnings.iter().map(|w| json!({"code": w.code, "text": w.text})).collect()
}

/// The screen for the terminal.
#[must_use]
pub fn text(instrument: &Instrument, forecast: &Forecast) -> String {
    let title = format!("{} {}: what the geometry should sound", instrument.name, instrument.prototype);
    let mut out = paragraph("", &title);
    out.push('\n');
    out.push_str(&questions::text(instrument, &forecast.questions));
    if forecast.notes.is_empty() {
        out.push_str("No fingerings in the file. Add a [[fingering]] to see its note.\n");
    } else {
        push_notes(&mut out, instrument, forecast);
    }
    push_twelfths(&mut out, instrument, &forecast.twelfths);
    push_top(&mut out, &forecast.top);
    push_open_holes(&mut out, instrument, forecast);
    push_vents(&mut out, instrument, &forecast.vents);
    if !forecast.warnings.is_empty() {
        out.push('\n');
    }
    for warning in &forecast.warnings {
        out.push_str(&paragraph("  ! ", &warning.text));
    }
    out
}

fn push_notes(out: &mut String, instrument: &Instrument, forecast: &Forecast) {
    let name = |fingering: usize| shortened(&instrument.fingerings[fingering].name, NAME_COLUMNS);
    let width = forecast.notes.iter().map(|n| name(n.fingering).chars().count()).max().unwrap_or(0).max(9);
    out.push_str(&format!(
        "  {} {} {} {} {} {}\n",
        left("fingering", width),
        right("target Hz", 9),
        right("predicted Hz", 12),
        right("cents", 6),
        right("peak", 5),
        right("next peak Hz", 12)
    ));
    for note in &forecast.notes {
        let fingering = &instrument.fingerings[note.fingering];
        let or_dash = |text: Option<String>| text.unwrap_or_else(|| "–".to_string());
        let predicted = or_dash(note.predicted_hz.map(|hz| format!("{hz:.2}")));
        let wanted = fingering.register.checked_sub(1).and_then(|index| note.resonances.get(index));
        let peak = or_dash(wanted.map(|resonance| format!("{:.1}", resonance.magnitude)));
        let next = or_dash(note.resonances.get(fingering.register).map(|r| format!("{:.1}", r.hz)));
        let planned = if instrument.playable(fingering) { "" } else { "  planned" };
        out.push_str(&format!(
            "  {} {} {} {} {} {}{planned}\n",
            left(&name(note.fingering), width),
            right(&format!("{:.2}", note.target_hz), 9),
            right(&predicted, 12),
            right(&signed(note.cents()), 6),
            right(&peak, 5),
            right(&next, 12)
        ));
    }
    out.push('\n');
    push_finished(out, instrument, forecast);
    out.push_str(&paragraph(
        "",
        "Cents are above (+) or below (-) the target. Expect the real notes within about 10 cents of this as a \
         whole; differences between notes are much closer. Peak: how strongly the tube answers; high speaks easily.",
    ));
}

/// Where holes are only planned: what the notes that can be played now will be later.
fn push_finished(out: &mut String, instrument: &Instrument, forecast: &Forecast) {
    if instrument.holes.iter().all(|hole| hole.drilled) {
        return;
    }
    let later = |(note, cents): (&PredictedNote, &Option<f64>)| {
        let name = shortened(&instrument.fingerings[note.fingering].name, NAME_COLUMNS);
        cents.map(|cents| format!("{name} {cents:+.1}"))
    };
    let list: Vec<String> = forecast.notes.iter().zip(&forecast.finished_cents).filter_map(later).collect();
    let now = match list.as_slice() {
        [] => String::new(),
        list => format!(
            " The others are told as the body is now, without the planned holes; once all are drilled they will be: {}.",
            list.join(", ")
        ),
    };
    let text =
        format!("Notes marked \"planned\" are told for the finished body, every planned hole there.{now}");
    out.push_str(&paragraph("", &text));
}

fn push_twelfths(out: &mut String, instrument: &Instrument, twelfths: &[Twelfth]) {
    if twelfths.is_empty() {
        return;
    }
    let name = |fingering: usize| shortened(&instrument.fingerings[fingering].name, NAME_COLUMNS);
    let pair = |twelfth: &Twelfth| match twelfth.upper {
        Some(upper) => format!("{} to {}", name(twelfth.lower), name(upper)),
        None => format!("{}, overblown", name(twelfth.lower)),
    };
    let width = twelfths.iter().map(|twelfth| pair(twelfth).chars().count()).max().unwrap_or(0).max(12);
    out.push_str("\nTwelfths: second register against first of the same holes, in cents\n");
    out.push_str(&format!(
        "  {} {} {} {}\n",
        left("", width),
        right("interval", 8),
        right("from pure", 9),
        right("from tempered", 13)
    ));
    for twelfth in twelfths {
        out.push_str(&format!(
            "  {} {} {} {}\n",
            left(&pair(twelfth), width),
            right(&format!("{:.1}", twelfth.cents), 8),
            right(&signed(Some(twelfth.cents - PURE_CENTS)), 9),
            right(&signed(Some(twelfth.cents - TEMPERED_CENTS)), 13)
        ));
    }
}

fn push_top(out: &mut String, top: &Top) {
    out.push_str("\nBore and mouthpiece\n");
    let bore_mm = top.bore_mm;
    let suits = match top.suits_bore_mm {
        Some([narrowest, widest]) => {
            format!("The mouthpiece was made for bores of {narrowest:.1} to {widest:.1} mm.")
        }
        None if top.chamber_ml.is_some() => {
            "The file does not say which bores the mouthpiece was made for (suits_bore_mm).".to_string()
        }
        None => String::new(),
    };
    out.push_str(&paragraph("  ", &format!("The bore begins at {bore_mm:.1} mm. {suits}")));
    if let Some(embouchure_mm) = top.embouchure_mm {
        let known = if top.embouchure_assumed {
            "a first guess from bore and wall. Calibrate it: try mouthpiece.embouchure until the whole scale comes \
             to the pitch that you measure, and write that as embouchure_mm under [mouthpiece]."
        } else {
            "as the file says. The player's lip moves it by some millimetres."
        };
        let text = format!("The embouchure counts as {embouchure_mm:.1} mm of this bore: {known}");
        out.push_str(&paragraph("  ", &text));
    }
    let Some(chamber_ml) = top.chamber_ml else { return };
    let assumed =
        if top.reed_assumed { ", assumed from the bore: good to a third, and learnt from takes" } else { "" };
    out.push_str(&paragraph(
        "  ",
        &format!(
            "Its chamber of {chamber_ml:.1} ml counts as {:.1} mm of this bore, and the reed's give of {:.1} ml as \
             {:.1} mm{assumed}.",
            top.chamber_mm, top.reed_ml, top.reed_mm
        ),
    ));
    if let Some(wanted) = top.chamber_wanted {
        let text = format!(
            "With bore and holes as they are, the notes would lie closest to their targets with a chamber of {:.1} ml, \
             give or take {:.1} ml. Fill a chamber that is larger with wax; ream a smaller one, or pull it out and \
             fill the gap.",
            wanted.ml, wanted.doubt_ml
        );
        out.push_str(&paragraph("  ", &text));
    }
}

fn push_open_holes(out: &mut String, instrument: &Instrument, forecast: &Forecast) {
    let name = |fingering: usize| instrument.fingerings[fingering].name.as_str();
    let known = || {
        forecast
            .notes
            .iter()
            .zip(&forecast.cutoffs_hz)
            .filter_map(|(note, cutoff_hz)| cutoff_hz.map(|hz| (hz, name(note.fingering))))
    };
    let lowest = known().min_by(|a, b| a.0.total_cmp(&b.0));
    let highest = known().max_by(|a, b| a.0.total_cmp(&b.0));
    let (Some(lowest), Some(highest)) = (lowest, highest) else { return };
    out.push_str("\nOpen holes\n");
    let span = if lowest.0 == highest.0 {
        format!("{:.0} Hz ({})", lowest.0, lowest.1)
    } else {
        format!("{:.0} Hz ({}) to {:.0} Hz ({})", lowest.0, lowest.1, highest.0, highest.1)
    };
    out.push_str(&paragraph(
        "  ",
        &format!(
            "They let sound out above {span}. Partials above that get no help from the tube: the lower this is, the \
             darker the tone and the weaker the upper register. Wider holes and less space between them raise it."
        ),
    ));
}

fn push_vents(out: &mut String, instrument: &Instrument, vented: &[VentedNote]) {
    for (index, vent) in instrument.holes.iter().enumerate().filter(|(_, hole)| hole.vent) {
        let served: Vec<&VentedNote> = vented.iter().filter(|note| note.vent == index).collect();
        let (Some(first), Some(last)) = (served.first(), served.last()) else { continue };
        let span = |value: &dyn Fn(&VentedNote) -> Option<f64>| {
            let told = |note: &VentedNote| {
                let name = &instrument.fingerings[note.fingering].name;
                value(note).map(|share| format!("{share:.2} ({name})"))
            };
            match (told(first), told(last)) {
                (Some(one), Some(other)) if one != other => format!("{one} to {other}"),
                (Some(one), _) | (None, Some(one)) => one,
                (None, None) => "–".to_string(),
            }
        };
        out.push_str(&format!("\nVent {}\n", vent.name));
        out.push_str(&paragraph(
            "  ",
            &format!(
                "Its place, as a share of the sounding length: {}; a third leaves the upper note alone.",
                span(&|note| note.place_share)
            ),
        ));
        out.push_str(&paragraph(
            "  ",
            &format!(
                "Vent open, second resonance over first: {}. Close to 3 an undertone can sound along; below 2.75 is \
                 safer.",
                span(&|note| Some(note.ratio))
            ),
        ));
        out.push_str(&paragraph(
            "  ",
            &format!(
                "First peak over second: {}. Up to 0.7 is safer. All three are rules of thumb: the player and the \
                 air in the vent decide.",
                span(&|note| Some(note.height_share))
            ),
        ));
    }
}
