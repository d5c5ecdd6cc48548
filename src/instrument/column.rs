//! From the maker's geometry to an air column: millimetres to metres, names to pieces.
//!
//! Knows the instrument and the acoustics; must not know recordings, targets or findings.

use std::f64::consts::PI;

use crate::acoustics::column::{Column, Piece, Top};
use crate::acoustics::hole::{Cover, Rim, ToneHole};
use crate::acoustics::radiation::{LARGEST_KA, OpenEnd};
use crate::acoustics::resonance;
use crate::air::{Air, PLAYED_CO2};
use crate::instrument::model::{Drive, Hole, Instrument};

const METRES_PER_MM: f64 = 1e-3;
const CUBIC_METRES_PER_ML: f64 = 1e-6;

/// A chimney at most this much taller than the wall is flush in the tube's outside, mm.
pub(crate) const FLUSH_ALLOWANCE_MM: f64 = 0.5;

/// Length of the leak channel under a pad that does not seat, mm.
const PAD_LEAK_MM: f64 = 3.0;

/// A pad hangs at least this high, mm: less is a closed hole.
const LEAST_LIFT_MM: f64 = 0.01;

/// Diameter of an embouchure hole as a share of the bore, and the flanged end correction in radii.
const EMBOUCHURE_SHARE: f64 = 0.6;
const FLANGED_RADII: f64 = 0.8216;

/// Nobody hears a pitch above this, hertz (common practice, no source).
const HIGHEST_PITCH_HZ: f64 = 10_000.0;
/// Half waves of the whole tube up to which its resonances are looked for. A hole a thirtieth down the tube still
/// has its first six below this.
const MOST_HALF_WAVES: f64 = 200.0;

/// Something that leaks, as a round channel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leak {
    /// Where.
    pub place: LeakPlace,
    /// Diameter of the equivalent channel, mm.
    pub diameter_mm: f64,
}

/// A place that may leak.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LeakPlace {
    /// The pad of a closed hole: index into [`Instrument::holes`].
    Hole(usize),
    /// A post hole, joint and so on: index into [`Instrument::leak_sites`].
    Site(usize),
}

/// The reed's give as a volume in ml: the file's, or a length of 7 mm × √(bore/15 mm) of the bore.
///
/// 7 mm on a 15 mm bore: C. J. Nederveen, "Calculations on location and dimensions of holes in a
/// clarinet", Acustica 14 (1964) (summary read); its growth with the bore is our assumption.
#[must_use]
pub fn reed_give_ml(instrument: &Instrument) -> f64 {
    let top_mm = instrument.bore_at_mm(0.0);
    match &instrument.mouthpiece {
        None => 0.0,
        Some(mouthpiece) => mouthpiece.reed_ml.unwrap_or_else(|| {
            let length_mm = 7.0 * (top_mm / 15.0).sqrt();
            length_mm * area_mm2(top_mm) / 1000.0
        }),
    }
}

/// The reed's give with which mouthpiece and reed stand for `more_mm` more of bore than now, ml; below 0 where none does.
#[must_use]
pub fn reed_give_at_ml(instrument: &Instrument, more_mm: f64) -> f64 {
    reed_give_ml(instrument) + more_mm * area_mm2(instrument.bore_at_mm(0.0)) / 1000.0
}

/// Lengths of bore that mouthpiece chamber and reed stand for, mm.
#[must_use]
pub fn mouthpiece_length_mm(instrument: &Instrument) -> f64 {
    let chamber_ml = instrument.mouthpiece.map_or(0.0, |m| m.chamber_ml);
    (chamber_ml + reed_give_ml(instrument)) * 1000.0 / area_mm2(instrument.bore_at_mm(0.0))
}

/// End correction of an air jet's embouchure as a length of bore, mm: the file's, or a first guess.
///
/// The guess takes a round hole of 0.6 of the bore's diameter (common practice, no source) through the wall,
/// with a flat flange on both sides: `(t + 2 · 0.8216 b)(a/b)²` (0.8216: A. N. Norris & I. C. Sheng, J. Sound
/// Vib. 135 (1989) 85, quoted on a page read). How far the lip covers the hole moves it by several
/// millimetres either way: learn it from takes, as the length that brings the good notes to pitch.
#[must_use]
pub fn embouchure_mm(instrument: &Instrument) -> f64 {
    instrument.embouchure_mm.unwrap_or_else(|| {
        let hole_radius_mm = 0.5 * EMBOUCHURE_SHARE * instrument.bore_at_mm(0.0);
        (instrument.wall.thickness_mm + 2.0 * FLANGED_RADII * hole_radius_mm) / EMBOUCHURE_SHARE.powi(2)
    })
}

