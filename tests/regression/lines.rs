//! Wall losses, cones, changes of diameter, bends: own computations.

use borescribe::acoustics::column::{Piece, Top};
use borescribe::acoustics::line::{Line, change_of_diameter_length, mean_cone_radius};
use borescribe::acoustics::resonance::resonances;
use borescribe::acoustics::shear::shear_function;
use borescribe::air::Air;
use borescribe::units::cents_between;
use num_complex::Complex64;
use std::f64::consts::PI;

use crate::{assert_cents, assert_close, bare_column, peaks, tube};

/// Radius mm, Hz, attenuation Np/m, phase velocity m/s, Zc S/(ρc).
const LOSSES: [(f64, f64, f64, f64, f64, f64); 32] = [
    (4.0, 15.0, 3.184112e-02, 311.0452, 1.036563, -0.048733),
    (4.0, 30.0, 4.365467e-02, 319.7585, 1.026002, -0.031975),
    (4.0, 60.0, 6.040597e-02, 326.2773, 1.018434, -0.021383),
    (4.0, 125.0, 8.579717e-02, 331.3075, 1.012788, -0.014191),
    (4.0, 250.0, 1.200576e-01, 334.7236, 1.009047, -0.009745),
    (4.0, 500.0, 1.685239e-01, 337.1844, 1.006399, -0.006747),
    (4.0, 1000.0, 2.370761e-01, 338.9472, 1.004526, -0.004699),
    (4.0, 2000.0, 3.340309e-01, 340.2052, 1.003200, -0.003287),
    (7.5, 15.0, 1.616474e-02, 325.2077, 1.019656, -0.023018),
    (7.5, 30.0, 2.248910e-02, 330.2881, 1.013919, -0.015584),
    (7.5, 60.0, 3.143960e-02, 333.9861, 1.009849, -0.010676),
    (7.5, 125.0, 4.499370e-02, 336.7858, 1.006826, -0.007221),
    (7.5, 250.0, 6.327390e-02, 338.6622, 1.004827, -0.005024),
    (7.5, 500.0, 8.912825e-02, 340.0021, 1.003414, -0.003512),
    (7.5, 1000.0, 1.256934e-01, 340.9561, 1.002414, -0.002463),
    (7.5, 2000.0, 1.774055e-01, 341.6339, 1.001707, -0.001731),
    (12.0, 15.0, 9.893476e-03, 331.7436, 1.012306, -0.013604),
    (12.0, 30.0, 1.384971e-02, 335.0386, 1.008706, -0.009352),
    (12.0, 60.0, 1.944624e-02, 337.4105, 1.006158, -0.006479),
    (12.0, 125.0, 2.791938e-02, 339.1921, 1.004267, -0.004421),
    (12.0, 250.0, 3.934571e-02, 340.3796, 1.003017, -0.003094),
    (12.0, 500.0, 5.550553e-02, 341.2245, 1.002134, -0.002172),
    (12.0, 1000.0, 7.835936e-02, 341.8244, 1.001509, -0.001528),
    (12.0, 2000.0, 1.106798e-01, 342.2499, 1.001067, -0.001076),
    (20.0, 15.0, 5.854132e-03, 336.2609, 1.007388, -0.007852),
    (20.0, 30.0, 8.228729e-03, 338.2866, 1.005225, -0.005457),
    (20.0, 60.0, 1.158726e-02, 339.7342, 1.003695, -0.003811),
    (20.0, 125.0, 1.667159e-02, 340.8160, 1.002560, -0.002615),
    (20.0, 250.0, 2.352769e-02, 341.5345, 1.001810, -0.001838),
    (20.0, 500.0, 3.322379e-02, 342.0444, 1.001280, -0.001294),
    (20.0, 1000.0, 4.693623e-02, 342.4058, 1.000905, -0.000912),
    (20.0, 2000.0, 6.632861e-02, 342.6619, 1.000640, -0.000644),
];

