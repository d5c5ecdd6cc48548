//! What a layout should be besides in tune, in rows that stand beside the notes' cents: hard rules of the bench
//! (wall between holes, reach, the end), and soft wishes of tone (sizes near the maker's, growing toward the
//! bell, even cutoff).
//!
//! Must not know recordings or files.

use super::limits::Limits;
use crate::instrument::bench_limits::{apart_mm, pairs_that_may_meet};
use crate::instrument::lattice::fingering_cutoff_hz;
use crate::instrument::model::Instrument;

/// A rule broken by 1 mm counts as much as a note that is this many cents off: more than any note ever is.
const RULE_CENTS_PER_MM: f64 = 100.0;
/// Rules are kept with this much to spare, mm, so that they hold after rounding.
pub(super) const SPARE_MM: f64 = 0.05;

// How much tone counts beside pitch: each of these counts as much as one note one cent off (our choice: in tune
// comes first, tone chooses between what is equally in tune).
/// A size off the maker's by this share.
pub(super) const SIZE_SHARE: f64 = 0.065;
/// Farther off the maker's than this factor it would be another instrument (our choice) …
const FAR_SIZE: f64 = 1.35;
/// … and beyond it each such share counts: sizes must not run after registers that lie apart.
const FAR_SHARE: f64 = 0.01;
/// A hole wider than its neighbour toward the bell by this share. That holes should grow toward the bell:
/// D. Noreland, J. Kergomard, F. Laloë, C. Vergez, P. Guillemain & A. Guilloteau, "The logical clarinet",
/// Acta Acust. 99 (2013) 615 (abstract read).
const GROWTH_SHARE: f64 = 0.01;
/// Neighbours that differ by more than this factor, unless the maker's own do, make one note bright beside a dull one
/// (common practice, no source) …
const MOST_GROWTH: f64 = 1.2;
/// … and beyond it each such share counts.
const JUMP_SHARE: f64 = 0.03;
/// A cutoff off the mean of all by this share.
const CUTOFF_SHARE: f64 = 0.2;
/// A vent off its first guess by this share of its distance from the top.
const VENT_SHARE: f64 = 0.15;
/// A hole that no note places, off its first guess by this much, mm.
const LOOSE_MM: f64 = 500.0;

/// A rule of the bench and how much room it leaves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Rule {
    pub(super) what: RuleKind,
    /// Less than 0: broken by so much, mm.
    pub(super) room_mm: f64,
}

/// What a rule keeps apart or together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum RuleKind {
    /// Holes that may meet need wall between them: the upper and the lower hole.
    Wall(usize, usize),
    /// The last hole needs wall below it.
    End(usize),
    /// A hand must reach from the upper to the lower hole.
    Reach(usize, usize),
}

/// Every rule in `order`, the holes from the top down.
pub(super) fn rules(instrument: &Instrument, limits: &Limits, order: &[usize]) -> Vec<Rule> {
    let holes = &instrument.holes;
    let mut rules: Vec<Rule> = pairs_that_may_meet(instrument, order)
        .into_iter()
        .map(|pair| {
            let (upper, lower) = (&holes[pair[0]], &holes[pair[1]]);
            let needed_mm =
                0.5 * (upper.diameter_mm + lower.diameter_mm) + limits.wall_between_mm(upper, lower);
            let room_mm = apart_mm(instrument, upper, lower) - needed_mm;
            Rule { what: RuleKind::Wall(pair[0], pair[1]), room_mm }
        })
        .collect();
    if let Some(&last) = order.last() {
        let hole = &holes[last];
        let lowest_mm = hole.at_mm + 0.5 * hole.diameter_mm + hole.rim_mm;
        rules.push(Rule { what: RuleKind::End(last), room_mm: instrument.length_mm() - lowest_mm });
    }
    for reach in &limits.reaches {
        let place = |hole: usize| order.iter().position(|&index| index == hole);
        let (Some(from), Some(to)) = (place(reach.from), place(reach.to)) else { continue };
        let upper_first = from <= to;
        let (upper, lower) = if upper_first { (reach.from, reach.to) } else { (reach.to, reach.from) };
        let room_mm = reach.most_mm - apart_mm(instrument, &holes[upper], &holes[lower]);
        rules.push(Rule { what: RuleKind::Reach(upper, lower), room_mm });
    }
    rules
}

/// The rows of everything but pitch.
pub(super) struct Wishes<'a> {
    pub(super) limits: &'a Limits,
    /// Holes from the top down.
    pub(super) order: Vec<usize>,
    /// The layout that places and sizes are held near.
    pub(super) wanted: Instrument,
    /// Whether sizes are free, so that wishes of tone have a say.
    pub(super) tone: bool,
}

impl Wishes<'_> {
    /// Rows in cents; always as many.
    pub(super) fn rows(&self, instrument: &Instrument) -> Vec<f64> {
        let broken = rules(instrument, self.limits, &self.order)
            .into_iter()
            .map(|rule| RULE_CENTS_PER_MM * (SPARE_MM - rule.room_mm).max(0.0));
        let mut rows: Vec<f64> = broken.collect();
        for (hole, wanted) in instrument.holes.iter().zip(&self.wanted.holes) {
            let scale_mm = if hole.vent { VENT_SHARE * wanted.at_mm } else { LOOSE_MM };
            rows.push((hole.at_mm - wanted.at_mm) / scale_mm.max(1.0));
        }
        if self.tone {
            self.push_tone(instrument, &mut rows);
        }
        rows
    }

    fn push_tone(&self, instrument: &Instrument, rows: &mut Vec<f64>) {
        let holes = &instrument.holes;
        let tone: Vec<usize> = self.order.iter().copied().filter(|&hole| !holes[hole].vent).collect();
        for &hole in &tone {
            let share = (holes[hole].diameter_mm / self.wanted.holes[hole].diameter_mm).ln();
            rows.push(share / SIZE_SHARE);
            rows.push((share.abs() - FAR_SIZE.ln()).max(0.0) / FAR_SHARE);
        }
        for pair in tone.windows(2) {
            let shrinks = (holes[pair[0]].diameter_mm / holes[pair[1]].diameter_mm).ln();
            rows.push(shrinks.max(0.0) / GROWTH_SHARE);
            let wanted = &self.wanted.holes;
            let own_growth = (wanted[pair[1]].diameter_mm / wanted[pair[0]].diameter_mm).ln();
            rows.push((-shrinks - own_growth.max(MOST_GROWTH.ln())).max(0.0) / JUMP_SHARE);
        }
        let logs: Vec<Option<f64>> =
            self.cutoffs_hz(instrument).into_iter().map(|hz| hz.map(f64::ln)).collect();
        let known = logs.iter().flatten().count().max(1) as f64;
        let mean = logs.iter().flatten().sum::<f64>() / known;
        rows.extend(logs.iter().map(|log| log.map_or(0.0, |log| (log - mean) / CUTOFF_SHARE)));
    }

    fn cutoffs_hz(&self, instrument: &Instrument) -> Vec<Option<f64>> {
        let lowest = instrument.fingerings.iter().map(|f| f.register).min().unwrap_or(1);
        let first = (0..instrument.fingerings.len())
            .filter(|&fingering| instrument.fingerings[fingering].register == lowest);
        first.map(|fingering| fingering_cutoff_hz(instrument, fingering)).collect()
    }
}
