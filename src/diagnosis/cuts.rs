//! Cuts: what to change so that the notes meet their targets, from the lowest note up.
//!
//! A hole's change moves its own note, a little the notes above, never the ones below; so each finished
//! note stays finished. Never proposes what a pad cannot cover, what comes near the bore's width or a
//! neighbour, or what is smaller than the noise. Must not know causes, files or the terminal.

use crate::acoustics::resonance::follow;
use crate::diagnosis::drills::{Tool, drill_between};
use crate::diagnosis::evidence::Evidence;
use crate::diagnosis::words::sharp_or_flat;
use crate::instrument::column::column;
use crate::instrument::model::{Hole, Instrument};
use crate::instrument::prediction::PredictedNote;
use crate::units::cents_between;

/// Notes within this of their target are left alone, cents (common practice, no source).
const LEAVE_CENTS: f64 = 5.0;
/// Holes are opened to this side of the target and no farther: what is left can still be taken
/// (common practice, no source).
const STAY_FLAT_CENTS: f64 = 2.0;
/// A hole is never opened beyond this share of the bore.
const WIDEST_SHARE: f64 = 0.9;
/// A pad must reach this far beyond the rim on each side, mm (common practice, no source).
const PAD_OVERLAP_MM: f64 = 1.0;
/// A pad that opens less than this share of the hole is raised before anything is drilled.
const LIFT_SHARE: f64 = 1.0 / 3.0;
/// A cut that can't bring at least this share of what is wanted is left for the next body.
const LEAST_SHARE: f64 = 0.5;

/// What a cut does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)] // each is its own word
pub enum CutKind {
    Enlarge,
    Shrink,
    RaisePad,
    Move,
    TrimEnd,
}

impl CutKind {
    /// The word in JSON.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            CutKind::Enlarge => "enlarge",
            CutKind::Shrink => "shrink",
            CutKind::RaisePad => "raise-pad",
            CutKind::Move => "move",
            CutKind::TrimEnd => "trim-end",
        }
    }
}

/// What one cut does to one note, cents from target.
#[derive(Debug, Clone, PartialEq)]
pub struct Effect {
    /// Index into [`Instrument::fingerings`].
    pub fingering: usize,
    /// Before.
    pub before_cents: f64,
    /// After the whole cut.
    pub after_cents: f64,
}

/// One cut.
#[derive(Debug, Clone, PartialEq)]
pub struct Cut {
    /// Hole by name; `None` for the open end.
    pub place: Option<String>,
    /// What it does.
    pub kind: CutKind,
    /// The first cut, as a change: `h5.diameter=14.5`.
    pub change: String,
    /// The whole cut, as a change.
    pub full: String,
    /// The tool for the first cut.
    pub tool: String,
    /// Whether it can be undone.
    pub undo: bool,
    /// A reversible trial with what it should do.
    pub stand_in: Option<String>,
    /// What the whole cut does to every note.
    pub effects: Vec<Effect>,
    /// In the maker's words.
    pub text: String,
}

/// The notes as they are while cuts are planned one after the other.
struct Plan<'a> {
    instrument: Instrument,
    predicted: &'a [PredictedNote],
    /// Cents from target, measured where there are takes.
    from_target: Vec<Option<f64>>,
    /// Hertz that the planned geometry gives.
    now_hz: Vec<Option<f64>>,
}

/// Plans all cuts. `common_cents` is what player, air and model add to every unmeasured note.
#[must_use]
pub fn plan_cuts(
    instrument: &Instrument,
    predicted: &[PredictedNote],
    evidence: &Evidence,
    common_cents: f64,
) -> Vec<Cut> {
    let from_target = predicted
        .iter()
        .map(|note| {
            let measured = evidence.notes[note.fingering].measured_hz;
            let expected = note.cents().map(|cents| cents + common_cents);
            measured.map(|hz| cents_between(hz, note.target_hz)).or(expected)
        })
        .collect();
    let mut plan = Plan {
        instrument: instrument.clone(),
        predicted,
        from_target,
        now_hz: predicted.iter().map(|note| note.predicted_hz).collect(),
    };
    let mut order: Vec<usize> = (0..predicted.len())
        .filter(|&f| instrument.fingerings[f].register == 1 && evidence.notes[f].measured_hz.is_some())
        .collect();
    order.sort_by(|&a, &b| predicted[a].target_hz.total_cmp(&predicted[b].target_hz));
    let mut cuts: Vec<Cut> = Vec::new();
    let mut done: Vec<Option<usize>> = Vec::new();
    for fingering in order {
        let hole = first_open_hole(instrument, fingering);
        // One hole serves several fingerings: its lowest plain one decides.
        if done.contains(&hole) {
            continue;
        }
        done.push(hole);
        let Some(off) = plan.from_target[fingering] else { continue };
        let sd = evidence.notes[fingering].sd_cents.unwrap_or(f64::INFINITY);
        if off.abs() < LEAVE_CENTS.max(2.0 * sd) {
            continue;
        }
        let cut = match hole {
            Some(hole) => plan.hole_cut(fingering, hole, off),
            None => plan.end_cut(fingering, off),
        };
        cuts.extend(cut);
    }
    cuts
}

