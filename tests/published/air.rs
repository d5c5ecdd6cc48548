//! Speed of sound and air constants.

use borescribe::air::{Air, STANDARD_PRESSURE_PA, cramer_speed, inside_temperature_c};
use borescribe::units::cents_between;

/// O. Cramer, J. Acoust. Soc. Am. 93 (1993) 2510: 331.45 m/s at 0 °C, dry, 314 ppm CO2 (the value that
/// the coefficients, read in two secondary sources, were made to give); 343.37 at 20 °C.
#[test]
fn cramers_formula_gives_his_reference_speeds() {
    assert!((cramer_speed(0.0, STANDARD_PRESSURE_PA, 0.0, 314e-6) - 331.45).abs() < 0.01);
    assert!((cramer_speed(20.0, STANDARD_PRESSURE_PA, 0.0, 314e-6) - 343.37).abs() < 0.01);
}

/// D. H. Keefe, J. Acoust. Soc. Am. 75 (1984) 58: base values at 26.85 °C, read in a secondary source.
#[test]
fn keefes_constants_hold_at_his_reference_temperature() {
    let air = Air::keefe(26.85);
    assert_eq!(air.speed, 347.23);
    assert_eq!(air.density, 1.1769);
    assert_eq!(air.viscosity, 1.846e-5);
    assert_eq!(air.heat_ratio, 1.4017);
    assert_eq!(air.root_prandtl, 0.8410);
}

/// Cramer's stated uncertainty is 300 ppm (0.5 cent; abstract read). The ideal-gas mixture leaves out
/// real-gas effects, which its own comparison puts at 0.034 % in dry air: together under 1.1 cents.
#[test]
fn the_mixture_formula_agrees_with_cramers_in_humid_room_air() {
    for (celsius, humidity) in [(0.0, 0.0), (10.0, 0.5), (20.0, 0.0), (20.0, 0.6), (25.0, 0.5), (30.0, 0.3)] {
        let water = borescribe::air::water_mole_fraction(celsius, humidity, STANDARD_PRESSURE_PA);
        let real = cramer_speed(celsius, STANDARD_PRESSURE_PA, water, 400e-6);
        let off = cents_between(Air::mixture(celsius, humidity, 400e-6).speed, real);
        assert!(off.abs() < 1.1, "{celsius} °C at {humidity}: {off} cents");
    }
}

/// G. Pergler, "The inhalation-sharpening effect" (first page read): CO2 lowers the pitch within a breath
/// by less than a fifth of a semitone. Exhaled air holds 3 to 5 % CO2 (physiology, from memory).
#[test]
fn exhaled_carbon_dioxide_lowers_pitch_by_less_than_a_fifth_of_a_semitone() {
    let drop = cents_between(Air::mixture(34.0, 1.0, 0.04).speed, Air::mixture(34.0, 1.0, 0.0004).speed);
    assert!(drop < -10.0 && drop > -20.0, "{drop}");
}

/// Saturation pressure of water at 20 °C: 2.339 kPa (steam tables, from memory).
#[test]
fn water_vapour_saturates_at_the_handbook_pressure() {
    assert!((borescribe::air::saturation_pressure_pa(20.0) - 2339.0).abs() < 2.0);
}

/// No published profile was readable; this guards only that a long tube stays near the room and that a
/// short one is warmer.
#[test]
fn a_long_tube_stays_near_the_room_and_a_short_one_is_warmer() {
    let (short, long) = (inside_temperature_c(20.0, 0.6), inside_temperature_c(20.0, 5.0));
    assert!(20.0 < long && long < 22.0 && long + 3.0 < short && short < 32.0, "{short} {long}");
}
