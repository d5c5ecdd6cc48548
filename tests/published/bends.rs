//! Round bends.

use std::f64::consts::PI;

use borescribe::acoustics::line::Line;
use num_complex::Complex64;

/// C. J. Nederveen, J. Acoust. Soc. Am. 104 (1998) 1616, and D. H. Keefe & A. H. Benade, J. Acoust. Soc. Am. 74
/// (1983) 320 (formula from memory): in a torus air flows as 1/R, so that its inertance per length of middle line is
/// that of a straight tube times `S / ∫ (R0/R) dS`. The integral by quadrature over the round section.
#[test]
fn a_round_bend_has_the_inertance_of_flow_that_falls_off_with_the_radius() {
    let straight = Line { propagation: Complex64::new(0.0, 1.0), impedance: Complex64::new(1.0, 0.0) };
    for curvature in [0.1, 0.3, 0.5, 0.75, 0.95] {
        // The section in strips of constant R = R0 + x: each 2 √(a² − x²) wide; x = a sin φ.
        let steps = 20_000;
        let integral: f64 = (0..steps)
            .map(|i| {
                let phi = PI * ((f64::from(i) + 0.5) / f64::from(steps) - 0.5);
                let strip = 2.0 * phi.cos() * phi.cos() * PI / f64::from(steps);
                strip / (1.0 + curvature * phi.sin())
            })
            .sum();
        let bent = straight.bent(curvature, 1.0);
        let inertance = (bent.propagation * bent.impedance).im;
        assert!((inertance - PI / integral).abs() < 1e-7, "B {curvature}: {inertance} {}", PI / integral);
    }
}
