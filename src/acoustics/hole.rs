//! Tone holes and vents: open, open under a hanging pad, closed, closed with a leaking pad.
//!
//! SI units. A hole is a T at its centre: half a series length of main tube, the branch, the other half.
//! Must not know the bore around it beyond its radius, nor names or files.

use std::f64::consts::PI;

use num_complex::Complex64;

use crate::acoustics::leak::leak_impedance;
use crate::acoustics::line::{Line, State, mean_cone_radius};
use crate::acoustics::radiation::thick_wall_correction;
use crate::air::Air;

/// Length of the leak channel under a pad that does not seat, m.
pub const PAD_LEAK_LENGTH: f64 = 0.003;

/// Geometry of one hole, metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ToneHole {
    /// Radius of the bore at the hole.
    pub bore_radius: f64,
    /// Radius of the hole at its rim.
    pub radius: f64,
    /// Radius where the hole meets the bore; larger than `radius` when undercut.
    pub inner_radius: f64,
    /// Height from the bore's crest to the rim.
    pub chimney: f64,
    /// How the rim stands.
    pub rim: Rim,
    /// Open or closed.
    pub cover: Cover,
}

/// How a hole's rim stands on the tube, metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Rim {
    /// Flush in the outside of a tube of this outer radius.
    Flush {
        /// Outer radius of the tube.
        tube_outer_radius: f64,
    },
    /// A free chimney with a wall of this width.
    Free {
        /// Width of the rim.
        wall: f64,
    },
}

/// What covers a hole, metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Cover {
    /// Nothing.
    Open,
    /// A flat pad that hangs above it.
    HangingPad {
        /// Radius of the pad.
        pad_radius: f64,
        /// Gap between rim and pad.
        lift: f64,
    },
    /// Closed tight.
    Closed,
    /// Closed by a pad that leaks like a round channel of this radius, [`PAD_LEAK_LENGTH`] long.
    Leaking {
        /// Radius of the equivalent channel.
        leak_radius: f64,
    },
}

impl ToneHole {
    /// The state above the hole from the state below it.
    #[must_use]
    pub fn lift(&self, below: State, hz: f64, air: &Air) -> State {
        let omega = 2.0 * PI * hz;
        let bore_area = PI * self.bore_radius * self.bore_radius;
        let half_series = Complex64::new(0.0, 0.5 * omega * air.density * self.series_length() / bore_area);
        let branch = 1.0 / self.shunt_impedance(hz, air);
        below.in_series(half_series).with_branch(branch).in_series(half_series)
    }

    /// Whether air can pass (open or hanging pad).
    #[must_use]
    pub fn is_open(&self) -> bool {
        matches!(self.cover, Cover::Open | Cover::HangingPad { .. })
    }

    /// Hole radius over bore radius, at the bore.
    fn delta(&self) -> f64 {
        (self.inner_radius / self.bore_radius).min(1.0)
    }

    /// Height of the saddle between the crest of the bore and the hole's mean start, m:
    /// `b (δ/8)(1 + 0.207 δ³)`.
    ///
    /// Source: C. J. Nederveen, J. K. M. Jansen & R. R. van Hassel, Acustica 84 (1998) 957; D. H. Keefe,
    /// J. Acoust. Soc. Am. 87 (1990) 35 (from memory; both limits exact).
    #[must_use]
    pub fn saddle_length(&self) -> f64 {
        let delta = self.delta();
        self.inner_radius * delta / 8.0 * (1.0 + 0.207 * delta.powi(3))
    }

    /// Inner length correction t_i, m.
    ///
    /// Source: A. Lefebvre & G. P. Scavone, J. Acoust. Soc. Am. 131 (2012) 3153 (from memory; within 0.02
    /// radii of static finite elements). Checked in `tests/published/holes.rs`.
    #[must_use]
    pub fn inner_length(&self) -> f64 {
        let d = self.delta();
        self.inner_radius
            * (0.822 - 0.095 * d - 1.566 * d.powi(2) + 2.138 * d.powi(3) - 1.640 * d.powi(4)
                + 0.502 * d.powi(5))
    }

