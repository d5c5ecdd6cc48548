//! Ducts with wall losses: line constants and the matrices of cylinders, cones, bends.
//!
//! SI units; time convention `e^{+jωt}`; `p` pressure, `U` volume flow. Matrices carry the state at
//! the lower end of a piece to its upper end: `(p, U)_top = M (p, U)_bottom`.
//! Must not know holes, instruments or files.

use std::f64::consts::{FRAC_PI_4, PI};

use num_complex::Complex64;

use crate::air::Air;

const J: Complex64 = Complex64::new(0.0, 1.0);

/// Pressure and volume flow at one cross-section.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct State {
    /// Pressure, Pa.
    pub p: Complex64,
    /// Volume flow toward the open end, m³/s.
    pub u: Complex64,
}

impl State {
    /// The state above a load: flow 1, pressure equal to the load's impedance.
    #[must_use]
    pub fn loaded_by(impedance: Complex64) -> State {
        State { p: impedance, u: Complex64::new(1.0, 0.0) }
    }

    /// Adds an impedance in series (flow passes through it).
    #[must_use]
    pub fn in_series(self, impedance: Complex64) -> State {
        State { p: self.p + impedance * self.u, u: self.u }
    }

    /// Adds an admittance to outside (a side branch).
    #[must_use]
    pub fn with_branch(self, admittance: Complex64) -> State {
        State { p: self.p, u: self.u + admittance * self.p }
    }

    /// Input impedance, Pa s/m³.
    #[must_use]
    pub fn impedance(self) -> Complex64 {
        self.p / self.u
    }
}

/// A two-port: rows `[a b; c d]`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoPort {
    /// p from p.
    pub a: Complex64,
    /// p from U.
    pub b: Complex64,
    /// U from p.
    pub c: Complex64,
    /// U from U.
    pub d: Complex64,
}

impl TwoPort {
    /// The state at the top from the state at the bottom.
    #[must_use]
    pub fn lift(&self, bottom: State) -> State {
        State { p: self.a * bottom.p + self.b * bottom.u, u: self.c * bottom.p + self.d * bottom.u }
    }

    /// `a d − b c`; 1 for everything reciprocal.
    #[must_use]
    pub fn determinant(&self) -> Complex64 {
        self.a * self.d - self.b * self.c
    }

    /// This piece above `below`.
    #[must_use]
    pub fn then(&self, below: &TwoPort) -> TwoPort {
        TwoPort {
            a: self.a * below.a + self.b * below.c,
            b: self.a * below.b + self.b * below.d,
            c: self.c * below.a + self.d * below.c,
            d: self.c * below.b + self.d * below.d,
        }
    }
}

/// Propagation constant and characteristic impedance of a round duct.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Γ = α + jβ, 1/m.
    pub propagation: Complex64,
    /// Zc, Pa s/m³.
    pub impedance: Complex64,
}

impl Line {
    /// A round duct of `radius` m at `hz`, exact for plane waves with viscous and thermal losses:
    /// `Z' = (jωρ/S)/(1 − F(q))`, `Y' = (jωS/ρc²)(1 + (γ−1)F(νq))`, `q = r√(jωρ/η)`.
    ///
    /// Sources: C. Zwikker & C. W. Kosten, *Sound Absorbing Materials* (1949); H. Tijdeman, J. Sound
    /// Vib. 39 (1975) 1–33 (abstract read; formulas from memory). Valid while the radius is far below
    /// the wavelength. `loss_factor` multiplies the attenuation for real walls (common practice, no
    /// source). Checked in `tests/published/line.rs` and `tests/regression/line.rs`.
    #[must_use]
    pub fn round(radius: f64, hz: f64, air: &Air, loss_factor: f64) -> Line {
        let omega = 2.0 * PI * hz;
        let area = PI * radius * radius;
        let shear = radius * (omega * air.density / air.viscosity).sqrt();
        let q = Complex64::from_polar(shear, FRAC_PI_4);
        let series = J * omega * air.density / area / (1.0 - shear_function(q));
        let shunt = J * omega * area / (air.density * air.speed * air.speed)
            * (1.0 + (air.heat_ratio - 1.0) * shear_function(air.root_prandtl * q));
        let propagation = right_half((series * shunt).sqrt());
        Line {
            propagation: Complex64::new(propagation.re * loss_factor, propagation.im),
            impedance: right_half((series / shunt).sqrt()),
        }
    }

