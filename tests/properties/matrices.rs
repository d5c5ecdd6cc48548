//! Single pieces: reciprocity, and pieces in series.

use borescribe::acoustics::line::{Line, State, TwoPort, mean_cone_radius};
use num_complex::Complex64;
use proptest::prelude::*;

use crate::valid;

const ZERO: Complex64 = Complex64::ZERO;
const ONE: Complex64 = Complex64::ONE;

/// The matrix of anything that carries a state from bottom to top.
fn matrix(lift: impl Fn(State) -> State) -> TwoPort {
    let (first, second) = (lift(State { p: ONE, u: ZERO }), lift(State { p: ZERO, u: ONE }));
    TwoPort { a: first.p, b: second.p, c: first.u, d: second.u }
}

/// Error of the determinant beside the size of the products that it is the difference of.
fn determinant_error(matrix: &TwoPort) -> f64 {
    (matrix.determinant() - 1.0).norm() / (1.0 + (matrix.a * matrix.d).norm())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 512, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_cylinder_is_reciprocal(
        radius in 0.001..0.05, length in 0.0001..1.0, hz in 5.0..3000.0, air in valid::air(), bend in 1.0..20.0,
    ) {
        let line = Line::round(radius, hz, &air, 1.1);
        let longest = line.cylinder(length);
        prop_assert!(determinant_error(&longest) < 1e-9);
        prop_assert!(determinant_error(&line.bent(radius, radius * bend).cylinder(length)) < 1e-9);
    }

    #[test]
    fn a_piece_of_cone_is_reciprocal(
        top in 0.001..0.05, ratio in prop_oneof![0.85..0.999, 1.001..1.15], length in 0.001..0.5,
        hz in 5.0..3000.0, air in valid::air(),
    ) {
        let line = Line::round(mean_cone_radius(top, top * ratio), hz, &air, 1.05);
        let cone = line.cone(top, top * ratio, length);
        prop_assert!(determinant_error(&cone) < 1e-9, "{}", determinant_error(&cone));
    }

    #[test]
    fn a_hole_is_reciprocal_whatever_covers_it(
        hole in (0.003..0.05).prop_flat_map(valid::hole_in), hz in 5.0..3000.0, air in valid::air(),
    ) {
        let matrix = matrix(|state| hole.circuit(&air).lift(state, hz, &air));
        prop_assert!(determinant_error(&matrix) < 1e-9, "{}", determinant_error(&matrix));
    }

    #[test]
    fn two_pieces_of_a_cylinder_are_the_whole(
        radius in 0.001..0.05, length in 0.001..3.0, share in 0.01..0.99, hz in 5.0..3000.0, air in valid::air(),
    ) {
        let line = Line::round(radius, hz, &air, 1.05);
        let whole = line.cylinder(length);
        let pieces = line.cylinder(share * length).then(&line.cylinder((1.0 - share) * length));
        let size = whole.a.norm().max(whole.d.norm()).max(1.0);
        let scale = line.impedance.norm();
        prop_assert!((whole.a - pieces.a).norm() < 1e-10 * size);
        prop_assert!((whole.b - pieces.b).norm() < 1e-10 * size * scale);
        prop_assert!((whole.c - pieces.c).norm() < 1e-10 * size / scale);
        prop_assert!((whole.d - pieces.d).norm() < 1e-10 * size);
    }

    #[test]
    fn a_cone_that_hardly_widens_is_a_cylinder(
        radius in 0.001..0.05, length in 0.01..1.0, hz in 5.0..3000.0, air in valid::air(),
    ) {
        let line = Line::round(radius, hz, &air, 1.0);
        let (cylinder, cone) = (line.cylinder(length), line.cone(radius, radius * (1.0 + 1e-7), length));
        let size = cylinder.a.norm().max(1.0);
        prop_assert!((cylinder.a - cone.a).norm() < 1e-5 * size);
        prop_assert!((cylinder.b - cone.b).norm() < 1e-5 * size * line.impedance.norm());
    }
}
