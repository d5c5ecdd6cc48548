//! A layout to begin with, whatever places the file has: from the lowest note up, each hole where its own note
//! wants it with only the holes below it there.
//!
//! Must not know sizes' wishes or rules of the bench.

use super::error::PlaceError;
use super::limits::Limits;
use super::task::{LONGEST_MM, end_is_free};
use crate::air::{Air, ROOM_CO2};
use crate::instrument::alter::trim_end;
use crate::instrument::column::{mouthpiece_length_mm, playing_hz};
use crate::instrument::model::{Drive, Instrument};
use crate::instrument::prediction::cents as all_cents;
use crate::instrument::twelfth::open_tone_holes;
use crate::units::cents_between;

/// Places are halved down to this, mm: a guess needs no more.
const GOOD_ENOUGH_MM: f64 = 0.05;
/// A hole is tried up the tube in steps of this share of its length.
const STEP_SHARE: f64 = 0.02;
/// Longest tube that is tried for the lowest note, as a multiple of the file's.
const LONGEST_TRIED: f64 = 8.0;

/// The instrument with every hole there, each at its first guess.
///
/// # Errors
/// [`PlaceError::OutOfTube`] for a note that no place on the tube gives.
pub(super) fn first_guess(instrument: &Instrument, limits: &Limits) -> Result<Instrument, PlaceError> {
    let mut guess = instrument.clone();
    let mut placed: Vec<usize> = (0..instrument.holes.len()).filter(|&hole| !limits.may_move(hole)).collect();
    for (index, hole) in guess.holes.iter_mut().enumerate() {
        // Left out of the column until it has its place.
        hole.drilled = placed.contains(&index);
    }
    if end_is_free(instrument, limits) {
        guess_end(&mut guess);
    }
    for fingering in lowest_first(instrument) {
        let open = open_tone_holes(instrument, fingering);
        let mut new: Vec<usize> = open.iter().copied().filter(|hole| !placed.contains(hole)).collect();
        new.sort_by(|&a, &b| instrument.holes[a].at_mm.total_cmp(&instrument.holes[b].at_mm));
        let Some((&own, others)) = new.split_first() else { continue };
        place_own(&mut guess, fingering, own, others, &placed)?;
        placed.extend(new);
    }
    guess = guess.finished();
    guess_vents(&mut guess, limits);
    Ok(guess)
}

/// Fingerings of the lowest register, lowest wanted note first.
fn lowest_first(instrument: &Instrument) -> Vec<usize> {
    let lowest = instrument.fingerings.iter().map(|f| f.register).min().unwrap_or(1);
    let mut order: Vec<usize> = (0..instrument.fingerings.len())
        .filter(|&fingering| instrument.fingerings[fingering].register == lowest)
        .collect();
    let target_hz = |fingering: usize| instrument.target_hz(&instrument.fingerings[fingering]);
    order.sort_by(|&a, &b| target_hz(a).total_cmp(&target_hz(b)));
    order
}

/// Cents of a fingering above its target as the guess stands; `None` without the resonance.
fn cents(guess: &Instrument, fingering: usize) -> Option<f64> {
    let wanted = &guess.fingerings[fingering];
    let hz = playing_hz(guess, &wanted.open, wanted.register, &[])?;
    Some(cents_between(hz, guess.target_hz(wanted)))
}

/// Cuts or lengthens the tube until the lowest note with every tone hole closed is in tune.
fn guess_end(guess: &mut Instrument) {
    let all_closed = |fingering: &usize| open_tone_holes(guess, *fingering).is_empty();
    let Some(fingering) = lowest_first(guess).into_iter().find(all_closed) else { return };
    let start = guess.clone();
    let with_length = |mm: f64| {
        let mut tried = start.clone();
        trim_end(&mut tried, start.length_mm() - mm);
        tried
    };
    let sharp = |mm: f64| cents(&with_length(mm), fingering).is_none_or(|cents| cents > 0.0);
    let most_mm = (LONGEST_TRIED * start.length_mm()).min(LONGEST_MM);
    *guess = with_length(halved(1.0, most_mm, sharp));
}