fn top(instrument: &Instrument) -> Top {
    match instrument.drive {
        Drive::Reed => Top::Reed { give_volume: reed_give_ml(instrument) * CUBIC_METRES_PER_ML },
        Drive::AirJet => Top::AirJet { end_length: embouchure_mm(instrument) * METRES_PER_MM },
    }
}

/// The air column when the holes with indices `open` are open and `leaks` leak.
///
/// The chamber is a cylinder of the bore's diameter with the chamber's volume. Holes that are only planned
/// are left out, unless one of them is open: such a note is for the finished body, where all are there.
#[must_use]
pub fn column(instrument: &Instrument, open: &[usize], leaks: &[Leak]) -> Column {
    let metres = |mm: f64| mm * METRES_PER_MM;
    let top_radius = 0.5 * metres(instrument.bore_at_mm(0.0));
    let end_radius = 0.5 * metres(instrument.bore.last().map_or(0.0, |point| point.diameter_mm));
    let mut column = Column {
        pieces: Vec::new(),
        end_radius,
        end: OpenEnd::ThickWall { outer_radius: end_radius + metres(instrument.wall.thickness_mm) },
        air: Air::mixture(instrument.air.temperature_c, instrument.air.humidity_percent / 100.0, PLAYED_CO2),
        loss_factor: instrument.wall.finish.loss_factor(),
        top_radius,
        top: top(instrument),
    };
    if let Some(mouthpiece) = instrument.mouthpiece {
        let length = mouthpiece.chamber_ml * CUBIC_METRES_PER_ML / (PI * top_radius * top_radius);
        column.push_bore(top_radius, top_radius, length, None);
    }
    let mut features = features(instrument, open, leaks);
    features.sort_by(|a, b| a.at_mm.total_cmp(&b.at_mm));
    lay_bore(&mut column, instrument, &features);
    column
}

/// The frequency at which a fingering's register sounds, hertz; `None` when the column has no such
/// resonance.
#[must_use]
pub fn playing_hz(instrument: &Instrument, open: &[usize], register: usize, leaks: &[Leak]) -> Option<f64> {
    let column = column(instrument, open, leaks);
    resonance::playing_hz(&column, register, highest_hz(&column))
}

/// The highest frequency at which a note is looked for, hertz: as far as plane waves and the end's formulas hold,
/// as anyone hears a pitch, and as a short open length at the top of a long tube can sound.
#[must_use]
pub fn highest_hz(column: &Column) -> f64 {
    let widest = column.end_radius.max(column.top_radius);
    let plane_hz = LARGEST_KA * column.air.speed / (2.0 * PI * widest);
    let overtones_hz = MOST_HALF_WAVES * column.air.speed / (2.0 * column.length());
    plane_hz.min(HIGHEST_PITCH_HZ).min(overtones_hz)
}

/// Something in the wall at one place along the bore.
struct Feature {
    at_mm: f64,
    what: What,
}

enum What {
    Piece(Piece),
    /// A bend begins (its centre-line radius, m).
    BendBegins(f64),
    BendEnds,
    Mitre {
        angle: f64,
    },
}

fn features(instrument: &Instrument, open: &[usize], leaks: &[Leak]) -> Vec<Feature> {
    let mut features = Vec::new();
    let is_finished = open.iter().any(|&hole| !instrument.holes[hole].drilled);
    for (index, hole) in instrument.holes.iter().enumerate() {
        let is_open = open.contains(&index);
        if !hole.drilled && !is_finished {
            continue;
        }
        let leak = leaks.iter().find(|leak| leak.place == LeakPlace::Hole(index));
        let piece = Piece::Hole(tone_hole(instrument, hole, is_open, leak.map(|leak| leak.diameter_mm)));
        features.push(Feature { at_mm: hole.at_mm, what: What::Piece(piece) });
    }
    for leak in leaks {
        if let LeakPlace::Site(index) = leak.place
            && let Some(site) = instrument.leak_sites.get(index)
        {
            let piece = Piece::Leak {
                radius: 0.5 * leak.diameter_mm * METRES_PER_MM,
                length: site.wall_mm * METRES_PER_MM,
            };
            features.push(Feature { at_mm: site.at_mm, what: What::Piece(piece) });
        }
    }
    for bend in &instrument.bends {
        let angle = bend.angle_deg.to_radians();
        if bend.radius_mm > 0.0 {
            let half = 0.5 * bend.radius_mm * angle;
            let from = (bend.at_mm - half).max(0.0);
            let to = (bend.at_mm + half).min(instrument.length_mm());
            features.push(Feature { at_mm: from, what: What::BendBegins(bend.radius_mm * METRES_PER_MM) });
            features.push(Feature { at_mm: to, what: What::BendEnds });
        } else {
            features.push(Feature { at_mm: bend.at_mm, what: What::Mitre { angle } });
        }
    }
    features
}

