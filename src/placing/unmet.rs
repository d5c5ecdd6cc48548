//! What a layout could not meet, and why, in the maker's words.
//!
//! Must not know how the layout was found.

use super::limits::Limits;
use super::task::end_is_free;
use super::wishes::{RuleKind, from_the_top, rules};
use crate::instrument::model::Instrument;
use crate::instrument::prediction::PredictedNote;
use crate::instrument::problem::plain;
use crate::instrument::twelfth::{open_tone_holes, same_holes_below};

/// A note nearer than this is met, cents: nobody hears or measures less at the bench (common practice, no source).
pub const MET_CENTS: f64 = 2.0;
/// A rule with less room than this stops a hole, mm.
const NO_ROOM_MM: f64 = 0.1;

/// One note that is not met.
#[derive(Debug, Clone, PartialEq)]
pub struct Unmet {
    /// Index into [`Instrument::fingerings`].
    pub fingering: usize,
    /// Cents from the target; `None` without a resonance.
    pub cents: Option<f64>,
    /// Why, as a sentence.
    pub why: String,
}

/// Every note that is off by more than [`MET_CENTS`], in the file's order.
pub(super) fn unmet(layout: &Instrument, limits: &Limits, notes: &[PredictedNote]) -> Vec<Unmet> {
    notes
        .iter()
        .filter(|note| note.cents().is_none_or(|cents| cents.abs() > MET_CENTS))
        .map(|note| Unmet {
            fingering: note.fingering,
            cents: note.cents(),
            why: why(layout, limits, notes, note),
        })
        .collect()
}

fn why(layout: &Instrument, limits: &Limits, notes: &[PredictedNote], note: &PredictedNote) -> String {
    let Some(cents) = note.cents() else {
        return "The air column has no such resonance with these holes open.".to_string();
    };
    let sharp = cents > 0.0;
    let Some(own) = layout.first_open_hole(note.fingering) else {
        if !end_is_free(layout, limits) {
            return "Only the open end moves this note, and it is kept.".to_string();
        }
        return registers(layout, notes, note).unwrap_or_else(other_reason);
    };
    let name = &layout.holes[own].name;
    let way = if sharp { "farther down" } else { "farther up" };
    if !limits.may_move(own) {
        return format!("{name} would have to go {way} or change its size, and it is kept.");
    }
    if let Some(stop) = stopped_by(layout, limits, own, sharp) {
        return format!("{name} would have to go {way}; {stop}.");
    }
    registers(layout, notes, note).unwrap_or_else(other_reason)
}

fn other_reason() -> String {
    "Other notes share its holes and want them elsewhere; the misfit is spread over all.".to_string()
}

/// The rule that keeps a hole from going down (`down`) or up.
fn stopped_by(layout: &Instrument, limits: &Limits, hole: usize, down: bool) -> Option<String> {
    let name = |index: usize| layout.holes[index].name.as_str();
    rules(layout, limits, &from_the_top(layout))
        .into_iter()
        .filter(|rule| rule.room_mm < NO_ROOM_MM)
        .find_map(|rule| match rule.what {
            RuleKind::Wall(upper, lower) if (down && upper == hole) || (!down && lower == hole) => {
                let mm = limits.wall_between_mm(&layout.holes[upper], &layout.holes[lower]);
                let other = if upper == hole { lower } else { upper };
                Some(format!("the wall of {} mm to {} stops it", plain(mm), name(other)))
            }
            RuleKind::End(last) if down && last == hole => Some("the open end stops it".to_string()),
            RuleKind::Reach(upper, lower) if (down && lower == hole) || (!down && upper == hole) => {
                let other = if upper == hole { lower } else { upper };
                Some(format!("the reach to {} stops it", name(other)))
            }
            _ => None,
        })
}

/// The same holes in another register, when they are off the other way or off less.
fn registers(layout: &Instrument, notes: &[PredictedNote], note: &PredictedNote) -> Option<String> {
    let own = open_tone_holes(layout, note.fingering);
    let register = |n: &PredictedNote| layout.fingerings[n.fingering].register;
    let other = if register(note) > 1 {
        same_holes_below(layout, notes, note)
    } else {
        notes.iter().find(|n| register(n) > 1 && open_tone_holes(layout, n.fingering) == own)
    }?;
    let (cents, other_cents) = (note.cents()?, other.cents()?);
    Some(format!(
        "It shares its holes with {}, which is {:+.1}: one place can't serve both registers, so the misfit is split. \
         Vent and bore set the twelfth ({:+.1} cents between the two).",
        layout.fingerings[other.fingering].name,
        other_cents,
        if register(note) > 1 { cents - other_cents } else { other_cents - cents },
    ))
}