/// The open tone hole nearest the mouthpiece: the one whose note this is. `None`: all closed.
#[must_use]
pub fn first_open_hole(instrument: &Instrument, fingering: usize) -> Option<usize> {
    instrument.fingerings[fingering]
        .open
        .iter()
        .copied()
        .filter(|&hole| !instrument.holes[hole].vent)
        .min_by(|&a, &b| instrument.holes[a].at_mm.total_cmp(&instrument.holes[b].at_mm))
}

/// The widest that a hole may become, mm, and what bounds it.
fn widest_mm(instrument: &Instrument, hole: &Hole) -> (f64, &'static str) {
    let mut widest = (
        WIDEST_SHARE * instrument.bore_at_mm(hole.at_mm),
        "nine tenths of the bore is as far as a hole may go",
    );
    if let Some(pad) = hole.pad {
        let covered = pad.diameter_mm - 2.0 * (hole.rim_mm + PAD_OVERLAP_MM);
        if covered < widest.0 {
            widest = (covered, "the pad covers no more");
        }
    }
    for other in instrument.holes.iter().filter(|other| other.name != hole.name) {
        let room = 2.0 * ((other.at_mm - hole.at_mm).abs() - 0.5 * other.diameter_mm - hole.rim_mm);
        if room < widest.0 && room > 0.0 {
            widest = (room, "the next hole is too near");
        }
    }
    widest
}

