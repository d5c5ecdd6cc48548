//! Tone holes: own computations and static finite elements.

use borescribe::acoustics::hole::{Cover, Rim, ToneHole};
use borescribe::air::Air;
use num_complex::Complex64;

use crate::assert_close;

fn flush(bore: f64, radius: f64, chimney: f64, outer: f64, cover: Cover) -> ToneHole {
    ToneHole {
        bore_radius: bore,
        radius,
        inner_radius: radius,
        chimney,
        rim: Rim::Flush { tube_outer_radius: outer },
        cover,
    }
}

fn assert_impedance(hole: &ToneHole, hz: f64, re: f64, im: f64, what: &str) {
    let air = Air::keefe(20.0);
    let value = 1.0 / hole.circuit(&air).admittance(hz, &air);
    let expected = Complex64::new(re, im);
    let off = (value - expected).norm() / expected.norm();
    assert!(off < 2e-6, "{what}: {value} against {expected}");
}

#[test]
fn corrections_and_impedances_match_our_own_script() {
    let a = flush(7.5e-3, 4e-3, 8e-3, 15.5e-3, Cover::Open);
    assert_close(a.inner_length(), 2.15683e-3, 1e-5, "A inner");
    assert_close(a.saddle_length(), 0.27504e-3, 2e-5, "A saddle");
    assert_close(a.outer_length(), 2.65188e-3, 1e-5, "A outer");
    assert_close(a.series_length(), -0.32996e-3, 2e-5, "A series");
    assert_impedance(&a, 100.0, 7.620798e3, 2.037175e5, "A open, 100 Hz");
    assert_impedance(&a, 500.0, 2.150329e4, 1.002543e6, "A open, 500 Hz");
    let a_closed = ToneHole { cover: Cover::Closed, ..a };
    assert_close(a_closed.series_length(), -0.32993e-3, 2e-5, "A closed series");
    assert_impedance(&a_closed, 500.0, 1.226626e6, -1.069255e8, "A closed");

    let b = flush(20e-3, 10e-3, 5e-3, 25e-3, Cover::Open);
    assert_close(b.inner_length(), 5.63437e-3, 1e-5, "B inner");
    assert_close(b.outer_length(), 5.96189e-3, 1e-5, "B outer");
    assert_impedance(&b, 100.0, 5.279316e2, 4.180561e4, "B open, 100 Hz");
    assert_impedance(&b, 500.0, 6.235552e3, 2.086470e5, "B open, 500 Hz");

    assert_close(b.saddle_length(), 0.64117e-3, 2e-5, "B saddle");
    assert_close(b.series_length(), -0.74389e-3, 2e-5, "B series");
    let b_closed = ToneHole { cover: Cover::Closed, ..b };
    assert_close(b_closed.series_length(), -0.65430e-3, 2e-5, "B closed series");
    assert_impedance(&b_closed, 500.0, 1.175407e5, -2.527170e7, "B closed");

    let c = ToneHole { chimney: 15e-3, rim: Rim::Free { wall: 1.5e-3 }, ..b };
    assert_close(c.outer_length(), 6.65392e-3, 1e-5, "C outer");
    assert_impedance(&c, 500.0, 4.795412e3, 3.418317e5, "C open");
    assert_close(c.series_length(), -0.72509e-3, 2e-5, "C series");
    let c_closed = ToneHole { cover: Cover::Closed, ..c };
    assert_close(c_closed.series_length(), -0.72437e-3, 2e-5, "C closed series");
    assert_impedance(&c_closed, 500.0, 4.293729e4, -9.015943e6, "C closed");
    for (lift, outer, re, im) in
        [(6e-3, 8.24137e-3, 4.815509e3, 3.617368e5), (3e-3, 11.28014e-3, 4.855429e3, 4.000775e5)]
    {
        let padded = ToneHole { cover: Cover::HangingPad { pad_radius: 13e-3, lift }, ..c };
        assert_close(padded.outer_length(), outer, 1e-5, "C under a pad");
        assert_impedance(&padded, 500.0, re, im, "C under a pad");
    }
}

#[test]
fn a_whole_open_hole_agrees_with_finite_elements_of_inside_and_outside_field() {
    // δ, t/b, effective height over b and series length over bδ² by 3-D static finite elements.
    for (delta, height, effective, series) in [
        (0.5, 0.3, 1.5132, -0.324),
        (0.5, 1.0, 2.2672, -0.296),
        (0.7, 0.3, 1.3316, -0.320),
        (0.7, 1.0, 2.1124, -0.294),
        (0.3, 1.0, 2.4178, -0.295),
    ] {
        let bore = 10e-3;
        let radius = delta * bore;
        let chimney = height * radius;
        let hole = flush(bore, radius, chimney, bore + chimney, Cover::Open);
        let whole = (chimney + hole.saddle_length() + hole.inner_length() + hole.outer_length()) / radius;
        assert_close(whole, effective, 0.008, "effective height");
        assert!((hole.series_length() / (radius * delta * delta) - series).abs() < 0.02);
    }
}

