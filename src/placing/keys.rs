//! The keys in the maker's box, given to the holes that they serve, and what they then set: pads, sizes, reach.
//!
//! A hole that a fingertip closes, and one that is kept, gets none; a vent key serves vents only, and no vent gets a tone
//! key. Must not know how a layout is solved, nor files.

use super::error::PlaceError;
use super::first_guess::first_guess;
use super::key_match::{Matching, served_mm, span, the_key, with_key};
use super::limits::{HeldByKey, Limits, check};
use crate::instrument::advice::Warning;
use crate::instrument::bench_limits::{PAD_OVERLAP_MM, covered_mm};
use crate::instrument::model::Instrument;
use crate::instrument::problem::plain;

/// Smaller pads move the holes, and these may then want other keys: so often at most.
const ROUNDS: usize = 4;
/// A hole may leave the reach by this much, mm: places are told to a hundredth.
const ROUNDED_MM: f64 = 0.01;

/// Which key of the box goes where; all empty for a file without keys.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct KeyPlan {
    /// Holes with their keys, in the file's order of holes.
    pub uses: Vec<KeyUse>,
    /// Holes that a key should close, and none does.
    pub without: Vec<NoKey>,
    /// Keys (indices into [`Instrument::keys`]) that no hole takes, and how many of each.
    pub left: Vec<(usize, usize)>,
}

/// A hole and its key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct KeyUse {
    /// Index into [`Instrument::holes`].
    pub hole: usize,
    /// Index into [`Instrument::keys`].
    pub key: usize,
}

/// A hole without a key.
#[derive(Debug, Clone, PartialEq)]
pub struct NoKey {
    /// Index into [`Instrument::holes`].
    pub hole: usize,
    /// Why none of the box serves it, in the maker's words.
    pub why: String,
}

impl KeyPlan {
    /// The key of a hole, an index into [`Instrument::keys`].
    #[must_use]
    pub fn key_of(&self, hole: usize) -> Option<usize> {
        self.uses.iter().find(|one| one.hole == hole).map(|one| one.key)
    }
}

/// An instrument whose holes have their keys' pads, and limits that keep them to what the keys allow.
pub(super) struct Fitted {
    pub(super) instrument: Instrument,
    pub(super) limits: Limits,
    pub(super) plan: KeyPlan,
}

/// Chooses a key for every hole that needs one. Without keys in the file all stays as it is.
///
/// # Errors
/// [`PlaceError`] for limits that nothing can meet.
pub(super) fn fitted(instrument: &Instrument, limits: &Limits) -> Result<Fitted, PlaceError> {
    let mut found =
        Fitted { instrument: instrument.clone(), limits: limits.clone(), plan: KeyPlan::default() };
    if instrument.keys.is_empty() {
        return Ok(found);
    }
    check(instrument, limits)?;
    let wished = limits.sized(instrument);
    let mut layout = first_guess(&wished, limits)?;
    for _ in 0..ROUNDS {
        let next = with_keys(&Matching::new(&layout, &wished, limits), &wished, limits);
        let is_stable = next.plan.uses == found.plan.uses;
        found = next;
        if is_stable {
            break;
        }
        // Sizes that no place can make up for: the keys stay as they are, and what is not met is told.
        let Ok(moved) = first_guess(&found.instrument, limits) else { break };
        layout = moved;
    }
    Ok(found)
}

fn with_keys(matching: &Matching<'_>, wished: &Instrument, limits: &Limits) -> Fitted {
    let needs_key = |hole: usize| limits.may_move(hole) && !wished.holes[hole].finger;
    let chosen = matching.cheapest();
    let mut instrument = wished.clone();
    let (mut uses, mut held, mut bare) = (Vec::new(), Vec::new(), Vec::new());
    for (index, hole) in instrument.holes.iter_mut().enumerate() {
        let Some(key) = chosen[index] else {
            bare.extend(needs_key(index).then_some(index));
            continue;
        };
        let of = &wished.keys[key];
        *hole = with_key(hole, of);
        hole.diameter_mm = matching.size_under(index, key).unwrap_or(hole.diameter_mm);
        uses.push(KeyUse { hole: index, key });
        held.push(HeldByKey {
            hole: index,
            key: the_key(of),
            from_mm: of.from_mm.map(|mm| (mm / ROUNDED_MM).ceil() * ROUNDED_MM),
            to_mm: of.to_mm.map(|mm| (mm / ROUNDED_MM).floor() * ROUNDED_MM),
        });
    }
    let used = |key: usize| uses.iter().filter(|one: &&KeyUse| one.key == key).count();
    let counts = wished.keys.iter().enumerate().map(|(index, key)| (index, key.count - used(index)));
    let left: Vec<(usize, usize)> = counts.filter(|(_, count)| *count > 0).collect();
    let kinds: Vec<usize> = left.iter().map(|(key, _)| *key).collect();
    let without = bare.into_iter().map(|hole| NoKey { hole, why: matching.why_none(hole, &kinds) }).collect();
    let limits = Limits { keys: held, ..limits.clone() };
    Fitted { instrument, limits, plan: KeyPlan { uses, without, left } }
}

