//! What the notes would do under each cause that could be at work, computed with the whole air column.
//!
//! Must not know what was measured.

use rayon::prelude::*;

use crate::acoustics::resonance::follow;
use crate::diagnosis::noise::taper;
use crate::instrument::column::{Leak, LeakPlace, column};
use crate::instrument::model::Instrument;
use crate::units::cents_between;

/// Something that may be wrong with the instrument.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cause {
    /// This hole acts smaller or larger than the file says (size, place, chimney, lift: one mark).
    Hole(usize),
    /// This closed pad or site leaks.
    Leak(LeakPlace),
    /// This pad stays shut when it should open.
    StuckShut(usize),
    /// The air is warmer or colder than the file says.
    Air,
    /// The top is longer or shorter, the chamber or the reed's give larger or smaller: one mark.
    Top,
    /// The tube is longer or shorter at the open end.
    End,
    /// The bore narrows or widens along its length.
    Taper,
    /// This vent is larger or smaller than the file says.
    VentSize(usize),
    /// This vent sits elsewhere than the file says.
    VentPlace(usize),
}

/// A cause at one size.
#[derive(Debug, Clone, PartialEq)]
pub struct Shift {
    /// Size: mm (acting diameter, equivalent leak, length, place), °C for air, 0 for a stuck pad.
    pub amount: f64,
    /// Share of prior belief among the sizes of this cause.
    pub weight: f64,
    /// Cents by which each compared note moves.
    pub cents: Vec<f64>,
}

/// A cause with its sizes and how likely it is before anything was heard.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// What.
    pub cause: Cause,
    /// Prior odds against "nothing is wrong".
    pub odds: f64,
    /// Sizes.
    pub shifts: Vec<Shift>,
}

/// Prior odds of each kind of cause against a healthy instrument, shared among its places (our choice:
/// holes and leaks are the daily bread of the bench; common practice, no source).
const HOLES_ODDS: f64 = 0.5;
const LEAKS_ODDS: f64 = 0.5;
const STUCK_ODDS: f64 = 0.05;
const AIR_ODDS: f64 = 0.1;
const TOP_ODDS: f64 = 0.1;
const END_ODDS: f64 = 0.05;
const TAPER_ODDS: f64 = 0.05;
const VENT_ODDS: f64 = 0.05;

/// Sizes that are tried, with their prior shares left to [`normal_weights`] or even.
const HOLE_SHARES: [f64; 14] =
    [-0.36, -0.28, -0.22, -0.17, -0.13, -0.09, -0.05, 0.05, 0.09, 0.13, 0.17, 0.22, 0.28, 0.36];
const HOLE_SD_SHARE: f64 = 0.12;
const LEAK_DIAMETERS_MM: [f64; 11] = [0.3, 0.38, 0.46, 0.54, 0.62, 0.72, 0.85, 1.0, 1.2, 1.5, 1.9];
const AIR_STEPS_C: [f64; 12] = [-11.0, -9.0, -7.5, -6.0, -4.5, -3.0, 3.0, 4.5, 6.0, 7.5, 9.0, 11.0];
const AIR_SD_C: f64 = 5.0;
const TOP_STEPS_MM: [f64; 12] = [-20.0, -15.0, -11.0, -8.0, -5.0, -3.0, 3.0, 5.0, 8.0, 11.0, 15.0, 20.0];
const TOP_SD_MM: f64 = 8.0;
const END_STEPS_MM: [f64; 10] = [-20.0, -14.0, -9.0, -6.0, -3.0, 3.0, 6.0, 9.0, 14.0, 20.0];
const END_SD_MM: f64 = 8.0;
const TAPER_SHARES: [f64; 8] = [-0.05, -0.03, -0.02, -0.01, 0.01, 0.02, 0.03, 0.05];
const TAPER_SD_SHARE: f64 = 0.02;
const VENT_FACTORS: [f64; 8] = [0.5, 0.65, 0.8, 0.9, 1.15, 1.3, 1.6, 2.0];
const VENT_PLACES_SHARE: [f64; 8] = [-0.05, -0.035, -0.02, -0.01, 0.01, 0.02, 0.035, 0.05];

/// A leak does to the played note between two thirds and one and a half times what it does to the
/// resonance (our own simulations of a blown reed).
const LEAK_GAINS: [f64; 3] = [0.67, 1.0, 1.5];

