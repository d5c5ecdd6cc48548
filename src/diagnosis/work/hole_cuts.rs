//! What can be done to one hole: raise its pad, open it, fill its edge, or move it on the next body. Between the last
//! two comes its chimney, `chimney_cuts`.
//!
//! Must not know the order of work, causes, files or the terminal.

use crate::diagnosis::beliefs::work::{
    CUT_PRICE_MINUTES, FIRST_FILL_SHARE, LEAST_FILED_MM, LEAST_SHARE, STAY_FLAT_CENTS,
};
use crate::diagnosis::beliefs::{FILL_MINUTES, MATERIAL_CENTS, MEASURE_MINUTES};
use crate::diagnosis::words::trimmed;
use crate::diagnosis::work::cuts::{Cut, CutKind, Plan, round_to};
use crate::diagnosis::work::drills::drill_between;
use crate::instrument::bench_limits::{LEAST_LIFT_SHARE, covered_mm, widest_in_bore_mm};
use crate::instrument::model::{Hole, Instrument};
use crate::instrument::stand_in::{pad_off, tape_on_rim};

/// The widest that a hole may become, mm, and what bounds it.
fn widest_mm(instrument: &Instrument, hole: &Hole) -> (f64, &'static str) {
    let mut widest =
        (widest_in_bore_mm(instrument, hole), "nine tenths of the bore is as far as a hole may go");
    if let Some(covered) = covered_mm(hole).filter(|covered| *covered < widest.0) {
        widest = (covered, "the pad covers no more");
    }
    for other in instrument.holes.iter().filter(|other| other.name != hole.name) {
        let room = 2.0 * ((other.at_mm - hole.at_mm).abs() - 0.5 * other.diameter_mm - hole.rim_mm);
        if room < widest.0 && room > 0.0 {
            widest = (room, "the next hole is too near");
        }
    }
    widest
}

impl Plan {
    pub(in crate::diagnosis) fn hole_cut(&mut self, fingering: usize, hole: usize, off: f64) -> Option<Cut> {
        if off > 0.0 {
            return self.shrink(fingering, hole, off);
        }
        if let Some(cut) = self.raise_pad(fingering, hole, off) {
            return Some(cut);
        }
        self.enlarge(fingering, hole, off)
    }

    /// Raises a pad that hangs low over the hole of a flat note.
    pub(in crate::diagnosis) fn raise_pad(&mut self, fingering: usize, hole: usize, off: f64) -> Option<Cut> {
        let pad = self.instrument.holes[hole].pad.filter(|_| off < 0.0)?;
        let wanted = -off - STAY_FLAT_CENTS;
        let diameter_mm = self.instrument.holes[hole].diameter_mm;
        if pad.lift_mm >= LEAST_LIFT_SHARE * diameter_mm {
            return None;
        }
        let name = self.instrument.holes[hole].name.clone();
        let lifted = move |lift_mm: f64| {
            move |changed: &mut Instrument| {
                if let Some(pad) = changed.holes[hole].pad.as_mut() {
                    pad.lift_mm = lift_mm;
                }
            }
        };
        let highest = 0.5 * diameter_mm;
        let lift_mm =
            round_to(Self::solve(pad.lift_mm, highest, wanted, |mm| self.gain(fingering, lifted(mm))), 0.1)
                .max(round_to(LEAST_LIFT_SHARE * diameter_mm, 0.1));
        self.serving(pad.lift_mm, lift_mm, MEASURE_MINUTES, lifted)?;
        let gain = self.gain(fingering, lifted(lift_mm)).filter(|gain| *gain >= MATERIAL_CENTS)?;
        let told = self.told_off(off);
        let change = format!("{name}.lift={lift_mm:.1}");
        let effects = self.carry_out(&change);
        let note = self.instrument.fingerings[fingering].name.clone();
        Some(Cut {
            place: Some(name.clone()),
            kind: CutKind::RaisePad,
            fingering,
            change: change.clone(),
            full: change,
            tool: "thinner cork or felt under the key; a drill shank as gauge".to_string(),
            undo: true,
            stand_in: None,
            effects,
            text: format!(
                "{note} is {}. Raise the pad of {name} from {:.1} to {lift_mm:.1} mm first: {gain:+.0} cents. A shaded \
                 hole must not be cured with a drill.",
                told, pad.lift_mm
            ),
        })
    }