#[test]
fn wall_losses_match_the_table_of_our_own_exact_script() {
    let air = Air::keefe(20.0);
    for (radius_mm, hz, attenuation, velocity, z_re, z_im) in LOSSES {
        let radius = radius_mm * 1e-3;
        let line = Line::round(radius, hz, &air, 1.0);
        let unit = air.density * air.speed / (PI * radius * radius);
        let what = format!("{radius_mm} mm at {hz} Hz");
        // To the digits printed.
        assert_close(line.propagation.re, attenuation, 3e-7, &what);
        assert_close(2.0 * PI * hz / line.propagation.im, velocity, 3e-7, &what);
        assert!(((line.impedance / unit).re - z_re).abs() < 6e-7, "{what}");
        assert!(((line.impedance / unit).im - z_im).abs() < 6e-7, "{what}");
    }
}

#[test]
fn a_cylinders_matrix_matches_our_own_script() {
    let air = Air::keefe(20.0);
    let matrix = Line::round(10e-3, 100.0, &air, 1.0).cylinder(0.5);
    for (value, re, im) in [
        (matrix.a, 0.597927955, 0.0120602238),
        (matrix.d, 0.597927955, 0.0120602238),
        (matrix.b, 1.82300023e4, 1.06059688e6),
        (matrix.c, 3.18266886e-9, 6.05965980e-7),
    ] {
        let expected = Complex64::new(re, im);
        assert!((value - expected).norm() < 1e-8 * expected.norm(), "{value} against {expected}");
    }
    let stopped = Line::round(10e-3, 100.0, &air, 1.0).cylinder(1.5);
    let expected = Complex64::new(5.16516556e5, 3.54169420e6);
    let value = stopped.a / stopped.c;
    assert!((value - expected).norm() < 1e-8 * expected.norm(), "{value} against {expected}");
}

/// Rough walls weaken a note in proportion and hardly move it.
#[test]
fn wall_factors_move_peaks_as_our_own_script_says() {
    for (factor, modes) in
        [(1.0, [(55.7664, 29.766), (168.8384, 17.165)]), (1.1, [(55.7636, 27.061), (168.8355, 15.612)])]
    {
        let mut column = tube(10e-3, 1.5);
        column.loss_factor = factor;
        for (peak, (hz, height)) in peaks(&column, 2, 400.0).iter().zip(modes) {
            assert_cents(peak.0, hz, 0.003, "rough wall");
            assert_close(peak.1, height, 5e-5, "rough wall");
        }
    }
}

#[test]
fn wall_losses_stretch_the_twelfth_as_our_own_script_says() {
    let found = peaks(&tube(20e-3, 2.5), 2, 400.0);
    assert!((cents_between(found[1].0, 3.0 * found[0].0) - 10.17).abs() < 0.01);
}

#[test]
fn shear_function_matches_thirty_digit_values() {
    for (shear, re, im) in [
        (1.0, 0.9797672048, -0.1215230913),
        (5.0, 0.2840556106, -0.2415980169),
        (10.0, 0.1416254683, -0.1312480778),
        (30.0, 0.0471473193, -0.0460228062),
        (100.0, 0.0141423149, -0.0140419589),
        (400.0, 0.0035355367, -0.0035292811),
    ] {
        let value = shear_function(shear);
        assert!((value - Complex64::new(re, im)).norm() < 2e-10, "at {shear}: {value}");
    }
}

#[test]
fn plain_tubes_resonate_where_our_own_script_says() {
    type Row<'a> = (f64, f64, &'a [(f64, f64)]);
    let rows: [Row<'_>; 3] = [
        (7.5e-3, 0.5, &[(167.2977, 38.6915), (505.4171, 21.8987), (844.1792, 16.4799)]),
        (10e-3, 1.5, &[(55.7664, 29.7662), (168.8384, 17.1651), (282.1877, 13.2490), (395.6520, 11.1442)]),
        (20e-3, 2.5, &[(33.6909, 46.1428), (101.6682, 26.4748), (169.7529, 20.3049), (237.8823, 16.9520)]),
    ];
    for (radius, length, modes) in rows {
        let found = peaks(&tube(radius, length), modes.len(), 2000.0);
        assert_eq!(found.len(), modes.len());
        for (peak, (hz, magnitude)) in found.iter().zip(modes) {
            assert_cents(peak.0, *hz, 0.002, "plain tube");
            assert_close(peak.1, *magnitude, 1e-5, "plain tube");
        }
    }
}

