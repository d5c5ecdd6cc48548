//! Register vents as plain channels 10 mm long: own computations.

use borescribe::acoustics::column::Piece;
use borescribe::units::cents_between;

use crate::{assert_cents, assert_close, peaks, tube, tube_with};

fn vented(bore_mm: f64, place: f64, vent_mm: f64) -> Vec<(f64, f64)> {
    let vent = Piece::Leak { radius: 0.5e-3 * vent_mm, length: 10e-3 };
    peaks(&tube_with(0.5e-3 * bore_mm, 1.5, 1.5 * place, vent), 2, 400.0)
}

/// Bore mm, place as a share of the length, f1, height 1, f2, height 2, then how far a vent of 3 mm moves
/// mode 2 and mode 1, cents.
type Row = (f64, f64, f64, f64, f64, f64, f64, f64);
const VENTS: [Row; 8] = [
    (15.0, 1.0 / 3.0, 98.139, 9.39, 168.397, 13.029, 0.93, 989.0),
    (15.0, 0.20, 101.533, 5.005, 182.169, 15.402, 137.0, 1048.0),
    (20.0, 1.0 / 3.0, 84.742, 10.43, 168.868, 17.267, 0.3, 724.0),
    (20.0, 0.20, 88.416, 7.155, 176.254, 18.106, 74.4, 798.0),
    (27.0, 1.0 / 3.0, 74.139, 12.94, 169.154, 23.15, 0.1, 486.0),
    (35.0, 1.0 / 3.0, 67.737, 16.835, 169.23, 29.669, 0.04, 326.0),
    (40.0, 1.0 / 3.0, 65.288, 19.701, 169.208, 33.567, 0.03, 261.0),
    (40.0, 0.20, 66.924, 16.596, 170.941, 31.813, 17.7, 304.0),
];

#[test]
fn a_vent_shifts_both_modes_as_our_own_script_says() {
    for (bore, place, f1, z1, f2, z2, upper_cents, lower_cents) in VENTS {
        let modes = vented(bore, place, 3.0);
        let what = format!("bore {bore} mm, vent at {place}");
        assert_cents(modes[0].0, f1, 0.05, &what);
        assert_cents(modes[1].0, f2, 0.02, &what);
        assert_close(modes[0].1, z1, 2e-4, &what);
        assert_close(modes[1].1, z2, 2e-4, &what);
        let plain = peaks(&tube(0.5e-3 * bore, 1.5), 2, 400.0);
        let shift = |mode: usize| cents_between(modes[mode].0, plain[mode].0);
        assert!((shift(0) - lower_cents).abs() <= 0.6, "{what}: {}", shift(0));
        assert!((shift(1) - upper_cents).abs() <= 0.06, "{what}: {}", shift(1));
    }
}

/// There is a best size: too small leaves the lower mode as it is, too large makes a new one of it.
#[test]
fn vents_of_every_size_part_the_modes_as_our_own_script_says() {
    for (bore, sizes) in [
        (20.0, [(1.0, 0.626), (1.5, 0.510), (2.0, 0.512), (3.0, 0.604), (4.0, 0.761), (6.0, 1.133)]),
        (40.0, [(1.0, 0.915), (1.5, 0.705), (2.0, 0.633), (3.0, 0.587), (4.0, 0.608), (6.0, 0.731)]),
    ] {
        for (vent, share) in sizes {
            let modes = vented(bore, 1.0 / 3.0, vent);
            let ours = modes[0].1 / modes[1].1;
            assert!((ours - share).abs() < 6e-4, "bore {bore} mm, vent {vent} mm: {ours}");
        }
    }
    for (bore, vent, hz) in [
        (20.0, 1.0, 58.246),
        (20.0, 1.5, 64.036),
        (20.0, 2.0, 70.651),
        (20.0, 6.0, 117.9),
        (40.0, 1.0, 56.746),
        (40.0, 1.5, 58.269),
        (40.0, 3.0, 65.288),
    ] {
        let tolerance = if vent > 5.0 { 0.75 } else { 0.02 };
        assert_cents(vented(bore, 1.0 / 3.0, vent)[0].0, hz, tolerance, &format!("{bore} mm, {vent} mm"));
    }
}

#[test]
fn a_vent_off_its_still_point_sharpens_the_second_register() {
    let healthy = peaks(&tube(10e-3, 1.5), 2, 400.0)[1].0;
    for (place, cents) in [
        (0.25, [2.900, 7.389, 13.729, 31.672]),
        (0.30, [0.531, 1.342, 2.472, 5.587]),
        (0.40, [1.758, 4.410, 8.017, 17.462]),
    ] {
        for (vent, cents) in [1.0, 1.5, 2.0, 3.0].into_iter().zip(cents) {
            let shift = cents_between(vented(20.0, place, vent)[1].0, healthy);
            assert!((shift - cents).abs() < 0.005, "vent {vent} mm at {place}: {shift} against {cents}");
        }
    }
}
