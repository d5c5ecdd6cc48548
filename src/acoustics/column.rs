//! An air column: bore, holes, leaks, bends and open end, from the top that is blown to the open end.
//!
//! SI units. Must not know names, files, notes or why a hole is open.

use std::f64::consts::{FRAC_PI_2, PI};

use num_complex::Complex64;

use crate::acoustics::circuit::Circuit;
use crate::acoustics::hole::ToneHole;
use crate::acoustics::line::change_of_diameter_length;
use crate::acoustics::radiation::OpenEnd;
use crate::air::Air;

/// Largest ratio of radii within one piece of a cone, and its greatest length, m: within a piece the losses of
/// the mean radius stand for all, which is wrong where the piece widens much and where it is long against
/// the wave. Against the horn equations integrated in fine steps (`tests/second_route`): the worst of the
/// cones there is off by under 0.01 cent; with pieces of 1.15, four at least, by 0.11. With 1.03 and 0.10 m
/// cutting a cone in two still moved a note by 0.013 cent in 6000 random cones; with these by under 0.01.
const LARGEST_CONE_RATIO: f64 = 1.02;
const LONGEST_CONE: f64 = 0.06;

/// One piece of the air column, metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Piece {
    /// A straight cylinder.
    Cylinder {
        /// Bore radius.
        radius: f64,
        /// Length along the centre line.
        length: f64,
        /// Radius of the centre line where the tube is bent.
        bend_radius: Option<f64>,
    },
    /// A short piece of cone.
    Cone {
        /// Radius at the upper end.
        top: f64,
        /// Radius at the lower end.
        bottom: f64,
        /// Length along the centre line.
        length: f64,
        /// Radius of the centre line where the tube is bent.
        bend_radius: Option<f64>,
    },
    /// Extra length of tube of this radius that has mass but no volume (may be negative).
    Inertance {
        /// Bore radius.
        radius: f64,
        /// Length.
        length: f64,
    },
    /// A tone hole or vent.
    Hole(ToneHole),
    /// A hole through the wall with nothing over it.
    Leak {
        /// Radius of the equivalent round channel.
        radius: f64,
        /// Length of the channel.
        length: f64,
    },
}

/// What closes the top and makes the column sound.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Top {
    /// A reed: closed, but it gives like air of this volume, m³.
    Reed {
        /// The reed's give.
        give_volume: f64,
    },
    /// An air jet over an embouchure: open, and its mass counts like this length of tube without volume, m.
    AirJet {
        /// The embouchure's end correction.
        end_length: f64,
    },
}

/// A whole air column, from the top that is blown to the open end.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// Pieces from the top down.
    pub pieces: Vec<Piece>,
    /// Radius at the open end, m.
    pub end_radius: f64,
    /// How the end radiates.
    pub end: OpenEnd,
    /// The air in it.
    pub air: Air,
    /// How much more the walls damp than smooth-wall theory.
    pub loss_factor: f64,
    /// Radius at the top, for impedances in units of ρc/S, m.
    pub top_radius: f64,
    /// What makes it sound.
    pub top: Top,
}

impl Column {
    /// Adds a stretch of bore from radius `top` to `bottom` m; cuts cones into short pieces.
    /// `bend_radius`: radius of the centre line, where the tube is bent.
    pub fn push_bore(&mut self, top: f64, bottom: f64, length: f64, bend_radius: Option<f64>) {
        if length <= 0.0 {
            return;
        }
        if (bottom / top - 1.0).abs() < 1e-6 {
            self.pieces.push(Piece::Cylinder { radius: top, length, bend_radius });
            return;
        }
        let count = ((bottom / top).ln().abs() / LARGEST_CONE_RATIO.ln()).max(length / LONGEST_CONE).ceil();
        let step = (bottom - top) / count;
        for i in 0..count as usize {
            let start = top + step * i as f64;
            self.pieces.push(Piece::Cone {
                top: start,
                bottom: start + step,
                length: length / count,
                bend_radius,
            });
        }
    }