#[test]
fn sharpness_agrees_with_the_half_power_width_of_the_peak() {
    let column = tube(10e-3, 1.5);
    let expected_q = [22.959, 40.062, 51.700];
    for ((mode, peak), q) in
        resonances(&column, 3, 2000.0).iter().zip(peaks(&column, 3, 2000.0)).zip(expected_q)
    {
        let height = |hz: f64| column.input_impedance(hz).norm() / column.top_impedance();
        let half_power = |toward: f64| {
            let (mut inside, mut outside) = (peak.0, peak.0 + toward);
            for _ in 0..60 {
                let middle = 0.5 * (inside + outside);
                if height(middle) > peak.1 / 2.0_f64.sqrt() { inside = middle } else { outside = middle }
            }
            inside
        };
        assert_close(peak.0 / (half_power(10.0) - half_power(-10.0)), q, 1e-4, "half-power width");
        assert_close(mode.q, q, 0.01, "sharpness");
    }
}

#[test]
fn a_cut_cone_resonates_like_one_of_four_hundred_pieces() {
    for (top, bottom, length, modes, tolerance) in [
        (5e-3, 20e-3, 0.5, vec![260.824, 555.514, 871.340], 0.05),
        (2.1e-3, 23.45e-3, 3.0, vec![50.996, 102.719, 155.546, 209.349], 0.3),
    ] {
        let mut column = bare_column(bottom);
        column.top_radius = top;
        column.push_bore(top, bottom, length, None);
        for (peak, hz) in peaks(&column, modes.len(), 2000.0).iter().zip(modes) {
            assert_cents(peak.0, hz, tolerance, "cone");
        }
    }
}

#[test]
fn one_lossless_cone_piece_matches_our_own_matrix() {
    let air = Air::keefe(20.0);
    let k = air.wave_number(300.0);
    let mean = mean_cone_radius(5e-3, 20e-3);
    let line = Line {
        propagation: Complex64::new(0.0, k),
        impedance: Complex64::new(air.density * air.speed / (PI * mean * mean), 0.0),
    };
    let cone = line.cone(5e-3, 20e-3, 0.5);
    assert_close(cone.a.re, -4.11188058, 1e-7, "A");
    assert_close(cone.b.im, 5.07551765e5, 1e-7, "B");
    assert_close(cone.c.im, 9.55569966e-7, 1e-7, "C");
    assert_close(cone.d.re, -0.12524653, 1e-6, "D");
}

#[test]
fn change_of_diameter_stays_within_its_fit_of_static_mode_matching() {
    for (ratio, exact) in
        [(0.1, 0.711220), (0.3, 0.495874), (0.5, 0.298030), (0.7, 0.132338), (0.9, 0.020960)]
    {
        let length = change_of_diameter_length(ratio, 1.0) / ratio;
        assert!((length - exact).abs() < 2.5e-3, "ratio {ratio}: {length} against {exact}");
    }
    for (ratio, formula) in
        [(0.1, 0.711331), (0.3, 0.496380), (0.5, 0.299298), (0.7, 0.131780), (0.9, 0.018592)]
    {
        let length = change_of_diameter_length(ratio, 1.0) / ratio;
        assert!((length - formula).abs() < 1e-6, "ratio {ratio}: {length} against {formula}");
    }
}

#[test]
fn reed_give_lowers_all_modes_of_a_tube_alike() {
    let plain = peaks(&tube(7.5e-3, 0.5), 3, 2000.0);
    let mut soft = tube(7.5e-3, 0.5);
    soft.top = Top::Reed { give_volume: 1.3e-6 };
    for ((with, without), cents) in
        peaks(&soft, 3, 2000.0).iter().zip(&plain).zip([-24.979, -24.936, -24.840])
    {
        let shift = cents_between(with.0, without.0);
        assert!((shift - cents).abs() < 0.002, "{shift} against {cents}");
    }
}

