//! What a layout could not meet, and why, in the maker's words.
//!
//! Must not know how the layout was found.

use super::limits::{Limits, SizeRange, drills_mm};
use super::set_apart::OddOne;
use super::task::end_is_free;
use super::wishes::{RuleKind, rules};
use crate::instrument::advice::Warning;
use crate::instrument::model::Instrument;
use crate::instrument::prediction::PredictedNote;
use crate::instrument::problem::plain;
use crate::instrument::twelfth::{open_tone_holes, same_holes_below};

/// A note nearer than this is met, cents: nobody hears or measures less at the bench (common practice, no source).
const MET_CENTS: f64 = 2.0;
/// A rule with less room than this stops a hole, mm.
const NO_ROOM_MM: f64 = 0.1;

/// A warning for every note that is off by more than [`MET_CENTS`]; one for all whose registers disagree.
pub(super) fn unmet(
    layout: &Instrument,
    limits: &Limits,
    notes: &[PredictedNote],
    odd: &[OddOne],
) -> Vec<Warning> {
    let mut warnings: Vec<Warning> = odd.iter().map(|one| stands_alone(layout, notes, one)).collect();
    let told = |note: &&PredictedNote| odd.iter().any(|one| one.fingering == note.fingering);
    let mut pairs: Vec<[usize; 2]> = Vec::new();
    for note in notes.iter().filter(|note| note.cents().is_none_or(|cents| cents.abs() > MET_CENTS)) {
        if told(&note) {
            continue;
        }
        match (reason(layout, limits, note), partner(layout, notes, note)) {
            (Some(why), _) => warnings.push(not_met(format!("{}. {why}", stays(layout, note)))),
            (None, Some(other)) if told(&other) => warnings.push(not_met(format!(
                "{}. Without {} it would be as well: vent and bore set the registers apart.",
                stays(layout, note),
                layout.fingerings[other.fingering].name
            ))),
            (None, Some(other)) => {
                let mut pair = [note.fingering, other.fingering];
                pair.sort_by_key(|&fingering| layout.fingerings[fingering].register);
                if !pairs.contains(&pair) {
                    pairs.push(pair);
                }
            }
            (None, None) => warnings.push(not_met(format!(
                "{}. Other notes share its holes and want them elsewhere; the misfit is spread over all.",
                stays(layout, note)
            ))),
        }
    }
    if !pairs.is_empty() {
        warnings.push(not_met(registers(layout, notes, &pairs)));
    }
    warnings
}

fn not_met(text: String) -> Warning {
    Warning { code: "not-met", text }
}

/// A note that was not split with its partner.
fn stands_alone(layout: &Instrument, notes: &[PredictedNote], odd: &OddOne) -> Warning {
    let name = |fingering: usize| &layout.fingerings[fingering].name;
    let off = notes.iter().find(|note| note.fingering == odd.fingering);
    let stays = off.map_or_else(|| name(odd.fingering).clone(), |note| stays(layout, note));
    not_met(format!(
        "{stays}. It shares its holes with {partner}, and lies {:.0} cents beside where the other pairs of its register \
         lie: one place can't serve both. It is left out, so that no other note moves for it. Check the two notes and \
         their open holes. If {own} matters more, add --weight \"{own}\" 2.",
        odd.moved_cents.abs(),
        partner = name(odd.partner),
        own = name(odd.fingering)
    ))
}

fn stays(layout: &Instrument, note: &PredictedNote) -> String {
    let name = &layout.fingerings[note.fingering].name;
    match note.cents() {
        Some(cents) => {
            format!("{name} stays {:.1} cents {}", cents.abs(), if cents > 0.0 { "sharp" } else { "flat" })
        }
        None => format!("{name} is not met"),
    }
}

/// Whether nothing that moves this note may move: its own hole is kept, or the end of the tube is.
pub(super) fn hangs_on_what_is_kept(layout: &Instrument, limits: &Limits, fingering: usize) -> bool {
    match layout.first_open_hole(fingering) {
        Some(own) => !limits.may_move(own),
        None => !end_is_free(layout, limits),
    }
}

/// What stops the hole that the note hangs on; `None` when nothing of the bench does.
pub(super) fn reason(layout: &Instrument, limits: &Limits, note: &PredictedNote) -> Option<String> {
    let Some(cents) = note.cents() else {
        return Some("The air column has no such resonance with these holes open.".to_string());
    };
    let sharp = cents > 0.0;
    let Some(own) = layout.first_open_hole(note.fingering) else {
        return (!end_is_free(layout, limits))
            .then(|| "Only the open end moves this note, and it is kept.".to_string());
    };
    let name = &layout.holes[own].name;
    let way = if sharp { "farther down" } else { "farther up" };
    if !limits.may_move(own) {
        return Some(format!("{name} would have to go {way} or change its size, and it is kept."));
    }
    let stop = stopped_by(layout, limits, own, sharp)?;
    let size = size_used_up(layout, limits, own, sharp).unwrap_or_default();
    Some(format!("{name} would have to go {way}; {stop}{size}."))
}

