//! Leaks and orifices.

use borescribe::acoustics::leak::leak_impedance;
use borescribe::air::Air;

/// Lord Rayleigh, *Theory of Sound* (from memory): a hole of radius b through a thin wall has the inertance ρ/(2b),
/// π/4 radii on either side. Ours takes the flanged end of a tube, 0.8216 radii, on either side whatever the
/// length: 4.6 % more on a wall without thickness.
#[test]
fn a_hole_through_a_thin_wall_weighs_a_twentieth_more_than_rayleighs_orifice() {
    let air = Air { viscosity: 1e-20, ..Air::keefe(20.0) };
    for radius in [0.5e-3, 2e-3, 5e-3] {
        let omega = std::f64::consts::TAU * 100.0;
        let inertance = leak_impedance(radius, 1e-9, 100.0, &air).im / omega;
        let share = inertance / (air.density / (2.0 * radius));
        assert!((1.0..1.05).contains(&share), "{share}");
    }
}