#[test]
fn bends_count_as_long_as_our_own_formulas_and_finite_elements_say() {
    let straight = Line { propagation: Complex64::new(0.0, 1.0), impedance: Complex64::new(1.0, 0.0) };
    for (curvature, factor) in [(0.25, 0.984123), (0.4, 0.958258), (0.5, 0.933013), (0.75, 0.830719)] {
        let bent = straight.bent(curvature, 1.0);
        // Inertance per metre is the product of both constants.
        assert_close((bent.propagation * bent.impedance).im, factor, 1e-6, "round bend");
        assert_close((bent.propagation / bent.impedance).im, 1.0, 1e-12, "volume");
    }
    let added = |push: &dyn Fn(&mut borescribe::acoustics::column::Column)| -> f64 {
        let mut column = bare_column(1.0);
        push(&mut column);
        let length = |piece: &Piece| match *piece {
            Piece::Inertance { length, .. } => length,
            _ => panic!("bends add inertance only"),
        };
        column.pieces.iter().map(length).sum()
    };
    for (curvature, radii) in [(0.5, 0.039), (0.75, 0.114)] {
        let length = added(&|column| column.push_bend_ends(1.0, 1.0 / curvature));
        assert!((length - radii).abs() < 1e-3, "bend of {curvature}: {length}");
    }
    for (angle, radii) in [(90.0_f64, 0.783), (60.0, 0.293), (45.0, 0.156), (30.0, 0.0669)] {
        let length = added(&|column| column.push_mitre(1.0, angle.to_radians()));
        assert!((length + radii).abs() < 1e-9, "elbow of {angle}: {length}");
    }
}

#[test]
fn a_round_bend_raises_modes_where_air_flows() {
    let straight = resonances(&tube(20e-3, 2.5), 3, 400.0);
    // Middle of a 180° bend with B = 0.5, cents on modes 1 to 3; our own script, without the ends'
    // settling length, so no end pieces here either.
    for (at, cents) in [
        (0.30, [0.21, 1.66, 3.73]),
        (0.80, [1.34, 5.78, 2.12]),
        (1.25, [2.9, 2.98, 2.81]),
        (1.80, [4.77, 0.34, 2.18]),
        (2.30, [5.75, 4.96, 3.64]),
    ] {
        let arc = PI * 0.04;
        let mut column = bare_column(20e-3);
        let from: f64 = (at - arc / 2.0_f64).max(0.0);
        column.push_bore(20e-3, 20e-3, from, None);
        column.push_bore(20e-3, 20e-3, arc, Some(0.04));
        column.push_bore(20e-3, 20e-3, 2.5 - from - arc, None);
        for ((bent, plain), expected) in resonances(&column, 3, 400.0).iter().zip(&straight).zip(cents) {
            let shift = cents_between(bent.hz, plain.hz);
            assert!((shift - expected).abs() < 0.05, "bend at {at} m: {shift} against {expected}");
        }
    }
}

#[test]
fn two_mitred_elbows_raise_modes_as_our_own_script_says() {
    let straight = resonances(&tube(20e-3, 2.5), 3, 400.0);
    for (at, cents) in [
        (0.30, [0.76, 6.1, 13.47]),
        (0.80, [4.91, 21.28, 8.03]),
        (1.25, [10.62, 11.02, 10.44]),
        (1.80, [17.51, 1.34, 8.03]),
        (2.30, [21.11, 18.54, 13.86]),
    ] {
        let mut column = bare_column(20e-3);
        column.push_bore(20e-3, 20e-3, at - 0.05, None);
        column.push_mitre(20e-3, PI / 2.0);
        column.push_bore(20e-3, 20e-3, 0.1, None);
        column.push_mitre(20e-3, PI / 2.0);
        column.push_bore(20e-3, 20e-3, 2.5 - at - 0.05, None);
        for ((bent, plain), expected) in resonances(&column, 3, 400.0).iter().zip(&straight).zip(cents) {
            let shift = cents_between(bent.hz, plain.hz);
            assert!((shift - expected).abs() < 0.1, "elbows at {at} m: {shift} against {expected}");
        }
    }
}
