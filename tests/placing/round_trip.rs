//! Targets set to what an instrument sounds, its holes moved, and placed again.

use borescribe::instrument::model::{BorePoint, Instrument, Pad};
use borescribe::instrument::prediction::predict;
use borescribe::placing::limits::Limits;
use borescribe::placing::place::{Placed, place};

use crate::common::bittern;

/// The third body of the samples' story: pear wood, chimneys of 8 mm, holes a millimetre wider.
pub fn third_body() -> Instrument {
    let mut instrument = bittern();
    instrument.prototype = "P3".into();
    instrument.bore[1] = BorePoint { at_mm: 1216.0, diameter_mm: 24.0 };
    let places = [462.0, 545.0, 579.0, 666.0, 762.0, 874.0, 930.0, 1057.0];
    for (hole, (i, at_mm)) in instrument.holes.iter_mut().zip(places.into_iter().enumerate()) {
        let diameter_mm = 11.0 + i as f64;
        (hole.at_mm, hole.diameter_mm, hole.chimney_mm) = (at_mm, diameter_mm, 8.0);
        hole.pad = Some(Pad { diameter_mm: diameter_mm + 6.0, lift_mm: 0.35 * diameter_mm });
    }
    instrument.holes[8].chimney_mm = 12.0;
    instrument
}

/// Every fingering's wanted offset set to what the instrument sounds now.
pub fn in_tune_as_it_is(mut instrument: Instrument) -> Instrument {
    for note in predict(&instrument) {
        instrument.fingerings[note.fingering].cents += note.cents().unwrap();
    }
    instrument
}

/// Every hole but the vent moved, each differently, and the tube made longer.
fn taken_apart(instrument: &Instrument) -> Instrument {
    let mut apart = instrument.clone();
    for (i, hole) in apart.holes.iter_mut().enumerate().filter(|(_, hole)| !hole.vent) {
        hole.at_mm += [-31.0, 22.0, 9.0, -17.0, 38.0, -6.0, 14.0, -25.0][i % 8];
        hole.drilled = false;
    }
    apart.bore[1].at_mm += 13.0;
    apart
}

fn farthest_cents(placed: &Placed) -> f64 {
    placed.notes.iter().map(|note| note.cents.unwrap().abs()).fold(0.0, f64::max)
}

#[test]
fn with_sizes_and_vent_kept_every_hole_comes_back_to_its_place() {
    for instrument in [bittern(), third_body()].map(in_tune_as_it_is) {
        let limits = Limits { keep_sizes: true, fixed: vec![8], ..Limits::default() };
        let placed = place(&taken_apart(&instrument), &limits, &|text| eprintln!("{text}")).unwrap();
        assert!(farthest_cents(&placed) < 0.1, "{placed:#?}");
        for (hole, true_hole) in placed.after.holes.iter().zip(&instrument.holes) {
            assert!((hole.at_mm - true_hole.at_mm).abs() < 0.5, "{hole:?} {true_hole:?}");
        }
        assert!((placed.after.length_mm() - instrument.length_mm()).abs() < 0.5);
    }
}

#[test]
fn with_sizes_free_every_note_is_met_within_a_cent() {
    for instrument in [bittern(), third_body()].map(in_tune_as_it_is) {
        let mut apart = taken_apart(&instrument);
        for (i, hole) in apart.holes.iter_mut().enumerate().filter(|(_, hole)| !hole.vent) {
            hole.diameter_mm += [1.0, -0.5, 1.5, 0.0, -1.0, 0.5, -1.5, -1.0][i];
        }
        apart.holes[8].at_mm += 25.0;
        let placed = place(&apart, &Limits::default(), &|text| eprintln!("{text}")).unwrap();
        eprintln!("{:?}", placed.after.holes.iter().map(|h| (h.at_mm, h.diameter_mm)).collect::<Vec<_>>());
        eprintln!("{:?}", placed.notes.iter().map(|n| n.cents.unwrap()).collect::<Vec<_>>());
        eprintln!("{:?} {:?} {:?}", placed.spread_cents, placed.unmet, placed.warnings);
        assert!(farthest_cents(&placed) < 1.0, "{placed:#?}");
    }
}
