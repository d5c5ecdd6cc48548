//! The size that a planned hole is opened to first, so that enough is left to tune and the note is near already:
//! with a drill of the maker's, or, where the list has a gap, the size that is missing in it.
//!
//! Must not know air columns, files or the terminal.

use super::limits::{Limits, drills_mm};
use crate::instrument::advice::Warning;
use crate::instrument::model::Instrument;
use crate::instrument::problem::plain;

/// Left for tuning when the maker does not say: this much, mm, but no more than this share of the hole (common
/// practice, no source).
const UNDERSIZE_MM: f64 = 1.0;
const UNDERSIZE_SHARE: f64 = 0.2;
/// A drill may leave this much more than is wanted, mm: a step of the usual series.
const DRILL_STEP_MM: f64 = 0.5;
/// Where no drill leaves what is usual, one that leaves this share of it will do (our choice). What the maker wants is left.
const LEAST_SHARE_LEFT: f64 = 0.5;

/// The first size of one hole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FirstDrill {
    /// Index into [`Instrument::holes`].
    pub hole: usize,
    /// What the hole is opened to first, mm.
    pub size_mm: f64,
    /// Whether the maker has this drill.
    pub at_hand: bool,
    /// The maker's next smaller drill, mm, where this one is not at hand; `None` when all are larger.
    pub next_smaller_mm: Option<f64>,
}

/// How far under its last size a hole may be at first, mm: the least, what is to be left, and the most.
fn left_mm(limits: &Limits, last_mm: f64) -> [f64; 3] {
    match limits.undersize_mm {
        Some(wanted_mm) => [wanted_mm, wanted_mm, wanted_mm + DRILL_STEP_MM],
        None => {
            let share_mm = UNDERSIZE_SHARE * last_mm;
            let usual_mm = UNDERSIZE_MM.min(share_mm);
            [LEAST_SHARE_LEFT * usual_mm, usual_mm, (UNDERSIZE_MM + DRILL_STEP_MM).min(share_mm)]
        }
    }
}

/// The first size of every hole that is drilled anew, in the file's order; vents and kept holes have none.
#[must_use]
pub fn first_drills(instrument: &Instrument, limits: &Limits) -> Vec<FirstDrill> {
    let drills = drills_mm(instrument);
    let holes = instrument.holes.iter().enumerate();
    holes
        .filter(|(index, hole)| !hole.vent && limits.may_move(*index))
        .map(|(index, hole)| first_drill(&drills, index, hole.diameter_mm, left_mm(limits, hole.diameter_mm)))
        .collect()
}

/// The largest drill that leaves what is wanted and no more than the most; else the smallest that leaves a good part
/// of it; else the size that is missing. `drills_mm` rising.
fn first_drill(
    drills_mm: &[f64],
    hole: usize,
    last_mm: f64,
    [least_mm, wanted_mm, most_mm]: [f64; 3],
) -> FirstDrill {
    let within = |least_left_mm: f64, most_left_mm: f64| {
        let leaves = move |mm: &f64| {
            let left_mm = last_mm - mm;
            left_mm >= least_left_mm - 1e-9 && left_mm <= most_left_mm + 1e-9
        };
        drills_mm.iter().copied().filter(leaves)
    };
    let own = within(wanted_mm, most_mm).max_by(f64::total_cmp);
    let own = own.or_else(|| within(least_mm, wanted_mm).min_by(f64::total_cmp));
    if let Some(size_mm) = own {
        return FirstDrill { hole, size_mm, at_hand: true, next_smaller_mm: None };
    }
    // Half millimetres are in every shop; where none serves, a tenth is as near as a drill can be bought.
    let down_to = |steps_a_mm: f64| ((last_mm - wanted_mm) * steps_a_mm + 1e-6).floor() / steps_a_mm;
    let [half_mm, tenth_mm] = [2.0, 10.0].map(down_to);
    let size_mm = if last_mm - half_mm <= most_mm + 1e-9 { half_mm } else { tenth_mm };
    // The rounding may end on a drill that leaves a trace more than the most.
    if let Some(size_mm) = drills_mm.iter().copied().find(|mm| (mm - size_mm).abs() < 1e-6) {
        return FirstDrill { hole, size_mm, at_hand: true, next_smaller_mm: None };
    }
    let next_smaller_mm = drills_mm.iter().copied().filter(|mm| *mm < size_mm).max_by(f64::total_cmp);
    FirstDrill { hole, size_mm, at_hand: false, next_smaller_mm }
}