/// Whether the size can't help either: no smaller hole for a sharp note, no wider one for a flat one.
fn size_used_up(layout: &Instrument, limits: &Limits, hole: usize, sharp: bool) -> Option<String> {
    let range = limits.sizes(layout, &layout.holes[hole]);
    let drills = range.drills(&drills_mm(layout));
    let last_mm = if sharp { drills.first() } else { drills.last() }?;
    let used_up = limits.may_resize(hole) && layout.holes[hole].diameter_mm == *last_mm;
    used_up.then(|| {
        if sharp {
            return ", and it is as small as may be".to_string();
        }
        let SizeRange { widest_mm, why, .. } = range;
        let pad = limits.key_of(hole).map_or("its pad", |held| held.key.as_str());
        let widest = plain((widest_mm * 100.0).round() / 100.0);
        format!(
            ", and at {} mm it is as wide as may be ({}: {widest} mm)",
            plain(*last_mm),
            why.replace("its pad", pad)
        )
    })
}

/// The end of a key's reach that keeps the hole from going down (`down`) or up.
fn stopped_by_key(limits: &Limits, layout: &Instrument, hole: usize, down: bool) -> Option<String> {
    let held = limits.key_of(hole)?;
    let end_mm = if down { held.to_mm } else { held.from_mm }?;
    let is_there = (layout.holes[hole].at_mm - end_mm).abs() < NO_ROOM_MM;
    let words = if down { "reaches only to" } else { "reaches no farther up than" };
    is_there.then(|| format!("{} {words} {} mm", held.key, plain(end_mm)))
}

/// The rule that keeps a hole from going down (`down`) or up.
fn stopped_by(layout: &Instrument, limits: &Limits, hole: usize, down: bool) -> Option<String> {
    let name = |index: usize| layout.holes[index].name.as_str();
    let stops = |kind: RuleKind| match kind {
        RuleKind::Wall(upper, lower) if (down && upper == hole) || (!down && lower == hole) => {
            let mm = limits.wall_between_mm(&layout.holes[upper], &layout.holes[lower]);
            let other = if upper == hole { lower } else { upper };
            Some(format!("the wall of {} mm that must stay to {} stops it", plain(mm), name(other)))
        }
        RuleKind::End(last) if down && last == hole => Some("the open end stops it".to_string()),
        RuleKind::Reach(upper, lower) if (down && lower == hole) || (!down && upper == hole) => {
            let other = if upper == hole { lower } else { upper };
            Some(format!("the reach to {} stops it", name(other)))
        }
        _ => None,
    };
    if let Some(stop) = stopped_by_key(limits, layout, hole, down) {
        return Some(stop);
    }
    let tight = rules(layout, limits, &layout.holes_from_the_top())
        .into_iter()
        .filter(|rule| rule.room_mm < NO_ROOM_MM);
    tight.map(|rule| rule.what).find_map(stops)
}

/// The note of the same tone holes in another register.
pub(super) fn partner<'n>(
    layout: &Instrument,
    notes: &'n [PredictedNote],
    note: &PredictedNote,
) -> Option<&'n PredictedNote> {
    let register = |n: &PredictedNote| layout.fingerings[n.fingering].register;
    if register(note) > 1 {
        return same_holes_below(layout, notes, note);
    }
    let own = open_tone_holes(layout, note.fingering);
    notes.iter().find(|n| register(n) > 1 && open_tone_holes(layout, n.fingering) == own)
}

fn registers(layout: &Instrument, notes: &[PredictedNote], pairs: &[[usize; 2]]) -> String {
    let told = |fingering: usize| {
        let cents = notes.iter().find(|note| note.fingering == fingering).and_then(PredictedNote::cents);
        let name = &layout.fingerings[fingering].name;
        cents.map_or_else(|| format!("{name} lost"), |cents| format!("{name} {cents:+.1}"))
    };
    let list: Vec<String> =
        pairs.iter().map(|&[lower, upper]| format!("{} and {}", told(lower), told(upper))).collect();
    format!(
        "These stay off: {}. The two of a pair share their holes, and one place can't serve both registers, so the misfit \
         is split. Vent and bore set how far apart they lie.",
        list.join("; ")
    )
}
