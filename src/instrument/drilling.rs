//! Which holes of a file are drilled and which only planned: read as the maker says it, written into the file with its
//! comments kept.
//!
//! Must not know steps, pitch or the terminal.

use super::bench_limits::size_to_make_mm;
use super::difference::{Difference, differences};
use super::file::parse;
use super::model::Instrument;
use super::problem::{plain, quoted};
use super::remeasured::count;
use super::save::{SaveError, as_typed, edit_in_list, editable, edited, layout_text, replace, set};
use super::section_hole::DIAMETER;
use super::spelling::{folded, nearest};

/// A hole that was drilled.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drilled {
    /// Index into [`Instrument::holes`].
    pub hole: usize,
    /// Its measured size, mm; `None` when it is as the file plans it.
    pub diameter_mm: Option<f64>,
}

/// Why holes can't be marked or a plan not taken over, in the maker's words.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum DrillingError {
    /// A name that no hole has.
    #[error("--drilled {written}: the file has no hole called {}\n  {to_do}", quoted(.name))]
    Unknown {
        /// As typed.
        written: String,
        /// The unknown name.
        name: String,
        /// The nearest name, or all of them.
        to_do: String,
    },
    /// A hole that is there already.
    #[error(
        "--drilled {written}: {name} is drilled already, as the file says\n  Was it opened? Write its new diameter_mm \
         into the file and say: borescribe step \"{name} opened\". Was it only measured better? Then: borescribe step \
         --measured \"why\"."
    )]
    Already {
        /// As typed.
        written: String,
        /// The hole.
        name: String,
    },
    /// A hole that is named twice.
    #[error("--drilled {written}: {name} is named twice\n  Name it once.")]
    Twice {
        /// As typed.
        written: String,
        /// The hole.
        name: String,
    },
    /// A size that is no number.
    #[error(
        "--drilled {written}: {} is no size\n  Write the measured width in mm, with a decimal point: {name}=8.4.",
        quoted(.number)
    )]
    NoSize {
        /// As typed.
        written: String,
        /// What stands where the size should.
        number: String,
        /// The hole.
        name: String,
    },
    /// A size that no hole has.
    #[error("--drilled {written}: {limits}\n  Measure it again.")]
    Impossible {
        /// As typed.
        written: String,
        /// What is possible.
        limits: String,
    },
    /// A plan with other holes than the file.
    #[error(
        "the plan and the file on the bench have not the same holes: {hole} is only in {only_in}\n  Place the file that \
         is on the bench, or write the hole into both."
    )]
    OtherHoles {
        /// The hole.
        hole: String,
        /// Where it is.
        only_in: &'static str,
    },
}

/// Reads `h8` or `h8=8.4` for each of `words`.
///
/// # Errors
/// [`DrillingError`] for unknown names, holes that are drilled or named already, and sizes that can't be.
pub fn read_drilled(instrument: &Instrument, words: &[String]) -> Result<Vec<Drilled>, DrillingError> {
    let mut drilled: Vec<Drilled> = Vec::new();
    for word in words {
        let one = read_one(instrument, word.trim())?;
        if drilled.iter().any(|before| before.hole == one.hole) {
            let name = instrument.holes[one.hole].name.clone();
            return Err(DrillingError::Twice { written: words.join(","), name });
        }
        drilled.push(one);
    }
    Ok(drilled)
}

fn read_one(instrument: &Instrument, word: &str) -> Result<Drilled, DrillingError> {
    let written = word.to_string();
    let (name, number) =
        word.split_once('=').map_or((word, None), |(name, mm)| (name.trim(), Some(mm.trim())));
    let index = instrument.holes.iter().position(|hole| folded(&hole.name) == folded(name));
    let Some(index) = index else {
        return Err(DrillingError::Unknown {
            written,
            name: name.to_string(),
            to_do: meant(instrument, name),
        });
    };
    let name = instrument.holes[index].name.clone();
    if instrument.holes[index].drilled {
        return Err(DrillingError::Already { written, name });
    }
    let Some(number) = number else { return Ok(Drilled { hole: index, diameter_mm: None }) };
    let Ok(mm) = number.parse::<f64>() else {
        return Err(DrillingError::NoSize { written, number: number.to_string(), name });
    };
    if !DIAMETER.allow(mm) {
        return Err(DrillingError::Impossible { written, limits: DIAMETER.described() });
    }
    Ok(Drilled { hole: index, diameter_mm: Some(mm) })
}

fn meant(instrument: &Instrument, name: &str) -> String {
    if name.parse::<f64>().is_ok() {
        return "A comma parts holes. Write sizes with a decimal point: --drilled h8=8.4,h7.".to_string();
    }
    let names = || instrument.holes.iter().map(|hole| hole.name.as_str());
    match nearest(name, names()) {
        Some(meant) => format!("Did you mean {meant}?"),
        None if instrument.holes.is_empty() => "It has no holes: write a [[hole]] for it first.".to_string(),
        None => format!("It has: {}.", names().collect::<Vec<_>>().join(", ")),
    }
}

