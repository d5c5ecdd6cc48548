//! Cuts: what to change so that the notes meet their targets, from the lowest note up.
//!
//! A hole's change moves its own note, a little the notes above, never the ones below; so each finished
//! note stays finished. Never proposes what a pad cannot cover, what comes near the bore's width or a
//! neighbour, or what is smaller than the noise. Must not know causes, files or the terminal.

use crate::acoustics::resonance::follow;
use crate::diagnosis::beliefs::work::TELL_SHARED_CENTS;
use crate::diagnosis::beliefs::{CUT_EFFECT_SHARE, FIRST_CUT_LEAST, FIRST_CUT_OVERSHOOT, FIRST_CUT_SDS};
use crate::diagnosis::words::sharp_or_flat;
use crate::diagnosis::work::aim::Aim;
use crate::instrument::change::parse;
use crate::instrument::column::column;
use crate::instrument::model::Instrument;
use crate::instrument::prediction::PredictedNote;
use crate::instrument::trial::try_changes;
use crate::units::cents_between;

/// What a cut does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)] // each is its own word
pub enum CutKind {
    Enlarge,
    Shrink,
    RaisePad,
    ShortenChimney,
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
            CutKind::ShortenChimney => "shorten-chimney",
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
    /// The fingering that it is made for, of the first register.
    pub fingering: usize,
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

impl Cut {
    /// Cents by which the whole cut moves a fingering; 0 where that is not known.
    #[must_use]
    pub fn moves(&self, fingering: usize) -> f64 {
        let effect = self.effects.iter().find(|effect| effect.fingering == fingering);
        effect.map_or(0.0, |effect| effect.after_cents - effect.before_cents)
    }
}

/// The notes as they are while cuts are planned one after the other.
#[derive(Clone)]
pub(in crate::diagnosis) struct Plan {
    /// The geometry as planned so far.
    pub(in crate::diagnosis) instrument: Instrument,
    /// Where the notes stand by then.
    pub(in crate::diagnosis) aim: Aim,
    /// Holes whose measures in the file may be wrong: they are opened by an amount, not to a size.
    pub(in crate::diagnosis) doubtful_holes: Vec<usize>,
    /// Hertz that the planned geometry gives.
    now_hz: Vec<Option<f64>>,
}

/// Plans all cuts that better the aim by more than they cost and risk. A hole is never cut for what all notes share: a
/// hole that is cut for that is a ruined hole when the air is warm again. `doubtful_holes`: those whose measures may be
/// wrong. Only notes that are off at least so `surely` (0 to 1) are cut for.
#[must_use]
pub fn plan_cuts(
    instrument: &Instrument,
    predicted: &[PredictedNote],
    aim: &Aim,
    doubtful_holes: &[usize],
    surely: f64,
) -> Vec<Cut> {
    let mut plan = Plan {
        instrument: instrument.clone(),
        aim: aim.clone(),
        doubtful_holes: doubtful_holes.to_vec(),
        now_hz: predicted.iter().map(|note| note.predicted_hz).collect(),
    };
    let mut order: Vec<usize> = (0..predicted.len())
        .filter(|&f| instrument.fingerings[f].register == 1 && !instrument.fingerings[f].leave)
        .filter(|&f| aim.is_off(f, surely))
        .collect();
    order.sort_by(|&a, &b| predicted[a].target_hz.total_cmp(&predicted[b].target_hz));
    let is_begun = order.iter().any(|&f| aim.is_far_off(f));
    let mut cuts: Vec<Cut> = Vec::new();
    let mut done: Vec<Option<usize>> = Vec::new();
    for fingering in order {
        let hole = instrument.first_open_hole(fingering);
        // One hole serves several fingerings: its lowest plain one decides.
        if done.contains(&hole) {
            continue;
        }
        done.push(hole);
        // A cut further down may have brought this note home.
        let Some(off) = plan.aim.off_cents(fingering).filter(|_| plan.aim.is_off(fingering, surely)) else {
            continue;
        };
        let cut = match hole {
            Some(hole) if is_begun => plan.hole_cut(fingering, hole, off),
            // A pad is set without a tool.
            Some(hole) => plan.raise_pad(fingering, hole, off),
            // The open end is sawn last of all: every hole that is drilled moves the lowest note.
            None if instrument.holes.iter().any(|hole| !hole.drilled) => None,
            None if is_begun => plan.end_cut(fingering, off),
            None => None,
        };
        cuts.extend(cut);
    }
    cuts
}

impl Plan {
    /// `8 cents flat`; where all notes share an offset, that is said.
    pub(in crate::diagnosis) fn told_off(&self, off_cents: f64) -> String {
        let told = sharp_or_flat(off_cents);
        let shared_cents = self.aim.not_of_holes_cents;
        if shared_cents.abs() < TELL_SHARED_CENTS {
            return told;
        }
        format!("{told}, not counting that all notes are {}", sharp_or_flat(shared_cents))
    }

