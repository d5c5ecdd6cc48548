//! Something that can be undone and does what a cut would do, or the opposite: a trial at the bench before
//! the cut, with the cents to expect.
//!
//! The trials are common practice, no source. Must not know recordings or findings.

use super::alter::{Altered, Step};
use super::change::{HoleMeasure, Target};
use super::column::column;
use super::problem::plain;
use super::trial::Trial;
use crate::acoustics::resonance::follow;
use crate::units::cents_between;

/// A reversible trial for each change that has one.
#[must_use]
pub fn stand_ins(trial: &Trial) -> Vec<String> {
    trial.steps.iter().filter_map(|step| stand_in(trial, step)).collect()
}

fn stand_in(trial: &Trial, step: &Step) -> Option<String> {
    let by = step.to - step.from;
    let size = size_mm(by);
    match step.target {
        _ if by == 0.0 => None,
        Target::Hole(index, measure) => hole_stand_in(trial, step, index, measure),
        Target::TopTrim => {
            let (note, fingering) = lowest_note(trial)?;
            let cents = change_cents(&trial.before, &trial.before.after(step, 1.0), trial, fingering)?;
            let way = if by > 0.0 {
                format!("Push the mouthpiece in by {size} mm, or put a shorter barrel on")
            } else {
                format!("Pull the mouthpiece out by {size} mm, with a paper ring of the same bore in the gap")
            };
            Some(format!("{way}: {note} should {}, and shorter notes more.", rise_or_fall(cents)))
        }
        Target::EndTrim => {
            let (note, fingering) = lowest_note(trial)?;
            let longer = Step { from: 0.0, to: -by.abs(), ..step.clone() };
            let cents = change_cents(&trial.before, &trial.before.after(&longer, 1.0), trial, fingering)?;
            let collar = collar_on_end(&size, &note, cents);
            Some(if by > 0.0 { format!("{collar} The cut does the opposite.") } else { collar })
        }
        Target::Leak(_) if by < 0.0 => Some(
            "Wrap stretch film round the place, or press wax on it: the notes that it spoils should come back."
                .to_string(),
        ),
        // What can be undone needs no trial before it.
        Target::MouthpieceOut
        | Target::Leak(_)
        | Target::Chamber
        | Target::Reed
        | Target::Embouchure
        | Target::Temperature => None,
    }
}

fn hole_stand_in(trial: &Trial, step: &Step, index: usize, measure: HoleMeasure) -> Option<String> {
    let by = step.to - step.from;
    let size = size_mm(by);
    let hole = trial.before.instrument.holes.get(index).filter(|hole| hole.drilled)?;
    let name = &hole.name;
    if hole.vent {
        return (measure == HoleMeasure::Diameter && by < 0.0).then(|| {
            format!("Stand a wire or drill shank in {name}: it acts smaller, and comes out again.")
        });
    }
    let (note, fingering) = own_note(trial, index)?;
    let mut bare = trial.before.clone();
    if let Some(open) = bare.instrument.holes.get_mut(index) {
        open.pad = None;
    }
    match measure {
        HoleMeasure::Diameter if by > 0.0 => {
            hole.pad?;
            let cents = change_cents(&trial.before, &bare, trial, fingering)?;
            Some(pad_off(name, &note, cents))
        }
        HoleMeasure::Diameter => Some(tape_on_rim(name, &note)),
        HoleMeasure::Chimney if by > 0.0 => {
            let mut ringed = bare.clone();
            if let Some(open) = ringed.instrument.holes.get_mut(index) {
                open.chimney_mm += by;
            }
            let cents = change_cents(&bare, &ringed, trial, fingering)?;
            Some(format!(
                "Take the key off and lay a paper ring or O-ring {size} mm thick on the rim of {name}: {note} should {} \
                 beside no key and no ring.",
                rise_or_fall(cents)
            ))
        }
        HoleMeasure::Lift if by < 0.0 => {
            let lowered = trial.before.after(step, 1.0);
            let cents = change_cents(&trial.before, &lowered, trial, fingering)?;
            Some(format!(
                "Wedge cork under the touch so that the pad of {name} opens {size} mm less: {note} should {}.",
                rise_or_fall(cents)
            ))
        }
        HoleMeasure::Chimney
        | HoleMeasure::Lift
        | HoleMeasure::At
        | HoleMeasure::Pad
        | HoleMeasure::Undercut => None,
    }
}

/// Before the open end is cut or lengthened: a collar `size` mm longer, which moves `note` by `cents`.
#[must_use]
pub fn collar_on_end(size: &str, note: &str, cents: f64) -> String {
    format!(
        "Slip a paper collar over the open end that makes it {size} mm longer: {note} should {}.",
        rise_or_fall(cents)
    )
}

/// Before the hole `name` is opened: its pad taken off, which raises `note` by `cents`.
#[must_use]
pub fn pad_off(name: &str, note: &str, cents: f64) -> String {
    format!(
        "Nothing raises a note for a trial but the pad: take the pad of {name} off, and {note} should {}. If it does \
         not, the drill is not the cure.",
        rise_or_fall(cents)
    )
}

/// Before the edge of the hole `name` is filled.
#[must_use]
pub fn tape_on_rim(name: &str, note: &str) -> String {
    format!("Stick tape over the top quarter of the rim of {name}: {note} should fall by several cents.")
}

/// The lowest first-register note whose uppermost open hole is this one.
fn own_note(trial: &Trial, hole: usize) -> Option<(String, usize)> {
    lowest_of(trial, |fingering| trial.before.instrument.first_open_hole(fingering) == Some(hole))
}

fn lowest_note(trial: &Trial) -> Option<(String, usize)> {
    lowest_of(trial, |_| true)
}

fn lowest_of(trial: &Trial, wanted: impl Fn(usize) -> bool) -> Option<(String, usize)> {
    let fingering_of = |index: usize| trial.before.instrument.fingerings.get(index);
    trial
        .notes
        .iter()
        .filter(|note| fingering_of(note.fingering).is_some_and(|fingering| fingering.register == 1))
        .filter(|note| wanted(note.fingering))
        .min_by(|a, b| a.target_hz.total_cmp(&b.target_hz))
        .and_then(|note| Some((fingering_of(note.fingering)?.name.clone(), note.fingering)))
}

/// By how much one note rises between two states that differ little.
fn change_cents(before: &Altered, after: &Altered, trial: &Trial, fingering: usize) -> Option<f64> {
    let hz = |altered: &Altered, from_hz: f64| {
        let open: &[usize] = &altered.instrument.fingerings.get(fingering)?.open;
        follow(&column(&altered.instrument, open, &altered.leaks), from_hz)
    };
    let known_hz = trial.notes.iter().find(|note| note.fingering == fingering)?.wanted.before_hz?;
    let before_hz = hz(before, known_hz)?;
    Some(cents_between(hz(after, before_hz)?, before_hz))
}

fn size_mm(by: f64) -> String {
    plain((by.abs() * 100.0).round() / 100.0)
}

fn rise_or_fall(cents: f64) -> String {
    let word = if cents < 0.0 { "fall" } else { "rise" };
    let amount = cents.abs();
    if amount < 0.05 { "hardly move".to_string() } else { format!("{word} {amount:.1} cents") }
}
