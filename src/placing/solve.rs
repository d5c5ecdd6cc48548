//! The layout that fits best, and the same without what can't be met.
//!
//! Must not know vents' sizes, drills or words.

use super::fit::{Effort, least_squares};
use super::limits::Limits;
use super::set_apart::{OddOne, odd_ones, stopped, without};
use super::task::Task;
use super::tuning::Tuning;
use super::wishes::Wishes;
use crate::instrument::model::{Fingering, Instrument};
use crate::instrument::prediction::{cents, cents_near, predict};
use crate::units::shift_by_cents;

/// For a layout that something is still decided about.
pub(super) const ON_THE_WAY: Effort = Effort { rounds: 4, last_share: 5e-3 };
/// For the layout that is drilled.
const TO_THE_END: Effort = Effort { rounds: 8, last_share: 1e-5 };
/// Notes are taken out of the sum in this many rounds at most; one or two is usual.
const MOST_RELIEFS: usize = 3;
/// What is asked for has settled when it changes by less than this, cents.
const SETTLED_CENTS: f64 = 0.3;

/// The layout that fits a task best; with `maker`, the instrument with the sizes that the maker would like, so that
/// wishes of tone have a say.
pub(super) fn solved(task: &Task<'_>, maker: Option<&Instrument>, effort: Effort) -> Instrument {
    fitted(task, maker, pitches_hz(&task.instrument), effort)
}

/// Notes are followed from `near_hz`; `None` looks for a note from the bottom each time.
fn fitted(
    task: &Task<'_>,
    maker: Option<&Instrument>,
    near_hz: Vec<Option<f64>>,
    effort: Effort,
) -> Instrument {
    let mut wanted = task.instrument.clone();
    for (hole, own) in wanted.holes.iter_mut().zip(maker.iter().flat_map(|maker| &maker.holes)) {
        hole.diameter_mm = own.diameter_mm;
    }
    let order = task.instrument.holes_from_the_top();
    let wishes = Wishes { limits: task.limits, order, wanted, tone: maker.is_some() };
    let tuning = Tuning { task, wishes: &wishes, near_hz };
    task.with_values(&least_squares(&tuning, &task.values(&task.instrument), &task.bounds(), effort))
}

/// The best places for holes of these sizes, as good as a layout needs that something is still decided about.
pub(super) fn with_places(layout: &Instrument, limits: &Limits) -> Instrument {
    solved(&Task::of_places(layout, limits), None, ON_THE_WAY)
}

/// The best places for the layout that is drilled.
pub(super) fn with_last_places(layout: &Instrument, limits: &Limits) -> Instrument {
    let task = Task::of_places(layout, limits);
    let near_hz = pitches_hz(layout);
    let found = fitted(&task, None, near_hz.clone(), TO_THE_END);
    if is_sound(&found, &near_hz) {
        return found;
    }
    // A note was followed to another resonance: every note is looked for from the bottom.
    fitted(&task, None, vec![None; near_hz.len()], TO_THE_END)
}

/// Notes that were followed and looked for lie no farther apart than this when they are the same, cents.
const SAME_NOTE_CENTS: f64 = 0.1;

/// Whether every note that was followed from `near_hz` is still the resonance of its register.
fn is_sound(found: &Instrument, near_hz: &[Option<f64>]) -> bool {
    let is_same = |(a, b): (Option<f64>, Option<f64>)| match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() < SAME_NOTE_CENTS,
        (a, b) => a.is_none() && b.is_none(),
    };
    cents(found).into_iter().zip(cents_near(found, near_hz)).all(is_same)
}

fn pitches_hz(instrument: &Instrument) -> Vec<Option<f64>> {
    let target_hz = instrument.fingerings.iter().map(|fingering| instrument.target_hz(fingering));
    cents(instrument)
        .into_iter()
        .zip(target_hz)
        .map(|(cents, target_hz)| cents.map(|cents| shift_by_cents(target_hz, cents)))
        .collect()
}

/// A layout that no hopeless note draws after it.
pub(super) struct Relieved {
    /// With the fingerings as they are asked for, not as they are wanted.
    pub(super) layout: Instrument,
    /// The maker's limits, with what still counts.
    pub(super) limits: Limits,
    /// What is asked for otherwise than it is wanted.
    pub(super) odd: Vec<OddOne>,
}

/// Takes notes that can't be met out of the sum, and solves the places anew.
pub(super) fn relieved(mut layout: Instrument, wanted: &[Fingering], limits: &Limits) -> Relieved {
    let mut limits = limits.clone();
    let mut odd: Vec<OddOne> = Vec::new();
    for _ in 0..MOST_RELIEFS {
        let as_wanted = Instrument { fingerings: wanted.to_vec(), ..layout.clone() };
        let notes = predict(&as_wanted);
        let counted = limits.weights.len();
        while let Some(stopped) = stopped(&as_wanted, &limits, &notes) {
            limits = without(&limits, stopped);
        }
        odd = odd_ones(&layout, wanted, &limits);
        let mut asked = wanted.to_vec();
        odd.iter().for_each(|one| asked[one.fingering].cents += one.moved_cents);
        let apart = |(a, b): (&Fingering, &Fingering)| (a.cents - b.cents).abs();
        let changed = asked.iter().zip(&layout.fingerings).map(apart).fold(0.0, f64::max);
        layout.fingerings = asked;
        if changed < SETTLED_CENTS && limits.weights.len() == counted {
            break;
        }
        layout = with_places(&layout, &limits);
    }
    Relieved { layout, limits, odd }
}