    fn enlarge(&mut self, fingering: usize, hole: usize, off: f64) -> Option<Cut> {
        let wanted = -off - STAY_FLAT_CENTS;
        let before = self.instrument.holes[hole].clone();
        let sized = move |mm: f64| move |changed: &mut Instrument| changed.holes[hole].diameter_mm = mm;
        let (widest, why) = widest_mm(&self.instrument, &before);
        let diameter_mm = before.diameter_mm;
        let reachable =
            if widest > diameter_mm { self.gain(fingering, sized(widest)).unwrap_or(0.0) } else { 0.0 };
        if reachable < LEAST_SHARE * wanted {
            if let Some(shortened) = self.shorten_chimney(fingering, hole, off, wanted, LEAST_SHARE, why) {
                return Some(shortened);
            }
            if reachable < MATERIAL_CENTS {
                return self.move_up(fingering, hole, off, why);
            }
        }
        let own_mm = Self::solve(diameter_mm, widest, wanted, |mm| self.gain(fingering, sized(mm)));
        let wanted_mm = self.serving(diameter_mm, own_mm, CUT_PRICE_MINUTES, sized)?;
        let full = drill_between(&self.instrument.workshop.drills_mm, diameter_mm, wanted_mm);
        let full_gain = self.gain(fingering, sized(full.mm()))?;
        let first_gain = self.first_gain(fingering, off, full_gain);
        let safe_mm = Self::solve(diameter_mm, full.mm(), first_gain, |mm| self.gain(fingering, sized(mm)));
        let first = drill_between(&self.instrument.workshop.drills_mm, diameter_mm, safe_mm);
        // No tool leaves a smaller hole than there is, and what a drill errs by is no step of its own.
        let first =
            if first.mm() > diameter_mm && first.mm() < full.mm() - LEAST_FILED_MM { first } else { full };
        let first_gain = self.gain(fingering, sized(first.mm()))?;
        let bare_gain =
            before.pad.and_then(|_| self.gain(fingering, move |changed| changed.holes[hole].pad = None));
        let told = self.told_off(off);
        let name = before.name;
        let is_doubtful = self.doubtful_holes.contains(&hole);
        let change_to = |mm: f64| match is_doubtful {
            true => format!("{name}.diameter+={}", trimmed(mm - diameter_mm)),
            false => format!("{name}.diameter={}", trimmed(mm)),
        };
        let (first_change, full_change) = (change_to(first.mm()), change_to(full.mm()));
        let effects = self.carry_out(&full_change);
        let note = self.instrument.fingerings[fingering].name.clone();
        let short = -off - full_gain;
        let rest = if short <= self.aim.within_cents {
            String::new()
        } else if own_mm > widest - 0.05 {
            format!(" It stays about {short:.0} cents flat: {why}.")
        } else if wanted_mm < own_mm - 0.05 {
            format!(" It stays about {short:.0} cents flat, so that other notes of this hole stay good.")
        } else {
            format!(" The last {short:.0} cents are for a file.")
        };
        let stages = if is_doubtful {
            format!(
                "measure it before you drill, for it acts otherwise than the file says. Open it by {} mm with a round file \
                 ({first_gain:+.0} cents), play, and at most by {} mm in all ({full_gain:+.0} cents)",
                trimmed(first.mm() - diameter_mm),
                trimmed(full.mm() - diameter_mm)
            )
        } else if first == full {
            format!("to {} mm with the {} ({full_gain:+.0} cents)", trimmed(full.mm()), full.name())
        } else {
            format!(
                "first to {} mm with the {} ({first_gain:+.0} cents), play, then up to {} mm ({full_gain:+.0} cents)",
                trimmed(first.mm()),
                first.name(),
                trimmed(full.mm())
            )
        };
        Some(Cut {
            place: Some(name.clone()),
            kind: CutKind::Enlarge,
            fingering,
            change: first_change,
            full: full_change,
            tool: if is_doubtful { "round file or reamer".to_string() } else { first.name() },
            undo: false,
            stand_in: bare_gain.map(|gain| pad_off(&name, &note, gain)),
            effects,
            text: format!("{note} is {told}. Open {name} from {} mm: {stages}.{rest}", trimmed(diameter_mm)),
        })
    }

