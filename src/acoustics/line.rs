//! Ducts with wall losses: line constants and the matrices of cylinders, cones, bends.
//!
//! SI units; time convention `e^{+jωt}`; `p` pressure, `U` volume flow. Matrices carry the state at
//! the lower end of a piece to its upper end: `(p, U)_top = M (p, U)_bottom`.
//! Must not know holes, instruments or files.

use std::f64::consts::PI;

use num_complex::Complex64;

use crate::acoustics::shear::shear_function;
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

/// Impedance and admittance per metre of a round duct: exact for plane waves with viscous and thermal
/// losses.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Duct {
    /// Z', Pa s/m⁴.
    pub series: Complex64,
    /// Y', m²/(Pa s).
    pub shunt: Complex64,
}

/// Largest |Γ L|² for the power series of a short duct: eight terms are exact there to rounding.
const LARGEST_SHORT: f64 = 0.5;

impl Duct {
    /// A round duct of `radius` m at `hz`: `Z' = (jωρ/S)/(1 − F(q))`, `Y' = (jωS/ρc²)(1 + (γ−1)F(νq))`,
    /// `q = r√(jωρ/η)`.
    ///
    /// Sources: C. Zwikker & C. W. Kosten, *Sound Absorbing Materials* (1949); H. Tijdeman, J. Sound
    /// Vib. 39 (1975) 1–33 (abstract read; formulas from memory). Valid while the radius is far below
    /// the wavelength. Checked in `tests/published/line.rs` and `tests/regression/lines.rs`.
    #[must_use]
    pub fn round(radius: f64, hz: f64, air: &Air) -> Duct {
        let omega = 2.0 * PI * hz;
        let area = PI * radius * radius;
        let shear = radius * (omega * air.density / air.viscosity).sqrt();
        let mass = J * (omega * air.density / area);
        let give = J * (omega * area / (air.density * air.speed * air.speed));
        Duct {
            series: mass / (1.0 - shear_function(shear)),
            shunt: give * (1.0 + (air.heat_ratio - 1.0) * shear_function(air.root_prandtl * shear)),
        }
    }

    /// Matrix of a stretch of `length` m. Chimneys and leaks are so short against the wave that a few terms of
    /// cosh and sinh give it without roots or exponentials.
    #[must_use]
    pub fn stretch(&self, length: f64) -> TwoPort {
        let (series, shunt) = (self.series * length, self.shunt * length);
        let square = series * shunt;
        if square.norm_sqr() > LARGEST_SHORT * LARGEST_SHORT {
            return Line::of(self, 1.0).cylinder(length);
        }
        const COSH: [f64; 8] = factorials(0);
        const SINH: [f64; 8] = factorials(1);
        let sum = |terms: &[f64; 8]| {
            terms.iter().rev().fold(Complex64::new(0.0, 0.0), |sum, &term| sum * square + term)
        };
        let (cosh, sinh) = (sum(&COSH), sum(&SINH));
        TwoPort { a: cosh, b: series * sinh, c: shunt * sinh, d: cosh }
    }
}

/// `1/(2k + first)!`
const fn factorials(first: usize) -> [f64; 8] {
    let mut terms = [1.0; 8];
    let mut k = 1;
    while k < 8 {
        terms[k] = terms[k - 1] / ((2 * k + first) * (2 * k + first - 1)) as f64;
        k += 1;
    }
    terms
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
    /// A round duct of `radius` m at `hz`, see [`Duct::round`]. `loss_factor` multiplies the attenuation for
    /// real walls (common practice, no source).
    #[must_use]
    pub fn round(radius: f64, hz: f64, air: &Air, loss_factor: f64) -> Line {
        Line::of(&Duct::round(radius, hz, air), loss_factor)
    }

    fn of(duct: &Duct, loss_factor: f64) -> Line {
        let propagation = root(duct.series * duct.shunt);
        Line {
            propagation: Complex64::new(propagation.re * loss_factor, propagation.im),
            impedance: duct.series / propagation,
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
        let (cosh, sinh) = cosh_and_sinh(angle);
        TwoPort { a: cosh, b: self.impedance * sinh, c: sinh / self.impedance, d: cosh }
    }

    /// Matrix of one short piece of cone from radius `top` to `bottom` m, spherical waves, the losses
    /// of `self` taken at the mean radius `mean_cone_radius(top, bottom)`. Flow is counted through
    /// the plane section. Long cones must be cut into pieces first: one matrix for a long cone is
    /// wrong by up to 20 cents.
    ///
    /// Sources: A. Chaigne & J. Kergomard, *Acoustics of Musical Instruments*, ch. 7; D.
    /// Mapes-Riordan, J. Audio Eng. Soc. 41 (1993) 471 (from memory; determinant and composition
    /// checked numerically). Checked in `tests/regression/lines.rs`.
    #[must_use]
    pub fn cone(&self, top: f64, bottom: f64, length: f64) -> TwoPort {
        let mean = mean_cone_radius(top, bottom);
        let wave_number = -J * self.propagation;
        let resistivity = self.impedance * PI * mean * mean;
        let apex_to_top = length * top / (bottom - top);
        let apex_to_bottom = apex_to_top + length;
        let (cos, sinh) = cosh_and_sinh(self.propagation * length);
        let sin = -J * sinh;
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

/// The square root with positive real part, for sizes whose squares neither over- nor underflow. The general
/// one goes by way of angles.
fn root(z: Complex64) -> Complex64 {
    let half = 0.5 * ((z.re * z.re + z.im * z.im).sqrt() + z.re.abs());
    let larger = half.sqrt();
    let smaller = 0.5 * z.im / larger;
    if z.re >= 0.0 {
        Complex64::new(larger, smaller)
    } else {
        Complex64::new(smaller.abs(), larger.copysign(z.im))
    }
}

/// A wave that is damped by this many nepers each way never comes back; more would overflow.
const ENDLESS: f64 = 300.0;

/// cosh and sinh of one argument from one exponential and one sine and cosine.
fn cosh_and_sinh(z: Complex64) -> (Complex64, Complex64) {
    let grown = z.re.min(ENDLESS).exp();
    let shrunk = 1.0 / grown;
    let (sin, cos) = z.im.sin_cos();
    let (even, odd) = (0.5 * (grown + shrunk), 0.5 * (grown - shrunk));
    (Complex64::new(even * cos, odd * sin), Complex64::new(odd * cos, even * sin))
}
