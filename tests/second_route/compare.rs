//! Both routes side by side.

use borescribe::acoustics::column::{Column, Piece, Top};
use borescribe::acoustics::hole::{Cover, Rim, ToneHole};
use borescribe::acoustics::radiation::OpenEnd;
use borescribe::acoustics::resonance::resonances;
use borescribe::air::Air;
use borescribe::units::cents_between;

use crate::horn::{Horn, Lump};

/// What both routes must agree to, cents: far below what matters; cones are off by 0.01 at most.
const AGREE_CENTS: f64 = 0.02;

/// The same geometry as `acoustics` takes it.
fn column(horn: &Horn) -> Column {
    let radius_at = |x: f64| horn.top + (horn.bottom - horn.top) * x / horn.length;
    let mut column = Column {
        pieces: Vec::new(),
        end_radius: horn.bottom,
        end: OpenEnd::Unflanged,
        air: horn.air,
        loss_factor: 1.0,
        top_radius: horn.top,
        top: Top::Reed { give_volume: 0.0 },
    };
    let mut at = 0.0;
    for &(next, lump) in &horn.lumps {
        column.push_bore(radius_at(at), radius_at(next), next - at, None);
        at = next;
        column.pieces.push(match lump {
            Lump::FlushHole { radius, height, tube_outer, open } => Piece::Hole(ToneHole {
                bore_radius: radius_at(at),
                radius,
                inner_radius: radius,
                chimney: height,
                rim: Rim::Flush { tube_outer_radius: tube_outer },
                cover: if open { Cover::Open } else { Cover::Closed },
            }),
            Lump::Channel { radius, length } => Piece::Leak { radius, length },
        });
    }
    column.push_bore(radius_at(at), horn.bottom, horn.length - at, None);
    column
}

/// Asserts that the first four resonances agree in pitch, and in height within a tenth of a per cent.
fn assert_both_routes_agree(what: &str, horn: &Horn) {
    let found = resonances(&column(horn), 4, 3000.0);
    assert_eq!(found.len(), 4, "{what}");
    for (number, resonance) in found.iter().enumerate() {
        let hz = horn.zero_near(resonance.hz);
        let off = cents_between(resonance.hz, hz);
        let height = 1.0 / horn.admittance(hz).norm();
        if std::env::var("SHOW").is_ok() {
            println!("{what} {}: {off:.5} cents, {:.5}", number + 1, resonance.magnitude / height - 1.0);
        }
        assert!(off.abs() < AGREE_CENTS, "{what}, resonance {}: {off} cents apart", number + 1);
        assert!((resonance.magnitude / height - 1.0).abs() < 0.001, "{what}, resonance {}", number + 1);
    }
}

fn horn(top: f64, bottom: f64, length: f64, lumps: Vec<(f64, Lump)>) -> Horn {
    Horn { top, bottom, length, lumps, air: Air::keefe(20.0), steps: 1200 }
}

#[test]
fn a_cylinder_resonates_where_the_horn_equations_say() {
    assert_both_routes_agree("cylinder", &horn(10e-3, 10e-3, 1.5, vec![]));
    assert_both_routes_agree("wide cylinder", &horn(20e-3, 20e-3, 2.5, vec![]));
}

#[test]
fn a_cone_resonates_where_the_horn_equations_say() {
    assert_both_routes_agree("short cone", &horn(5e-3, 20e-3, 0.5, vec![]));
    assert_both_routes_agree("long cone", &horn(2.1e-3, 23.45e-3, 3.0, vec![]));
    assert_both_routes_agree("closing cone", &horn(12e-3, 10e-3, 1.2, vec![]));
    assert_both_routes_agree("slight taper", &horn(12.3e-3, 11.7e-3, 1.2, vec![]));
}

#[test]
fn a_tapered_bore_with_holes_and_leaks_resonates_where_the_horn_equations_say() {
    let hole = |radius: f64, open: bool| Lump::FlushHole { radius, height: 6e-3, tube_outer: 16e-3, open };
    let leak = Lump::Channel { radius: 0.3e-3, length: 4e-3 };
    for (what, first, second, third) in
        [("closed", false, false, false), ("open", false, true, true), ("forked", true, false, true)]
    {
        let lumps = vec![
            (0.20, leak),
            (0.45, hole(4e-3, first)),
            (0.60, hole(5e-3, second)),
            (0.75, hole(6e-3, third)),
        ];
        assert_both_routes_agree(what, &horn(12.5e-3, 10.5e-3, 1.1, lumps));
    }
}

#[test]
fn the_three_hole_instrument_resonates_where_the_horn_equations_say() {
    for open in [
        [false, false, false],
        [false, false, true],
        [false, true, true],
        [true, true, true],
        [true, false, false],
    ] {
        let hole = |radius: f64, height: f64, open: bool| Lump::FlushHole {
            radius,
            height,
            tube_outer: 14.5e-3,
            open,
        };
        let lumps = vec![
            (0.300, hole(3.5e-3, 9e-3, open[0])),
            (0.330, hole(4e-3, 8e-3, open[1])),
            (0.365, hole(4.5e-3, 8e-3, open[2])),
        ];
        assert_both_routes_agree(&format!("{open:?}"), &horn(7.5e-3, 7.5e-3, 0.465, lumps));
    }
}
