//! Tone holes and vents: open, open under a hanging pad, closed, closed with a leaking pad.
//!
//! SI units. A hole is a T at its centre: half a series length of main tube, the branch, the other half.
//! Must not know the bore around it beyond its radius, nor names or files.

use std::f64::consts::PI;

use num_complex::Complex64;

use crate::acoustics::leak::leak_impedance;
use crate::acoustics::line::{Duct, Line, State, TwoPort, mean_cone_radius};
use crate::acoustics::radiation::thick_wall_correction;
use crate::air::Air;

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
    /// Closed tight by a flat lid.
    Closed,
    /// Closed tight by a fingertip, which stands into the chimney.
    Finger,
    /// Closed by a pad that leaks like a round channel.
    Leaking {
        /// Radius of the equivalent channel.
        radius: f64,
        /// Length of the channel.
        length: f64,
    },
    /// Closed by a fingertip that leaks like a round channel.
    LeakingFinger {
        /// Radius of the equivalent channel.
        radius: f64,
        /// Length of the channel.
        length: f64,
    },
}

impl ToneHole {
    /// The hole with everything worked out that does not depend on frequency.
    #[must_use]
    pub fn circuit(&self, air: &Air) -> HoleCircuit {
        let bore_area = PI * self.bore_radius * self.bore_radius;
        let inner_area = PI * self.inner_radius * self.inner_radius;
        let undercut = (self.inner_radius - self.radius).abs() > 1e-9;
        HoleCircuit {
            half_series: 0.5 * air.density * self.series_length() / bore_area,
            inner: air.density * self.inner_length() / inner_area,
            inner_radius: if undercut { self.inner_radius } else { self.radius },
            radius: self.radius,
            height: self.air_height(),
            load: self.load(air),
        }
    }

    fn load(&self, air: &Air) -> Load {
        match self.cover {
            Cover::Closed | Cover::Finger => Load::Wall,
            Cover::Leaking { radius, length } | Cover::LeakingFinger { radius, length } => {
                Load::Leak { radius, length }
            }
            Cover::Open | Cover::HangingPad { .. } => {
                let share = match self.rim {
                    Rim::Free { .. } => 0.25,
                    Rim::Flush { .. } => 0.5,
                };
                let area = PI * self.radius * self.radius;
                Load::Outside {
                    resistance: air.density / (air.speed * PI) * share,
                    mass: air.density * self.outer_length() / area,
                }
            }
        }
    }

    /// Whether air can pass (open or hanging pad).
    #[must_use]
    pub fn is_open(&self) -> bool {
        matches!(self.cover, Cover::Open | Cover::HangingPad { .. })
    }

    fn has_finger(&self) -> bool {
        matches!(self.cover, Cover::Finger | Cover::LeakingFinger { .. })
    }

    /// How far a fingertip that closes the hole stands into its chimney, m; 0 under anything else.
    ///
    /// Source: P. Dickens, *Flute acoustics: measurement, modelling and design*, PhD thesis, University of New South
    /// Wales 2007, p. 66, eq. 4.13 (read): fitted to measured holes 1.0, 2.5 and 5.0 mm high.
    #[must_use]
    pub fn finger_length(&self) -> f64 {
        if !self.has_finger() {
            return 0.0;
        }
        let (ratio, height) = (self.radius / self.bore_radius, self.chimney / self.bore_radius);
        let sech = |x: f64| 1.0 / x.cosh();
        self.radius * (0.55 - 0.15 * sech(9.0 * height) + 0.4 * sech(6.5 * height) * (ratio - 1.0))
    }

