//! Energy: no passive piece makes any, no passive column gives any back.

use std::f64::consts::TAU;

use borescribe::acoustics::line::{Line, State, mean_cone_radius};
use borescribe::acoustics::radiation::end_impedance;
use borescribe::instrument::column::{Leak, LeakPlace, column, highest_hz};
use num_complex::Complex64;
use proptest::prelude::*;

use crate::valid;

/// Mean power that flows toward the open end, up to a common factor.
fn power(state: State) -> f64 {
    (state.p * state.u.conj()).re
}

/// Power counted beside what swings to and fro.
fn relative_gain(top: State, bottom: State) -> f64 {
    (power(bottom) - power(top)) / (top.p.norm() * top.u.norm() + bottom.p.norm() * bottom.u.norm())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_column_gives_back_more_than_it_takes(
        instrument in valid::instrument(), mask in 0_u8..128, share in 0.001..1.0_f64, leak_mm in 0.1..2.0, leaks: bool,
    ) {
        let leak = Leak { place: LeakPlace::Site(0), diameter_mm: leak_mm };
        let leaks = if leaks { vec![leak] } else { Vec::new() };
        let column = column(&instrument, &valid::opened(&instrument, mask), &leaks);
        let highest_hz = highest_hz(&column);
        for step in 0..40 {
            // Squares: closer together low down, where the notes are.
            let hz = highest_hz * (share * f64::from(step + 1) / 40.0).powi(2);
            let impedance = column.input_impedance(hz);
            prop_assert!(impedance.re > 0.0, "Re Z = {} at {hz} Hz", impedance.re);
            prop_assert!(column.driven_load(hz).re > 0.0);
        }
    }

    #[test]
    fn no_piece_makes_energy_whatever_hangs_below_it(
        hole in (0.003..0.03).prop_flat_map(valid::hole_in), air in valid::air(), hz in 5.0..3000.0,
        (length, ratio) in (0.001..0.3, prop_oneof![0.87..0.99, 1.01..1.15]),
        (resistance, angle) in (0.01..100.0, -0.499..0.499),
    ) {
        let radius = hole.bore_radius;
        // Any passive load: impedance of any size and of any angle within ±90°.
        let size = air.density * air.speed / (radius * radius) * resistance;
        let bottom = State::loaded_by(Complex64::from_polar(size, TAU / 2.0 * angle));
        let straight = Line::round(radius, hz, &air, 1.05);
        let flared = Line::round(mean_cone_radius(radius, radius * ratio), hz, &air, 1.05);
        prop_assert!(relative_gain(straight.cylinder(length).lift(bottom), bottom) < 1e-12);
        prop_assert!(relative_gain(hole.circuit(&air).lift(bottom, hz, &air), bottom) < 1e-12);
        let cone = flared.cone(radius, radius * ratio, length).lift(bottom);
        prop_assert!(relative_gain(cone, bottom) < 1e-12, "cone: {}", relative_gain(cone, bottom));
    }

    #[test]
    fn without_losses_what_comes_in_leaves_by_open_holes_and_the_open_end(
        holes in prop::collection::vec((0.02..0.4, valid::hole_in(0.011)), 1..6), share in 0.01..0.6,
    ) {
        let air = valid::lossless_air();
        let radius = 0.011;
        let hz = share * air.speed / (TAU * radius);
        let line = Line::round(radius, hz, &air, 1.0);
        let end = end_impedance(borescribe::acoustics::radiation::OpenEnd::Unflanged, radius, hz, &air);
        let mut state = line.cylinder(0.1).lift(State::loaded_by(end));
        let mut left = power(state);
        for (length, hole) in holes {
            let circuit = hole.circuit(&air);
            let half = TAU * hz * air.density * hole.series_length() / (TAU * radius * radius);
            let middle = state.in_series(Complex64::new(0.0, half));
            left += middle.p.norm_sqr() * circuit.admittance(hz, &air).re;
            state = line.cylinder(length).lift(circuit.lift(state, hz, &air));
        }
        let swinging = state.p.norm() * state.u.norm();
        prop_assert!((power(state) - left).abs() < 1e-10 * (swinging + left), "{} {left}", power(state));
    }

    #[test]
    fn without_losses_all_power_reaches_the_open_end(
        radius in 0.003..0.03, lengths in prop::collection::vec((0.01..0.5, 0.88..1.13), 1..8),
        end in valid::end(), share in 0.01..1.0,
    ) {
        let air = valid::lossless_air();
        let hz = share * 0.3 * air.speed / (TAU * radius);
        let bottom = State::loaded_by(end_impedance(end, radius, hz, &air));
        let mut state = bottom;
        let mut lower = radius;
        for (index, (length, ratio)) in lengths.into_iter().enumerate() {
            let upper = if index % 2 == 0 { lower * ratio } else { lower };
            let line = Line::round(mean_cone_radius(upper, lower), hz, &air, 1.0);
            state = if upper == lower {
                line.cylinder(length).lift(state)
            } else {
                line.cone(upper, lower, length).lift(state)
            };
            lower = upper;
        }
        let lost = (power(state) - power(bottom)).abs() / power(bottom);
        prop_assert!(lost < 1e-8, "{lost}");
    }
}