/// What is assumed when a resonance is lost: farther than any note is compared, cents.
const LOST_CENTS: f64 = 400.0;

/// All candidates for the notes `fingerings` whose predicted pitches are `base_hz`.
#[must_use]
pub fn candidates(instrument: &Instrument, fingerings: &[usize], base_hz: &[f64]) -> Vec<Candidate> {
    let plans = plans(instrument);
    plans.par_iter().map(|plan| plan.carry_out(instrument, fingerings, base_hz)).collect()
}

/// A candidate before its shifts are computed.
struct Plan {
    cause: Cause,
    odds: f64,
    /// Size and prior share, in an order in which each continues from its neighbour toward 0.
    sizes: Vec<(f64, f64)>,
}

fn plans(instrument: &Instrument) -> Vec<Plan> {
    let mut plans = Vec::new();
    let drilled = |vent: bool| {
        (0..instrument.holes.len())
            .filter(move |&i| instrument.holes[i].drilled && instrument.holes[i].vent == vent)
    };
    let tone_holes = drilled(false).count().max(1) as f64;
    for hole in drilled(false) {
        let diameter_mm = instrument.holes[hole].diameter_mm;
        let sizes =
            normal_weights(&HOLE_SHARES.map(|share| share * diameter_mm), HOLE_SD_SHARE * diameter_mm);
        plans.push(Plan { cause: Cause::Hole(hole), odds: HOLES_ODDS / tone_holes, sizes });
        plans.push(Plan {
            cause: Cause::StuckShut(hole),
            odds: STUCK_ODDS / tone_holes,
            sizes: vec![(0.0, 1.0)],
        });
    }
    let places: Vec<LeakPlace> = (0..instrument.holes.len())
        .filter(|&i| instrument.holes[i].drilled)
        .map(LeakPlace::Hole)
        .chain((0..instrument.leak_sites.len()).map(LeakPlace::Site))
        .collect();
    for &place in &places {
        let share = 1.0 / LEAK_DIAMETERS_MM.len() as f64;
        plans.push(Plan {
            cause: Cause::Leak(place),
            odds: LEAKS_ODDS / places.len() as f64,
            sizes: LEAK_DIAMETERS_MM.map(|diameter_mm| (diameter_mm, share)).to_vec(),
        });
    }
    let bore_mm = instrument.bore_at_mm(0.0);
    for (cause, odds, sizes) in [
        (Cause::Air, AIR_ODDS, normal_weights(&AIR_STEPS_C, AIR_SD_C)),
        (Cause::Top, TOP_ODDS, normal_weights(&TOP_STEPS_MM, TOP_SD_MM)),
        (Cause::End, END_ODDS, normal_weights(&END_STEPS_MM, END_SD_MM)),
        (
            Cause::Taper,
            TAPER_ODDS,
            normal_weights(&TAPER_SHARES.map(|share| share * bore_mm), TAPER_SD_SHARE * bore_mm),
        ),
    ] {
        plans.push(Plan { cause, odds, sizes });
    }
    for vent in drilled(true) {
        let diameter_mm = instrument.holes[vent].diameter_mm;
        let even = 1.0 / VENT_FACTORS.len() as f64;
        let sizes = VENT_FACTORS.map(|factor| ((factor - 1.0) * diameter_mm, even)).to_vec();
        plans.push(Plan { cause: Cause::VentSize(vent), odds: VENT_ODDS, sizes });
        let sizes = VENT_PLACES_SHARE.map(|share| (share * instrument.length_mm(), even)).to_vec();
        plans.push(Plan { cause: Cause::VentPlace(vent), odds: VENT_ODDS, sizes });
    }
    plans
}

/// Prior shares of `sizes` after a normal distribution about 0.
fn normal_weights(sizes: &[f64], sd: f64) -> Vec<(f64, f64)> {
    // Each size stands for the stretch half-way to its neighbours.
    let density = |size: f64| (-0.5 * (size / sd).powi(2)).exp();
    let span = |i: usize| {
        let low = if i == 0 { sizes[0] } else { 0.5 * (sizes[i - 1] + sizes[i]) };
        let high = if i + 1 == sizes.len() { sizes[i] } else { 0.5 * (sizes[i] + sizes[i + 1]) };
        high - low
    };
    let raw: Vec<f64> = (0..sizes.len()).map(|i| density(sizes[i]) * span(i)).collect();
    let total: f64 = raw.iter().sum();
    sizes.iter().zip(raw).map(|(&size, weight)| (size, weight / total)).collect()
}

