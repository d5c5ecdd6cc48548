//! The table of sensitivities against differences taken another way, and against our own earlier table.

use borescribe::instrument::change::{HoleMeasure, Target};
use borescribe::instrument::column::{Leak, LeakPlace, playing_hz};
use borescribe::instrument::model::Instrument;
use borescribe::instrument::prediction::predict;
use borescribe::instrument::sensitivity::{LEAK_AT_MM, Parameter, Sensitivities, parameters, sensitivities};
use borescribe::units::cents_between;

use crate::common::bittern;

fn table(instrument: &Instrument) -> Sensitivities {
    let predicted: Vec<Option<f64>> = predict(instrument).iter().map(|note| note.predicted_hz).collect();
    sensitivities(instrument, parameters(instrument), &predicted)
}

fn row(table: &Sensitivities, target: Target) -> &[Option<f64>] {
    let at = table.parameters.iter().position(|p| *p == Parameter::Measure(target)).unwrap();
    &table.cents[at]
}

/// Cents between the instrument changed by `change(+step)` and by `change(−step)`, found by full scans.
fn by_full_scans(step: f64, change: impl Fn(&mut Instrument, &mut Vec<Leak>, f64)) -> Vec<f64> {
    let side = |by: f64| {
        let (mut instrument, mut leaks) = (bittern(), Vec::new());
        change(&mut instrument, &mut leaks, by);
        let hz = |open: &[usize], register| playing_hz(&instrument, open, register, &leaks).unwrap();
        instrument.fingerings.iter().map(|f| hz(&f.open, f.register)).collect::<Vec<f64>>()
    };
    side(step).iter().zip(side(-step)).map(|(up, down)| cents_between(*up, down) / (2.0 * step)).collect()
}

#[test]
fn sensitivities_agree_with_full_scans_in_other_steps() {
    let table = table(&bittern());
    type Change = fn(&mut Instrument, &mut Vec<Leak>, f64);
    let cases: [(Target, f64, Change); 9] = [
        (Target::Hole(4, HoleMeasure::At), 1.0, |i, _, by| i.holes[4].at_mm += by),
        (Target::Hole(4, HoleMeasure::Diameter), 0.03, |i, _, by| i.holes[4].diameter_mm += by),
        (Target::Hole(2, HoleMeasure::Chimney), 0.2, |i, _, by| i.holes[2].chimney_mm += by),
        (Target::Hole(0, HoleMeasure::Lift), 0.04, |i, _, by| i.holes[0].pad.as_mut().unwrap().lift_mm += by),
        (Target::EndTrim, 0.2, |i, _, by| i.bore[1].at_mm -= by),
        (Target::Chamber, 0.5, |i, _, by| i.mouthpiece.as_mut().unwrap().chamber_ml += by),
        (Target::Reed, 0.1, |i, _, by| i.mouthpiece.as_mut().unwrap().reed_ml = Some(2.0 + by)),
        (Target::Temperature, 3.0, |i, _, by| i.air.temperature_c += by),
        (Target::Leak(LeakPlace::Site(4)), 0.04, |_, leaks, by| {
            leaks.push(Leak { place: LeakPlace::Site(4), diameter_mm: LEAK_AT_MM + by });
        }),
    ];
    for (target, step, change) in cases {
        let expected = by_full_scans(step, change);
        for (i, (ours, expected)) in row(&table, target).iter().zip(expected).enumerate() {
            // Third-order terms of the two steps; leaks bend most.
            let tolerance = 0.005 + 0.02 * expected.abs();
            assert!(
                (ours.unwrap() - expected).abs() < tolerance,
                "{target:?}, note {i}: {ours:?} {expected}"
            );
        }
    }
}

#[test]
fn a_millimetre_off_the_top_acts_like_its_volume_of_chamber() {
    let table = table(&bittern());
    let ml_per_mm = 0.25 * std::f64::consts::PI * 24.0 * 24.0 / 1000.0;
    let top = row(&table, Target::TopTrim);
    for (top, chamber) in top.iter().zip(row(&table, Target::Chamber)) {
        assert!((top.unwrap() + chamber.unwrap() * ml_per_mm).abs() < 0.01, "{top:?} {chamber:?}");
    }
}

/// Our own earlier script: cents of each hole's own note for the hole half a millimetre wider, a millimetre
/// lower down, and a chimney a millimetre taller, from h8 up to h1.
#[test]
fn every_hole_of_the_bittern_is_as_sensitive_as_our_own_table_says() {
    let table = table(&bittern());
    let rows = [
        (7, 1.7, -1.5, -2.1),
        (6, 2.1, -1.6, -2.5),
        (5, 1.8, -1.6, -2.1),
        (4, 3.0, -1.9, -3.4),
        (3, 3.6, -2.1, -4.0),
        (2, 4.4, -2.3, -4.6),
        (1, 3.5, -2.0, -3.4),
        (0, 6.5, -2.5, -6.2),
    ];
    for (own_note, (hole, wider, lower, taller)) in (1..).zip(rows) {
        let of = |measure| row(&table, Target::Hole(hole, measure))[own_note].unwrap();
        // The table holds whole changes, printed to a tenth; slopes differ from them by what the curves bend.
        for (slope, expected) in [
            (0.5 * of(HoleMeasure::Diameter), wider),
            (of(HoleMeasure::At), lower),
            (of(HoleMeasure::Chimney), taller),
        ] {
            assert!(
                (slope - expected).abs() < 0.06 + 0.05 * expected.abs(),
                "h{}: {slope} {expected}",
                hole + 1
            );
        }
    }
}

#[test]
fn a_hole_that_stays_covered_does_not_care_how_far_its_pad_opens() {
    let table = table(&bittern());
    let lift = row(&table, Target::Hole(0, HoleMeasure::Lift));
    assert_eq!(lift[0], Some(0.0));
    assert!(lift[8].unwrap() > 1.0);
}
