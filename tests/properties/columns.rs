//! Whole columns: cutting a tube in two, things too small to matter, and scale.

use borescribe::acoustics::column::{Column, Piece, Top};
use borescribe::acoustics::hole::{Cover, Rim, ToneHole};
use borescribe::acoustics::resonance::resonances;
use borescribe::instrument::column::{column, highest_hz};
use borescribe::units::cents_between;
use proptest::prelude::*;

use crate::valid;

fn lowest_hz(column: &Column, count: usize) -> Vec<f64> {
    resonances(column, count, highest_hz(column)).iter().map(|resonance| resonance.hz).collect()
}

/// The largest distance in cents between resonances of two columns, which must be as many.
fn farthest_cents(a: &[f64], b: &[f64]) -> f64 {
    assert_eq!(a.len(), b.len(), "{a:?} {b:?}");
    a.iter().zip(b).map(|(a, b)| cents_between(*a, *b).abs()).fold(0.0, f64::max)
}

fn plain_hole(bore_radius: f64, radius: f64) -> Piece {
    Piece::Hole(ToneHole {
        bore_radius,
        radius,
        inner_radius: radius,
        chimney: 0.004,
        rim: Rim::Free { wall: 0.0015 },
        cover: Cover::Open,
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 128, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn cutting_a_cylinder_in_two_changes_nothing(
        radius in 0.004..0.03, length in 0.1..3.0, share in 0.01..0.99, air in valid::air(),
        bend in prop::option::of(0.05..0.3),
    ) {
        let mut whole = valid::empty(air, radius, radius);
        whole.push_bore(radius, radius, length, bend);
        let mut cut = valid::empty(air, radius, radius);
        cut.push_bore(radius, radius, share * length, bend);
        cut.push_bore(radius, radius, (1.0 - share) * length, bend);
        for step in 1..40 {
            let hz = 25.0 * f64::from(step);
            let (a, b) = (whole.input_impedance(hz), cut.input_impedance(hz));
            prop_assert!((a - b).norm() < 1e-10 * a.norm(), "{hz} Hz: {}", (a - b).norm() / a.norm());
        }
    }

    #[test]
    fn cutting_a_cone_in_two_changes_no_note(
        top in 0.003..0.012, widening in 1.05..5.0, length in 0.3..3.0, share in 0.05..0.95, air in valid::air(),
    ) {
        let bottom = top * widening;
        let between = top + share * (bottom - top);
        let mut whole = valid::empty(air, top, bottom);
        whole.push_bore(top, bottom, length, None);
        let mut cut = valid::empty(air, top, bottom);
        cut.push_bore(top, between, share * length, None);
        cut.push_bore(between, bottom, (1.0 - share) * length, None);
        let off = farthest_cents(&lowest_hz(&whole, 4), &lowest_hz(&cut, 4));
        prop_assert!(off < 0.01, "{off} cents");
    }

    #[test]
    fn a_hole_of_no_size_is_no_hole(
        radius in 0.004..0.03, length in 0.2..2.0, place in 0.1..0.9, air in valid::air(),
    ) {
        let mut with = valid::empty(air, radius, radius);
        with.push_bore(radius, radius, place * length, None);
        let mut without = with.clone();
        with.pieces.push(plain_hole(radius, 1e-6));
        for column in [&mut with, &mut without] {
            column.push_bore(radius, radius, (1.0 - place) * length, None);
        }
        let off = farthest_cents(&lowest_hz(&with, 4), &lowest_hz(&without, 4));
        prop_assert!(off < 1e-4, "{off} cents");
    }

    #[test]
    fn a_leak_of_no_size_is_no_leak(
        radius in 0.004..0.03, length in 0.2..2.0, place in 0.1..0.9, wall in 0.001..0.01, air in valid::air(),
    ) {
        let mut with = valid::empty(air, radius, radius);
        with.push_bore(radius, radius, place * length, None);
        let mut without = with.clone();
        with.pieces.push(Piece::Leak { radius: 1e-6, length: wall });
        for column in [&mut with, &mut without] {
            column.push_bore(radius, radius, (1.0 - place) * length, None);
        }
        let off = farthest_cents(&lowest_hz(&with, 4), &lowest_hz(&without, 4));
        prop_assert!(off < 1e-4, "{off} cents");
    }

    #[test]
    fn an_instrument_of_twice_the_size_sounds_an_octave_lower_without_losses(
        instrument in valid::instrument(), mask in 0_u8..128,
    ) {
        let mut small = column(&instrument, &valid::opened(&instrument, mask), &[]);
        small.air = valid::lossless_air();
        let mut large = small.clone();
        large.pieces = small.pieces.iter().map(|piece| twice(*piece)).collect();
        large.end_radius *= 2.0;
        large.top_radius *= 2.0;
        if let Top::Reed { give_volume } = &mut large.top {
            *give_volume *= 8.0;
        }
        let borescribe::acoustics::radiation::OpenEnd::ThickWall { outer_radius } = &mut large.end else {
            unreachable!("instruments end in a wall")
        };
        *outer_radius *= 2.0;
        // The same impedance in units of ρc/S an octave lower: so the same resonances there.
        let highest_hz = highest_hz(&small);
        let mut at_hz: Vec<f64> = resonances(&small, 4, highest_hz).iter().map(|r| r.hz).collect();
        at_hz.extend((1..20).map(|step| highest_hz * f64::from(step) / 20.0));
        for hz in at_hz {
            let (a, b) = (small.driven_load(hz), large.driven_load(hz / 2.0));
            prop_assert!((a - b).norm() < 1e-9 * a.norm(), "{hz} Hz: {}", (a - b).norm() / a.norm());
        }
    }
}

/// The piece in a tube of twice the size.
fn twice(piece: Piece) -> Piece {
    let double = |bend: Option<f64>| bend.map(|radius| 2.0 * radius);
    match piece {
        Piece::Cylinder { radius, length, bend_radius } => {
            Piece::Cylinder { radius: 2.0 * radius, length: 2.0 * length, bend_radius: double(bend_radius) }
        }
        Piece::Cone { top, bottom, length, bend_radius } => Piece::Cone {
            top: 2.0 * top,
            bottom: 2.0 * bottom,
            length: 2.0 * length,
            bend_radius: double(bend_radius),
        },
        Piece::Inertance { radius, length } => {
            Piece::Inertance { radius: 2.0 * radius, length: 2.0 * length }
        }
        Piece::Leak { radius, length } => Piece::Leak { radius: 2.0 * radius, length: 2.0 * length },
        Piece::Hole(hole) => Piece::Hole(ToneHole {
            bore_radius: 2.0 * hole.bore_radius,
            radius: 2.0 * hole.radius,
            inner_radius: 2.0 * hole.inner_radius,
            chimney: 2.0 * hole.chimney,
            rim: match hole.rim {
                Rim::Flush { tube_outer_radius } => Rim::Flush { tube_outer_radius: 2.0 * tube_outer_radius },
                Rim::Free { wall } => Rim::Free { wall: 2.0 * wall },
            },
            cover: match hole.cover {
                Cover::HangingPad { pad_radius, lift } => {
                    Cover::HangingPad { pad_radius: 2.0 * pad_radius, lift: 2.0 * lift }
                }
                other => other,
            },
        }),
    }
}
