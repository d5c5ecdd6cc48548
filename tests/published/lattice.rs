//! The cutoff of a row of open holes.

use borescribe::acoustics::hole::{Cover, Rim, ToneHole};
use borescribe::instrument::lattice::cutoff_hz;

/// A. H. Benade, J. Acoust. Soc. Am. 32 (1960) 1591: `f_c = 0.110 c (b/a)/√(s t_e)` for low frequencies
/// (from memory). The exact edge of our lattice tends to `c (b/a)/(2π √(2 s t_e))`, whose factor is 0.1125:
/// 2.3 % above the printed one, so 3 % covers the rounding of the source and small `ks`.
#[test]
fn closely_spaced_holes_have_the_cutoff_of_benades_formula() {
    for (a, b, height, half_spacing) in [(7.5, 4.0, 14.0, 4.0), (7.5, 3.5, 14.25, 3.0), (10.0, 3.0, 9.0, 2.0)]
    {
        let benade_hz = 0.110 * 345.0 * (b / a) / (half_spacing * height * 1e-6_f64).sqrt();
        let hz = cutoff_hz(b / a, half_spacing * 1e-3, height * 1e-3, 345.0);
        assert!((hz / benade_hz - 1.0).abs() < 0.03, "{hz} {benade_hz}");
    }
}

/// A. H. Benade, as quoted in J. O. Smith's online book (read): the open holes of a clarinet cut off near 1500 Hz.
/// Rows of its smaller holes, farther apart, and of its larger ones, closer together (measures from memory), must
/// lie on either side.
#[test]
fn a_clarinets_holes_cut_off_near_fifteen_hundred_hertz() {
    let row_hz = |diameter: f64, chimney: f64, spacing: f64| {
        let hole = ToneHole {
            bore_radius: 7.5e-3,
            radius: 0.5 * diameter,
            inner_radius: 0.5 * diameter,
            chimney,
            rim: Rim::Flush { tube_outer_radius: 7.5e-3 + chimney },
            cover: Cover::Open,
        };
        let height = chimney + hole.saddle_length() + hole.inner_length() + hole.outer_length();
        cutoff_hz(hole.radius / hole.bore_radius, 0.5 * spacing, height, 345.0)
    };
    let (low, high) = (row_hz(7e-3, 9e-3, 22e-3), row_hz(8e-3, 8e-3, 20e-3));
    assert!(low < 1500.0 && 1500.0 < high && high / low < 1.25, "{low} {high}");
}

/// The edge of the stop band by its own equation: where `cos 2ks + A sin 2ks = 1`, `A = δ²/(2 k t_e)`.
#[test]
fn at_the_cutoff_a_wave_just_begins_to_pass() {
    for (delta, half_spacing, height) in [(0.53, 0.010, 0.014), (0.6, 0.065, 0.023), (0.9, 0.05, 0.01)] {
        let k = std::f64::consts::TAU * cutoff_hz(delta, half_spacing, height, 345.0) / 345.0;
        let pass = |k: f64| {
            let phase: f64 = 2.0 * k * half_spacing;
            phase.cos() + delta * delta / (2.0 * k * height) * phase.sin()
        };
        assert!((pass(k) - 1.0).abs() < 1e-9);
        assert!(pass(0.99 * k) > 1.0 && pass(1.01 * k) < 1.0);
    }
}