    /// Height of the air in the hole, from its mean start in the bore to its rim or to the fingertip, m.
    ///
    /// That a fingertip takes as much off the air's height as it does off the series length is our construction: the
    /// thesis fits its own length here (eq. 4.11, not read). A little air is always left, as a cone needs a length.
    fn air_height(&self) -> f64 {
        const LEAST_SHARE: f64 = 0.01;
        (self.chimney + self.saddle_length() - self.finger_length()).max(LEAST_SHARE * self.radius)
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
    /// Source: Lefebvre & Scavone 2012, as [`Self::inner_length`]. Checked in `tests/published/holes.rs`. Under a
    /// fingertip: Dickens 2007 (see [`Self::finger_length`]), p. 66, eq. 4.12 (read). Checked in
    /// `tests/regression/fingers.rs`.
    #[must_use]
    pub fn series_length(&self) -> f64 {
        if self.has_finger() {
            return self.series_length_under_finger();
        }
        let height = self.chimney / self.inner_radius;
        let open = self.is_open();
        let bracket =
            if open { 0.35 - 0.06 * (2.7 * height).tanh() } else { 0.12 + 0.17 * (2.4 * height).tanh() };
        -self.inner_radius * self.delta().powi(2) * bracket
    }

    fn series_length_under_finger(&self) -> f64 {
        let d = self.delta();
        let free = 1.84 * (self.chimney - self.finger_length()) / self.inner_radius;
        // A fingertip that reaches the bore leaves nothing of the hole.
        if free.abs() < 1e-9 {
            return 0.0;
        }
        // Beyond that it stands into the bore and narrows it: the fit goes on with the limit of coth.
        let coth = if free > 0.0 { 1.0 / free.tanh() } else { 1.0 / free };
        -self.inner_radius * d.powi(2) / (1.78 * coth + 0.940 + 0.540 * d + 0.285 * d.powi(2))
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
}

/// A hole with everything worked out that does not depend on frequency: a series inertance on either side of
/// a branch to outside.
///
/// Circuit: D. H. Keefe, J. Acoust. Soc. Am. 87 (1990) 35–51 (read in a secondary source). An undercut chimney
/// is a cone whose low-frequency length is `t/(b_i b_o)` (own construction, no published fit known).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HoleCircuit {
    /// Half the series inertance, kg/m⁴.
    half_series: f64,
    /// Inertance of the inner correction, kg/m⁴.
    inner: f64,
    inner_radius: f64,
    radius: f64,
    /// Chimney and saddle, m.
    height: f64,
    load: Load,
}

/// What the chimney ends in.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Load {
    /// A tight cover.
    Wall,
    /// A leaking pad.
    Leak { radius: f64, length: f64 },
    /// The open: `resistance` ω² + jω `mass`.
    Outside { resistance: f64, mass: f64 },
}

impl HoleCircuit {
    /// The state above the hole from the state below it.
    #[must_use]
    pub fn lift(&self, below: State, hz: f64, air: &Air) -> State {
        let half_series = Complex64::new(0.0, 2.0 * PI * hz * self.half_series);
        below.in_series(half_series).with_branch(self.admittance(hz, air)).in_series(half_series)
    }

    /// Admittance of the branch to outside, m³/(Pa s).
    #[must_use]
    pub fn admittance(&self, hz: f64, air: &Air) -> Complex64 {
        let omega = 2.0 * PI * hz;
        let chimney = self.chimney(hz, air);
        let foot = match self.load {
            Load::Wall => State { p: chimney.a, u: chimney.c },
            Load::Leak { radius, length } => {
                chimney.lift(State::loaded_by(leak_impedance(radius, length, hz, air)))
            }
            Load::Outside { resistance, mass } => {
                chimney.lift(State::loaded_by(Complex64::new(resistance * omega * omega, mass * omega)))
            }
        };
        let inside = foot.in_series(Complex64::new(0.0, omega * self.inner));
        inside.u / inside.p
    }

    fn chimney(&self, hz: f64, air: &Air) -> TwoPort {
        if self.inner_radius == self.radius {
            return Duct::round(self.radius, hz, air).stretch(self.height);
        }
        let mean = mean_cone_radius(self.inner_radius, self.radius);
        Line::round(mean, hz, air, 1.0).cone(self.inner_radius, self.radius, self.height)
    }
}