/// The text of the file of `instrument` with these holes marked as drilled, their measured sizes in it.
///
/// # Errors
/// [`SaveError::Impossible`] when the result would be refused as an instrument file.
pub fn drilled_text(text: &str, drilled: &[Drilled]) -> Result<String, SaveError> {
    edited(text, "Measure the hole again; nothing was changed.", |document| {
        for one in drilled {
            edit_in_list(document, "hole", one.hole, |table| {
                replace(table, "drilled", true.into());
                if let Some(mm) = one.diameter_mm {
                    set(table, "diameter_mm", mm);
                }
            });
        }
    })
}

/// An instrument file with every hole only planned.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BareTube {
    /// Its text.
    pub text: String,
    /// Measured widths that became sizes to make.
    pub resized: Vec<Difference>,
}

/// An instrument file with every hole only planned. A hole that was there is planned in a size that can be made, not
/// in the width that it came out with. Example marks may be left in the text; then sizes stay as they are written.
///
/// # Errors
/// [`SaveError::Impossible`] when the text is no TOML.
pub fn bare_tube(text: &str) -> Result<BareTube, SaveError> {
    let mut document = editable(text, "Check the original file.")?;
    for hole in 0..count(&document, "hole") {
        edit_in_list(&mut document, "hole", hole, |table| {
            replace(table, "drilled", false.into());
            // Nobody has measured a hole that isn't there.
            table.remove("measured_again");
        });
    }
    let bare = as_typed(document.to_string(), text);
    let Ok(measured) = parse(text) else { return Ok(BareTube { text: bare, resized: Vec::new() }) };
    let mut planned = measured.clone();
    for hole in planned.holes.iter_mut().filter(|hole| hole.drilled) {
        hole.diameter_mm = size_to_make_mm(&measured, hole);
    }
    let text = layout_text(&bare, &measured, &planned)?;
    Ok(BareTube { text, resized: differences(&measured, &planned) })
}

/// The text of the file of `current` with the holes that it only plans where `plan` has them, and the cents of the
/// fingerings that `plan` has. Tube, mouthpiece and drilled holes stay as they are measured.
///
/// # Errors
/// [`SaveError::Impossible`] when the result would be refused as an instrument file.
pub fn replanned_text(text: &str, current: &Instrument, plan: &Instrument) -> Result<String, SaveError> {
    let mut after = current.clone();
    for hole in after.holes.iter_mut().filter(|hole| !hole.drilled) {
        if let Some(planned) = plan.holes.iter().find(|planned| planned.name == hole.name) {
            hole.at_mm = planned.at_mm;
            hole.diameter_mm = planned.diameter_mm;
            hole.chimney_mm = planned.chimney_mm;
            hole.undercut_mm = planned.undercut_mm;
            hole.angle_deg = planned.angle_deg;
            hole.pad = planned.pad.or(hole.pad);
        }
    }
    for fingering in &mut after.fingerings {
        if let Some(planned) = plan.fingerings.iter().find(|planned| planned.name == fingering.name) {
            fingering.cents = planned.cents;
        }
    }
    layout_text(text, current, &after)
}

/// Whether `plan` has the holes of `current`, by name.
///
/// # Errors
/// [`DrillingError::OtherHoles`] when it has not.
pub fn same_holes(current: &Instrument, plan: &Instrument) -> Result<(), DrillingError> {
    for (these, those, only_in) in [(current, plan, "the file on the bench"), (plan, current, "the plan")] {
        let alone = these.holes.iter().find(|hole| !those.holes.iter().any(|other| other.name == hole.name));
        if let Some(hole) = alone {
            return Err(DrillingError::OtherHoles { hole: hole.name.clone(), only_in });
        }
    }
    Ok(())
}

/// Names of the holes that are only planned, from the open end up; vents last, they are drilled when the rest is in tune.
#[must_use]
pub fn planned_from_the_end(instrument: &Instrument) -> Vec<&str> {
    let mut planned: Vec<_> = instrument.holes.iter().filter(|hole| !hole.drilled).collect();
    planned.sort_by(|a, b| a.vent.cmp(&b.vent).then(b.at_mm.total_cmp(&a.at_mm)));
    planned.into_iter().map(|hole| hole.name.as_str()).collect()
}

/// The tone hole that is to be drilled next: of those that are only planned and that a note waits for, the one nearest to
/// the open end.
#[must_use]
pub fn next_to_drill(instrument: &Instrument) -> Option<&str> {
    let waits = |name: &&str| {
        let hole = instrument.holes.iter().position(|hole| hole.name == *name && !hole.vent);
        hole.is_some_and(|hole| instrument.fingerings.iter().any(|fingering| fingering.open.contains(&hole)))
    };
    planned_from_the_end(instrument).into_iter().find(waits)
}