impl Plan {
    fn carry_out(&self, instrument: &Instrument, fingerings: &[usize], base_hz: &[f64]) -> Candidate {
        let mut shifts = Vec::new();
        // From 0 outward on each side, so that every resonance is followed from its last place.
        let outward: Vec<(f64, f64)> = {
            let mut below: Vec<(f64, f64)> = self.sizes.iter().copied().filter(|s| s.0 < 0.0).collect();
            below.reverse();
            below
        };
        let upward: Vec<(f64, f64)> = self.sizes.iter().copied().filter(|s| s.0 >= 0.0).collect();
        for side in [outward, upward] {
            let mut last: Vec<Option<f64>> = base_hz.iter().copied().map(Some).collect();
            for (amount, weight) in side {
                last = self.notes_hz(instrument, fingerings, &last, amount);
                let cents: Vec<f64> = last
                    .iter()
                    .zip(base_hz)
                    .map(|(hz, &base)| hz.map_or(LOST_CENTS, |hz| cents_between(hz, base)))
                    .collect();
                if matches!(self.cause, Cause::Leak(_)) {
                    let share = weight / LEAK_GAINS.len() as f64;
                    shifts.extend(LEAK_GAINS.map(|gain| Shift {
                        amount,
                        weight: share,
                        cents: cents.iter().map(|c| c * gain).collect(),
                    }));
                } else {
                    shifts.push(Shift { amount, weight, cents });
                }
            }
        }
        Candidate { cause: self.cause, odds: self.odds, shifts }
    }

    fn notes_hz(
        &self,
        instrument: &Instrument,
        fingerings: &[usize],
        last: &[Option<f64>],
        amount: f64,
    ) -> Vec<Option<f64>> {
        let changed = with_cause(instrument, self.cause, amount);
        let leaks = leak_of(self.cause, amount);
        fingerings
            .iter()
            .zip(last)
            .map(|(&fingering, hz)| {
                let open = open_holes(instrument, fingering, self.cause);
                follow(&column(&changed, &open, &leaks), (*hz)?)
            })
            .collect()
    }
}

/// The instrument as it would be under a cause of this size (leaks and stuck pads leave it as it is).
#[must_use]
pub fn with_cause(instrument: &Instrument, cause: Cause, amount: f64) -> Instrument {
    let mut changed = instrument.clone();
    let top_mm = instrument.bore_at_mm(0.0);
    match cause {
        Cause::Hole(hole) | Cause::VentSize(hole) => changed.holes[hole].diameter_mm += amount,
        Cause::VentPlace(vent) => {
            let at_mm = changed.holes[vent].at_mm + amount;
            changed.holes[vent].at_mm = at_mm.clamp(1.0, instrument.length_mm() - 1.0);
        }
        Cause::Air => changed.air.temperature_c += amount,
        Cause::Top => {
            if let Some(mouthpiece) = changed.mouthpiece.as_mut() {
                let area_mm2 = 0.25 * std::f64::consts::PI * top_mm * top_mm;
                mouthpiece.chamber_ml = (mouthpiece.chamber_ml + amount * area_mm2 / 1000.0).max(0.0);
            }
        }
        Cause::End => {
            if let Some(end) = changed.bore.last_mut() {
                end.at_mm += amount;
            }
        }
        Cause::Taper => taper(&mut changed, amount),
        Cause::Leak(_) | Cause::StuckShut(_) => {}
    }
    changed
}

fn leak_of(cause: Cause, amount: f64) -> Vec<Leak> {
    match cause {
        Cause::Leak(place) => vec![Leak { place, diameter_mm: amount }],
        _ => Vec::new(),
    }
}

fn open_holes(instrument: &Instrument, fingering: usize, cause: Cause) -> Vec<usize> {
    let open = &instrument.fingerings[fingering].open;
    match cause {
        Cause::StuckShut(stuck) => open.iter().copied().filter(|&hole| hole != stuck).collect(),
        _ => open.clone(),
    }
}