    /// Adds what a sudden change of diameter does.
    pub fn push_change_of_diameter(&mut self, above: f64, below: f64) {
        let smaller = above.min(below);
        let length = change_of_diameter_length(smaller, above.max(below));
        self.pieces.push(Piece::Inertance { radius: smaller, length });
    }

    /// Adds what settles the flow at the two ends of a round bend: a little inertance back, `0.24 B^2.6`
    /// radii (own static finite elements at B = 0.5 and 0.75).
    pub fn push_bend_ends(&mut self, radius: f64, bend_radius: f64) {
        let length = 0.24 * (radius / bend_radius).min(1.0).powf(2.6) * radius;
        self.pieces.push(Piece::Inertance { radius, length });
    }

    /// Adds a mitred elbow of `angle` radians: inertance of `−m_b` radii, nothing for a straight tube.
    ///
    /// `m_b` = 0.0669, 0.156, 0.293, 0.783 at 30, 45, 60, 90° (own static finite elements; the
    /// mechanism: J. W. Coltman, "Acoustic properties of miter bends", 2006). Between them `m_b`
    /// follows angle squared times a slowly rising factor; above 90° two elbows of half the angle.
    pub fn push_mitre(&mut self, radius: f64, angle: f64) {
        let (count, angle) = if angle > FRAC_PI_2 { (2, angle / 2.0) } else { (1, angle) };
        for _ in 0..count {
            self.pieces.push(Piece::Inertance { radius, length: -mitre_radii(angle) * radius });
        }
    }

    /// Input impedance at the top without reed or jet, Pa s/m³. `hz` must be positive. For many frequencies
    /// make a [`Circuit`] once.
    #[must_use]
    pub fn input_impedance(&self, hz: f64) -> Complex64 {
        Circuit::new(self).input_impedance(hz)
    }

    /// What the drive works against at `hz`, without dimension. A note sounds where its imaginary part rises
    /// through zero, next to a minimum of its magnitude.
    ///
    /// A reed works against the admittance of column and reed together, in units of S/ρc: it sounds next to a
    /// peak of the impedance. An air jet works against the impedance of column and embouchure together, in
    /// units of ρc/S: it sounds next to a minimum of the impedance (N. H. Fletcher & T. D. Rossing, *The
    /// Physics of Musical Instruments*, ch. 16; from memory).
    #[must_use]
    pub fn driven_load(&self, hz: f64) -> Complex64 {
        Circuit::new(self).driven_load(hz)
    }

    /// Characteristic impedance ρc/S of the top, Pa s/m³.
    #[must_use]
    pub fn top_impedance(&self) -> f64 {
        self.air.density * self.air.speed / (PI * self.top_radius * self.top_radius)
    }

    /// Whole length of the tube, m.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.pieces
            .iter()
            .map(|piece| match piece {
                Piece::Cylinder { length, .. } | Piece::Cone { length, .. } => *length,
                Piece::Inertance { .. } | Piece::Hole(_) | Piece::Leak { .. } => 0.0,
            })
            .sum()
    }
}

fn mitre_radii(angle: f64) -> f64 {
    // m_b / angle² at the four computed angles (radians), linear between them.
    const AT: [(f64, f64); 4] =
        [(PI / 6.0, 0.0669), (PI / 4.0, 0.156), (PI / 3.0, 0.293), (FRAC_PI_2, 0.783)];
    let shape = |i: usize| AT[i].1 / (AT[i].0 * AT[i].0);
    let above = AT.iter().position(|point| angle <= point.0).unwrap_or(AT.len() - 1);
    if above == 0 {
        return shape(0) * angle * angle;
    }
    let (low, high) = (AT[above - 1].0, AT[above].0);
    let share = (angle - low) / (high - low);
    angle * angle * (shape(above - 1) + share * (shape(above) - shape(above - 1)))
}
