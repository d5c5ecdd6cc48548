//! `place` and `scale` as text and JSON. Computes nothing.

use serde_json::{Value, json};

use super::place_words::{
    advice, carried as carried_words, cautions, compromise, keys, notes, places, vent_sizes, vent_trade,
};
use crate::instrument::advice::Warning;
use crate::placing::place::Placed;
use crate::placing::scale::Carried;
use crate::placing::second_vent::{SecondVent, VentAt};
use crate::placing::vents::{TriedVent, UpperNote, VentTrade};
use crate::report::layout::paragraph;
use crate::report::predict::warnings_json;

/// The JSON object of `place`; with `carried`, of `scale`. `written`: files that were written.
#[must_use]
pub fn json(placed: &Placed, carried: Option<&Carried>, written: &[String]) -> Value {
    let after = &placed.after;
    let holes: Vec<Value> = after
        .holes
        .iter()
        .enumerate()
        .map(|(index, hole)| {
            let missing = placed.missing_drills.iter().find(|drill| drill.hole == index);
            json!({
                "name": hole.name,
                "at_mm": hole.at_mm,
                "diameter_mm": hole.diameter_mm,
                "first_drill_mm": placed.first_drills_mm.get(index).copied().flatten(),
                "first_drill_missing": missing.is_some(),
                "next_smaller_drill_mm": missing.and_then(|drill| drill.next_smaller_mm),
                "chimney_mm": hole.chimney_mm,
                "pad_diameter_mm": hole.pad.map(|pad| pad.diameter_mm),
                "angle_deg": hole.angle_deg,
                "key": placed.keys.key_of(index).map(|key| &placed.before.keys[key].name),
                "vent": hole.vent,
                "kept": placed.kept.contains(&index),
            })
        })
        .collect();
    let copied = |cents: fn(&Carried) -> &[Option<f64>], fingering: usize| {
        carried.and_then(|carried| cents(carried).get(fingering).copied().flatten())
    };
    let fingerings: Vec<Value> = placed
        .notes
        .iter()
        .map(|note| {
            let fingering = &after.fingerings[note.fingering];
            let mut told = json!({
                "name": fingering.name,
                "register": fingering.register,
                "cents": note.cents,
                "spread_cents": note.spread_cents,
                "first_drill_cents": note.at_first_cents,
                "first_drill_hz": note.at_first_hz,
                "cutoff_hz": note.cutoff_hz,
            });
            if carried.is_some() {
                told["copied_cents"] = json!(copied(|carried| &carried.copied_cents, note.fingering));
                told["from_rim_cents"] = json!(copied(|carried| &carried.from_rim_cents, note.fingering));
            }
            told
        })
        .collect();
    let compromises: Vec<Value> = placed
        .splits
        .iter()
        .map(|split| {
            let fingering = &after.fingerings[split.fingering];
            json!({
                "name": fingering.name,
                "off_cents": split.off_cents,
                "planned_cents": split.planned_cents(fingering),
            })
        })
        .collect();
    let mut result = json!({
        "instrument": after.name,
        "prototype": after.prototype,
        "holes": holes,
        "end_mm": after.length_mm(),
        "fingerings": fingerings,
        "spread_cents": placed.spread_cents,
        "compromise": compromises,
        "upper_notes": placed.vent_trades.iter().map(|trade| trade_json(placed, trade)).collect::<Vec<_>>(),
        "keys": keys_json(placed),
        "second_vents": placed.second_vents.iter().map(|second| second_json(placed, second)).collect::<Vec<_>>(),
        "vent_sizes": placed.vents.iter().map(|tried| vent_json(placed, tried)).collect::<Vec<_>>(),
        "warnings": warnings_json(&placed.warnings),
        "cautions": cautions(),
        "written": written,
    });
    if let Some(carried) = carried {
        result["carried"] = json!({
            "semitones": carried.wanted.semitones,
            "lengths_times": carried.times,
            "bore_mm": carried.instrument.bore_at_mm(0.0),
            "wall_mm": carried.instrument.wall.thickness_mm,
            "donor_top_mm": carried.tops_mm[0],
            "top_mm": carried.tops_mm[1],
        });
    }
    result
}

/// The screen for the terminal.
#[must_use]
pub fn text(placed: &Placed, carried: Option<&Carried>, written: &[String]) -> String {
    let after = &placed.after;
    let mut out = paragraph("", &format!("{} {}: where the holes go", after.name, after.prototype));
    out.push('\n');
    if let Some(carried) = carried {
        out.push_str(&carried_words(after, carried));
    }
    out.push_str(&places(placed));
    out.push_str(&keys(placed));
    out.push('\n');
    out.push_str(&notes(placed, carried));
    out.push('\n');
    for Warning { text, .. } in &placed.warnings {
        out.push_str(&paragraph("  ! ", text));
    }
    out.push_str(&compromise(placed));
    out.push_str(&vent_trade(placed));
    out.push_str(&vent_sizes(placed));
    out.push_str(&advice(placed));
    for caution in cautions() {
        out.push_str(&paragraph("", caution));
    }
    for file in written {
        out.push_str(&format!("Written: {file}\n"));
    }
    out
}

fn keys_json(placed: &Placed) -> Value {
    let (keys, hole) = (&placed.before.keys, |index: usize| &placed.after.holes[index].name);
    let plan = &placed.keys;
    json!({
        "used": plan.uses.iter().map(|one| json!({"hole": hole(one.hole), "key": keys[one.key].name}))
            .collect::<Vec<_>>(),
        "holes_without": plan.without.iter().map(|none| json!({"hole": hole(none.hole), "why": none.why}))
            .collect::<Vec<_>>(),
        "left_over": plan.left.iter().map(|(key, count)| json!({"key": keys[*key].name, "count": count}))
            .collect::<Vec<_>>(),
    })
}

fn vent_json(placed: &Placed, tried: &TriedVent) -> Value {
    json!({
        "name": placed.after.holes[tried.hole].name,
        "diameter_mm": tried.diameter_mm,
        "off_cents": tried.off_cents,
        "undertone_notes": tried.undertones,
        "may_fall_notes": tried.falls,
    })
}

fn second_json(placed: &Placed, second: &SecondVent) -> Value {
    let names: Vec<&str> =
        second.fingerings.iter().map(|&index| placed.after.fingerings[index].name.as_str()).collect();
    let at = |vent: &VentAt| json!({ "at_mm": vent.at_mm, "diameter_mm": vent.diameter_mm });
    let [speak, speak_with_both, notes] = second.speak;
    let [off_cents, off_cents_with_both] = second.off_cents;
    json!({
        "beside": placed.after.holes[second.vent].name,
        "first": at(&second.first),
        "second": at(&second.second),
        "fingerings": names,
        "upper_notes": notes,
        "speak": speak,
        "speak_with_both": speak_with_both,
        "off_cents": off_cents,
        "off_cents_with_both": off_cents_with_both,
    })
}

fn trade_json(placed: &Placed, trade: &VentTrade) -> Value {
    let told = |note: &UpperNote| json!({ "cents": note.cents, "undertone": note.has_undertone, "may_fall": note.may_fall });
    json!({
        "name": placed.after.fingerings[trade.fingering].name,
        "vent": placed.after.holes[trade.vent].name,
        "taken": told(&trade.taken),
        "by_pitch_alone": trade.by_pitch.as_ref().map(told),
    })
}
