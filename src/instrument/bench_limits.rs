//! What can be drilled, cut cleanly and covered well: rules of the trade about holes and their pads.
//!
//! Must not know pitch, recordings or the terminal.

use std::f64::consts::PI;

use super::model::{Hole, Instrument};

/// Wider than this share of the bore, a hole can neither be cut cleanly nor covered well (common practice,
/// no source).
pub const WIDEST_SHARE: f64 = 0.9;
/// A pad should reach this far beyond the rim on each side, mm (common practice, no source).
pub const PAD_OVERLAP_MM: f64 = 1.0;
/// A pad should open this share of its hole's diameter (a repairer's page on clarinet keys, read).
pub const LEAST_LIFT_SHARE: f64 = 1.0 / 3.0;

/// The widest that a hole may become in the bore where it sits, mm.
#[must_use]
pub fn widest_in_bore_mm(instrument: &Instrument, hole: &Hole) -> f64 {
    WIDEST_SHARE * instrument.bore_at_mm(hole.at_mm)
}

/// The widest that the hole's pad still covers with some overlap, mm; `None` without a pad.
#[must_use]
pub fn covered_mm(hole: &Hole) -> Option<f64> {
    hole.pad.map(|pad| pad.diameter_mm - 2.0 * (hole.rim_mm + PAD_OVERLAP_MM))
}

/// A drill of the maker's that is no farther than this from a size takes its place, mm (our choice: half a step of a set by
/// half millimetres).
const DRILL_NEAR_MM: f64 = 0.25;

/// The size to plan on the next body for a hole as wide as this one, where measuring and proportion give hundredths: the
/// nearest drill of the maker's where one is near, else a tenth of a millimetre, as far as a hole can be measured. It gets
/// no wider than bore and pad let it.
#[must_use]
pub fn size_to_make_mm(instrument: &Instrument, hole: &Hole) -> f64 {
    let mm = hole.diameter_mm;
    let most_mm =
        hole.pad.map_or(f64::INFINITY, |pad| pad.diameter_mm).min(widest_in_bore_mm(instrument, hole));
    let apart = |size_mm: f64| (size_mm - mm).abs();
    let fits = |size_mm: &f64| *size_mm <= most_mm.max(mm);
    let near =
        instrument.workshop.drills_mm.iter().copied().filter(|&mm| apart(mm) <= DRILL_NEAR_MM).filter(fits);
    let tenth = Some((mm * 10.0).round() / 10.0).filter(fits);
    near.min_by(|&a, &b| apart(a).total_cmp(&apart(b))).or(tenth).unwrap_or((mm * 10.0).floor() / 10.0)
}

/// From the centre of one hole to that of another over the outside of the tube, mm; less than 0 when `lower` lies nearer
/// the mouthpiece on the same line. The tube counts as straight, and as wide as half-way between the two.
#[must_use]
pub fn apart_mm(instrument: &Instrument, upper: &Hole, lower: &Hole) -> f64 {
    let along_mm = lower.at_mm - upper.at_mm;
    let round_mm = round_the_tube_mm(instrument, upper, lower);
    if round_mm == 0.0 { along_mm } else { along_mm.hypot(round_mm) }
}

/// How far one hole lies from the line of the other, round the outside of the tube, mm.
#[must_use]
pub fn round_the_tube_mm(instrument: &Instrument, one: &Hole, other: &Hole) -> f64 {
    let turned_deg = (one.angle_deg - other.angle_deg).abs();
    let outside_mm =
        instrument.bore_at_mm(0.5 * (one.at_mm + other.at_mm)) + 2.0 * instrument.wall.thickness_mm;
    PI * outside_mm * turned_deg.min(360.0 - turned_deg) / 360.0
}

/// The pairs of holes that may meet, each from the top down, of holes that stand in `order` from the top down: on one line
/// only neighbours, round the tube any two.
#[must_use]
pub fn pairs_that_may_meet(instrument: &Instrument, order: &[usize]) -> Vec<[usize; 2]> {
    let angle_deg = |hole: usize| instrument.holes[hole].angle_deg;
    let on_one_line = order.windows(2).all(|pair| angle_deg(pair[0]) == angle_deg(pair[1]));
    let farthest = if on_one_line { 1 } else { order.len() };
    let below = |place: usize| order.iter().skip(place + 1).take(farthest);
    (0..order.len()).flat_map(|place| below(place).map(move |&lower| [order[place], lower])).collect()
}