/// What the keys leave unmet: holes without one, sizes that they hold back, lifts that are not known.
pub(super) fn warnings(before: &Instrument, layout: &Instrument, plan: &KeyPlan) -> Vec<Warning> {
    let mut found: Vec<Warning> = plan.without.iter().map(|none| no_key(before, layout, none)).collect();
    found.extend(held_back(before, layout, plan));
    for one in &plan.uses {
        let (hole, key) = (&layout.holes[one.hole], &before.keys[one.key]);
        let above = key.from_mm.is_some_and(|mm| hole.at_mm < mm - 2.0 * ROUNDED_MM);
        let below = key.to_mm.is_some_and(|mm| hole.at_mm > mm + 2.0 * ROUNDED_MM);
        if above || below {
            found.push(Warning {
                code: "out-of-reach",
                text: format!(
                    "{} comes to lie at {:.1} mm, and {} reaches {}. Take another key for it, or another tube.",
                    hole.name,
                    hole.at_mm,
                    the_key(key),
                    span(key)
                ),
            });
        }
    }
    let unknown: Vec<String> = plan
        .uses
        .iter()
        .filter(|one| before.keys[one.key].lift_mm.is_none() && before.holes[one.hole].pad.is_none())
        .filter_map(|one| Some((&layout.holes[one.hole].name, layout.holes[one.hole].pad?.lift_mm)))
        .map(|(name, mm)| format!("{name} {mm:.1} mm"))
        .collect();
    if !unknown.is_empty() {
        found.push(Warning {
            code: "lift-not-known",
            text: format!(
                "How far these keys open is not in the file; it is computed with: {}. Measure it and write lift_mm under \
                 [[key]]: a pad that opens less makes its note flat.",
                unknown.join(", ")
            ),
        });
    }
    found
}

fn no_key(before: &Instrument, layout: &Instrument, none: &NoKey) -> Warning {
    let hole = &layout.holes[none.hole];
    let pad_mm = hole.diameter_mm + 2.0 * (hole.rim_mm + PAD_OVERLAP_MM);
    let closed = if before.holes[none.hole].pad.is_some() {
        "with the pad that the file gives"
    } else {
        "as closed by a flat lid"
    };
    Warning {
        code: "no-key",
        text: format!(
            "{} has no key: {}. It needs a pad of {pad_mm:.1} mm or more at {:.0} mm; until there is one it is computed \
             {closed}.",
            hole.name, none.why, hole.at_mm
        ),
    }
}

/// The sizes that the maker wished and the keys do not serve.
fn held_back(before: &Instrument, layout: &Instrument, plan: &KeyPlan) -> Option<Warning> {
    let tenths = |mm: f64| plain((mm * 10.0).round() / 10.0);
    let told = |one: &KeyUse| {
        let (hole, key) = (&layout.holes[one.hole], &before.keys[one.key]);
        let (wished_mm, most_mm) = (before.holes[one.hole].diameter_mm, served_mm(hole));
        if wished_mm <= most_mm + 1e-9 || hole.diameter_mm >= wished_mm {
            return None;
        }
        let pad = hole.pad?;
        let why = match covered_mm(hole) {
            Some(covered_mm) if covered_mm > most_mm + 1e-9 => format!("opens {} mm", tenths(pad.lift_mm)),
            _ => format!("has a pad of {} mm", tenths(pad.diameter_mm)),
        };
        let (wished, most) = (tenths(wished_mm), tenths(most_mm));
        Some(format!("{} {wished} mm, but {} {why} and serves {most} mm at most", hole.name, the_key(key)))
    };
    let list: Vec<String> = plan.uses.iter().filter_map(told).collect();
    (!list.is_empty()).then(|| Warning {
        code: "key-holds-size",
        text: format!("Sizes of the file that its keys don't allow: {}.", list.join("; ")),
    })
}
