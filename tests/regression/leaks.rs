//! Leaks: own computations.

use borescribe::acoustics::column::Piece;
use borescribe::acoustics::leak::leak_impedance;
use borescribe::air::Air;
use borescribe::units::cents_between;
use num_complex::Complex64;

use crate::{followed, peaks, tube, tube_with};

/// Diameter mm, then the impedance at 30, 100 and 300 Hz of a channel 3 mm long.
type Impedances = (f64, [(f64, f64); 3]);
const IMPEDANCES: [Impedances; 5] = [
    (0.3, [(2.738152e8, 1.362295e7), (2.740141e8, 4.540442e7), (2.757478e8, 1.360723e8)]),
    (0.5, [(3.550284e7, 5.096840e6), (3.569278e7, 1.697330e7), (3.725095e7, 5.052601e7)]),
    (1.0, [(2.236372e6, 1.391200e6), (2.403234e6, 4.580496e6), (3.153369e6, 1.306671e7)]),
    (2.0, [(1.545186e5, 4.011553e5), (2.174324e5, 1.267480e6), (3.321701e5, 3.623625e6)]),
    (3.0, [(3.760041e4, 1.988670e5), (5.829954e4, 6.306114e5), (9.400734e4, 1.835141e6)]),
];

/// Diameter mm, place m, then cents and decibels of modes 1 to 3.
type Shifts = (f64, f64, [(f64, f64); 3]);
#[allow(clippy::approx_constant)] // a change of -3.14 dB
const SHIFTS: [Shifts; 26] = [
    (0.3, 0.05, [(0.48, -1.15), (0.45, -0.62), (0.38, -0.4)]),
    (0.3, 0.5, [(0.36, -0.88), (0.0, 0.0), (0.3, -0.34)]),
    (0.5, 0.05, [(10.37, -6.13), (6.47, -2.73), (3.58, -1.27)]),
    (0.5, 0.25, [(9.58, -5.82), (3.35, -1.42), (0.28, -0.04)]),
    (0.5, 0.5, [(7.73, -4.93), (0.01, 0.01), (2.85, -1.15)]),
    (0.5, 0.75, [(5.25, -3.58), (3.27, -1.57), (1.99, -0.68)]),
    (0.5, 1.0, [(2.68, -1.98), (6.68, -2.81), (0.9, -0.39)]),
    (0.5, 1.25, [(0.73, -0.59), (3.45, -1.52), (3.64, -1.32)]),
    (0.5, 1.45, [(0.03, -0.03), (0.2, -0.1), (0.32, -0.12)]),
    (1.0, 0.05, [(301.15, -17.19), (54.46, -5.3), (20.79, -2.05)]),
    (1.0, 0.25, [(293.16, -16.38), (29.7, -2.44), (1.65, 0.18)]),
    (1.0, 0.5, [(243.15, -14.42), (0.09, 0.02), (16.1, -2.36)]),
    (1.0, 0.75, [(163.17, -11.57), (27.75, -3.86), (11.43, -0.93)]),
    (1.0, 1.0, [(81.62, -7.78), (55.4, -5.47), (5.25, -0.91)]),
    (1.0, 1.25, [(22.42, -3.14), (27.86, -2.84), (20.51, -2.2)]),
    (1.0, 1.45, [(1.1, -0.2), (1.71, -0.21), (1.81, -0.21)]),
    (2.0, 0.05, [(786.0, -18.7), (188.56, -6.99), (77.25, -2.65)]),
    (2.0, 0.25, [(857.0, -15.7), (124.57, -1.46), (6.52, 1.11)]),
    (2.0, 0.5, [(790.0, -11.1), (0.35, 0.06), (56.08, -4.32)]),
    (2.0, 0.75, [(554.0, -7.8), (101.47, -6.75), (41.81, -0.35)]),
    (2.0, 1.0, [(299.0, -5.3), (190.84, -5.98), (20.37, -2.03)]),
    (2.0, 1.25, [(96.5, -2.6), (90.53, -2.43), (70.23, -2.38)]),
    (2.0, 1.45, [(6.0, -0.3), (6.36, -0.23), (6.39, -0.22)]),
    (3.0, 0.25, [(1135.0, -16.1), (249.68, 0.36), (13.63, 2.45)]),
    (3.0, 0.75, [(777.0, -3.4), (178.33, -9.37), (78.12, 0.75)]),
    (3.0, 1.25, [(152.5, -1.33), (144.41, -1.36), (121.13, -1.73)]),
];

#[test]
fn leak_impedances_match_our_own_script() {
    for (diameter_mm, impedances) in IMPEDANCES {
        for (hz, (re, im)) in [30.0, 100.0, 300.0].into_iter().zip(impedances) {
            let value = leak_impedance(0.5e-3 * diameter_mm, 3e-3, hz, &Air::keefe(20.0));
            let expected = Complex64::new(re, im);
            assert!(
                (value - expected).norm() < 1e-6 * expected.norm(),
                "{diameter_mm} mm at {hz} Hz: {value} against {expected}"
            );
        }
    }
}

/// Thin slits of 2 mm length at 100 Hz and the round channels that our own script put beside them.
#[test]
fn a_round_channel_stands_for_a_slit_as_our_own_script_says() {
    for (diameter_mm, re, im) in
        [(0.215, 6.967256e8, 7.261794e6), (0.529, 2.177310e7, 9.077223e5), (1.148, 2.722482e6, 4.538455e5)]
    {
        let round = leak_impedance(0.5e-3 * diameter_mm, 2e-3, 100.0, &Air::keefe(20.0)).norm();
        // The diameters have three digits, and a narrow channel's impedance goes with their fourth power.
        assert!((round / Complex64::new(re, im).norm() - 1.0).abs() < 0.012, "{diameter_mm} mm");
    }
}

#[test]
fn a_leak_shifts_and_weakens_modes_as_our_own_script_says() {
    let healthy = peaks(&tube(10e-3, 1.5), 3, 400.0);
    for (diameter_mm, at, modes) in SHIFTS {
        let leak = |diameter_mm: f64| {
            tube_with(10e-3, 1.5, at, Piece::Leak { radius: 0.5e-3 * diameter_mm, length: 3e-3 })
        };
        for (mode, (plain, (cents, decibels))) in healthy.iter().zip(modes).enumerate() {
            let what = format!("{diameter_mm} mm at {at} m, mode {}", mode + 1);
            let (hz, height) = followed(&leak, diameter_mm, plain.0);
            let shift = cents_between(hz, plain.0);
            let change: f64 = 20.0 * (height / plain.1).log10();
            // Printed to a hundredth or to a whole cent, and to a tenth of a decibel where the leak is wide.
            let (fine, coarse) = if diameter_mm < 1.5 { (0.02, 0.01) } else { (0.6, 0.06) };
            assert!((shift - cents).abs() <= fine, "{what}: {shift} against {cents}");
            assert!((change - decibels).abs() <= coarse, "{what}: {change} dB against {decibels}");
        }
    }
}
