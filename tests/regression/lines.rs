//! Wall losses, cones, changes of diameter, bends: own computations.

use borescribe::acoustics::column::Top;
use borescribe::acoustics::line::{Line, change_of_diameter_length, mean_cone_radius};
use borescribe::acoustics::resonance::resonances;
use borescribe::acoustics::shear::shear_function;
use borescribe::air::Air;
use borescribe::units::cents_between;
use num_complex::Complex64;
use std::f64::consts::PI;

use crate::{assert_cents, assert_close, bare_column, peaks, tube};

#[test]
fn wall_losses_match_the_table_of_our_own_exact_script() {
    let air = Air::keefe(20.0);
    // radius mm, Hz, attenuation Np/m, phase velocity m/s, Zc S/(ρc)
    let rows = [
        (4.0, 15.0, 3.184112e-2, 311.0452, 1.036563, -0.048733),
        (4.0, 2000.0, 3.340309e-1, 340.2052, 1.003200, -0.003287),
        (7.5, 125.0, 4.499370e-2, 336.7858, 1.006826, -0.007221),
        (12.0, 30.0, 1.384971e-2, 335.0386, 1.008706, -0.009352),
        (12.0, 500.0, 5.550553e-2, 341.2245, 1.002134, -0.002172),
        (20.0, 15.0, 5.854132e-3, 336.2609, 1.007388, -0.007852),
        (20.0, 1000.0, 4.693623e-2, 342.4058, 1.000905, -0.000912),
    ];
    for (radius_mm, hz, attenuation, velocity, z_re, z_im) in rows {
        let radius = radius_mm * 1e-3;
        let line = Line::round(radius, hz, &air, 1.0);
        let unit = air.density * air.speed / (PI * radius * radius);
        let what = format!("{radius_mm} mm at {hz} Hz");
        assert_close(line.propagation.re, attenuation, 1e-5, &what);
        assert_close(2.0 * PI * hz / line.propagation.im, velocity, 1e-6, &what);
        assert_close((line.impedance / unit).re, z_re, 2e-6, &what);
        assert!(((line.impedance / unit).im - z_im).abs() < 2e-6, "{what}");
    }
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
fn a_round_bend_raises_modes_where_air_flows() {
    let straight = resonances(&tube(20e-3, 2.5), 3, 400.0);
    // Middle of a 180° bend with B = 0.5, cents on modes 1 to 3; our own script, without the ends'
    // settling length, so no end pieces here either.
    for (at, cents) in [(0.30, [0.21, 1.66, 3.73]), (1.25, [2.90, 2.98, 2.81]), (2.30, [5.75, 4.96, 3.64])] {
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
    for (at, cents) in [(0.80, [4.91, 21.28, 8.03]), (1.80, [17.51, 1.34, 8.03])] {
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
