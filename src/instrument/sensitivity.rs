//! How far every note moves with every measure of the instrument: cents per millimetre, millilitre or °C.
//!
//! Must not know recordings, findings or what anyone wants to cut.

use rayon::prelude::*;

use super::alter::{Altered, Step};
use super::change::{Change, HoleMeasure, Operation, Target};
use super::column::{LeakPlace, column};
use super::model::{Drive, Instrument};
use crate::acoustics::resonance::follow;
use crate::units::cents_between;

/// Something that can be a little different.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Parameter {
    /// A measure that can also be changed by name. A leak counts in mm of diameter at [`LEAK_AT_MM`].
    Measure(Target),
    /// The diameter of the whole bore, mm.
    Bore,
}

/// Diameter at which leaks are taken: small, but large enough to move a note, mm.
pub const LEAK_AT_MM: f64 = 0.5;

/// Half the interval of the central differences: small against what bends the curves, large against rounding.
const PLACE_STEP_MM: f64 = 0.5;
const DIAMETER_STEP_MM: f64 = 0.1;
const HEIGHT_STEP_MM: f64 = 0.5;
const LIFT_STEP_MM: f64 = 0.1;
/// A leak's effect grows with the fourth power of its diameter: steps of 0.1 mm would be 7 % off.
const LEAK_STEP_MM: f64 = 0.02;
const VOLUME_STEP_ML: f64 = 0.2;
const TEMPERATURE_STEP_C: f64 = 1.0;

/// The whole table.
#[derive(Debug, Clone, PartialEq)]
pub struct Sensitivities {
    /// What is a little different, one row each.
    pub parameters: Vec<Parameter>,
    /// Cents per unit of the parameter, one column a fingering in the file's order; `None` where the note has
    /// no predicted pitch or is lost on the way. A trim counts what comes off.
    pub cents: Vec<Vec<Option<f64>>>,
}

/// Every parameter that the instrument has.
#[must_use]
pub fn parameters(instrument: &Instrument) -> Vec<Parameter> {
    let drilled = || (0..instrument.holes.len()).filter(|&hole| instrument.holes[hole].drilled);
    let measures = [HoleMeasure::At, HoleMeasure::Diameter, HoleMeasure::Chimney, HoleMeasure::Lift];
    let mut targets: Vec<Target> =
        drilled().flat_map(|hole| measures.map(|measure| Target::Hole(hole, measure))).collect();
    targets.retain(|target| match *target {
        Target::Hole(hole, HoleMeasure::Lift) => instrument.holes[hole].pad.is_some(),
        _ => true,
    });
    targets.extend([Target::EndTrim, Target::TopTrim, Target::Temperature]);
    if instrument.mouthpiece.is_some() {
        targets.extend([Target::Chamber, Target::Reed]);
    }
    if instrument.drive == Drive::AirJet {
        targets.push(Target::Embouchure);
    }
    targets.extend(drilled().map(|hole| Target::Leak(LeakPlace::Hole(hole))));
    targets.extend((0..instrument.leak_sites.len()).map(|site| Target::Leak(LeakPlace::Site(site))));
    targets.into_iter().map(Parameter::Measure).chain([Parameter::Bore]).collect()
}

/// How far every fingering's sounding pitch moves with each of `parameters`, by central differences of the
/// whole air column. `predicted_hz`: the fingerings' pitches in the file's order, as predicted.
#[must_use]
pub fn sensitivities(
    instrument: &Instrument,
    parameters: Vec<Parameter>,
    predicted_hz: &[Option<f64>],
) -> Sensitivities {
    let cents = parameters.par_iter().map(|&parameter| row(instrument, parameter, predicted_hz)).collect();
    Sensitivities { parameters, cents }
}

fn row(instrument: &Instrument, parameter: Parameter, predicted_hz: &[Option<f64>]) -> Vec<Option<f64>> {
    let Some([(less, less_value), (more, more_value)]) = both_sides(instrument, parameter) else {
        return vec![None; predicted_hz.len()];
    };
    instrument
        .fingerings
        .iter()
        .zip(predicted_hz)
        .map(|(fingering, hz)| {
            let hz = (*hz)?;
            let [below, above] =
                [&less, &more].map(|side| column(&side.instrument, &fingering.open, &side.leaks));
            // A covered pad's lift, an open hole's leak: nothing changes. Saves a fifth of the table.
            if below == above {
                return Some(0.0);
            }
            let cents = cents_between(follow(&above, hz)?, follow(&below, hz)?);
            Some(cents / (more_value - less_value))
        })
        .collect()
}

/// The instrument with a little less and a little more of a parameter, each with its value. One side stays
/// as it is where nothing lies beyond.
fn both_sides(instrument: &Instrument, parameter: Parameter) -> Option<[(Altered, f64); 2]> {
    let unchanged = Altered::unchanged(instrument);
    let Parameter::Measure(target) = parameter else {
        return Some([-DIAMETER_STEP_MM, DIAMETER_STEP_MM].map(|wider_mm| {
            let mut altered = unchanged.clone();
            for point in &mut altered.instrument.bore {
                point.diameter_mm += wider_mm;
            }
            (altered, wider_mm)
        }));
    };
    let step = match target {
        Target::Hole(_, HoleMeasure::At)
        | Target::EndTrim
        | Target::TopTrim
        | Target::MouthpieceOut
        | Target::Embouchure => PLACE_STEP_MM,
        Target::Hole(_, HoleMeasure::Diameter | HoleMeasure::Pad | HoleMeasure::Undercut) => DIAMETER_STEP_MM,
        Target::Hole(_, HoleMeasure::Chimney) => HEIGHT_STEP_MM,
        Target::Hole(_, HoleMeasure::Lift) => LIFT_STEP_MM,
        Target::Chamber | Target::Reed => VOLUME_STEP_ML,
        Target::Temperature => TEMPERATURE_STEP_C,
        Target::Leak(_) => LEAK_STEP_MM,
    };
    let settled = |by: f64| -> Option<Step> {
        let operation = match target {
            Target::Leak(_) => Operation::Set(LEAK_AT_MM + by),
            _ => Operation::Add(by),
        };
        unchanged.settle(&Change { written: String::new(), target, operation }).ok()
    };
    let here = settled(0.0)?;
    let [less, more] = [-step, step].map(|by| {
        let side = settled(by).unwrap_or_else(|| here.clone());
        (unchanged.after(&side, 1.0), side.to)
    });
    (less.1 < more.1).then_some([less, more])
}
