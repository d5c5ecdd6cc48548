//! Whole columns with holes: own computations.

use borescribe::acoustics::column::{Column, Piece};
use borescribe::acoustics::hole::{Cover, Rim, ToneHole};
use borescribe::units::cents_between;

use crate::{assert_cents, assert_close, bare_column, peaks, tube};

fn hole(bore_radius: f64, radius_mm: f64, chimney_mm: f64, outer_mm: f64, open: bool) -> Piece {
    let radius = radius_mm * 1e-3;
    Piece::Hole(ToneHole {
        bore_radius,
        radius,
        inner_radius: radius,
        chimney: chimney_mm * 1e-3,
        rim: Rim::Flush { tube_outer_radius: outer_mm * 1e-3 },
        cover: if open { Cover::Open } else { Cover::Closed },
    })
}

/// The regression instrument: 7.5 mm bore radius, three flush holes in a tube of 14.5 mm.
fn three_holes(open: [bool; 3]) -> Column {
    let bore = 7.5e-3;
    let mut column = bare_column(bore);
    for ((length, radius_mm, chimney_mm), is_open) in
        [(0.300, 3.5, 9.0), (0.030, 4.0, 8.0), (0.035, 4.5, 8.0)].into_iter().zip(open)
    {
        column.push_bore(bore, bore, length, None);
        column.pieces.push(hole(bore, radius_mm, chimney_mm, 14.5, is_open));
    }
    column.push_bore(bore, bore, 0.100, None);
    column
}

#[test]
fn the_three_hole_instrument_resonates_where_two_independent_programs_agree() {
    type Row = ([bool; 3], [(f64, f64); 3], (f64, f64));
    let rows: [Row; 5] = [
        (
            [false, false, false],
            [(179.6410, 39.6699), (535.8991, 22.1374), (899.9342, 17.2518)],
            (0.041578, -0.568209),
        ),
        (
            [false, false, true],
            [(215.4563, 42.6434), (640.5878, 22.3766), (1035.5028, 13.5889)],
            (0.078193, -1.417918),
        ),
        (
            [false, true, true],
            [(237.4176, 44.4597), (709.4996, 23.5367), (1136.7560, 11.1332)],
            (0.148944, -2.289236),
        ),
        (
            [true, true, true],
            [(256.6844, 45.4613), (768.0492, 24.1416), (1205.0065, 6.8442)],
            (0.334895, -3.692309),
        ),
        (
            [true, false, false],
            [(243.3086, 42.2028), (668.1505, 14.5360), (908.2670, 13.4330)],
            (0.194216, -2.577545),
        ),
    ];
    for (open, modes, (z_re, z_im)) in rows {
        let column = three_holes(open);
        for (peak, (hz, magnitude)) in peaks(&column, 3, 3000.0).iter().zip(modes) {
            assert_cents(peak.0, hz, 0.05, &format!("{open:?}"));
            assert_close(peak.1, magnitude, 0.0005, &format!("{open:?}"));
        }
        let z = column.input_impedance(300.0) / column.top_impedance();
        assert!((z.re - z_re).abs() < 2e-4 && (z.im - z_im).abs() < 5e-4, "{open:?}: {z}");
    }
}

/// Bore radius 7.5 mm, one flush hole with a chimney of 8 mm, 0.4 m down a tube of 0.6 m.
fn hole_in_short_tube(radius_mm: f64, open: bool) -> Vec<(f64, f64)> {
    let bore = 7.5e-3;
    let mut column = bare_column(bore);
    column.push_bore(bore, bore, 0.4, None);
    column.pieces.push(hole(bore, radius_mm, 8.0, 15.5, open));
    column.push_bore(bore, bore, 0.2, None);
    peaks(&column, 3, 1000.0)
}

#[test]
fn one_hole_in_a_short_tube_resonates_where_our_own_script_says() {
    let found = hole_in_short_tube(4.0, true);
    for (peak, hz) in found.iter().zip([192.6481, 558.2770, 738.7297]) {
        assert_cents(peak.0, hz, 0.01, "b 4 mm");
    }
    assert_cents(hole_in_short_tube(6.0, true)[0].0, 201.3279, 0.01, "b 6 mm");
    // Closed, it lowers the modes of the plain tube.
    let plain = peaks(&tube(7.5e-3, 0.6), 2, 1000.0);
    for ((closed, plain), cents) in hole_in_short_tube(4.0, false).iter().zip(&plain).zip([-1.076, -6.812]) {
        let shift = cents_between(closed.0, plain.0);
        assert!((shift - cents).abs() < 0.005, "{shift} against {cents}");
    }
}

/// Bore radius 10 mm, one open flush hole in a 1.2 m tube.
fn one_hole(at: f64, radius_mm: f64, chimney_mm: f64) -> f64 {
    let bore = 10e-3;
    let mut column = bare_column(bore);
    column.push_bore(bore, bore, at, None);
    column.pieces.push(hole(bore, radius_mm, chimney_mm, 15.0, true));
    column.push_bore(bore, bore, 1.2 - at, None);
    peaks(&column, 1, 400.0)[0].0
}

#[test]
fn moving_widening_and_raising_one_hole_shifts_its_note_as_our_own_script_says() {
    let healthy = one_hole(0.8, 6.0, 8.0);
    assert_cents(healthy, 100.76644, 0.3, "one hole");
    // Central differences: half the interval between one step down and one step up.
    for (step, cents) in
        [((5e-4, 0.0, 0.0), -2.0564 / 2.0), ((0.0, 0.1, 0.0), 2.2072), ((0.0, 0.0, 0.5), -4.9833 / 2.0)]
    {
        let (place, radius, chimney) = step;
        let up = one_hole(0.8 + place, 6.0 + radius, 8.0 + chimney);
        let down = one_hole(0.8 - place, 6.0 - radius, 8.0 - chimney);
        let shift = 0.5 * cents_between(up, down);
        assert!((shift - cents).abs() < 0.01, "{shift} against {cents}");
    }
}

#[test]
fn a_wide_stretch_of_bore_shifts_modes_as_our_own_script_says() {
    let healthy = peaks(&tube(10e-3, 1.2), 3, 400.0);
    for (at, cents) in [
        (0.0, [-0.5776, -0.5726, -0.5660]),
        (0.4, [-0.2792, 0.5701, -0.3381]),
        (0.8, [0.2968, -0.5765, 0.2437]),
        (1.15, [0.5745, 0.5360, 0.4704]),
    ] {
        let mut column = bare_column(10e-3);
        column.push_bore(10e-3, 10e-3, at, None);
        column.push_bore(10.1e-3, 10.1e-3, 0.02, None);
        column.push_bore(10e-3, 10e-3, 1.2 - at - 0.02, None);
        for ((wide, plain), expected) in peaks(&column, 3, 400.0).iter().zip(&healthy).zip(cents) {
            let shift = cents_between(wide.0, plain.0);
            assert!((shift - expected).abs() < 0.002, "at {at} m: {shift} against {expected}");
        }
    }
}
