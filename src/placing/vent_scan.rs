//! What a vent does at any place and of any size, priced without solving every hole anew for each: the other holes are
//! taken to follow in proportion.
//!
//! Must not know drills or words.

use rayon::prelude::*;

use super::fit::Leftover;
use super::limits::Limits;
use super::slopes::slopes as table_of_slopes;
use super::task::{Task, Unknown};
use super::tuning::{LOST_CENTS, felt};
use super::wishes::{SIZE_SHARE, SPARE_MM};
use crate::acoustics::circuit::Circuit;
use crate::acoustics::resonance::{Resonance, follow_in, height_in, resonances};
use crate::instrument::column::{column, highest_hz};
use crate::instrument::model::{Fingering, Hole, Instrument};
use crate::instrument::prediction::predict;
use crate::instrument::vent::{doubt, vented_notes};
use crate::units::cents_between;

/// An upper note that is as doubtful as one without any vent counts as one that is this far off, cents: a player can
/// bend a note, but not one that falls (our choice).
pub(super) const MUTE_CENTS: f64 = 15.0;
/// So many places are tried for every size, …
const PLACES: usize = 18;
/// … and so often the steps round the best of them are halved.
const HALVINGS: usize = 4;

/// What a layout costs, cents².
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Price {
    /// Notes that are off.
    pub(super) pitch: f64,
    /// Upper notes that may not speak.
    pub(super) mute: f64,
}

impl Price {
    /// Of a layout as it is.
    pub(super) fn of(layout: &Instrument, limits: &Limits) -> Price {
        let notes = predict(layout);
        let cents = notes.iter().map(|note| (note.fingering, note.cents().unwrap_or(LOST_CENTS)));
        let vented = vented_notes(layout, &notes);
        Price {
            pitch: pitch_price(limits, cents),
            mute: mute_price(limits, vented.iter().map(|note| (note.fingering, note.doubt()))),
        }
    }

    /// Both.
    pub(super) fn whole(&self) -> f64 {
        self.pitch + self.mute
    }
}

fn pitch_price(limits: &Limits, cents: impl Iterator<Item = (usize, f64)>) -> f64 {
    cents.map(|(fingering, cents)| (limits.weight(fingering) * felt(cents)).powi(2)).sum()
}

fn mute_price(limits: &Limits, doubts: impl Iterator<Item = (usize, f64)>) -> f64 {
    doubts.map(|(fingering, doubt)| (limits.weight(fingering) * MUTE_CENTS * doubt).powi(2)).sum()
}

/// Cents of a fingering above its target, from its resonances.
fn cents_of(body: &Instrument, fingering: usize, found: &[Sound]) -> f64 {
    let wanted = &body.fingerings[fingering];
    let own = wanted.register.checked_sub(1).and_then(|register| found.get(register));
    own.map_or(LOST_CENTS, |own| cents_between(own.hz, body.target_hz(wanted)))
}

/// How doubtful it is that a note of the second register speaks; `None` for other registers.
fn doubt_of(found: &[Sound]) -> Option<f64> {
    let [lower, upper] = found else { return None };
    Some(doubt(upper.hz / lower.hz, lower.height / upper.height))
}

/// The resonances of a fingering up to its register, followed from those of a body that is nearly the same; looked for
/// from the bottom where one is lost.
fn followed(body: &Instrument, fingering: &Fingering, nearby: &[Sound]) -> Vec<Sound> {
    let column = column(body, &fingering.open, &[]);
    let circuit = Circuit::new(&column);
    let found: Vec<Sound> = nearby
        .iter()
        .filter_map(|near| follow_in(&circuit, near.hz))
        .map(|hz| Sound { hz, height: height_in(&circuit, hz) })
        .collect();
    let is_rising = found.windows(2).all(|pair| pair[1].hz > 1.01 * pair[0].hz);
    if found.len() == fingering.register && is_rising {
        found
    } else {
        resonances(&column, fingering.register, highest_hz(&column)).iter().map(Sound::of).collect()
    }
}

/// A resonance of a fingering.
#[derive(Debug, Clone, Copy)]
struct Sound {
    hz: f64,
    /// Of its peak.
    height: f64,
}

impl Sound {
    fn of(resonance: &Resonance) -> Sound {
        Sound { hz: resonance.hz, height: resonance.magnitude }
    }
}

/// A vent of one size at one place, priced.
#[derive(Debug, Clone)]
pub(super) struct Priced {
    /// Millimetres from the datum.
    pub(super) at_mm: f64,
    /// Size, mm.
    pub(super) diameter_mm: f64,
    /// What the layout costs when the other holes follow in proportion.
    pub(super) price: Price,
    /// The resonances of every fingering that opens the vent, up to its register.
    sounds: Vec<Vec<Sound>>,
}

