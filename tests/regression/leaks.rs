//! Leaks: own computations.

use borescribe::acoustics::column::Piece;
use borescribe::acoustics::leak::leak_impedance;
use borescribe::air::Air;
use borescribe::units::cents_between;
use num_complex::Complex64;

use crate::{peaks, tube, tube_with};

#[test]
fn leak_impedances_match_our_own_script() {
    for (diameter_mm, hz, re, im) in [
        (0.3, 30.0, 2.738152e8, 1.362295e7),
        (0.5, 100.0, 3.569278e7, 1.697330e7),
        (1.0, 100.0, 2.403234e6, 4.580496e6),
        (2.0, 300.0, 3.321701e5, 3.623625e6),
        (3.0, 30.0, 3.760041e4, 1.988670e5),
    ] {
        let value = leak_impedance(0.5e-3 * diameter_mm, 3e-3, hz, &Air::keefe(20.0));
        let expected = Complex64::new(re, im);
        assert!(
            (value - expected).norm() < 3e-6 * expected.norm(),
            "{diameter_mm} mm: {value} against {expected}"
        );
    }
}

#[test]
fn a_leak_shifts_and_weakens_modes_as_our_own_script_says() {
    let healthy = peaks(&tube(10e-3, 1.5), 3, 400.0);
    // diameter mm, place m, then cents and dB of modes 1 to 3
    let rows = [
        (0.3, 0.50, [(0.36, -0.88), (0.00, 0.00), (0.30, -0.34)]),
        (0.5, 0.05, [(10.37, -6.13), (6.47, -2.73), (3.58, -1.27)]),
        (0.5, 0.75, [(5.25, -3.58), (3.27, -1.57), (1.99, -0.68)]),
        (0.5, 1.25, [(0.73, -0.59), (3.45, -1.52), (3.64, -1.32)]),
        (1.0, 1.00, [(81.62, -7.78), (55.40, -5.47), (5.25, -0.91)]),
        (1.0, 1.45, [(1.10, -0.20), (1.71, -0.21), (1.81, -0.21)]),
    ];
    for (diameter_mm, at, modes) in rows {
        let leak = Piece::Leak { radius: 0.5e-3 * diameter_mm, length: 3e-3 };
        let leaking = peaks(&tube_with(10e-3, 1.5, at, leak), 3, 400.0);
        for ((peak, plain), (cents, decibels)) in leaking.iter().zip(&healthy).zip(modes) {
            let shift = cents_between(peak.0, plain.0);
            let height: f64 = 20.0 * (peak.1 / plain.1).log10();
            assert!((shift - cents).abs() < 0.02, "{diameter_mm} mm at {at} m: {shift} against {cents}");
            assert!(
                (height - decibels).abs() < 0.01,
                "{diameter_mm} mm at {at} m: {height} dB against {decibels}"
            );
        }
    }
}
