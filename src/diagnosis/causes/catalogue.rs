//! What may be wrong with an instrument: every cause with its sizes and how likely it is beforehand.
//!
//! Must not know what was measured.

use crate::diagnosis::beliefs::causes::{
    AIR_SD_C, AIR_STEPS_C, BORE_PLACE_SD_SHARE, BORE_PLACE_SHARES, END_SD_MM, END_STEPS_MM, HOLE_SD_SHARE,
    HOLE_SHARES, LEAK_DIAMETERS_MM, TAPER_SD_SHARE, TAPER_SHARES, TOP_SD_MM, TOP_STEPS_MM, VENT_FACTORS,
    VENT_PLACES_SHARE,
};
use crate::diagnosis::beliefs::{
    AIR_ODDS, END_ODDS, HOLES_ODDS, LEAK_MODEL_SHARE, LEAKS_ODDS, MEASURED_AGAIN, MEASURED_AIR_ODDS,
    MODEL_SHARE, PLAIN_BORE_ODDS, SITE_BORE_ODDS, STUCK_ODDS, TAPER_ODDS, TOP_ODDS, VENT_ODDS,
    VENT_PAD_LEAKS,
};
use crate::diagnosis::causes::bore_places::{bore_places, widen};
use crate::diagnosis::expectation::noise::taper;
use crate::instrument::column::{Leak, LeakPlace};
use crate::instrument::model::Instrument;

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
    /// At this of the [`bore_places`] the bore is wider or narrower.
    BorePlace(usize),
    /// This vent is larger or smaller than the file says.
    VentSize(usize),
    /// This vent sits elsewhere than the file says.
    VentPlace(usize),
}

impl Cause {
    /// Share of what is computed that single notes may differ by, one standard deviation.
    #[must_use]
    pub fn model_share(self) -> f64 {
        if matches!(self, Cause::Leak(_)) { LEAK_MODEL_SHARE } else { MODEL_SHARE }
    }

    /// Whether it goes by itself or is mended without a cut, so that no note may be cut for what it does: air, leaks, and
    /// pads that stay shut.
    #[must_use]
    pub fn passes(self) -> bool {
        matches!(self, Cause::Air | Cause::Leak(_) | Cause::StuckShut(_))
    }
}

/// Every cause that is weighed.
#[must_use]
pub fn causes_of(instrument: &Instrument) -> Vec<Cause> {
    plans(instrument).iter().map(|plan| plan.cause).collect()
}

/// A cause before what it does is computed.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// What.
    pub cause: Cause,
    /// Prior odds against "nothing is wrong".
    pub odds: f64,
    /// Size and prior share, in an order in which each continues from its neighbour toward 0.
    pub sizes: Vec<(f64, f64)>,
}

/// Every cause with its prior odds and its sizes, before what it does is computed.
#[must_use]
pub fn plans(instrument: &Instrument) -> Vec<Plan> {
    let mut plans = Vec::new();
    let drilled = |vent: bool| {
        (0..instrument.holes.len())
            .filter(move |&i| instrument.holes[i].drilled && instrument.holes[i].vent == vent)
    };
    let again = |hole: usize| if instrument.holes[hole].measured_again { MEASURED_AGAIN } else { 1.0 };
    let tone_holes = drilled(false).count().max(1) as f64;
    for hole in drilled(false) {
        let diameter_mm = instrument.holes[hole].diameter_mm;
        let odds = HOLES_ODDS * again(hole) / tone_holes;
        let sizes =
            normal_weights(&HOLE_SHARES.map(|share| share * diameter_mm), HOLE_SD_SHARE * diameter_mm);
        plans.push(Plan { cause: Cause::Hole(hole), odds, sizes });
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
    let shares: Vec<f64> = places.iter().map(|&place| leak_share(instrument, place)).collect();
    let all: f64 = shares.iter().sum();
    for (&place, share) in places.iter().zip(&shares) {
        let even = 1.0 / LEAK_DIAMETERS_MM.len() as f64;
        plans.push(Plan {
            cause: Cause::Leak(place),
            odds: LEAKS_ODDS * share / all,
            sizes: LEAK_DIAMETERS_MM.map(|diameter_mm| (diameter_mm, even)).to_vec(),
        });
    }
    let bore_mm = instrument.bore_at_mm(0.0);
    let air_odds = if instrument.air_is_measured { MEASURED_AIR_ODDS } else { AIR_ODDS };
    for (cause, odds, sizes) in [
        (Cause::Air, air_odds, normal_weights(&AIR_STEPS_C, AIR_SD_C)),
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
    for (index, place) in bore_places(instrument).iter().enumerate() {
        let bore_mm = instrument.bore_at_mm(place.at_mm);
        let sizes =
            normal_weights(&BORE_PLACE_SHARES.map(|share| share * bore_mm), BORE_PLACE_SD_SHARE * bore_mm);
        let odds = if place.site.is_some() { SITE_BORE_ODDS } else { PLAIN_BORE_ODDS };
        plans.push(Plan { cause: Cause::BorePlace(index), odds, sizes });
    }
    for vent in drilled(true) {
        let diameter_mm = instrument.holes[vent].diameter_mm;
        let even = 1.0 / VENT_FACTORS.len() as f64;
        let sizes = VENT_FACTORS.map(|factor| ((factor - 1.0) * diameter_mm, even)).to_vec();
        let odds = VENT_ODDS * again(vent);
        plans.push(Plan { cause: Cause::VentSize(vent), odds, sizes });
        let sizes = VENT_PLACES_SHARE.map(|share| (share * instrument.length_mm(), even)).to_vec();
        plans.push(Plan { cause: Cause::VentPlace(vent), odds, sizes });
    }
    plans
}

/// How likely a leak is here beside other places.
fn leak_share(instrument: &Instrument, place: LeakPlace) -> f64 {
    match place {
        LeakPlace::Hole(index) if instrument.holes[index].vent => VENT_PAD_LEAKS,
        _ => 1.0,
    }
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
        Cause::BorePlace(index) => {
            if let Some(&place) = bore_places(instrument).get(index) {
                widen(&mut changed, place, amount);
            }
        }
        Cause::Leak(_) | Cause::StuckShut(_) => {}
    }
    changed
}

pub(in crate::diagnosis) fn leak_of(cause: Cause, amount: f64) -> Vec<Leak> {
    match cause {
        Cause::Leak(place) => vec![Leak { place, diameter_mm: amount }],
        _ => Vec::new(),
    }
}

pub(in crate::diagnosis) fn open_holes(
    instrument: &Instrument,
    fingering: usize,
    cause: Cause,
) -> Vec<usize> {
    let open = &instrument.fingerings[fingering].open;
    match cause {
        Cause::StuckShut(stuck) => open.iter().copied().filter(|&hole| hole != stuck).collect(),
        _ => open.clone(),
    }
}