    /// The same duct bent to a full torus of centre-line radius `bend_radius` m: the inertance per
    /// length shrinks by `(1 + √(1 − B²))/2`, `B = radius/bend_radius ≤ 1`; the volume stays.
    ///
    /// Sources: C. J. Nederveen, J. Acoust. Soc. Am. 104 (1998) 1616; D. H. Keefe & A. H. Benade,
    /// J. Acoust. Soc. Am. 74 (1983) 320 (from memory, derivation checked).
    #[must_use]
    pub fn bent(self, radius: f64, bend_radius: f64) -> Line {
        let curvature = (radius / bend_radius).min(1.0);
        let root = (0.5 * (1.0 + (1.0 - curvature * curvature).sqrt())).sqrt();
        Line { propagation: self.propagation * root, impedance: self.impedance * root }
    }

    /// Matrix of a cylinder of `length` m.
    #[must_use]
    pub fn cylinder(&self, length: f64) -> TwoPort {
        let angle = self.propagation * length;
        let (cosh, sinh) = (angle.cosh(), angle.sinh());
        TwoPort { a: cosh, b: self.impedance * sinh, c: sinh / self.impedance, d: cosh }
    }

    /// Matrix of one short piece of cone from radius `top` to `bottom` m, spherical waves, the losses
    /// of `self` taken at the mean radius `mean_cone_radius(top, bottom)`. Flow is counted through
    /// the plane section. Long cones must be cut into pieces first: one matrix for a long cone is
    /// wrong by up to 20 cents.
    ///
    /// Sources: A. Chaigne & J. Kergomard, *Acoustics of Musical Instruments*, ch. 7; D.
    /// Mapes-Riordan, J. Audio Eng. Soc. 41 (1993) 471 (from memory; determinant and composition
    /// checked numerically). Checked in `tests/regression/line.rs`.
    #[must_use]
    pub fn cone(&self, top: f64, bottom: f64, length: f64) -> TwoPort {
        let mean = mean_cone_radius(top, bottom);
        let wave_number = -J * self.propagation;
        let resistivity = self.impedance * PI * mean * mean;
        let apex_to_top = length * top / (bottom - top);
        let apex_to_bottom = apex_to_top + length;
        let angle = wave_number * length;
        let (sin, cos) = (angle.sin(), angle.cos());
        let areas = PI * top * bottom;
        TwoPort {
            a: bottom / top * cos - sin / (wave_number * apex_to_top),
            b: J * resistivity / areas * sin,
            c: areas / resistivity
                * (J * sin * (1.0 + 1.0 / (wave_number * wave_number * apex_to_top * apex_to_bottom))
                    + cos / (J * wave_number) * (1.0 / apex_to_top - 1.0 / apex_to_bottom)),
            d: top / bottom * cos + sin / (wave_number * apex_to_bottom),
        }
    }
}

/// The radius whose losses stand for a short piece of cone: the mean of 1/r, inverted.
#[must_use]
pub fn mean_cone_radius(top: f64, bottom: f64) -> f64 {
    if (bottom - top).abs() < 1e-9 * top { top } else { (bottom - top) / (bottom / top).ln() }
}

/// Extra length of the narrower tube (radius `smaller` m) that a sudden change of diameter adds as
/// inertance, m; 0 for equal radii.
///
/// Source: J. Kergomard & A. Garcia, J. Sound Vib. 114 (1987) 465–479, low-frequency fit (from
/// memory; within 0.0024 radii of a static mode matching). Checked in `tests/published/line.rs`.
#[must_use]
pub fn change_of_diameter_length(smaller: f64, larger: f64) -> f64 {
    let x = (smaller / larger).min(1.0);
    let series = 0.261_64 - 0.353 * x + 0.0809 * x.powi(3) + 0.038_16 * x.powi(4) - 0.123_86 * x.powi(5)
        + 0.096_16 * x.powi(6);
    smaller * PI * series
}

/// `F(q) = 2 I1(q) / (q I0(q))`, for `arg q` = 45°: 1 for small `q`, 2/q for large.
///
/// Below |q| = 30 by its continued fraction, above by the asymptotic series (relative error below
/// 2e-10 there). Never forms I0 and I1, which overflow. Checked against a Bessel library in
/// `tests/published/line.rs`.
#[must_use]
pub fn shear_function(q: Complex64) -> Complex64 {
    let magnitude = q.norm();
    if magnitude > 30.0 {
        let r = 1.0 / q;
        return 2.0
            * r
            * (1.0
                - r * (0.5
                    + r * (0.125
                        + r * (0.125 + r * (25.0 / 128.0 + r * (13.0 / 32.0 + r * (1073.0 / 1024.0)))))));
    }
    let q_squared = q * q;
    let levels = 20 + (1.5 * magnitude).ceil() as usize;
    let mut term = Complex64::new(2.0 * levels as f64, 0.0);
    for level in (1..levels).rev() {
        term = 2.0 * level as f64 + q_squared / term;
    }
    2.0 / term
}

/// Of the two square roots, the one with positive real part.
fn right_half(root: Complex64) -> Complex64 {
    if root.re < 0.0 { -root } else { root }
}
