//! End corrections and radiation.

use borescribe::acoustics::radiation::{
    OpenEnd, end_correction, end_impedance, reflection_modulus, thick_wall_correction,
};
use borescribe::air::Air;
use num_complex::Complex64;
use std::f64::consts::PI;

/// H. Levine & J. Schwinger, Phys. Rev. 73 (1948) 383: 0.6133 radii; A. N. Norris & I. C. Sheng, J. Sound
/// Vib. 135 (1989) 85: 0.8216 radii. Both quoted on the first page (read) of J.-P. Dalmont, C. J. Nederveen
/// & N. Joly, J. Sound Vib. 244 (2001) 505. Evaluating Levine and Schwinger's own integral gives 0.6127,
/// hence ±0.001.
#[test]
fn low_frequency_end_corrections_are_the_published_ones() {
    assert!((end_correction(OpenEnd::Unflanged, 0.01, 1e-6) - 0.6133).abs() < 0.001);
    assert!((end_correction(OpenEnd::Flanged, 0.01, 1e-6) - 0.8216).abs() < 0.001);
}

/// Lord Rayleigh, *Theory of Sound*: the flanged correction lies between π/4 and 8/(3π) (from memory).
#[test]
fn the_flanged_correction_lies_between_rayleighs_bounds() {
    let flanged = end_correction(OpenEnd::Flanged, 0.01, 1e-6);
    assert!(PI / 4.0 < flanged && flanged < 8.0 / (3.0 * PI));
}

/// Dalmont, Nederveen & Joly 2001: a wall of any thickness lies between thin and infinite flange.
#[test]
fn a_thick_wall_lies_between_thin_edge_and_flange_and_reaches_both() {
    assert!((thick_wall_correction(1.0) - 0.6133).abs() < 1e-12);
    assert!((thick_wall_correction(0.0) - 0.8216).abs() < 1e-12);
    let end = OpenEnd::ThickWall { outer_radius: 0.015 };
    let between = end_correction(end, 0.012, 1e-6);
    assert!((between - thick_wall_correction(0.8)).abs() < 1e-9);
    assert!(0.6133 < between && between < 0.8216);
}

/// R. Caussé, J. Kergomard & X. Lurton, J. Acoust. Soc. Am. 75 (1984) 241: low-frequency series of the
/// unflanged radiation impedance for ka < 1.5 (from memory). Tolerances are what our own quadrature of
/// Levine and Schwinger's integrals found for the fit below ka = 0.5: 0.0026 in |R|, 0.0065 in l/a.
#[test]
fn unflanged_radiation_agrees_with_causses_series() {
    let air = Air::keefe(20.0);
    let radius = 0.01;
    for ka in [0.05_f64, 0.1, 0.25, 0.5] {
        let hz = ka * air.speed / (2.0 * PI * radius);
        let unit = air.density * air.speed / (PI * radius * radius);
        let log = ka.ln();
        let series = Complex64::new(
            0.25 * ka.powi(2) + 0.0127 * ka.powi(4) + 0.082 * ka.powi(4) * log - 0.023 * ka.powi(6),
            0.6133 * ka - 0.036 * ka.powi(3) + 0.034 * ka.powi(3) * log - 0.0187 * ka.powi(5),
        );
        let reflection = |z: Complex64| (z - 1.0) / (z + 1.0);
        let ours = reflection(end_impedance(OpenEnd::Unflanged, radius, hz, &air) / unit);
        let published = reflection(series);
        assert!((ours.norm() - published.norm()).abs() < 0.0026, "ka {ka}: |R|");
        // R = −|R| exp(−2jka·l/a)
        let length = |r: Complex64| -(-r).arg() / (2.0 * ka);
        assert!((length(ours) - length(published)).abs() < 0.0065, "ka {ka}: l/a");
    }
}

/// Energy: an open end cannot reflect more than it gets.
#[test]
fn no_end_reflects_more_than_it_gets() {
    for end in [OpenEnd::Unflanged, OpenEnd::Flanged, OpenEnd::ThickWall { outer_radius: 0.013 }] {
        for i in 0..80 {
            let modulus = reflection_modulus(end, 0.01, 0.05 * f64::from(i));
            assert!((0.0..=1.0).contains(&modulus));
        }
    }
}
