//! What an open end radiates: reflection and impedance of a tube's mouth.
//!
//! SI units. Must not know holes, instruments or files.

use std::f64::consts::PI;

use num_complex::Complex64;

use crate::air::Air;

/// How the tube ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum OpenEnd {
    /// A thin edge in free air.
    Unflanged,
    /// In an infinite flat baffle.
    Flanged,
    /// A wall that ends square: outer radius in m.
    ThickWall {
        /// Outer radius of the tube, m.
        outer_radius: f64,
    },
}

/// Coefficients of the fits of one kind of end: `[β, η0, a1, a2, a3, b1, b2, b3, b4]`.
///
/// Source: F. Silva, P. Guillemain, J. Kergomard, B. Mallaroni & A. N. Norris, J. Sound Vib. 322 (2009)
/// 255–263 (abstract read; coefficients from memory, within 0.01 radii of Levine & Schwinger's
/// integrals).
const UNFLANGED: [f64; 9] = [0.5, 0.6133, 0.800, 0.266, 0.0263, 0.0599, 0.238, -0.0153, 0.001_50];
const FLANGED: [f64; 9] = [1.0, 0.8216, 0.730, 0.372, 0.0231, 0.244, 0.723, -0.0198, 0.003_66];

/// The largest `k·radius` for which the fits hold (the first cut-on of axisymmetric modes).
pub const LARGEST_KA: f64 = 3.8;

/// End correction of a square-cut tube in radii at low frequency, `x = inner/outer radius`.
///
/// Source: J.-P. Dalmont, C. J. Nederveen & N. Joly, J. Sound Vib. 244 (2001) 505–534 (first page read
/// for both limits; formula from memory, within 0.002 radii of a static finite-element solution).
/// Checked in `tests/published/ends.rs`.
#[must_use]
pub fn thick_wall_correction(x: f64) -> f64 {
    let x = x.clamp(0.0, 1.0);
    0.8216 + x * (0.6133 - 0.8216) + 0.057 * x * (1.0 - x.powi(5))
}

/// End correction in radii at `ka`; clamped at [`LARGEST_KA`].
#[must_use]
pub fn end_correction(end: OpenEnd, radius: f64, ka: f64) -> f64 {
    let share = flange_share(end, radius);
    (1.0 - share) * fitted_length(&UNFLANGED, ka) + share * fitted_length(&FLANGED, ka)
}

/// Reflection modulus |R| at `ka`; clamped at [`LARGEST_KA`].
#[must_use]
pub fn reflection_modulus(end: OpenEnd, radius: f64, ka: f64) -> f64 {
    let share = flange_share(end, radius);
    (1.0 - share) * fitted_modulus(&UNFLANGED, ka) + share * fitted_modulus(&FLANGED, ka)
}

/// Radiation impedance of an end of `radius` m at `hz`, Pa s/m³:
/// `Z = (ρc/S)(1 + R)/(1 − R)`, `R = −|R| e^{−2jk l}`.
#[must_use]
pub fn end_impedance(end: OpenEnd, radius: f64, hz: f64, air: &Air) -> Complex64 {
    let ka = air.wave_number(hz) * radius;
    let phase = -2.0 * ka * end_correction(end, radius, ka);
    let reflection = -Complex64::from_polar(reflection_modulus(end, radius, ka), phase);
    air.density * air.speed / (PI * radius * radius) * (1.0 + reflection) / (1.0 - reflection)
}

/// How far an end stands from unflanged (0) toward flanged (1), so that the low-frequency end
/// correction is right.
fn flange_share(end: OpenEnd, radius: f64) -> f64 {
    match end {
        OpenEnd::Unflanged => 0.0,
        OpenEnd::Flanged => 1.0,
        OpenEnd::ThickWall { outer_radius } => {
            (thick_wall_correction(radius / outer_radius) - UNFLANGED[1]) / (FLANGED[1] - UNFLANGED[1])
        }
    }
}

fn fitted_modulus(fit: &[f64; 9], ka: f64) -> f64 {
    let [beta, _, a1, a2, a3, ..] = *fit;
    let k2 = ka.min(LARGEST_KA).powi(2);
    (1.0 + a1 * k2) / (1.0 + (beta + a1) * k2 + a2 * k2.powi(2) + a3 * k2.powi(3))
}

fn fitted_length(fit: &[f64; 9], ka: f64) -> f64 {
    let [_, eta0, _, _, _, b1, b2, b3, b4] = *fit;
    let k2 = ka.min(LARGEST_KA).powi(2);
    eta0 * (1.0 + b1 * k2) / (1.0 + b2 * k2 + b3 * k2.powi(2) + b4 * k2.powi(3))
}
