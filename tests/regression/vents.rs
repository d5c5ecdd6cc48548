//! Register vents as plain channels 10 mm long: own computations.

use borescribe::acoustics::column::Piece;
use borescribe::units::cents_between;

use crate::{assert_cents, assert_close, peaks, tube, tube_with};

fn vented(bore_mm: f64, place: f64, vent_mm: f64) -> Vec<(f64, f64)> {
    let vent = Piece::Leak { radius: 0.5e-3 * vent_mm, length: 10e-3 };
    peaks(&tube_with(0.5e-3 * bore_mm, 1.5, 1.5 * place, vent), 2, 400.0)
}

#[test]
fn a_vent_shifts_both_modes_as_our_own_script_says() {
    // bore mm, place as a share of the length, vent mm, f1, height 1, f2, height 2
    for (bore, place, vent, f1, z1, f2, z2) in [
        (15.0, 1.0 / 3.0, 3.0, 98.139, 9.390, 168.397, 13.029),
        (20.0, 1.0 / 3.0, 3.0, 84.742, 10.430, 168.868, 17.267),
        (20.0, 0.20, 3.0, 88.416, 7.155, 176.254, 18.106),
        (27.0, 1.0 / 3.0, 3.0, 74.139, 12.940, 169.154, 23.150),
        (40.0, 1.0 / 3.0, 3.0, 65.288, 19.701, 169.208, 33.567),
    ] {
        let modes = vented(bore, place, vent);
        let what = format!("bore {bore} mm, vent {vent} mm at {place}");
        assert_cents(modes[0].0, f1, 1.0, &what);
        assert_cents(modes[1].0, f2, 0.1, &what);
        assert_close(modes[0].1, z1, 0.002, &what);
        assert_close(modes[1].1, z2, 0.002, &what);
    }
}

#[test]
fn a_vent_off_its_still_point_sharpens_the_second_register() {
    let healthy = peaks(&tube(10e-3, 1.5), 2, 400.0)[1].0;
    for (place, vent, cents) in
        [(0.25, 1.0, 2.900), (0.25, 2.0, 13.729), (0.30, 3.0, 5.587), (0.40, 2.0, 8.017)]
    {
        let shift = cents_between(vented(20.0, place, vent)[1].0, healthy);
        assert!(
            (shift - cents).abs() < 0.15 + 0.02 * cents,
            "vent {vent} mm at {place}: {shift} against {cents}"
        );
    }
}
