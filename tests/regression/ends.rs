//! Radiation from open ends: Levine and Schwinger's integrals and our own mode matching, by quadrature; thick
//! walls and hanging pads, by static finite elements.

use std::f64::consts::PI;

use borescribe::acoustics::radiation::{OpenEnd, end_correction, reflection_modulus, thick_wall_correction};

/// ka, exact |R| and end correction over radius, then how far the fit was found to lie: relative in |R|,
/// absolute in the correction.
type Row = (f64, f64, f64, f64, f64);

const UNFLANGED: [Row; 8] = [
    (0.1, 0.995067, 0.610987, -3e-5, 1.2e-3),
    (0.25, 0.970671, 0.603224, -5e-4, 3.4e-3),
    (0.5, 0.896441, 0.581836, -2.5e-3, 6.2e-3),
    (1.0, 0.695102, 0.527431, -1.1e-3, 3.6e-3),
    (1.5, 0.500788, 0.471270, 3.6e-3, 5e-4),
    (2.0, 0.346176, 0.416944, -5e-4, 4.7e-3),
    (3.0, 0.154328, 0.308275, -5.3e-3, 6.8e-3),
    (3.5, 0.100859, 0.242158, 1.8e-2, 8e-4),
];

const FLANGED: [Row; 7] = [
    (0.05, 0.997509, 0.820594, 0.0, 0.0),
    (0.1, 0.990135, 0.817435, 0.0, 3e-4),
    (0.25, 0.942368, 0.796677, 0.0, 1.5e-3),
    (0.5, 0.811876, 0.737222, 3e-4, 1.8e-3),
    (1.0, 0.551096, 0.604855, 4.5e-3, -6e-3),
    (2.0, 0.256963, 0.426262, -6e-3, 0.0),
    (3.0, 0.120395, 0.307410, -1.1e-2, -1e-3),
];

#[test]
fn open_ends_lie_as_far_from_the_exact_values_as_their_fit_was_found_to() {
    let radius = 0.01;
    for (end, rows) in [(OpenEnd::Unflanged, UNFLANGED.as_slice()), (OpenEnd::Flanged, &FLANGED)] {
        for &(ka, modulus, correction, modulus_error, correction_error) in rows {
            let modulus_off = reflection_modulus(end, radius, ka) / modulus - 1.0;
            let correction_off = end_correction(end, radius, ka) - correction;
            // The errors were printed to one or two digits.
            let rounding = |printed: f64| 0.1 * printed.abs() + 5e-4;
            assert!(
                (modulus_off - modulus_error).abs() < rounding(modulus_error),
                "{end:?} {ka}: {modulus_off}"
            );
            assert!(
                (correction_off - correction_error).abs() < rounding(correction_error),
                "{end:?} {ka}: {correction_off}"
            );
        }
    }
}

#[test]
fn a_thick_wall_corrects_the_end_as_finite_elements_say() {
    for (share, elements) in [(0.9, 0.6571), (0.75, 0.6960), (0.5, 0.7441), (0.25, 0.7843)] {
        let off = thick_wall_correction(share) - elements;
        assert!(off.abs() < 2.5e-3, "{share}: {off}");
    }
}

#[test]
fn levine_and_schwingers_own_integral_gives_the_correction_that_the_fit_starts_from_to_a_thousandth() {
    assert!((end_correction(OpenEnd::Unflanged, 0.01, 1e-6) - 0.612701).abs() < 1e-3);
    assert!((end_correction(OpenEnd::Flanged, 0.01, 1e-6) - 0.82166).abs() < 1e-3);
    assert!(reflection_modulus(OpenEnd::Unflanged, 0.01, 1e-6 / PI) > 0.999_999);
}