/// Whether any hole besides vents is drilled: else it is a plain tube so far.
#[must_use]
pub fn has_tone_holes(instrument: &Instrument) -> bool {
    instrument.holes.iter().any(|hole| hole.drilled && !hole.vent)
}

/// What is to be said of holes that were marked without a size: the file's numbers count for them.
#[must_use]
pub fn taken_as_planned(instrument: &Instrument, drilled: &[Drilled]) -> Option<String> {
    let unmeasured = drilled.iter().filter(|one| one.diameter_mm.is_none());
    let sizes: Vec<String> = unmeasured
        .filter_map(|one| instrument.holes.get(one.hole))
        .map(|hole| format!("{} {} mm", hole.name, plain(hole.diameter_mm)))
        .collect();
    (!sizes.is_empty()).then(|| {
        format!(
            "Taken as wide as planned: {}. Measure each, and its place; what is otherwise, write into instrument.toml \
             before you record.",
            sizes.join(", ")
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLAN: &str = "format = 1\n[instrument]\nname = \"Tube\"\nprototype = \"P1\"\ndrive = \"reed\"\n[mouthpiece]\nchamber_ml = 12.5 # water\n\
        [[bore]]\nat_mm = 0\ndiameter_mm = 20.0\n[[bore]]\nat_mm = 1180.0\ndiameter_mm = 20.0\n\
        [[hole]]\nname = \"h1\"\nat_mm = 1040.0\ndiameter_mm = 12.0 # last drill\nchimney_mm = 3.0\ndrilled = false # only planned\n\
        [[hole]]\nname = \"h2\"\nat_mm = 900.0\ndiameter_mm = 11.0\nchimney_mm = 3.0\nmeasured_again = true\n";

    #[test]
    fn only_the_marked_hole_changes_and_comments_stay() {
        let instrument = parse(PLAN).unwrap();
        let drilled = read_drilled(&instrument, &["H1=11.4".to_string()]).unwrap();
        let wanted = PLAN
            .replace("12.0 # last", "11.4 # last")
            .replace("drilled = false # only", "drilled = true # only");
        assert_eq!(drilled_text(PLAN, &drilled).unwrap(), wanted);
        assert_eq!(taken_as_planned(&instrument, &drilled), None);
    }

    #[test]
    fn a_bare_tube_has_every_hole_planned_and_none_measured() {
        let bare = bare_tube(PLAN).unwrap().text;
        assert_eq!(bare, PLAN.replace("measured_again = true", "drilled = false"));
        let bare = parse(&bare).unwrap();
        assert_eq!(planned_from_the_end(&bare), ["h1", "h2"]);
        assert_eq!(next_to_drill(&bare), None, "no note waits for them");
    }

    #[test]
    fn a_measured_width_is_planned_as_the_nearest_drill_or_a_tenth_and_a_planned_one_stays() {
        let measured =
            PLAN.replace("diameter_mm = 11.0", "diameter_mm = 10.93").replace("12.0 # last", "12.04 # last");
        let resized = |text: &str| {
            let bare = bare_tube(text).unwrap();
            let told: Vec<String> = bare.resized.iter().map(ToString::to_string).collect();
            assert_eq!(bare_tube(&bare.text).unwrap(), BareTube { text: bare.text, resized: Vec::new() });
            told
        };
        assert_eq!(resized(&measured), ["h2 diameter 10.93 mm → 10.9 mm"]);
        let with_drills = |drills: &str| format!("{measured}[workshop]\ndrills_mm = [{drills}]\n");
        assert_eq!(resized(&with_drills("10.5, 11.0")), ["h2 diameter 10.93 mm → 11 mm"]);
        assert_eq!(resized(&with_drills("10.5, 11.5")), ["h2 diameter 10.93 mm → 10.9 mm"]);
        // No wider than what its pad covers.
        let pad = "pad_diameter_mm = 10.95\npad_lift_mm = 4\nmeasured_again";
        let covered = with_drills("10.5, 11.0").replace("measured_again", pad);
        assert_eq!(resized(&covered), ["h2 diameter 10.93 mm → 10.9 mm"]);
    }

    #[test]
    fn a_new_plan_moves_only_what_is_planned() {
        let current = parse(PLAN).unwrap();
        let mut plan = current.clone();
        plan.holes.iter_mut().for_each(|hole| hole.at_mm -= 5.0);
        plan.bore[1].at_mm = 1100.0;
        let text = replanned_text(PLAN, &current, &plan).unwrap();
        assert_eq!(text, PLAN.replace("1040.0", "1035.0"));
        plan.holes.pop();
        assert!(same_holes(&current, &plan).unwrap_err().to_string().contains("h2 is only in the file"));
    }
}