    /// When drilling cannot cure it: where the hole belongs on the next body. `None` where its neighbour sits.
    fn move_up(&mut self, fingering: usize, hole: usize, off: f64, why: &str) -> Option<Cut> {
        let before = &self.instrument.holes[hole];
        let name = before.name.clone();
        let at_mm = before.at_mm;
        let moved =
            move |up_mm: f64| move |changed: &mut Instrument| changed.holes[hole].at_mm = at_mm - up_mm;
        let free_mm = room_above_mm(&self.instrument, hole);
        let up_mm = round_to(Self::solve(0.0, 0.2 * at_mm, -off, |mm| self.gain(fingering, moved(mm))), 0.5);
        if up_mm > free_mm {
            return None;
        }
        let told = self.told_off(off);
        let change = format!("{name}.at={}", trimmed(at_mm - up_mm));
        let effects = self.clone().carry_out(&change);
        let note = &self.instrument.fingerings[fingering].name;
        Some(Cut {
            place: Some(name.clone()),
            kind: CutKind::Move,
            fingering,
            change: change.clone(),
            full: change,
            tool: "on the next body".to_string(),
            undo: true,
            stand_in: None,
            effects,
            text: format!(
                "{note} is {told}, and opening {name} cannot cure it: {why}. On the next body, put it {up_mm:.1} mm nearer \
                 the mouthpiece."
            ),
        })
    }

    fn shrink(&mut self, fingering: usize, hole: usize, off: f64) -> Option<Cut> {
        let diameter_mm = self.instrument.holes[hole].diameter_mm;
        let sized = move |mm: f64| move |changed: &mut Instrument| changed.holes[hole].diameter_mm = mm;
        let smallest = 0.5 * diameter_mm;
        let own_mm = Self::solve(diameter_mm, smallest, off, |mm| self.gain(fingering, sized(mm)));
        let full_mm = round_to(self.serving(diameter_mm, own_mm, FILL_MINUTES, sized)?, 0.1);
        let full_gain = self.gain(fingering, sized(full_mm))?;
        let by_mm = diameter_mm - full_mm;
        let first_by_mm = round_to(FIRST_FILL_SHARE * by_mm, 0.1).max(0.1);
        if by_mm < 0.05 {
            return None;
        }
        let told = self.told_off(off);
        let name = self.instrument.holes[hole].name.clone();
        let full = format!("{name}.diameter-={by_mm:.1}");
        let effects = self.carry_out(&full);
        let note = self.instrument.fingerings[fingering].name.clone();
        Some(Cut {
            place: Some(name.clone()),
            kind: CutKind::Shrink,
            fingering,
            change: format!("{name}.diameter-={first_by_mm:.1}"),
            full,
            tool: "wax crescent in the upper edge; epoxy once it is right".to_string(),
            undo: true,
            stand_in: Some(tape_on_rim(&name, &note)),
            effects,
            text: format!(
                "{note} is {told}. A drill can't shrink a hole: fill the upper edge of {name} with a wax crescent until it \
                 acts about {by_mm:.1} mm smaller ({full_gain:+.0} cents); {first_by_mm:.1} mm first, then play."
            ),
        })
    }
}

/// How far a hole may move toward the mouthpiece before it meets its neighbour, mm.
fn room_above_mm(instrument: &Instrument, hole: usize) -> f64 {
    let own = &instrument.holes[hole];
    let above = instrument.holes.iter().filter(|other| other.at_mm < own.at_mm);
    let gap = |other: &Hole| {
        own.at_mm - other.at_mm - 0.5 * (own.diameter_mm + other.diameter_mm) - own.rim_mm - other.rim_mm
    };
    above.map(gap).fold(own.at_mm, f64::min)
}