    /// Cents by which a fingering moves from its planned pitch when `change` is made.
    pub(in crate::diagnosis) fn gain(
        &self,
        fingering: usize,
        change: impl Fn(&mut Instrument),
    ) -> Option<f64> {
        let mut changed = self.instrument.clone();
        change(&mut changed);
        self.moved_cents(fingering, &changed)
    }

    fn moved_cents(&self, fingering: usize, changed: &Instrument) -> Option<f64> {
        let now = self.now_hz[fingering]?;
        let column = column(changed, &changed.fingerings[fingering].open, &[]);
        follow(&column, now).map(|hz| cents_between(hz, now))
    }

    /// The size between `near` and `far` at which `gain(size)` is `wanted` cents; `far` when it is never
    /// reached. `gain` grows in size from near to far.
    pub(in crate::diagnosis) fn solve(
        near: f64,
        far: f64,
        wanted: f64,
        gain: impl Fn(f64) -> Option<f64>,
    ) -> f64 {
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

    /// Of sizes from `near` to `far`, the one that serves all notes best; `None` where every one costs and risks more
    /// (`price_minutes`) than it is worth. What is good enough stays so.
    pub(in crate::diagnosis) fn serving<C: Fn(&mut Instrument)>(
        &self,
        near: f64,
        far: f64,
        price_minutes: f64,
        change: impl Fn(f64) -> C,
    ) -> Option<f64> {
        const SHARES: [f64; 8] = [1.0, 0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3];
        let worth = |size: f64| -> Option<f64> {
            let mut changed = self.instrument.clone();
            change(size)(&mut changed);
            let moves: Vec<f64> = (0..self.now_hz.len())
                .map(|f| {
                    let counts = self.aim.notes[f].is_some();
                    if counts { self.moved_cents(f, &changed).unwrap_or(0.0) } else { 0.0 }
                })
                .collect();
            self.aim.worth_minutes(&moves)
        };
        let sizes = SHARES.map(|share| near + share * (far - near));
        let valued = sizes.into_iter().filter_map(|size| Some((size, worth(size)?)));
        let best = valued.max_by(|a, b| a.1.total_cmp(&b.1));
        best.filter(|(_, worth)| *worth > price_minutes).map(|(size, _)| size)
    }

    /// The cents that a first cut for a note may bring so that it hardly ever goes too far, when the whole cut brings
    /// `full_gain` and the note is `off` cents flat (negative).
    pub(in crate::diagnosis) fn first_gain(&self, fingering: usize, off: f64, full_gain: f64) -> f64 {
        let sd_cents = self.aim.notes[fingering].map_or(0.0, |note| note.sd_cents);
        let sd_after_cents = sd_cents.hypot(CUT_EFFECT_SHARE * full_gain);
        let safe = FIRST_CUT_OVERSHOOT * self.aim.within_cents - off - FIRST_CUT_SDS * sd_after_cents;
        safe.clamp(FIRST_CUT_LEAST * full_gain, full_gain)
    }

    /// Makes the change `written` for good in the plan and returns what it does to every note, just as `try` computes it.
    pub(in crate::diagnosis) fn carry_out(&mut self, written: &str) -> Vec<Effect> {
        let change = parse(&self.instrument, written);
        let Ok(trial) = change.and_then(|change| try_changes(&self.instrument, &[change])) else {
            return Vec::new();
        };
        let mut moves = vec![0.0; self.now_hz.len()];
        for note in &trial.notes {
            moves[note.fingering] = note.wanted.change_cents().unwrap_or(0.0);
            self.now_hz[note.fingering] = note.wanted.after_hz;
        }
        let before = self.aim.clone();
        self.aim.move_by(&moves);
        self.instrument = trial.after.instrument;
        let cents = |aim: &Aim, f: usize| aim.notes[f].map(|note| note.cents);
        (0..moves.len())
            .filter_map(|fingering| {
                let (before_cents, after_cents) = (cents(&before, fingering)?, cents(&self.aim, fingering)?);
                Some(Effect { fingering, before_cents, after_cents })
            })
            .collect()
    }
}

pub(in crate::diagnosis) fn round_to(value: f64, step: f64) -> f64 {
    (value / step).round() * step
}