/// The place between `least` and `most` up to which `is_sharp` holds.
fn halved(least: f64, most: f64, is_sharp: impl Fn(f64) -> bool) -> f64 {
    let (mut low, mut high) = (least, most);
    while high - low > GOOD_ENOUGH_MM {
        let middle = 0.5 * (low + high);
        if is_sharp(middle) { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// Puts `own` where its note is in tune; `others` that the fingering opens for the first time as well lie between
/// it and what is below, evenly.
fn place_own(
    guess: &mut Instrument,
    fingering: usize,
    own: usize,
    others: &[usize],
    placed: &[usize],
) -> Result<(), PlaceError> {
    let open = guess.fingerings[fingering].open.clone();
    let below_mm = placed
        .iter()
        .filter(|hole| open.contains(hole) && !guess.holes[**hole].vent)
        .map(|&hole| guess.holes[hole].at_mm)
        .fold(guess.length_mm(), f64::min);
    let with_place = |mm: f64| {
        let mut tried = guess.clone();
        let share = (below_mm - mm) / (others.len() + 1) as f64;
        tried.holes[own].at_mm = mm;
        tried.holes[own].drilled = true;
        for (i, &other) in others.iter().enumerate() {
            tried.holes[other].at_mm = mm + share * (i + 1) as f64;
            tried.holes[other].drilled = true;
        }
        tried
    };
    let half_mm = 0.5 * guess.holes[own].diameter_mm;
    let (least, most) = (half_mm, below_mm - half_mm);
    let sharp = |mm: f64| cents(&with_place(mm), fingering).is_none_or(|cents| cents > 0.0);
    // From below: on a flute a hole far up sounds low again, because the tube below it then sounds.
    let step_mm = STEP_SHARE * guess.length_mm();
    let (mut low, mut high) = (most, most);
    while !sharp(low) {
        if low <= least {
            return Err(PlaceError::OutOfTube {
                hole: guess.holes[own].name.clone(),
                fingering: guess.fingerings[fingering].name.clone(),
                what: "wherever on the tube, the note stays flat",
            });
        }
        high = low;
        low = (low - step_mm).max(least);
    }
    let found = with_place(halved(low, high, sharp));
    *guess = found;
    Ok(())
}

/// Puts vents a third of the sounding length from the closed end, for the middle of the notes they serve (the
/// still point of the second resonance of a closed tube: A. H. Benade, Fundamentals of Musical Acoustics (1976)
/// ch. 21, from memory); where the file has it when that tunes better.
fn guess_vents(guess: &mut Instrument, limits: &Limits) {
    let humidity = guess.air.humidity_percent / 100.0;
    let speed = Air::mixture(guess.air.temperature_c, humidity, ROOM_CO2).speed;
    let vents: Vec<usize> =
        (0..guess.holes.len()).filter(|&hole| guess.holes[hole].vent && limits.may_move(hole)).collect();
    for vent in vents {
        let served: Vec<f64> = guess
            .fingerings
            .iter()
            .filter(|f| f.register > 1 && f.open.contains(&vent))
            .map(|f| guess.target_hz(f) / (2 * f.register - 1) as f64)
            .collect();
        if served.is_empty() || guess.drive == Drive::AirJet {
            continue;
        }
        let mean_hz = (served.iter().map(|hz| hz.ln()).sum::<f64>() / served.len() as f64).exp();
        let sounding_mm = 1000.0 * speed / (4.0 * mean_hz);
        let third_mm = sounding_mm / 3.0 - mouthpiece_length_mm(guess);
        let mut moved = guess.clone();
        moved.holes[vent].at_mm = third_mm.max(moved.holes[vent].diameter_mm);
        if misfit(&moved) < misfit(guess) {
            *guess = moved;
        }
    }
}

fn misfit(instrument: &Instrument) -> f64 {
    all_cents(instrument).into_iter().map(|cents| cents.map_or(1e6, |cents| cents * cents)).sum()
}
