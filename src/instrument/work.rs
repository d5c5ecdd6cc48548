//! What a change is at the bench: what kind of work, and whether it can be done at all.
//!
//! Must not know pitch, files or the terminal.

use super::advice::{Warning, geometry_warnings};
use super::alter::{Altered, Step};
use super::change::{HoleMeasure, Target};
use super::column::LeakPlace;
use super::model::{Hole, Instrument};
use super::problem::plain;

/// Work that wants a caution.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Work {
    /// Drilling, filing, sawing.
    Cutting,
    /// Wax, epoxy, glue.
    Filling,
}

/// The kind of work that a step takes; `None` for pads, air, reeds and leaks.
#[must_use]
pub fn work_of(step: &Step) -> Option<Work> {
    let grows = step.to > step.from;
    match step.target {
        _ if step.to == step.from => None,
        Target::Hole(_, HoleMeasure::Diameter | HoleMeasure::Undercut) => {
            Some(if grows { Work::Cutting } else { Work::Filling })
        }
        Target::Hole(_, HoleMeasure::Chimney) => (!grows).then_some(Work::Cutting),
        Target::Hole(_, HoleMeasure::At) => Some(Work::Cutting),
        Target::EndTrim | Target::TopTrim => grows.then_some(Work::Cutting),
        Target::Hole(_, HoleMeasure::Lift | HoleMeasure::Pad)
        | Target::MouthpieceOut
        | Target::Chamber
        | Target::Reed
        | Target::Embouchure
        | Target::Temperature
        | Target::Leak(_) => None,
    }
}

/// What a step does, in the maker's words: `h2: diameter from 11 to 11.5 mm`.
#[must_use]
pub fn described(instrument: &Instrument, step: &Step) -> String {
    let (from, to) = (plain(hundredth(step.from)), plain(hundredth(step.to)));
    let trimmed = |where_: &str| match step.to {
        mm if mm < 0.0 => format!("{where_}: {} mm added", plain(hundredth(-mm))),
        _ => format!("{where_}: {to} mm taken off"),
    };
    match step.target {
        Target::Hole(index, measure) => {
            let name = instrument.holes.get(index).map_or("?", |hole| hole.name.as_str());
            if step.pad_taken_off().is_some() {
                return format!("{name}: pad taken off");
            }
            let what = match measure {
                HoleMeasure::At => "place",
                HoleMeasure::Diameter => "diameter",
                HoleMeasure::Chimney => "chimney",
                HoleMeasure::Lift => "pad lift",
                HoleMeasure::Pad => "pad",
                HoleMeasure::Undercut => "undercut",
            };
            format!("{name}: {what} from {from} to {to} mm")
        }
        Target::EndTrim => trimmed("open end"),
        Target::TopTrim => trimmed("top"),
        Target::MouthpieceOut => match step.to {
            mm if mm < 0.0 => format!("mouthpiece: pushed in by {} mm", plain(hundredth(-mm))),
            0.0 => "mouthpiece: stays where it is".to_string(),
            _ => format!("mouthpiece: pulled out by {to} mm"),
        },
        Target::Chamber => format!("mouthpiece: chamber from {from} to {to} ml"),
        Target::Reed => format!("mouthpiece: reed's give from {from} to {to} ml"),
        Target::Embouchure => format!("embouchure: counts as {to} mm of bore, not {from} mm"),
        Target::Temperature => format!("air inside: from {from} to {to} °C"),
        Target::Leak(place) => {
            let name = match place {
                LeakPlace::Hole(index) => instrument.holes.get(index).map(|hole| &hole.name),
                LeakPlace::Site(index) => instrument.leak_sites.get(index).map(|site| &site.name),
            };
            let name = name.map_or("?", String::as_str);
            if step.to == 0.0 {
                format!("{name}: tight")
            } else {
                format!("{name}: leaks like a hole of {to} mm")
            }
        }
    }
}

