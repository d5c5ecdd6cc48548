//! An air column made ready to be evaluated at many frequencies: everything that does not depend on frequency
//! is worked out once, from the open end up to the top.
//!
//! SI units. Must not know names, files, notes or why a hole is open.

use std::f64::consts::{PI, TAU};

use num_complex::Complex64;

use crate::acoustics::column::{Column, Piece, Top};
use crate::acoustics::hole::HoleCircuit;
use crate::acoustics::leak::leak_impedance;
use crate::acoustics::line::{Line, State, mean_cone_radius};
use crate::acoustics::radiation::{OpenEnd, end_impedance};
use crate::air::Air;

/// A column ready for evaluation.
#[derive(Debug, Clone)]
pub struct Circuit {
    /// From the open end up.
    elements: Vec<Element>,
    end: OpenEnd,
    end_radius: f64,
    air: Air,
    loss_factor: f64,
    top: Top,
    /// ρc/S at the top.
    unit: f64,
}

#[derive(Debug, Clone, Copy)]
enum Element {
    Cylinder {
        radius: f64,
        length: f64,
        bend_radius: Option<f64>,
    },
    Cone {
        top: f64,
        bottom: f64,
        mean: f64,
        length: f64,
        bend_radius: Option<f64>,
    },
    /// kg/m⁴
    Inertance(f64),
    Hole(HoleCircuit),
    Leak {
        radius: f64,
        length: f64,
    },
}

impl Circuit {
    /// Makes `column` ready.
    #[must_use]
    pub fn new(column: &Column) -> Circuit {
        let air = column.air;
        let element = |piece: &Piece| match *piece {
            Piece::Cylinder { radius, length, bend_radius } => {
                Element::Cylinder { radius, length, bend_radius }
            }
            Piece::Cone { top, bottom, length, bend_radius } => {
                Element::Cone { top, bottom, mean: mean_cone_radius(top, bottom), length, bend_radius }
            }
            Piece::Inertance { radius, length } => {
                Element::Inertance(air.density * length / (PI * radius * radius))
            }
            Piece::Hole(hole) => Element::Hole(hole.circuit(&air)),
            Piece::Leak { radius, length } => Element::Leak { radius, length },
        };
        Circuit {
            elements: column.pieces.iter().rev().map(element).collect(),
            end: column.end,
            end_radius: column.end_radius,
            air,
            loss_factor: column.loss_factor,
            top: column.top,
            unit: column.top_impedance(),
        }
    }

    /// Input impedance at the top without reed or jet, Pa s/m³. `hz` must be positive.
    #[must_use]
    pub fn input_impedance(&self, hz: f64) -> Complex64 {
        self.top_state(hz).impedance()
    }

    /// What the drive works against, without dimension; see [`Column::driven_load`].
    #[must_use]
    pub fn driven_load(&self, hz: f64) -> Complex64 {
        let State { p, u } = self.top_state(hz);
        let omega = TAU * hz;
        match self.top {
            // The reed as a pure spring: C. J. Nederveen, *Acoustical Aspects of Woodwind Instruments*
            // (1969) (from memory).
            Top::Reed { give_volume } => {
                let give = omega * give_volume / (self.air.density * self.air.speed * self.air.speed);
                (u / p + Complex64::new(0.0, give)) * self.unit
            }
            // In units of ρc/S, a length of tube without volume weighs `j k l`.
            Top::AirJet { end_length } => {
                p / (u * self.unit) + Complex64::new(0.0, omega / self.air.speed * end_length)
            }
        }
    }

    /// What makes it sound.
    #[must_use]
    pub fn top(&self) -> Top {
        self.top
    }

    /// Pressure and flow at the top, up to a common factor.
    fn top_state(&self, hz: f64) -> State {
        let mut lines = LastLine { hz, air: &self.air, loss_factor: self.loss_factor, last: None };
        let mut state = State::loaded_by(end_impedance(self.end, self.end_radius, hz, &self.air));
        for element in &self.elements {
            state = match *element {
                Element::Cylinder { radius, length, bend_radius } => {
                    lines.get(radius, bend_radius).cylinder(length).lift(state)
                }
                Element::Cone { top, bottom, mean, length, bend_radius } => {
                    lines.get(mean, bend_radius).cone(top, bottom, length).lift(state)
                }
                Element::Inertance(inertance) => state.in_series(Complex64::new(0.0, TAU * hz * inertance)),
                Element::Hole(ref hole) => hole.lift(state, hz, &self.air),
                Element::Leak { radius, length } => {
                    state.with_branch(1.0 / leak_impedance(radius, length, hz, &self.air))
                }
            };
        }
        state
    }
}

/// The line constants used last at one frequency: neighbouring pieces of bore mostly share their radius.
struct LastLine<'a> {
    hz: f64,
    air: &'a Air,
    loss_factor: f64,
    last: Option<(f64, Line)>,
}

impl LastLine<'_> {
    fn get(&mut self, radius: f64, bend_radius: Option<f64>) -> Line {
        let straight = match self.last {
            Some((known, line)) if known == radius => line,
            _ => Line::round(radius, self.hz, self.air, self.loss_factor),
        };
        self.last = Some((radius, straight));
        bend_radius.map_or(straight, |bend| straight.bent(radius, bend))
    }
}
