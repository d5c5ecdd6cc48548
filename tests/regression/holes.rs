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

    let c = ToneHole { chimney: 15e-3, rim: Rim::Free { wall: 1.5e-3 }, ..b };
    assert_close(c.outer_length(), 6.65392e-3, 1e-5, "C outer");
    assert_impedance(&c, 500.0, 4.795412e3, 3.418317e5, "C open");
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
        (0.7, 1.0, 2.1124, -0.294),
        (0.3, 1.0, 2.4178, -0.295),
    ] {
        let bore = 10e-3;
        let radius = delta * bore;
        let chimney = height * radius;
        let hole = flush(bore, radius, chimney, bore + chimney, Cover::Open);
        let whole = (chimney + hole.saddle_length() + hole.inner_length() + hole.outer_length()) / radius;
        assert_close(whole, effective, 0.01, "effective height");
        assert!((hole.series_length() / (radius * delta * delta) - series).abs() < 0.02);
    }
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
