//! What the notes would do under each cause that could be at work, computed with the whole air column.
//!
//! Must not know what was measured.

use rayon::prelude::*;

use crate::acoustics::blown::blown_hz;
use crate::acoustics::resonance::{describe, follow};
use crate::diagnosis::beliefs::{
    AIR_ODDS, END_ODDS, HOLES_ODDS, LEAK_MODEL_SHARE, LEAKS_ODDS, MATERIAL_CENTS, MATERIAL_DB,
    MEASURED_AGAIN, MEASURED_AIR_ODDS, MODEL_SHARE, PLAIN_BORE_ODDS, SITE_BORE_ODDS, STUCK_ODDS, TAPER_ODDS,
    TOP_ODDS, VENT_ODDS, VENT_PAD_LEAKS,
};
use crate::diagnosis::causes::bore_places::{bore_places, widen};
use crate::diagnosis::expectation::blowing::Blowing;
use crate::diagnosis::expectation::noise::taper;
use crate::diagnosis::expectation::speaking::Speaking;
use crate::diagnosis::takes::condition::Bench;
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

/// A cause at one size.
#[derive(Debug, Clone, PartialEq)]
pub struct Shift {
    /// Size: mm (acting diameter, equivalent leak, length, place), °C for air, 0 for a stuck pad.
    pub amount: f64,
    /// Share of prior belief among the sizes of this cause, for notes blown as usual.
    weight: f64,
    /// The same for soft notes: what differs only as notes are usually blown is weighed once.
    soft_weight: f64,
    /// What it does to each compared note.
    compared: Moves,
    /// What it does to each of [`Candidates::fingerings`] on the instrument as it is.
    fingerings: Moves,
    /// How the player would fare: log of how well it fits that just those notes spoke, and so clearly.
    pub log_speaking: f64,
    /// Whether it moves or weakens any note by so much that a maker would call it a fault.
    material: bool,
}

/// What a cause does to some notes, cents.
#[derive(Debug, Clone, PartialEq, Default)]
struct Moves {
    /// By how much each resonance moves: the shift of a soft note.
    resonance_cents: Vec<f64>,
    /// By how much each note moves when it is blown as usual.
    blown_cents: Vec<f64>,
}

impl Moves {
    fn push(&mut self, resonance_cents: f64, blown_cents: f64) {
        self.resonance_cents.push(resonance_cents);
        self.blown_cents.push(blown_cents);
    }

    fn of(&self, blowing: Blowing) -> &[f64] {
        match blowing {
            Blowing::Soft => &self.resonance_cents,
            Blowing::Usual => &self.blown_cents,
        }
    }
}

impl Shift {
    /// Cents by which each compared note moves when it is blown so.
    #[must_use]
    pub fn cents(&self, blowing: Blowing) -> &[f64] {
        self.compared.of(blowing)
    }

    /// Cents by which each of [`Candidates::fingerings`] moves on the instrument as it is.
    #[must_use]
    pub fn fingering_cents(&self, blowing: Blowing) -> &[f64] {
        self.fingerings.of(blowing)
    }

    /// Whether it acts just as computed, not more or less strongly.
    #[must_use]
    pub fn is_as_computed(&self) -> bool {
        self.soft_weight > 0.0
    }

    /// The largest move of any fingering, cents.
    #[must_use]
    pub fn most_cents(&self) -> f64 {
        let all = self.fingerings.resonance_cents.iter().chain(&self.fingerings.blown_cents);
        all.map(|cents| cents.abs()).fold(0.0, f64::max)
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
    /// Prior odds against "nothing is wrong that matters".
    pub odds: f64,
    /// Sizes.
    pub shifts: Vec<Shift>,
}

/// Every cause that is weighed, with what it does to the notes.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Candidates {
    /// The causes.
    pub all: Vec<Candidate>,
    /// The fingerings that were tried under any condition, in the file's order.
    pub fingerings: Vec<usize>,
}

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
    fn new(bench: &Bench<'_>, note: &Tried) -> SoundNote {
        let instrument = bench.instrument_under(note.geometry);
        let column = column(instrument, &instrument.fingerings[note.fingering].open, &[]);
        SoundNote { height: describe(&column, note.base_hz).magnitude, hz: blown_hz(&column, note.base_hz) }
    }
}

