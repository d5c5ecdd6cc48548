//! What the notes would do under each cause that could be at work, computed with the whole air column.
//!
//! Must not know what was measured.

use rayon::prelude::*;

use crate::acoustics::blown::blown_hz;
use crate::acoustics::resonance::{describe, follow};
use crate::diagnosis::causes::bore_places::{bore_places, widen};
use crate::diagnosis::expectation::blowing::Blowing;
use crate::diagnosis::expectation::noise::taper;
use crate::diagnosis::expectation::speaking::Speaking;
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
    /// At this of the [`bore_places`] the bore is wider or narrower.
    BorePlace(usize),
    /// This vent is larger or smaller than the file says.
    VentSize(usize),
    /// This vent sits elsewhere than the file says.
    VentPlace(usize),
}

impl Cause {
    /// Whether a cut may serve it: what goes by itself (air), what is sealed or lifted, and what has to be
    /// measured in the bore or the vent first is no matter for a drill.
    #[must_use]
    pub fn is_served_by_cuts(self) -> bool {
        matches!(self, Cause::Hole(_) | Cause::End)
    }
}

/// A cause at one size.
#[derive(Debug, Clone, PartialEq)]
pub struct Shift {
    /// Size: mm (acting diameter, equivalent leak, length, place), °C for air, 0 for a stuck pad.
    pub amount: f64,
    /// Share of prior belief among the sizes of this cause, for notes blown as usual.
    weight: f64,
    /// The same for soft notes: what differs only as notes are usually blown is weighed once.
    soft_weight: f64,
    /// Cents by which each compared note's resonance moves: so moves a soft note.
    resonance_cents: Vec<f64>,
    /// Cents by which each compared note moves when it is blown as usual.
    blown_cents: Vec<f64>,
    /// How the player would fare: log of how well it fits that just those notes spoke, and so clearly.
    pub log_speaking: f64,
}

impl Shift {
    /// Cents by which each compared note moves when it is blown so.
    #[must_use]
    pub fn cents(&self, blowing: Blowing) -> &[f64] {
        match blowing {
            Blowing::Soft => &self.resonance_cents,
            Blowing::Usual => &self.blown_cents,
        }
    }