fn hundredth(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

/// What can't be done at the bench, or leaves something that can't work. What was so before the change is
/// not told again.
#[must_use]
pub fn warnings(before: &Altered, after: &Altered, steps: &[Step]) -> Vec<Warning> {
    let mut warnings = Vec::new();
    for (index, (was, is)) in before.instrument.holes.iter().zip(&after.instrument.holes).enumerate() {
        let moved = steps.iter().any(|step| step.target == Target::Hole(index, HoleMeasure::At));
        if was.drilled {
            warn_of_drilled_hole(was, is, moved && was.at_mm != is.at_mm, &mut warnings);
        }
        warn_of_drill(&after.instrument, was, is, &mut warnings);
    }
    let known = geometry_warnings(&before.instrument);
    warnings.extend(geometry_warnings(&after.instrument).into_iter().filter(|new| !known.contains(new)));
    warnings.extend(steps.iter().filter_map(|step| warning_of(&after.instrument, step)));
    warnings
}

/// What a step leaves behind, whatever the measures.
fn warning_of(instrument: &Instrument, step: &Step) -> Option<Warning> {
    let (code, text) = match step.target {
        Target::EndTrim if step.to < 0.0 => (
            "end-added",
            "The open end can only be lengthened with a ring of the same bore, flush inside; a gap or ridge \
             there changes the lowest note."
                .to_string(),
        ),
        Target::TopTrim if step.to < 0.0 => ("top-added", groove("as wide as the pull")),
        Target::MouthpieceOut if step.to > 0.0 => {
            ("mouthpiece-out", groove(&format!("{} mm wide", plain(hundredth(step.to)))))
        }
        Target::MouthpieceOut if step.to < 0.0 => (
            "mouthpiece-in",
            format!(
                "The mouthpiece goes in by {} mm only where it stands out by that much now, or its socket is deeper.",
                plain(hundredth(-step.to))
            ),
        ),
        _ => {
            let name = &instrument.holes.get(step.pad_taken_off()?)?.name;
            let text = format!(
                "{name}: without its pad nothing closes the hole. For notes that need it closed, put a finger or a cork \
                 on it."
            );
            ("pad-off", text)
        }
    };
    Some(Warning { code, text })
}

/// What a pulled mouthpiece leaves. `size`: how wide the groove is.
fn groove(size: &str) -> String {
    format!(
        "Pulling the mouthpiece out leaves a groove {size}. Fill it with a ring of the same bore, or the notes will \
         not go together as shown here."
    )
}

/// Material that would have to be put back.
fn warn_of_drilled_hole(was: &Hole, is: &Hole, moved: bool, warnings: &mut Vec<Warning>) {
    let name = &was.name;
    if is.diameter_mm < was.diameter_mm {
        warnings.push(Warning {
            code: "drill-smaller",
            text: format!(
                "{name}: no drill makes a hole smaller. To go from {} to {} mm, {}.",
                plain(was.diameter_mm),
                plain(is.diameter_mm),
                if was.vent {
                    "glue a thinner tube into it"
                } else {
                    "fill its upper edge with a wax crescent, then epoxy, or glue a sleeve in"
                }
            ),
        });
    }
    if is.undercut_mm < was.undercut_mm {
        warnings.push(Warning {
            code: "undercut-smaller",
            text: format!("{name}: an undercut can't be put back; fill it with wax or epoxy from inside."),
        });
    }
    if moved {
        let way = if is.at_mm < was.at_mm { "nearer the mouthpiece" } else { "nearer the open end" };
        warnings.push(Warning {
            code: "already-drilled",
            text: format!(
                "{name} is drilled at {} mm. On this body it would have to be filled and drilled anew; keep {} mm \
                 ({way}) for the next body.",
                plain(was.at_mm),
                plain(is.at_mm)
            ),
        });
    }
}

/// A diameter that none of the maker's drills leaves.
fn warn_of_drill(instrument: &Instrument, was: &Hole, is: &Hole, warnings: &mut Vec<Warning>) {
    let drills = &instrument.workshop.drills_mm;
    // Drills cut a twentieth off their mark either way at best (common practice, no source).
    let at_hand = drills.iter().any(|drill| (drill - is.diameter_mm).abs() < 0.05);
    let drilled = is.diameter_mm > was.diameter_mm || (!is.drilled && is.diameter_mm != was.diameter_mm);
    if !drilled || at_hand || drills.is_empty() {
        return;
    }
    let below = drills.iter().copied().filter(|drill| *drill < is.diameter_mm).fold(None, larger);
    let start = match below.filter(|drill| *drill > was.diameter_mm || !is.drilled) {
        Some(drill) => format!("Drill to {} mm and go on with", plain(hundredth(drill))),
        None => "Use".to_string(),
    };
    warnings.push(Warning {
        code: "no-such-drill",
        text: format!(
            "{}: you have no drill of {} mm. {start} a round file or reamer.",
            is.name,
            plain(is.diameter_mm)
        ),
    });
}

fn larger(so_far: Option<f64>, drill: f64) -> Option<f64> {
    Some(so_far.map_or(drill, |known: f64| known.max(drill)))
}