/// One vent of a layout whose other places may follow.
pub(super) struct VentScan<'a> {
    layout: &'a Instrument,
    limits: &'a Limits,
    vent: usize,
    /// The fingerings that open the vent.
    served: Vec<usize>,
    /// Their resonances as the layout is, up to the register of each.
    sounds: Vec<Vec<Sound>>,
    /// Every note as the layout is, cents.
    cents: Vec<f64>,
    /// What may follow.
    free: Vec<Unknown>,
    leftover: Leftover,
}

impl<'a> VentScan<'a> {
    /// `limits` keep the vent and let the other holes follow; the sizes of `open_sizes` follow too.
    pub(super) fn of(
        layout: &'a Instrument,
        limits: &'a Limits,
        vent: usize,
        open_sizes: &[usize],
    ) -> VentScan<'a> {
        let served: Vec<usize> = (0..layout.fingerings.len())
            .filter(|&fingering| layout.fingerings[fingering].open.contains(&vent))
            .collect();
        let notes = predict(layout);
        let up_to_register = |&fingering: &usize| {
            let found = &notes[fingering].resonances;
            found.iter().take(layout.fingerings[fingering].register).map(Sound::of).collect()
        };
        let sounds = served.iter().map(up_to_register).collect();
        let predicted_hz: Vec<Option<f64>> = notes.iter().map(|note| note.predicted_hz).collect();
        let task = Task::of_places(layout, limits).with_sizes(open_sizes);
        let table = table_of_slopes(&task, layout, &task.values(layout), &predicted_hz);
        let weighed = |fingering: usize| -> Vec<f64> {
            table.iter().map(|row| limits.weight(fingering) * row[fingering]).collect()
        };
        let mut slopes: Vec<Vec<f64>> = (0..notes.len()).map(weighed).collect();
        slopes.extend(size_rows(&task));
        VentScan {
            layout,
            limits,
            vent,
            served,
            sounds,
            cents: notes.iter().map(|note| note.cents().unwrap_or(LOST_CENTS)).collect(),
            free: task.free.clone(),
            leftover: Leftover::of(&slopes),
        }
    }

    /// Every place that is tried, with a vent of this size: from where the vent is, up and down.
    pub(super) fn places(&self, diameter_mm: f64) -> Vec<Priced> {
        let own_mm = self.layout.holes[self.vent].at_mm;
        let places_mm = self.places_mm(diameter_mm);
        let own_mm = places_mm.first().map_or(own_mm, |first_mm| own_mm.max(*first_mm));
        let own = self.priced(own_mm, diameter_mm, &self.sounds);
        let (above, below): (Vec<f64>, Vec<f64>) = places_mm.iter().partition(|&&at_mm| at_mm < own_mm);
        let mut all = vec![own.clone()];
        for side_mm in [above.into_iter().rev().collect::<Vec<f64>>(), below] {
            let mut last = own.clone();
            for at_mm in side_mm {
                last = self.priced(at_mm, diameter_mm, &last.sounds);
                all.push(last.clone());
            }
        }
        all
    }

    /// Every place with every size.
    pub(super) fn all(&self, sizes_mm: &[f64]) -> Vec<Priced> {
        sizes_mm.iter().flat_map(|&diameter_mm| self.places(diameter_mm)).collect()
    }

    /// The place near `about` that costs least.
    pub(super) fn refined(&self, about: Priced) -> Priced {
        let diameter_mm = about.diameter_mm;
        let places_mm = self.places_mm(diameter_mm);
        let [Some(first_mm), Some(last_mm)] = [places_mm.first(), places_mm.last()] else {
            return about;
        };
        let mut best = about;
        let mut step_mm = (last_mm - first_mm) / PLACES as f64;
        for _ in 0..HALVINGS {
            step_mm *= 0.5;
            for at_mm in [best.at_mm - step_mm, best.at_mm + step_mm] {
                let tried = self.priced(at_mm.clamp(*first_mm, *last_mm), diameter_mm, &best.sounds);
                if tried.price.whole() < best.price.whole() {
                    best = tried;
                }
            }
        }
        best
    }

    /// Places between the neighbours of the vent, of this size, in even steps; the vent's own is one of them.
    fn places_mm(&self, diameter_mm: f64) -> Vec<f64> {
        let own = Hole { diameter_mm, ..self.layout.holes[self.vent].clone() };
        let order = self.layout.holes_from_the_top();
        let Some(rank) = order.iter().position(|&hole| hole == self.vent) else { return Vec::new() };
        let clear_mm = |other: &Hole| clear_mm(&own, other, self.limits);
        let upper = rank.checked_sub(1).map(|above| &self.layout.holes[order[above]]);
        let lower = order.get(rank + 1).map(|&below| &self.layout.holes[below]);
        // Half of the vent and some rim stay clear of the ends.
        let first_mm = upper.map_or(diameter_mm, |other| other.at_mm + clear_mm(other));
        let last_mm =
            lower.map_or(self.layout.length_mm() - diameter_mm, |other| other.at_mm - clear_mm(other));
        if last_mm <= first_mm {
            return vec![own.at_mm];
        }
        let step_mm = (last_mm - first_mm) / PLACES as f64;
        let mut places: Vec<f64> = (0..=PLACES).map(|step| first_mm + step_mm * step as f64).collect();
        places.push(own.at_mm.clamp(first_mm, last_mm));
        places.sort_by(f64::total_cmp);
        places
    }

    /// The fingerings that open the vent.
    pub(super) fn served(&self) -> &[usize] {
        &self.served
    }

    /// Of every served fingering with the vent so: cents from the target, and the doubt that it speaks.
    pub(super) fn heard(&self, priced: &Priced) -> Vec<(f64, f64)> {
        let heard = |(&fingering, found): (&usize, &Vec<Sound>)| {
            (cents_of(self.layout, fingering, found), doubt_of(found).unwrap_or(0.0))
        };
        self.served.iter().zip(&priced.sounds).map(heard).collect()
    }

    /// The layout with the vent so, all else as it was.
    pub(super) fn with_vent(&self, at_mm: f64, diameter_mm: f64) -> Instrument {
        moved(self.layout, self.vent, at_mm, diameter_mm)
    }

    /// With the resonances of a place nearby.
    fn priced(&self, at_mm: f64, diameter_mm: f64, nearby: &[Vec<Sound>]) -> Priced {
        let body = self.with_vent(at_mm, diameter_mm);
        let sounds: Vec<Vec<Sound>> = self
            .served
            .par_iter()
            .zip(nearby)
            .map(|(&fingering, nearby)| followed(&body, &body.fingerings[fingering], nearby))
            .collect();
        let mut cents = self.cents.clone();
        for (&fingering, found) in self.served.iter().zip(&sounds) {
            cents[fingering] = cents_of(&body, fingering, found);
        }
        let price = self.price(&cents, &sounds, &body.holes[self.vent]);
        Priced { at_mm, diameter_mm, price, sounds }
    }

    fn price(&self, cents: &[f64], sounds: &[Vec<Sound>], vent: &Hole) -> Price {
        let weight = |fingering: usize| self.limits.weight(fingering);
        let rows: Vec<f64> = cents.iter().enumerate().map(|(f, cents)| weight(f) * cents).collect();
        let (moves_mm, left) = self.leftover.of_rows(&rows);
        let (notes_left, wishes_left) = left.split_at(cents.len());
        let off = notes_left.iter().enumerate().map(|(f, row)| (f, row / weight(f)));
        let wishes: f64 = wishes_left.iter().map(|row| row * row).sum();
        let doubts = self
            .served
            .iter()
            .zip(sounds)
            .filter_map(|(&fingering, found)| Some((fingering, doubt_of(found)?)));
        Price {
            pitch: pitch_price(self.limits, off) + wishes + self.walls_price(vent, &moves_mm),
            mute: mute_price(self.limits, doubts),
        }
    }

    /// A hole that the vent keeps from following leaves its note off.
    fn walls_price(&self, vent: &Hole, moves_mm: &[f64]) -> f64 {
        let one = |(index, free): (usize, &Unknown)| {
            let Unknown::At(hole) = *free else { return 0.0 };
            let other = &self.layout.holes[hole];
            let clear_mm = clear_mm(vent, other, self.limits);
            let apart_mm = other.at_mm + moves_mm[index] - vent.at_mm;
            // Whichever of the two is the upper one, it stays so.
            let room_mm = apart_mm * (other.at_mm - self.layout.holes[self.vent].at_mm).signum() - clear_mm;
            (self.leftover.steepest(index) * room_mm.min(0.0)).powi(2)
        };
        self.free.iter().enumerate().map(one).sum()
    }
}

/// From centre to centre at least, with what rounding may take, mm.
pub(super) fn clear_mm(vent: &Hole, other: &Hole, limits: &Limits) -> f64 {
    0.5 * (vent.diameter_mm + other.diameter_mm) + limits.wall_between_mm(vent, other) + SPARE_MM
}

/// How the wishes for sizes move with what is free.
fn size_rows(task: &Task<'_>) -> Vec<Vec<f64>> {
    let is_size = |index: &usize| matches!(task.free[*index], Unknown::Size(_));
    let row = |index: usize| {
        let mut row = vec![0.0; task.free.len()];
        if let Unknown::Size(hole) = task.free[index] {
            row[index] = 1.0 / (SIZE_SHARE * task.instrument.holes[hole].diameter_mm);
        }
        row
    };
    (0..task.free.len()).filter(is_size).map(row).collect()
}

fn moved(body: &Instrument, vent: usize, at_mm: f64, diameter_mm: f64) -> Instrument {
    let mut moved = body.clone();
    moved.holes[vent].at_mm = at_mm;
    moved.holes[vent].diameter_mm = diameter_mm;
    moved
}