    /// Share of prior belief among the sizes of this cause when the notes are blown so; 0 for one that another stands
    /// for.
    #[must_use]
    pub fn weight(&self, blowing: Blowing) -> f64 {
        match blowing {
            Blowing::Soft => self.soft_weight,
            Blowing::Usual => self.weight,
        }
    }
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

/// Prior odds of each kind of cause against a healthy instrument, shared among its places (our choice: leaks
/// are the first thing a repairer looks for, holes the second; common practice, no source).
const HOLES_ODDS: f64 = 0.6;
const LEAKS_ODDS: f64 = 0.88;
const STUCK_ODDS: f64 = 0.05;
const AIR_ODDS: f64 = 0.165;
const TOP_ODDS: f64 = 0.165;
const END_ODDS: f64 = 0.03;
const TAPER_ODDS: f64 = 0.03;
const SITE_BORE_ODDS: f64 = 0.01;
const PLAIN_BORE_ODDS: f64 = 0.0025;
const VENT_ODDS: f64 = 0.03;

/// A vent's pad leaks so much more often than any one pad or post: it is small, works hardest, and is pressed first
/// (common practice, no source).
const VENT_PAD_LEAKS: f64 = 3.0;

/// Sizes that are tried, with their prior shares left to [`normal_weights`] or even.
const HOLE_SHARES: [f64; 14] =
    [-0.36, -0.28, -0.22, -0.17, -0.13, -0.09, -0.05, 0.05, 0.09, 0.13, 0.17, 0.22, 0.28, 0.36];
const HOLE_SD_SHARE: f64 = 0.20;
const LEAK_DIAMETERS_MM: [f64; 10] = [0.4, 0.48, 0.56, 0.65, 0.75, 0.87, 1.0, 1.2, 1.5, 1.9];
const AIR_STEPS_C: [f64; 12] = [-11.0, -9.0, -7.5, -6.0, -4.5, -3.0, 3.0, 4.5, 6.0, 7.5, 9.0, 11.0];
const AIR_SD_C: f64 = 5.0;
const TOP_STEPS_MM: [f64; 12] = [-20.0, -15.0, -11.0, -8.0, -5.0, -3.0, 3.0, 5.0, 8.0, 11.0, 15.0, 20.0];
const TOP_SD_MM: f64 = 8.0;
const END_STEPS_MM: [f64; 10] = [-20.0, -14.0, -9.0, -6.0, -3.0, 3.0, 6.0, 9.0, 14.0, 20.0];
const END_SD_MM: f64 = 8.0;
const TAPER_SHARES: [f64; 8] = [-0.05, -0.03, -0.02, -0.01, 0.01, 0.02, 0.03, 0.05];
const TAPER_SD_SHARE: f64 = 0.02;
const BORE_PLACE_SHARES: [f64; 6] = [-0.2, -0.12, -0.06, 0.06, 0.12, 0.2];
const BORE_PLACE_SD_SHARE: f64 = 0.1;
const VENT_FACTORS: [f64; 8] = [0.5, 0.65, 0.8, 0.9, 1.15, 1.3, 1.6, 2.0];
const VENT_PLACES_SHARE: [f64; 8] = [-0.05, -0.035, -0.02, -0.01, 0.01, 0.02, 0.035, 0.05];

/// A leak does to the note that is blown as usual between two thirds and one and a half times what is computed (our own
/// simulations of a blown reed).
const LEAK_GAINS: [f64; 3] = [0.67, 1.0, 1.5];

/// What is assumed when a resonance is lost: farther than any note is compared, cents.
const LOST_CENTS: f64 = 400.0;
/// And how much lower it is then, dB.
const LOST_DB: f64 = -40.0;

/// A note as it sounds while nothing is wrong.
struct SoundNote {
    /// Height of its resonance.
    height: f64,
    /// Where it sounds, hertz.
    hz: f64,
}

impl SoundNote {
    fn new(instrument: &Instrument, fingering: usize, base_hz: f64) -> SoundNote {
        let column = column(instrument, &instrument.fingerings[fingering].open, &[]);
        SoundNote { height: describe(&column, base_hz).magnitude, hz: blown_hz(&column, base_hz) }
    }
}

/// All candidates for the notes that were tried.
#[must_use]
pub fn candidates(instrument: &Instrument, speaking: &Speaking) -> Vec<Candidate> {
    let sound: Vec<SoundNote> =
        speaking.notes.iter().map(|note| SoundNote::new(instrument, note.fingering, note.base_hz)).collect();
    plans(instrument).par_iter().map(|plan| plan.carry_out(instrument, speaking, &sound)).collect()
}

/// Every cause that is weighed.
#[must_use]
pub fn causes_of(instrument: &Instrument) -> Vec<Cause> {
    plans(instrument).iter().map(|plan| plan.cause).collect()
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
        plans.push(Plan { cause: Cause::VentSize(vent), odds: VENT_ODDS, sizes });
        let sizes = VENT_PLACES_SHARE.map(|share| (share * instrument.length_mm(), even)).to_vec();
        plans.push(Plan { cause: Cause::VentPlace(vent), odds: VENT_ODDS, sizes });
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

impl Plan {
    /// Computes all sizes; `sound` are the notes while nothing is wrong.
    fn carry_out(&self, instrument: &Instrument, speaking: &Speaking, sound: &[SoundNote]) -> Candidate {
        let notes = &speaking.notes;
        // From 0 outward on each side, so that every resonance is followed from its last place.
        let mut inward: Vec<(f64, f64)> = self.sizes.iter().copied().filter(|size| size.0 < 0.0).collect();
        inward.reverse();
        let outward: Vec<(f64, f64)> = self.sizes.iter().copied().filter(|size| size.0 >= 0.0).collect();
        let mut shifts = Vec::new();
        for side in [inward, outward] {
            let mut last: Vec<Option<f64>> = notes.iter().map(|note| Some(note.base_hz)).collect();
            for (amount, weight) in side {
                let moved = self.at_size(instrument, speaking, sound, &last, amount);
                last = moved.iter().map(|note| note.hz).collect();
                let lower_db: Vec<f64> = moved.iter().map(|note| note.lower_db).collect();
                let log_speaking = speaking.log_chance(&lower_db);
                let spoke = notes.iter().zip(&moved).filter(|(note, _)| note.spoke);
                let (resonance, blown): (Vec<f64>, Vec<f64>) =
                    spoke.map(|(_, moved)| (moved.resonance_cents, moved.blown_cents)).unzip();
                let gains: &[f64] = if matches!(self.cause, Cause::Leak(_)) { &LEAK_GAINS } else { &[1.0] };
                shifts.extend(gains.iter().map(|gain| Shift {
                    amount,
                    weight: weight / gains.len() as f64,
                    // The gain is the usual note's; soft ones are as computed.
                    soft_weight: if *gain == 1.0 { weight } else { 0.0 },
                    resonance_cents: resonance.clone(),
                    blown_cents: blown.iter().map(|cents| gain * cents).collect(),
                    log_speaking,
                }));
            }
        }
        Candidate { cause: self.cause, odds: self.odds, shifts }
    }

    /// Every note at this size, its resonance followed from `last`.
    fn at_size(
        &self,
        instrument: &Instrument,
        speaking: &Speaking,
        sound: &[SoundNote],
        last: &[Option<f64>],
        amount: f64,
    ) -> Vec<MovedNote> {
        let changed = with_cause(instrument, self.cause, amount);
        let leaks = leak_of(self.cause, amount);
        let notes = speaking.notes.iter().zip(sound).zip(last);
        notes
            .map(|((note, sound), hz)| {
                let column = column(&changed, &open_holes(instrument, note.fingering, self.cause), &leaks);
                let Some(hz) = hz.and_then(|hz| follow(&column, hz)) else { return MovedNote::LOST };
                // Only leaks weaken resonances enough to matter, and looking costs time.
                let lower_db = if leaks.is_empty() {
                    0.0
                } else {
                    (20.0 * (describe(&column, hz).magnitude / sound.height).log10()).min(0.0)
                };
                MovedNote {
                    hz: Some(hz),
                    resonance_cents: cents_between(hz, note.base_hz),
                    blown_cents: cents_between(blown_hz(&column, hz), sound.hz),
                    lower_db,
                }
            })
            .collect()
    }
}

/// A note under a cause.
struct MovedNote {
    /// Its resonance, hertz.
    hz: Option<f64>,
    /// How far its resonance moves, cents.
    resonance_cents: f64,
    /// How far it moves as it is usually blown, cents.
    blown_cents: f64,
    /// How much lower its resonance is, dB (≤ 0).
    lower_db: f64,
}

impl MovedNote {
    const LOST: MovedNote =
        MovedNote { hz: None, resonance_cents: LOST_CENTS, blown_cents: LOST_CENTS, lower_db: LOST_DB };
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