fn tone_hole(instrument: &Instrument, hole: &Hole, open: bool, leak_mm: Option<f64>) -> ToneHole {
    let bore_radius = 0.5 * instrument.bore_at_mm(hole.at_mm) * METRES_PER_MM;
    let wall_mm = instrument.wall.thickness_mm;
    let rim = if hole.chimney_mm <= wall_mm + FLUSH_ALLOWANCE_MM {
        Rim::Flush { tube_outer_radius: bore_radius + wall_mm * METRES_PER_MM }
    } else {
        Rim::Free { wall: hole.rim_mm * METRES_PER_MM }
    };
    let cover = match (open, hole.pad, leak_mm) {
        (true, None, _) => Cover::Open,
        (true, Some(pad), _) => Cover::HangingPad {
            pad_radius: 0.5 * pad.diameter_mm * METRES_PER_MM,
            lift: pad.lift_mm.max(LEAST_LIFT_MM) * METRES_PER_MM,
        },
        (false, _, Some(diameter_mm)) => {
            let (radius, length) = (0.5 * diameter_mm * METRES_PER_MM, PAD_LEAK_MM * METRES_PER_MM);
            if hole.finger {
                Cover::LeakingFinger { radius, length }
            } else {
                Cover::Leaking { radius, length }
            }
        }
        (false, _, None) => {
            if hole.finger {
                Cover::Finger
            } else {
                Cover::Closed
            }
        }
    };
    ToneHole {
        bore_radius,
        radius: 0.5 * hole.diameter_mm * METRES_PER_MM,
        inner_radius: 0.5 * (hole.diameter_mm + hole.undercut_mm) * METRES_PER_MM,
        chimney: hole.chimney_mm * METRES_PER_MM,
        rim,
        cover,
    }
}

/// Lays the bore from the top down, cut where something sits in the wall.
fn lay_bore(column: &mut Column, instrument: &Instrument, features: &[Feature]) {
    let mut waiting = features.iter().peekable();
    let mut bend_radius = None;
    for pair in instrument.bore.windows(2) {
        let (from, to) = (pair[0], pair[1]);
        if to.at_mm <= from.at_mm {
            column.push_change_of_diameter(
                0.5 * from.diameter_mm * METRES_PER_MM,
                0.5 * to.diameter_mm * METRES_PER_MM,
            );
            continue;
        }
        let radius_at = |at_mm: f64| {
            let share = (at_mm - from.at_mm) / (to.at_mm - from.at_mm);
            0.5 * METRES_PER_MM * (from.diameter_mm + share * (to.diameter_mm - from.diameter_mm))
        };
        let mut at_mm = from.at_mm;
        while let Some(feature) = waiting.next_if(|feature| feature.at_mm <= to.at_mm) {
            let next_mm = feature.at_mm.max(at_mm);
            let length = (next_mm - at_mm) * METRES_PER_MM;
            column.push_bore(radius_at(at_mm), radius_at(next_mm), length, bend_radius);
            at_mm = next_mm;
            let radius = radius_at(at_mm);
            match feature.what {
                What::Piece(piece) => column.pieces.push(piece),
                What::BendBegins(centre) => bend_radius = Some(centre),
                What::BendEnds => {
                    if let Some(centre) = bend_radius.take() {
                        column.push_bend_ends(radius, centre);
                    }
                }
                What::Mitre { angle } => column.push_mitre(radius, angle),
            }
        }
        let length = (to.at_mm - at_mm) * METRES_PER_MM;
        column.push_bore(radius_at(at_mm), radius_at(to.at_mm), length, bend_radius);
    }
}

fn area_mm2(diameter_mm: f64) -> f64 {
    0.25 * PI * diameter_mm * diameter_mm
}