/// A note whose moves are computed: a fingering under the geometry of a condition (0: as it is).
#[derive(Debug, Clone, Copy, PartialEq)]
struct Tried {
    geometry: usize,
    fingering: usize,
    base_hz: f64,
}

/// What is computed once for all causes: the notes, and which of them each tried take is.
struct Notes<'a> {
    bench: &'a Bench<'a>,
    speaking: &'a Speaking,
    /// All fingerings on the instrument as it is come first.
    tried: Vec<Tried>,
    /// How many those are.
    as_is: usize,
    /// The index into `tried` for each of the notes that were played.
    played: Vec<usize>,
    sound: Vec<SoundNote>,
}

impl<'a> Notes<'a> {
    fn new(bench: &'a Bench<'a>, speaking: &'a Speaking) -> Notes<'a> {
        let base_hz = |geometry: usize, fingering: usize| {
            bench.predicted_under(geometry).get(fingering).and_then(|note| note.predicted_hz)
        };
        let mut tried: Vec<Tried> = Vec::new();
        for fingering in 0..bench.predicted.len() {
            let was_played = speaking.notes.iter().any(|note| note.fingering == fingering);
            if let Some(base_hz) = base_hz(0, fingering).filter(|_| was_played) {
                tried.push(Tried { geometry: 0, fingering, base_hz });
            }
        }
        let as_is = tried.len();
        let mut played = Vec::new();
        for note in &speaking.notes {
            let geometry = bench.geometry_of(note.condition);
            let is_it = |other: &Tried| other.geometry == geometry && other.fingering == note.fingering;
            let index = tried.iter().position(is_it).unwrap_or_else(|| {
                tried.push(Tried { geometry, fingering: note.fingering, base_hz: note.base_hz });
                tried.len() - 1
            });
            played.push(index);
        }
        let sound = tried.iter().map(|note| SoundNote::new(bench, note)).collect();
        Notes { bench, speaking, tried, as_is, played, sound }
    }
}

/// All candidates for the notes that were tried. What moves no note by a material amount counts as nothing wrong.
#[must_use]
pub fn candidates(bench: &Bench<'_>, speaking: &Speaking) -> Candidates {
    let notes = Notes::new(bench, speaking);
    let mut all: Vec<Candidate> =
        plans(bench.instrument).par_iter().map(|plan| plan.carry_out(&notes)).collect();
    let immaterial = |candidate: &Candidate| -> f64 {
        let light = candidate.shifts.iter().filter(|shift| !shift.material);
        candidate.odds * light.map(|shift| shift.weight).sum::<f64>()
    };
    let nothing_odds = 1.0 + all.iter().map(immaterial).sum::<f64>();
    for candidate in &mut all {
        candidate.odds /= nothing_odds;
        candidate.shifts.retain(|shift| shift.material);
    }
    all.retain(|candidate| !candidate.shifts.is_empty());
    let fingerings = notes.tried[..notes.as_is].iter().map(|note| note.fingering).collect();
    Candidates { all, fingerings }
}

/// Every cause that is weighed.
#[must_use]
pub fn causes_of(instrument: &Instrument) -> Vec<Cause> {
    plans(instrument).iter().map(|plan| plan.cause).collect()
}

/// A cause as it is believed in before anything was heard, its effect on the notes not computed yet.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// What.
    pub cause: Cause,
    /// Prior odds against "nothing is wrong".
    pub odds: f64,
    /// Size (see [`Shift::amount`]) and prior share, in an order in which each continues from its neighbour toward 0.
    pub sizes: Vec<(f64, f64)>,
}

/// The prior of an instrument: every cause with its odds and sizes.
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