/// Which drills are missing, and what to do without them; `None` when every hole has its first drill.
pub(super) fn missing(instrument: &Instrument, first: &[FirstDrill]) -> Option<Warning> {
    let mut sizes: Vec<(f64, Vec<&FirstDrill>)> = Vec::new();
    for drill in first.iter().filter(|drill| !drill.at_hand) {
        match sizes.iter_mut().find(|(mm, _)| *mm == drill.size_mm) {
            Some((_, drills)) => drills.push(drill),
            None => sizes.push((drill.size_mm, vec![drill])),
        }
    }
    sizes.sort_by(|a, b| a.0.total_cmp(&b.0));
    let told = |(mm, drills): &(f64, Vec<&FirstDrill>)| {
        let names: Vec<&str> =
            drills.iter().map(|drill| instrument.holes[drill.hole].name.as_str()).collect();
        let instead = match drills.first().and_then(|drill| drill.next_smaller_mm) {
            Some(smaller_mm) => format!("your next smaller one is {} mm", plain(smaller_mm)),
            None => "you have none that is smaller".to_string(),
        };
        format!("{} mm for {} ({instead})", plain(*mm), names.join(", "))
    };
    let list: Vec<String> = sizes.iter().map(told).collect();
    (!list.is_empty()).then(|| Warning {
        code: "no-first-drill",
        text: format!(
            "Your drills have a gap where these holes are begun. Missing: {}. Buy or borrow it, or drill the smaller one \
             and open the hole to that size with a reamer or a round file before you play: a hole that is far too small \
             sounds far too flat, and tells little.",
            list.join("; ")
        ),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn first(drills_mm: &[f64], last_mm: f64) -> (f64, bool) {
        let drill = first_drill(drills_mm, 0, last_mm, left_mm(&Limits::default(), last_mm));
        (drill.size_mm, drill.at_hand)
    }

    #[test]
    fn a_first_drill_leaves_a_fifth_and_a_millimetre_and_a_half_at_most() {
        let halves: Vec<f64> = (1..=50).map(|n| 0.5 * f64::from(n)).collect();
        for tenths in 30..200 {
            let last_mm = 0.1 * f64::from(tenths);
            let (mm, _) = first(&halves, last_mm);
            let left_mm = last_mm - mm;
            assert!(left_mm <= (0.2 * last_mm).min(1.5) + 0.1 && left_mm > 0.2, "{last_mm}: {mm}");
        }
        assert_eq!(first(&halves, 8.5), (7.5, true));
        assert_eq!(first(&halves, 10.4), (9.0, true));
        // A fifth of 4 mm is 0.8 mm, less than the millimetre that 3 mm would leave.
        assert_eq!(first(&halves, 4.0), (3.5, true));
    }

    #[test]
    fn a_gap_among_the_drills_is_told_and_not_bridged() {
        let drills = [2.0, 3.0, 8.5, 9.0, 10.0];
        assert_eq!(first(&drills, 8.5), (7.5, false));
        assert_eq!(first(&drills, 10.0), (9.0, true));
        assert_eq!(first(&[6.8, 8.5], 8.5), (7.5, false));
        assert_eq!(first(&[2.0], 2.0), (1.6, false));
        // 0.02 mm more than a fifth is left, but nobody buys a drill that he has.
        assert_eq!(first(&[3.4, 3.5, 4.4], 4.4), (3.5, true));
    }

    #[test]
    fn what_the_maker_wants_to_leave_is_left() {
        let limits = |mm: f64| Limits { undersize_mm: Some(mm), ..Limits::default() };
        let size = |mm: f64| {
            let drill = first_drill(&[6.0, 7.0, 8.0, 10.0], 0, 10.0, left_mm(&limits(mm), 10.0));
            (drill.size_mm, drill.at_hand)
        };
        assert_eq!(size(0.0), (10.0, true));
        assert_eq!(size(2.0), (8.0, true));
        assert_eq!(size(3.5), (6.0, true));
        assert_eq!(size(5.0), (5.0, false));
    }
}
