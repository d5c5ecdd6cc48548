//! The table of sensitivities against differences taken another way, and against our own earlier table.

use borescribe::instrument::change::{HoleMeasure, Target};
use borescribe::instrument::column::{Leak, embouchure_mm, playing_hz, reed_give_ml};
use borescribe::instrument::model::{Bend, BorePoint, Drive, Instrument};
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

/// One way to change one measure of an instrument, written without the program's own changes.
fn apply(parameter: Parameter, by: f64, instrument: &mut Instrument, leaks: &mut Vec<Leak>) {
    let Parameter::Measure(target) = parameter else {
        return instrument.bore.iter_mut().for_each(|point| point.diameter_mm += by);
    };
    match target {
        Target::Hole(hole, measure) => {
            let hole = &mut instrument.holes[hole];
            match measure {
                HoleMeasure::At => hole.at_mm += by,
                HoleMeasure::Diameter => hole.diameter_mm += by,
                HoleMeasure::Chimney => hole.chimney_mm += by,
                HoleMeasure::Undercut => hole.undercut_mm += by,
                HoleMeasure::Lift => hole.pad.as_mut().unwrap().lift_mm += by,
                HoleMeasure::Pad => hole.pad.as_mut().unwrap().diameter_mm += by,
            }
        }
        Target::EndTrim => {
            let last = instrument.bore.len() - 1;
            let (before, end) = (instrument.bore[last - 1], instrument.bore[last]);
            let slope = (end.diameter_mm - before.diameter_mm) / (end.at_mm - before.at_mm);
            // What is added is a ring of the bore's own width there.
            let diameter_mm = if by > 0.0 { end.diameter_mm - by * slope } else { end.diameter_mm };
            if by < 0.0 && slope != 0.0 {
                instrument.bore.push(BorePoint { at_mm: end.at_mm - by, diameter_mm });
            } else {
                instrument.bore[last] = BorePoint { at_mm: end.at_mm - by, diameter_mm };
            }
        }
        Target::TopTrim => {
            let (first, next) = (instrument.bore[0], instrument.bore[1]);
            let slope = (next.diameter_mm - first.diameter_mm) / next.at_mm;
            let cut = |at_mm: &mut f64| *at_mm -= by;
            instrument.bore.iter_mut().for_each(|point| cut(&mut point.at_mm));
            instrument.holes.iter_mut().for_each(|hole| cut(&mut hole.at_mm));
            instrument.leak_sites.iter_mut().for_each(|site| cut(&mut site.at_mm));
            instrument.bends.iter_mut().for_each(|bend| cut(&mut bend.at_mm));
            if by > 0.0 {
                instrument.bore[0] = BorePoint { at_mm: 0.0, diameter_mm: first.diameter_mm + by * slope };
            } else {
                instrument.bore.insert(0, BorePoint { at_mm: 0.0, diameter_mm: first.diameter_mm });
            }
        }
        Target::MouthpieceOut => apply(Parameter::Measure(Target::TopTrim), -by, instrument, leaks),
        Target::Chamber => instrument.mouthpiece.as_mut().unwrap().chamber_ml += by,
        Target::Reed => {
            let reed_ml = reed_give_ml(instrument) + by;
            instrument.mouthpiece.as_mut().unwrap().reed_ml = Some(reed_ml);
        }
        Target::Embouchure => instrument.embouchure_mm = Some(embouchure_mm(instrument) + by),
        Target::Temperature => instrument.air.temperature_c += by,
        Target::Leak(place) => leaks.push(Leak { place, diameter_mm: LEAK_AT_MM + by }),
    }
}

/// Central differences by full scans, in smaller steps than the table's, of resonance number `register` of each
/// fingering; `None` where there is no such resonance.
fn by_full_scans(instrument: &Instrument, parameter: Parameter, registers: &[usize]) -> Vec<Option<f64>> {
    let step = match parameter {
        Parameter::Measure(Target::Leak(_)) => 0.01,
        Parameter::Measure(Target::Temperature) => 0.5,
        Parameter::Measure(Target::Hole(_, HoleMeasure::Diameter | HoleMeasure::Lift)) => 0.05,
        Parameter::Bore => 0.05,
        _ => 0.1,
    };
    let side = |by: f64| -> Vec<Option<f64>> {
        let (mut changed, mut leaks) = (instrument.clone(), Vec::new());
        apply(parameter, by, &mut changed, &mut leaks);
        let notes = changed.fingerings.iter().zip(registers);
        notes.map(|(f, &register)| playing_hz(&changed, &f.open, register, &leaks)).collect()
    };
    let pairs = side(step).into_iter().zip(side(-step));
    pairs.map(|(up, down)| Some(cents_between(up?, down?) / (2.0 * step))).collect()
}

/// Compares the whole table of resonance number `registers` of each fingering with full scans.
fn assert_table(instrument: &Instrument, registers: &[usize]) {
    let hz: Vec<Option<f64>> = instrument
        .fingerings
        .iter()
        .zip(registers)
        .map(|(f, &register)| playing_hz(instrument, &f.open, register, &[]))
        .collect();
    let table = sensitivities(instrument, parameters(instrument), &hz);
    let mut compared = 0;
    for (parameter, row) in table.parameters.iter().zip(&table.cents) {
        for (i, (ours, expected)) in
            row.iter().zip(by_full_scans(instrument, *parameter, registers)).enumerate()
        {
            let (Some(ours), Some(expected)) = (ours, expected) else {
                panic!("{parameter:?}, fingering {i}: {ours:?} {expected:?}");
            };
            // Third-order terms of the two steps; leaks and lifts bend most.
            let tolerance = 0.005 + 0.01 * expected.abs();
            assert!(
                (ours - expected).abs() < tolerance,
                "{parameter:?}, fingering {i}: {ours} against {expected}"
            );
            compared += 1;
        }
    }
    assert_eq!(compared, table.parameters.len() * instrument.fingerings.len());
}

fn wanted_registers(instrument: &Instrument) -> Vec<usize> {
    instrument.fingerings.iter().map(|fingering| fingering.register).collect()
}

#[test]
fn every_sensitivity_of_the_bittern_agrees_with_full_scans_in_other_steps() {
    let bittern = bittern();
    assert!(parameters(&bittern).len() > 50);
    assert_table(&bittern, &wanted_registers(&bittern));
}

#[test]
fn the_first_three_registers_of_every_fingering_have_sensitivities() {
    let mut lower = bittern();
    lower.fingerings.truncate(9);
    for register in 1..=3 {
        assert_table(&lower, &[register; 9]);
    }
}

#[test]
fn sensitivities_hold_on_a_bent_cone_with_a_step_and_on_an_air_jet() {
    let mut cone = bittern();
    cone.bore[0].diameter_mm = 22.0;
    cone.bore[1].diameter_mm = 27.0;
    cone.bore.insert(1, BorePoint { at_mm: 600.0, diameter_mm: 24.5 });
    cone.bore.insert(1, BorePoint { at_mm: 600.0, diameter_mm: 24.0 });
    cone.bends.push(Bend { at_mm: 350.0, radius_mm: 40.0, angle_deg: 90.0 });
    cone.bends.push(Bend { at_mm: 1000.0, radius_mm: 0.0, angle_deg: 60.0 });
    assert_table(&cone, &wanted_registers(&cone));
    let mut jet = bittern();
    jet.drive = Drive::AirJet;
    jet.mouthpiece = None;
    assert!(parameters(&jet).contains(&Parameter::Measure(Target::Embouchure)));
    jet.fingerings.truncate(9);
    assert_table(&jet, &[1; 9]);
    assert_table(&jet, &[2; 9]);
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