/// Three-dimensional static finite elements, good to ±0.005 radii: inner correction (without the saddle) and series
/// length of a closed hole over bδ², for chimneys of 0.3, 1 and 3 radii. The fits were found to lie within 0.02.
#[test]
fn inner_and_series_lengths_agree_with_finite_elements() {
    for (delta, inner, series) in [
        (0.3, 0.691, [-0.203, -0.291, -0.299]),
        (0.5, 0.560, [-0.210, -0.289, -0.295]),
        (0.7, 0.410, [-0.216, -0.286, -0.292]),
        (0.9, 0.246, [-0.222, -0.283, -0.288]),
    ] {
        for (height, series) in [0.3, 1.0, 3.0].into_iter().zip(series) {
            let radius = delta * 10e-3;
            let hole = flush(10e-3, radius, height * radius, 10e-3 + height * radius, Cover::Closed);
            let inner_off = hole.inner_length() / radius - inner;
            let series_off = hole.series_length() / (radius * delta * delta) - series;
            assert!(inner_off.abs() < 0.01, "δ {delta}: {inner_off}");
            assert!(series_off.abs() < 0.025, "δ {delta}, t/b {height}: {series_off}");
        }
    }
}

/// Static finite elements: a hole flush in a tube, a pad over a chimney, a pad over a flush hole; in hole radii.
#[test]
fn outer_lengths_agree_with_finite_elements() {
    let outer = |rim: Rim, cover: Cover| ToneHole { rim, ..flush(2.0, 1.0, 1.0, 3.0, cover) }.outer_length();
    for (share, elements) in [(0.03, 0.797), (0.3, 0.657), (0.7, 0.459)] {
        let ours = outer(Rim::Flush { tube_outer_radius: 1.0 / share }, Cover::Open);
        assert!((ours - elements).abs() < 0.02, "flush, b/r_out {share}: {ours} {elements}");
    }
    // wall and pad radius, then lift, elements, and our own script's formula.
    type Lifts<'a> = &'a [(f64, f64, f64)];
    let rows: [(f64, f64, Lifts<'_>); 2] = [
        (
            0.1,
            1.3,
            &[
                (0.2, 1.321, 1.316),
                (0.35, 1.008, 1.011),
                (0.5, 0.868, 0.865),
                (0.8, 0.747, 0.740),
                (1.2, 0.692, 0.688),
            ],
        ),
        (0.25, 1.6, &[(0.2, 1.627, 1.578), (0.5, 0.992, 0.989), (1.2, 0.743, 0.743)]),
    ];
    for (wall, pad_radius, lifts) in rows {
        for &(lift, elements, formula) in lifts {
            let ours = outer(Rim::Free { wall }, Cover::HangingPad { pad_radius, lift });
            assert!((ours - formula).abs() < 6e-4, "wall {wall}, lift {lift}: {ours} {formula}");
            assert!((ours / elements - 1.0).abs() < 0.031, "wall {wall}, lift {lift}: {ours} {elements}");
        }
    }
    for (share, pad_radius, lift, elements) in [
        (0.3, 1.3, 0.3, 0.419),
        (0.3, 1.3, 0.6, 0.173),
        (0.3, 1.6, 0.4, 0.404),
        (0.5, 1.3, 0.3, 0.320),
        (0.5, 1.3, 0.6, 0.136),
        (0.5, 1.6, 0.4, 0.309),
    ] {
        let rim = Rim::Flush { tube_outer_radius: 1.0 / share };
        let excess = outer(rim, Cover::HangingPad { pad_radius, lift }) - outer(rim, Cover::Open);
        // One rim width stands for all: to 0.045 radii on the wide tube, and up to 0.12 too much on the narrow
        // one, whose wall curves away further. No published fit is known for that.
        let tolerance = if share < 0.4 { 0.045 } else { 0.12 };
        assert!((excess - elements).abs() < tolerance, "b/r_out {share}, lift {lift}: {excess} {elements}");
    }
}

/// An undercut adds air under a closed pad: the cone's own volume, compressed without friction.
#[test]
fn a_closed_undercut_hole_gives_like_the_air_in_it() {
    let air = Air { viscosity: 1e-20, ..Air::keefe(20.0) };
    let hole = ToneHole { inner_radius: 8e-3, ..flush(12e-3, 7e-3, 6e-3, 18e-3, Cover::Closed) };
    let hz = 20.0;
    let height = hole.chimney + hole.saddle_length();
    let volume = std::f64::consts::PI / 3.0 * height * (64.0 + 56.0 + 49.0) * 1e-6;
    let give = std::f64::consts::TAU * hz * volume / (air.density * air.speed * air.speed);
    assert_close(hole.circuit(&air).admittance(hz, &air).im, give, 1e-3, "undercut");
}

#[test]
fn an_undercut_acts_as_finite_elements_say_to_a_twentieth() {
    // inner radius, rim radius, cone height over bore radius; effective height by finite elements.
    for (inner, rim, cone, elements) in [(0.55, 0.45, 0.50, 1.4384), (0.60, 0.40, 0.50, 1.3105)] {
        let bore = 10e-3;
        let hole = ToneHole {
            bore_radius: bore,
            radius: rim * bore,
            inner_radius: inner * bore,
            chimney: cone * bore,
            rim: Rim::Flush { tube_outer_radius: 2.0 * bore },
            cover: Cover::Open,
        };
        // Low frequency: the branch is an inertance; take the outside away and add the finite
        // elements' straight tube of 0.8 bore radii instead.
        let air = Air::keefe(20.0);
        let hz = 20.0;
        let omega = std::f64::consts::TAU * hz;
        let area = std::f64::consts::PI * hole.radius * hole.radius;
        let lossless = |length: f64| omega * air.density * length / area;
        let chimney = (hole.chimney + hole.saddle_length()) * hole.radius / hole.inner_radius;
        let inner = hole.inner_length() * (hole.radius / hole.inner_radius).powi(2);
        let total = (lossless(chimney) + lossless(inner)) / lossless(bore) + 0.8;
        assert_close(total, elements, 0.05, "undercut");
    }
}