impl Plan<'_> {
    /// Cents by which a fingering moves from its planned pitch when `change` is made.
    fn gain(&self, fingering: usize, change: impl Fn(&mut Instrument)) -> Option<f64> {
        let now = self.now_hz[fingering]?;
        let mut changed = self.instrument.clone();
        change(&mut changed);
        let column = column(&changed, &changed.fingerings[fingering].open, &[]);
        follow(&column, now).map(|hz| cents_between(hz, now))
    }

    /// The size between `near` and `far` at which `gain(size)` is `wanted` cents; `far` when it is never
    /// reached. `gain` grows in size from near to far.
    fn solve(near: f64, far: f64, wanted: f64, gain: impl Fn(f64) -> Option<f64>) -> f64 {
        if gain(far).is_some_and(|g| g.abs() < wanted.abs()) {
            return far;
        }
        let (mut low, mut high) = (near, far);
        for _ in 0..30 {
            let middle = 0.5 * (low + high);
            match gain(middle) {
                Some(g) if g.abs() < wanted.abs() => low = middle,
                _ => high = middle,
            }
        }
        0.5 * (low + high)
    }

    /// Makes the change for good in the plan and tells what it does to every note.
    fn carry_out(&mut self, change: impl Fn(&mut Instrument)) -> Vec<Effect> {
        change(&mut self.instrument);
        let mut effects = Vec::new();
        for note in self.predicted {
            let f = note.fingering;
            let Some(before_hz) = self.now_hz[f] else { continue };
            let column = column(&self.instrument, &self.instrument.fingerings[f].open, &[]);
            let after_hz = follow(&column, before_hz).unwrap_or(before_hz);
            self.now_hz[f] = Some(after_hz);
            if let Some(before_cents) = self.from_target[f] {
                let after_cents = before_cents + cents_between(after_hz, before_hz);
                self.from_target[f] = Some(after_cents);
                effects.push(Effect { fingering: f, before_cents, after_cents });
            }
        }
        effects
    }

    fn hole_cut(&mut self, fingering: usize, hole: usize, off: f64) -> Option<Cut> {
        if off > 0.0 {
            return self.shrink(fingering, hole, off);
        }
        let wanted = -off - STAY_FLAT_CENTS;
        if let Some(cut) = self.raise_pad(fingering, hole, off, wanted) {
            return Some(cut);
        }
        self.enlarge(fingering, hole, off, wanted)
    }

    fn raise_pad(&mut self, fingering: usize, hole: usize, off: f64, wanted: f64) -> Option<Cut> {
        let pad = self.instrument.holes[hole].pad?;
        let diameter_mm = self.instrument.holes[hole].diameter_mm;
        if pad.lift_mm >= LIFT_SHARE * diameter_mm {
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
                .max(round_to(LIFT_SHARE * diameter_mm, 0.1));
        let gain = self.gain(fingering, lifted(lift_mm))?;
        let effects = self.carry_out(lifted(lift_mm));
        let note = self.instrument.fingerings[fingering].name.clone();
        Some(Cut {
            place: Some(name.clone()),
            kind: CutKind::RaisePad,
            change: format!("{name}.lift={lift_mm:.1}"),
            full: format!("{name}.lift={lift_mm:.1}"),
            tool: "thinner cork or felt under the key; a drill shank as gauge".to_string(),
            undo: true,
            stand_in: None,
            effects,
            text: format!(
                "{note} is {}. Raise the pad of {name} from {:.1} to {lift_mm:.1} mm first: {gain:+.0} cents. A shaded \
                 hole must not be cured with a drill.",
                sharp_or_flat(off),
                pad.lift_mm
            ),
        })
    }

    fn enlarge(&mut self, fingering: usize, hole: usize, off: f64, wanted: f64) -> Option<Cut> {
        let before = self.instrument.holes[hole].clone();
        let sized = move |mm: f64| move |changed: &mut Instrument| changed.holes[hole].diameter_mm = mm;
        let (widest, why) = widest_mm(&self.instrument, &before);
        let diameter_mm = before.diameter_mm;
        let reachable =
            if widest > diameter_mm { self.gain(fingering, sized(widest)).unwrap_or(0.0) } else { 0.0 };
        if reachable < LEAST_SHARE * wanted {
            return self.move_up(fingering, hole, off, why);
        }
        let wanted_mm = Self::solve(diameter_mm, widest, wanted, |mm| self.gain(fingering, sized(mm)));
        let full = drill_between(&self.instrument.workshop.drills_mm, diameter_mm, wanted_mm);
        let half_way = diameter_mm + 0.5 * (wanted_mm - diameter_mm);
        let first = match drill_between(&self.instrument.workshop.drills_mm, diameter_mm, half_way) {
            Tool::Drill(mm) => Tool::Drill(mm),
            Tool::File(_) => Tool::File(round_to(half_way, 0.1).max(diameter_mm + 0.1)),
        };
        let first_gain = self.gain(fingering, sized(first.mm()))?;
        let full_gain = self.gain(fingering, sized(full.mm()))?;
        let pad_off =
            before.pad.and_then(|_| self.gain(fingering, move |changed| changed.holes[hole].pad = None));
        let effects = self.carry_out(sized(full.mm()));
        let name = before.name;
        let note = self.instrument.fingerings[fingering].name.clone();
        let short = -off - full_gain;
        let rest = if short > LEAVE_CENTS {
            format!(" It stays about {short:.0} cents flat: {why}.")
        } else {
            String::new()
        };
        Some(Cut {
            place: Some(name.clone()),
            kind: CutKind::Enlarge,
            change: format!("{name}.diameter={}", trimmed(first.mm())),
            full: format!("{name}.diameter={}", trimmed(full.mm())),
            tool: first.name(),
            undo: false,
            stand_in: pad_off.map(|gain| {
                format!("Nothing raises a note for a trial but the pad: take it off and {note} should rise {gain:.0} cents.")
            }),
            effects,
            text: format!(
                "{note} is {}. Open {name} from {} mm: first to {} mm with the {} ({first_gain:+.0} cents), play, then \
                 up to {} mm ({full_gain:+.0} cents).{rest}",
                sharp_or_flat(off),
                trimmed(diameter_mm),
                trimmed(first.mm()),
                first.name(),
                trimmed(full.mm()),
            ),
        })
    }

    /// When drilling cannot cure it: where the hole belongs on the next body.
    fn move_up(&mut self, fingering: usize, hole: usize, off: f64, why: &str) -> Option<Cut> {
        let before = &self.instrument.holes[hole];
        let name = before.name.clone();
        let at_mm = before.at_mm;
        let moved =
            move |up_mm: f64| move |changed: &mut Instrument| changed.holes[hole].at_mm = at_mm - up_mm;
        let up_mm = round_to(Self::solve(0.0, 0.2 * at_mm, -off, |mm| self.gain(fingering, moved(mm))), 0.5);
        let mut elsewhere = Plan {
            instrument: self.instrument.clone(),
            predicted: self.predicted,
            from_target: self.from_target.clone(),
            now_hz: self.now_hz.clone(),
        };
        let effects = elsewhere.carry_out(moved(up_mm));
        let note = &self.instrument.fingerings[fingering].name;
        let change = format!("{name}.at={}", trimmed(at_mm - up_mm));
        Some(Cut {
            place: Some(name.clone()),
            kind: CutKind::Move,
            change: change.clone(),
            full: change,
            tool: "on the next body".to_string(),
            undo: true,
            stand_in: None,
            effects,
            text: format!(
                "{note} is {}, and opening {name} cannot cure it: {why}. On the next body, put it {up_mm:.1} mm nearer \
                 the mouthpiece.",
                sharp_or_flat(off)
            ),
        })
    }

    fn shrink(&mut self, fingering: usize, hole: usize, off: f64) -> Option<Cut> {
        let diameter_mm = self.instrument.holes[hole].diameter_mm;
        let sized = move |mm: f64| move |changed: &mut Instrument| changed.holes[hole].diameter_mm = mm;
        let smallest = 0.5 * diameter_mm;
        let full_mm =
            round_to(Self::solve(diameter_mm, smallest, off, |mm| self.gain(fingering, sized(mm))), 0.1);
        let full_gain = self.gain(fingering, sized(full_mm))?;
        let first_mm = round_to(0.5 * (diameter_mm + full_mm), 0.1);
        let effects = self.carry_out(sized(full_mm));
        let name = self.instrument.holes[hole].name.clone();
        let note = self.instrument.fingerings[fingering].name.clone();
        Some(Cut {
            place: Some(name.clone()),
            kind: CutKind::Shrink,
            change: format!("{name}.diameter={first_mm:.1}"),
            full: format!("{name}.diameter={full_mm:.1}"),
            tool: "wax crescent in the upper edge; epoxy once it is right".to_string(),
            undo: true,
            stand_in: Some(format!(
                "Stick tape over the top quarter of the rim of {name}: {note} should fall."
            )),
            effects,
            text: format!(
                "{note} is {}. A drill can't shrink a hole: fill the upper edge of {name} with a wax crescent until it \
                 acts like {full_mm:.1} mm instead of {} mm ({full_gain:+.0} cents). Half of it first.",
                sharp_or_flat(off),
                trimmed(diameter_mm)
            ),
        })
    }

    fn end_cut(&mut self, fingering: usize, off: f64) -> Option<Cut> {
        let shorter = |mm: f64| {
            move |changed: &mut Instrument| {
                if let Some(end) = changed.bore.last_mut() {
                    end.at_mm -= mm;
                }
            }
        };
        let last_hole_mm =
            self.instrument.holes.iter().map(|hole| hole.at_mm + hole.diameter_mm).fold(0.0, f64::max);
        let spare_mm = (self.instrument.length_mm() - last_hole_mm).max(0.0);
        let note = self.instrument.fingerings[fingering].name.clone();
        let flat = off < 0.0;
        let wanted = if flat { -off - STAY_FLAT_CENTS } else { off };
        let far = if flat { 0.8 * spare_mm } else { -0.1 * self.instrument.length_mm() };
        let full_mm = round_to(Self::solve(0.0, far, wanted, |mm| self.gain(fingering, shorter(mm))), 0.5);
        if full_mm == 0.0 {
            return None;
        }
        let gain = self.gain(fingering, shorter(full_mm))?;
        let first_mm = round_to(0.6 * full_mm, 0.5);
        let effects = self.carry_out(shorter(full_mm));
        let text = if flat {
            format!(
                "{note}, the lowest note, is {}. Take {full_mm:.1} mm off the open end ({gain:+.0} cents); {first_mm:.1} mm \
                 first, then play. It moves hardly any other note.",
                sharp_or_flat(off)
            )
        } else {
            format!(
                "{note}, the lowest note, is {}. Lengthen the open end by {:.1} mm with a ring of the same bore \
                 ({gain:+.0} cents).",
                sharp_or_flat(off),
                -full_mm
            )
        };
        Some(Cut {
            place: None,
            kind: CutKind::TrimEnd,
            change: format!("end.trim={}", trimmed(first_mm)),
            full: format!("end.trim={}", trimmed(full_mm)),
            tool: if flat { "fine saw and file, square" } else { "ring or collar" }.to_string(),
            undo: !flat,
            stand_in: flat.then(|| {
                format!("Slip a paper collar {first_mm:.1} mm longer over the end: {note} should fall as far as the cut would raise it.")
            }),
            effects,
            text,
        })
    }
}

fn round_to(value: f64, step: f64) -> f64 {
    (value / step).round() * step
}

/// A number without needless zeros.
fn trimmed(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}
