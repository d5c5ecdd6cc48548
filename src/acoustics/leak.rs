//! Leaks: a short round channel to the open air.
//!
//! SI units. Must not know where a leak sits nor why.

use std::f64::consts::PI;

use num_complex::Complex64;

use crate::acoustics::line::Duct;
use crate::air::Air;

/// A channel no wider than this lets nothing through, and its line constants drown in rounding, m.
const NARROWEST: f64 = 1e-6;

/// Impedance of a leak: a channel of `radius` and `length` m, exact line constants, with both end
/// corrections `0.82 r` and the radiation resistance of a small source:
/// `Z = Zc tanh(Γ l) + jωρ·2·0.8216 r/(πr²) + ρω²/(2πc)`, Pa s/m³.
///
/// Built from [`Duct::round`] and the flanged end correction (Rayleigh; Dalmont et al. 2001). At
/// playing level a leak's jet adds resistance that this leaves out. Checked in
/// `tests/regression/leaks.rs`.
#[must_use]
pub fn leak_impedance(radius: f64, length: f64, hz: f64, air: &Air) -> Complex64 {
    let omega = 2.0 * PI * hz;
    let radius = radius.max(NARROWEST);
    let stretch = Duct::round(radius, hz, air).stretch(length);
    let channel = stretch.b / stretch.d;
    let ends = omega * air.density * 2.0 * 0.8216 * radius / (PI * radius * radius);
    let radiation = air.density * omega * omega / (2.0 * PI * air.speed);
    channel + Complex64::new(radiation, ends)
}
