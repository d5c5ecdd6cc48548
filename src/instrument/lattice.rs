//! A row of open holes as a filter: below its cutoff it reflects sound, above it lets sound out, so that
//! the tube has no strong resonances there.
//!
//! SI units inside. Must not know recordings or findings.

use std::f64::consts::{FRAC_PI_2, PI};

use super::column::column;
use super::model::Instrument;
use super::twelfth::open_tone_holes;
use crate::acoustics::column::Piece;
use crate::acoustics::hole::ToneHole;

/// Cutoff of an endless row of equal open holes, hertz: the edge of its first stop band,
/// `tan(k s) · 2 k t_e = δ²`.
///
/// `delta`: radius of the hole over radius of the bore; `half_spacing` s and `effective_height` t_e in m,
/// the latter with the hole's inner and outer corrections; `speed` in m/s. All above 0.
///
/// The lattice and its low-frequency form `f_c = 0.110 c (b/a)/√(s t_e)`: A. H. Benade, J. Acoust. Soc. Am.
/// 32 (1960) 1591 (from memory). The exact edge for holes that are masses follows from
/// `cos ψ = cos 2ks + (δ²/(2 k t_e)) sin 2ks`. Checked in `tests/published/lattice.rs`.
#[must_use]
pub fn cutoff_hz(delta: f64, half_spacing: f64, effective_height: f64, speed: f64) -> f64 {
    // In x = ks, x·tan x rises from 0 to infinity between 0 and π/2.
    let wanted = 0.5 * delta * delta * half_spacing / effective_height;
    let (mut low, mut high) = (0.0, FRAC_PI_2);
    for _ in 0..60 {
        let x = 0.5 * (low + high);
        if x * x.tan() < wanted {
            low = x;
        } else {
            high = x;
        }
    }
    0.5 * (low + high) * speed / (2.0 * PI * half_spacing)
}

/// Cutoff of the two uppermost open tone holes of a fingering, hertz: what the note meets first. Real rows
/// are uneven; the two are taken as a piece of an even row with their mean size and height. `None` with
/// fewer than two open holes.
#[must_use]
pub fn fingering_cutoff_hz(instrument: &Instrument, fingering: usize) -> Option<f64> {
    let column = column(instrument, &open_tone_holes(instrument, fingering), &[]);
    let mut at = 0.0;
    let mut open: Vec<(f64, ToneHole)> = Vec::new();
    for piece in &column.pieces {
        match *piece {
            Piece::Cylinder { length, .. } | Piece::Cone { length, .. } => at += length,
            Piece::Hole(hole) if hole.is_open() => open.push((at, hole)),
            _ => {}
        }
    }
    let [(first_at, first), (second_at, second), ..] = open.as_slice() else { return None };
    let half_spacing = 0.5 * (second_at - first_at);
    if half_spacing <= 0.0 {
        return None;
    }
    let height =
        |hole: &ToneHole| hole.chimney + hole.saddle_length() + hole.inner_length() + hole.outer_length();
    let delta = |hole: &ToneHole| hole.radius / hole.bore_radius;
    let mean_delta = (0.5 * (delta(first).powi(2) + delta(second).powi(2))).sqrt();
    let mean_height = 0.5 * (height(first) + height(second));
    Some(cutoff_hz(mean_delta, half_spacing, mean_height, column.air.speed))
}