impl Plan {
    /// Computes all sizes.
    fn carry_out(&self, notes: &Notes<'_>) -> Candidate {
        // From 0 outward on each side, so that every resonance is followed from its last place.
        let mut inward: Vec<(f64, f64)> = self.sizes.iter().copied().filter(|size| size.0 < 0.0).collect();
        inward.reverse();
        let outward: Vec<(f64, f64)> = self.sizes.iter().copied().filter(|size| size.0 >= 0.0).collect();
        let gains: &[f64] = if matches!(self.cause, Cause::Leak(_)) { &LEAK_GAINS } else { &[1.0] };
        let mut shifts = Vec::new();
        for side in [inward, outward] {
            let mut last: Vec<Option<f64>> = notes.tried.iter().map(|note| Some(note.base_hz)).collect();
            for (amount, weight) in side {
                let moved = self.at_size(notes, &last, amount);
                last = moved.iter().map(|note| note.hz).collect();
                shifts.extend(gains.iter().map(|&gain| self.shift(notes, &moved, amount, weight, gain)));
            }
        }
        let share = (gains.len() as f64).recip();
        shifts.iter_mut().for_each(|shift: &mut Shift| shift.weight *= share);
        Candidate { cause: self.cause, odds: self.odds, shifts }
    }

    /// The shift of all notes by one size, a leak acting `gain` times as strongly as computed.
    fn shift(&self, notes: &Notes<'_>, moved: &[MovedNote], amount: f64, weight: f64, gain: f64) -> Shift {
        let is_stopped = |condition: usize| match self.cause {
            Cause::Leak(place) => notes.bench.seals(condition, place),
            _ => false,
        };
        let mut compared = Moves::default();
        let mut lower_db = Vec::with_capacity(notes.played.len());
        for (note, &index) in notes.speaking.notes.iter().zip(&notes.played) {
            let acts = if is_stopped(note.condition) { 0.0 } else { 1.0 };
            lower_db.push(acts * moved[index].lower_db);
            if note.spoke {
                compared.push(acts * moved[index].resonance_cents, acts * gain * moved[index].blown_cents);
            }
        }
        let mut fingerings = Moves::default();
        for note in &moved[..notes.as_is] {
            fingerings.push(note.resonance_cents, gain * note.blown_cents);
        }
        let is_material = |note: &MovedNote| {
            note.resonance_cents.abs().max((gain * note.blown_cents).abs()) >= MATERIAL_CENTS
                || note.lower_db <= MATERIAL_DB
        };
        Shift {
            amount,
            weight,
            // The gain is the usual note's; soft ones are as computed.
            soft_weight: if gain == 1.0 { weight } else { 0.0 },
            compared,
            fingerings,
            log_speaking: notes.speaking.log_chance(&lower_db),
            material: moved.iter().any(is_material),
        }
    }

    /// Every note at this size, its resonance followed from `last`.
    fn at_size(&self, notes: &Notes<'_>, last: &[Option<f64>], amount: f64) -> Vec<MovedNote> {
        let leaks = leak_of(self.cause, amount);
        let mut changed: Option<(usize, Instrument)> = None;
        let mut all = Vec::with_capacity(notes.tried.len());
        for ((note, sound), hz) in notes.tried.iter().zip(&notes.sound).zip(last) {
            let instrument = notes.bench.instrument_under(note.geometry);
            if changed.as_ref().is_none_or(|(geometry, _)| *geometry != note.geometry) {
                changed = Some((note.geometry, with_cause(instrument, self.cause, amount)));
            }
            let changed = changed.as_ref().map_or(instrument, |(_, changed)| changed);
            let open = open_holes(instrument, note.fingering, self.cause);
            let column = column(changed, &open, &leaks);
            let Some(hz) = hz.and_then(|hz| follow(&column, hz)) else {
                all.push(MovedNote::LOST);
                continue;
            };
            // Only leaks weaken resonances enough to matter, and looking costs time.
            let lower_db = if leaks.is_empty() {
                0.0
            } else {
                (20.0 * (describe(&column, hz).magnitude / sound.height).log10()).min(0.0)
            };
            all.push(MovedNote {
                hz: Some(hz),
                resonance_cents: cents_between(hz, note.base_hz),
                blown_cents: cents_between(blown_hz(&column, hz), sound.hz),
                lower_db,
            });
        }
        all
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
