//! Cuts: what to change so that the notes meet their targets, from the lowest note up.
//!
//! A hole's change moves its own note, a little the notes above, never the ones below; so each finished
//! note stays finished. Never proposes what a pad cannot cover, what comes near the bore's width or a
//! neighbour, or what is smaller than the noise. Must not know causes, files or the terminal.

use crate::acoustics::resonance::follow;
use crate::diagnosis::words::sharp_or_flat;
use crate::instrument::column::column;
use crate::instrument::model::Instrument;
use crate::instrument::prediction::PredictedNote;
use crate::units::cents_between;

/// Notes within this of their target are left alone, cents (common practice, no source).
pub(in crate::diagnosis) const LEAVE_CENTS: f64 = 5.0;
/// Holes are opened to this side of the target and no farther: what is left can still be taken
/// (common practice, no source).
pub(in crate::diagnosis) const STAY_FLAT_CENTS: f64 = 2.0;

/// From this on, cents, an offset of all notes is named beside that of a single one.
const TELL_SHARED_CENTS: f64 = 1.5;

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
    TrimTop,
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
            CutKind::TrimTop => "trim-top",
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
pub(in crate::diagnosis) struct Plan<'a> {
    /// The geometry as planned so far.
    pub(in crate::diagnosis) instrument: Instrument,
    predicted: &'a [PredictedNote],
    /// Cents from target, measured where there are takes.
    pub(in crate::diagnosis) from_target: Vec<Option<f64>>,
    /// What all notes share, cents: no hole is cut for it.
    pub(in crate::diagnosis) shared_cents: f64,
    /// Hertz that the planned geometry gives.
    now_hz: Vec<Option<f64>>,
}

/// How far a note stays from its prediction by itself, without what all notes share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OwnOffset {
    /// Cents above the prediction.
    pub cents: f64,
    /// Standard uncertainty of that, cents.
    pub sd_cents: f64,
    /// How many takes it rests on.
    pub takes: usize,
}

impl OwnOffset {
    /// Whether a note so far from its target is cut for: beyond the noise, and so far that it may well be farther off
    /// than what is left alone. On the word of a single take only when it would be too far off even with one standard
    /// uncertainty less.
    fn is_sure(self, off_cents: f64) -> bool {
        let off_cents = off_cents.abs();
        let may_be_off = off_cents >= (LEAVE_CENTS - self.sd_cents).max(2.0 * self.sd_cents);
        if self.takes > 1 { may_be_off } else { off_cents - self.sd_cents >= LEAVE_CENTS }
    }
}

/// Plans all cuts. `compared` are the fingerings with takes, `own` how far each stays from its prediction by
/// itself; `shared_cents` is what all notes have alike besides (player,
/// air, reed, model). A hole that is cut for that part is a ruined hole when the air is warm again:
/// the top of the tube may be moved for it, and every hole is judged without it.
#[must_use]
pub fn plan_cuts(
    instrument: &Instrument,
    predicted: &[PredictedNote],
    compared: &[usize],
    own: &[OwnOffset],
    shared_cents: f64,
) -> Vec<Cut> {
    let known =
        |fingering: usize| compared.iter().position(|&f| f == fingering).and_then(|i| own.get(i)).copied();
    let from_target = predicted
        .iter()
        .map(|note| {
            let own_cents = known(note.fingering).map_or(0.0, |own| own.cents);
            note.cents().map(|cents| cents + own_cents + shared_cents)
        })
        .collect();
    let mut plan = Plan {
        instrument: instrument.clone(),
        predicted,
        from_target,
        shared_cents,
        now_hz: predicted.iter().map(|note| note.predicted_hz).collect(),
    };
    let mut order: Vec<usize> = (0..predicted.len())
        .filter(|&f| instrument.fingerings[f].register == 1 && known(f).is_some())
        .collect();
    order.sort_by(|&a, &b| predicted[a].target_hz.total_cmp(&predicted[b].target_hz));
    let mut cuts: Vec<Cut> = Vec::new();
    if shared_cents.abs() > LEAVE_CENTS {
        cuts.extend(plan.top_cut(&order));
    }
    let mut done: Vec<Option<usize>> = Vec::new();
    for fingering in order {
        let hole = instrument.first_open_hole(fingering);
        // One hole serves several fingerings: its lowest plain one decides.
        if done.contains(&hole) {
            continue;
        }
        done.push(hole);
        let (Some(off), Some(own)) = (plan.off_cents(fingering), known(fingering)) else { continue };
        if !own.is_sure(off) {
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
    /// How far a note is from its target, without what all notes share, cents.
    fn off_cents(&self, fingering: usize) -> Option<f64> {
        self.from_target[fingering].map(|cents| cents - self.shared_cents)
    }

    /// `8 cents flat`; where all notes share an offset, that is said.
    pub(in crate::diagnosis) fn told_off(&self, off_cents: f64) -> String {
        let told = sharp_or_flat(off_cents);
        if self.shared_cents.abs() < TELL_SHARED_CENTS {
            return told;
        }
        format!("{told}, not counting that all notes are {}", sharp_or_flat(self.shared_cents))
    }

    /// Cents by which a fingering moves from its planned pitch when `change` is made.
    pub(in crate::diagnosis) fn gain(
        &self,
        fingering: usize,
        change: impl Fn(&mut Instrument),
    ) -> Option<f64> {
        let now = self.now_hz[fingering]?;
        let mut changed = self.instrument.clone();
        change(&mut changed);
        let column = column(&changed, &changed.fingerings[fingering].open, &[]);
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

    /// Makes the change for good in the plan and tells what it does to every note.
    pub(in crate::diagnosis) fn carry_out(&mut self, change: impl Fn(&mut Instrument)) -> Vec<Effect> {
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
}

pub(in crate::diagnosis) fn round_to(value: f64, step: f64) -> f64 {
    (value / step).round() * step
}
