//! What each cause does to every note that was tried, computed with the whole air column.
//!
//! Must not know what was measured.

use std::sync::atomic::{AtomicUsize, Ordering};

use rayon::prelude::*;

use crate::acoustics::blown::{Blown, blown};
use crate::acoustics::circuit::Circuit;
use crate::acoustics::resonance::follow_in;
use crate::diagnosis::beliefs::causes::{LEAK_GAINS, LOST_CENTS, LOST_DB};
use crate::diagnosis::beliefs::{MATERIAL_CENTS, MATERIAL_DB};
use crate::diagnosis::causes::catalogue::{Cause, Plan, leak_of, open_holes, plans, with_cause};
use crate::diagnosis::expectation::blowing::Blowing;
use crate::diagnosis::expectation::speaking::Speaking;
use crate::diagnosis::takes::condition::Bench;
use crate::instrument::column::column;
use crate::instrument::model::Instrument;
use crate::units::cents_between;

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
    /// Whether it moves or weakens any note enough to count as a fault (`MATERIAL_CENTS`, `MATERIAL_DB`).
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

/// A note as it sounds while nothing is wrong.
fn sound_note(bench: &Bench<'_>, note: &Tried) -> Blown {
    let instrument = bench.instrument_under(note.geometry);
    let column = column(instrument, &instrument.fingerings[note.fingering].open, &[]);
    blown(&Circuit::new(&column), note.base_hz)
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
    sound: Vec<Blown>,
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
        let sound = tried.iter().map(|note| sound_note(bench, note)).collect();
        Notes { bench, speaking, tried, as_is, played, sound }
    }
}

/// How many of how many causes are computed, for the maker who waits: by far the longest part of a check.
pub type Progress<'a> = &'a (dyn Fn(usize, usize) + Sync);

/// All candidates for the notes that were tried. What moves no note by a material amount counts as nothing wrong.
#[must_use]
pub fn candidates(bench: &Bench<'_>, speaking: &Speaking, progress: Option<Progress<'_>>) -> Candidates {
    let notes = Notes::new(bench, speaking);
    let plans = plans(bench.instrument);
    let done = AtomicUsize::new(0);
    let carry_out = |plan: &Plan| {
        let candidate = plan.carry_out(&notes);
        if let Some(tell) = progress {
            tell(done.fetch_add(1, Ordering::Relaxed) + 1, plans.len());
        }
        candidate
    };
    let mut all: Vec<Candidate> = plans.par_iter().map(carry_out).collect();
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
            let circuit = Circuit::new(&column(changed, &open, &leaks));
            let Some(hz) = hz.and_then(|hz| follow_in(&circuit, hz)) else {
                all.push(MovedNote::LOST);
                continue;
            };
            let blown = blown(&circuit, hz);
            // Only leaks weaken resonances enough to matter.
            let lower_db =
                if leaks.is_empty() { 0.0 } else { (20.0 * (blown.height / sound.height).log10()).min(0.0) };
            all.push(MovedNote {
                hz: Some(hz),
                resonance_cents: cents_between(hz, note.base_hz),
                blown_cents: cents_between(blown.hz, sound.hz),
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