    /// Series length correction in lengths of main tube, m; negative: a hole widens the bore.
    ///
    /// Source: Lefebvre & Scavone 2012, as [`Self::inner_length`]. Checked in `tests/published/holes.rs`.
    #[must_use]
    pub fn series_length(&self) -> f64 {
        let height = self.chimney / self.inner_radius;
        let open = self.is_open();
        let bracket =
            if open { 0.35 - 0.06 * (2.7 * height).tanh() } else { 0.12 + 0.17 * (2.4 * height).tanh() };
        -self.inner_radius * self.delta().powi(2) * bracket
    }

    /// Outer length correction t_r of an open hole, its hanging pad included, m.
    ///
    /// Sources: J.-P. Dalmont, C. J. Nederveen & N. Joly, J. Sound Vib. 244 (2001) 505 (flush hole, free
    /// chimney, pad); J.-P. Dalmont et al., Acta Acust. 88 (2002) 567 (from memory; within a few per cent
    /// of finite elements). Checked in `tests/regression/holes.rs`.
    #[must_use]
    pub fn outer_length(&self) -> f64 {
        let bare = match self.rim {
            Rim::Flush { tube_outer_radius } => {
                0.822 - 0.47 * (self.radius / tube_outer_radius).min(1.0).powf(0.8)
            }
            Rim::Free { wall } => thick_wall_correction(self.radius / (self.radius + wall)),
        };
        self.radius * (bare + self.pad_correction())
    }

    /// What a hanging pad adds to t_r, in hole radii. A flush hole counts a rim of a tenth of the
    /// radius: the tube's wall curves away from the pad (finite elements, own computation).
    fn pad_correction(&self) -> f64 {
        let Cover::HangingPad { pad_radius, lift } = self.cover else { return 0.0 };
        let wall = match self.rim {
            Rim::Flush { .. } => 0.1 * self.radius,
            Rim::Free { wall } => wall,
        };
        let gap = lift / self.radius;
        1.0 / (3.5 * gap.powf(0.8) * (gap + 3.0 * wall / self.radius).powf(-0.4)
            + 30.0 * (lift / pad_radius).powf(2.6))
    }

    /// Impedance of the branch to outside, Pa s/m³.
    ///
    /// Circuit: D. H. Keefe, J. Acoust. Soc. Am. 87 (1990) 35–51 (read in a secondary source). An
    /// undercut chimney is a cone whose low-frequency length is `t/(b_i b_o)` (own construction, no
    /// published fit known).
    #[must_use]
    pub fn shunt_impedance(&self, hz: f64, air: &Air) -> Complex64 {
        let omega = 2.0 * PI * hz;
        let inner_area = PI * self.inner_radius * self.inner_radius;
        let inner = Complex64::new(0.0, omega * air.density * self.inner_length() / inner_area);
        let top = match self.cover {
            Cover::Closed => None,
            Cover::Leaking { leak_radius } => Some(leak_impedance(leak_radius, PAD_LEAK_LENGTH, hz, air)),
            Cover::Open | Cover::HangingPad { .. } => Some(self.radiation_impedance(hz, air)),
        };
        inner + self.chimney_impedance(top, hz, air)
    }

    fn radiation_impedance(&self, hz: f64, air: &Air) -> Complex64 {
        let area = PI * self.radius * self.radius;
        let kb = air.wave_number(hz) * self.radius;
        let share = match self.rim {
            Rim::Free { .. } => 0.25,
            Rim::Flush { .. } => 0.5,
        };
        let resistance = air.density * air.speed / area * share * kb * kb;
        let reactance = 2.0 * PI * hz * air.density * self.outer_length() / area;
        Complex64::new(resistance, reactance)
    }

    /// Input impedance of the chimney under a load at its rim; `None`: closed tight.
    fn chimney_impedance(&self, load: Option<Complex64>, hz: f64, air: &Air) -> Complex64 {
        let length = self.chimney + self.saddle_length();
        let undercut = (self.inner_radius - self.radius).abs() > 1e-9;
        let radius = if undercut { mean_cone_radius(self.inner_radius, self.radius) } else { self.radius };
        let line = Line::round(radius, hz, air, 1.0);
        let piece =
            if undercut { line.cone(self.inner_radius, self.radius, length) } else { line.cylinder(length) };
        match load {
            Some(impedance) => piece.lift(State::loaded_by(impedance)).impedance(),
            None => piece.a / piece.c,
        }
    }
}
