//! The layout that fits best, and the same without what can't be met.
//!
//! Must not know vents' sizes, drills or words.

use super::fit::least_squares;
use super::limits::Limits;
use super::set_apart::{OddOne, odd_ones, stopped, without};
use super::task::Task;
use super::tuning::Tuning;
use super::wishes::{Wishes, from_the_top};
use crate::instrument::model::{Fingering, Instrument};
use crate::instrument::prediction::predict;

/// Most tables of slopes for one solution; it takes four to eight.
pub(super) const ROUNDS: usize = 25;
/// Notes are taken out of the sum in this many rounds at most; one or two is usual.
const MOST_RELIEFS: usize = 12;
/// What is asked for has settled when it changes by less than this, cents.
const SETTLED_CENTS: f64 = 0.3;

/// The layout that fits a task best; with `tone`, wishes of tone have a say.
pub(super) fn solved(task: &Task<'_>, tone: bool, rounds: usize) -> Instrument {
    let order = from_the_top(&task.instrument);
    let wishes = Wishes { limits: task.limits, order, wanted: task.instrument.clone(), tone };
    let tuning = Tuning { task, wishes: &wishes };
    let start = task.values(&task.instrument);
    task.with_values(&least_squares(&tuning, &start, &task.bounds(), rounds))
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

/// Takes notes that can't be met out of the sum, the worst first, and solves the places anew each time.
pub(super) fn relieved(mut layout: Instrument, wanted: &Instrument, limits: &Limits) -> Relieved {
    let mut limits = limits.clone();
    let mut odd: Vec<OddOne> = Vec::new();
    for _ in 0..MOST_RELIEFS {
        let as_wanted = Instrument { fingerings: wanted.fingerings.clone(), ..layout.clone() };
        if let Some(stopped) = stopped(&as_wanted, &limits, &predict(&as_wanted)) {
            limits = without(&limits, stopped);
        } else {
            odd = odd_ones(&layout, &wanted.fingerings, &limits);
            let mut asked = wanted.fingerings.clone();
            odd.iter().for_each(|one| asked[one.fingering].cents += one.moved_cents);
            let farthest = |(a, b): (&Fingering, &Fingering)| (a.cents - b.cents).abs();
            let changed = asked.iter().zip(&layout.fingerings).map(farthest).fold(0.0, f64::max);
            layout.fingerings = asked;
            if changed < SETTLED_CENTS {
                break;
            }
        }
        layout = solved(&Task::of_places(&layout, &limits), false, ROUNDS);
    }
    Relieved { layout, limits, odd }
}
