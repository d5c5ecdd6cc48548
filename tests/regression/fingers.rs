//! Holes that a fingertip closes: the fit of Dickens 2007, p. 66, eqs 4.12 and 4.13, worked out by hand with another
//! program, and what it does to a tube.

use borescribe::acoustics::column::Piece;
use borescribe::acoustics::hole::{Cover, Rim, ToneHole};
use borescribe::acoustics::resonance::playing_hz;
use borescribe::units::cents_between;

use crate::{assert_close, tube_with};

fn hole(bore_mm: f64, radius_mm: f64, chimney_mm: f64, cover: Cover) -> ToneHole {
    ToneHole {
        bore_radius: bore_mm * 1e-3,
        radius: radius_mm * 1e-3,
        inner_radius: radius_mm * 1e-3,
        chimney: chimney_mm * 1e-3,
        rim: Rim::Flush { tube_outer_radius: (bore_mm + chimney_mm) * 1e-3 },
        cover,
    }
}

#[test]
fn fingertip_and_series_length_match_the_fit_worked_out_by_hand() {
    for (bore_mm, radius_mm, chimney_mm, finger_mm, series_mm) in [
        (9.5, 4.75, 5.0, 2.537987, -0.322521),
        (9.5, 3.8, 2.5, 1.664899, -0.104093),
        // The fingertip stands into the bore.
        (7.5, 6.0, 1.0, 2.460002, 1.586006),
    ] {
        let hole = hole(bore_mm, radius_mm, chimney_mm, Cover::Finger);
        assert_close(hole.finger_length(), finger_mm * 1e-3, 1e-6, "fingertip");
        assert_close(hole.series_length(), series_mm * 1e-3, 5e-6, "series length");
    }
}

#[test]
fn nothing_stands_into_a_hole_that_a_flat_lid_closes_or_that_is_open() {
    for cover in [Cover::Closed, Cover::Open, Cover::Leaking { radius: 1e-4, length: 3e-3 }] {
        assert_eq!(hole(9.5, 4.75, 5.0, cover).finger_length(), 0.0);
    }
}

/// How far a finger on a hole 0.1 m from the top of a tube, where air is pressed most, sounds above a flat lid.
fn sharper_cents(finger: Cover, lid: Cover) -> f64 {
    let sounds = |cover: Cover| {
        let column = tube_with(10e-3, 1.0, 0.1, Piece::Hole(hole(10.0, 4.5, 5.0, cover)));
        playing_hz(&column, 1, 2000.0).unwrap()
    };
    cents_between(sounds(finger), sounds(lid))
}

#[test]
fn a_fingertip_takes_air_out_of_the_hole_so_the_pitch_rises() {
    let cents = sharper_cents(Cover::Finger, Cover::Closed);
    // The volume of the fingertip, 2.25 mm of a bore of 9 mm, over that of half the tube: 0.25 mm of bore at the most.
    assert!((0.3..1.2).contains(&cents), "{cents}");
}

#[test]
fn a_fingertip_that_leaks_ever_less_is_a_tight_one() {
    let (radius, length) = (1e-6, 3e-3);
    let cents = sharper_cents(Cover::LeakingFinger { radius, length }, Cover::Finger);
    assert!(cents.abs() < 1e-3, "{cents}");
}
