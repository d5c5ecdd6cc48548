//! Cuts: what to change so that the notes meet their targets, from the lowest note up.
//!
//! A hole's change moves its own note, a little the notes above, never the ones below; so each finished
//! note stays finished. Never proposes what a pad cannot cover, what comes near the bore's width or a
//! neighbour, or what is smaller than the noise. Must not know causes, files or the terminal.

use crate::acoustics::resonance::follow;
use crate::diagnosis::words::{sharp_or_flat, trimmed};
use crate::instrument::column::column;
use crate::instrument::model::Instrument;
use crate::instrument::prediction::PredictedNote;
use crate::units::cents_between;

/// Notes within this of their target are left alone, cents (common practice, no source).
pub(super) const LEAVE_CENTS: f64 = 5.0;
/// Holes are opened to this side of the target and no farther: what is left can still be taken
/// (common practice, no source).
pub(super) const STAY_FLAT_CENTS: f64 = 2.0;

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
#[derive(Clone)]
pub(super) struct Plan<'a> {
    /// The geometry as planned so far.
    pub(super) instrument: Instrument,
    predicted: &'a [PredictedNote],
    /// Cents from target, measured where there are takes.
    from_target: Vec<Option<f64>>,
    /// Hertz that the planned geometry gives.
    now_hz: Vec<Option<f64>>,
}

/// Plans all cuts. `compared` are the fingerings with takes, `lasting` how far each stays from its
/// prediction and the uncertainty of that, cents; `common_cents` is what player, air and model add to every
/// note without takes.
#[must_use]
pub fn plan_cuts(
    instrument: &Instrument,
    predicted: &[PredictedNote],
    compared: &[usize],
    lasting: &[(f64, f64)],
    common_cents: f64,
) -> Vec<Cut> {
    let known = |fingering: usize| {
        compared.iter().position(|&f| f == fingering).and_then(|i| lasting.get(i)).copied()
    };
    let from_target = predicted
        .iter()
        .map(|note| {
            let offset = known(note.fingering).map_or(common_cents, |(cents, _)| cents);
            note.cents().map(|cents| cents + offset)
        })
        .collect();
    let mut plan = Plan {
        instrument: instrument.clone(),
        predicted,
        from_target,
        now_hz: predicted.iter().map(|note| note.predicted_hz).collect(),
    };
    let mut order: Vec<usize> = (0..predicted.len())
        .filter(|&f| instrument.fingerings[f].register == 1 && known(f).is_some())
        .collect();
    order.sort_by(|&a, &b| predicted[a].target_hz.total_cmp(&predicted[b].target_hz));
    let mut cuts: Vec<Cut> = Vec::new();
    let mut done: Vec<Option<usize>> = Vec::new();
    for fingering in order {
        let hole = instrument.first_open_hole(fingering);
        // One hole serves several fingerings: its lowest plain one decides.
        if done.contains(&hole) {
            continue;
        }
        done.push(hole);
        let (Some(off), Some((_, sd))) = (plan.from_target[fingering], known(fingering)) else { continue };
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

impl Plan<'_> {
    /// Cents by which a fingering moves from its planned pitch when `change` is made.
    pub(super) fn gain(&self, fingering: usize, change: impl Fn(&mut Instrument)) -> Option<f64> {
        let now = self.now_hz[fingering]?;
        let mut changed = self.instrument.clone();
        change(&mut changed);
        let column = column(&changed, &changed.fingerings[fingering].open, &[]);
        follow(&column, now).map(|hz| cents_between(hz, now))
    }

    /// The size between `near` and `far` at which `gain(size)` is `wanted` cents; `far` when it is never
    /// reached. `gain` grows in size from near to far.
    pub(super) fn solve(near: f64, far: f64, wanted: f64, gain: impl Fn(f64) -> Option<f64>) -> f64 {
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
    pub(super) fn carry_out(&mut self, change: impl Fn(&mut Instrument)) -> Vec<Effect> {
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

pub(super) fn round_to(value: f64, step: f64) -> f64 {
    (value / step).round() * step
}
