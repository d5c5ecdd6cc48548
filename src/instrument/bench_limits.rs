//! What can be cut cleanly and covered well: rules of the trade about holes and their pads.
//!
//! Must not know pitch, recordings or the terminal.

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
