//! Which heard note is which fingering, from pitch and order: for one long recording, and for files
//! whose names say nothing.
//!
//! Proposes; the maker confirms or corrects. Must not know samples, files or the terminal.

use super::alignment_path::{Costs, cheapest, nearly_as_cheap};
use crate::diagnosis::beliefs::sequence::{COMMON_SD_CENTS, JUMP_CENTS, MOST_COMMON_CENTS, SHORT_SHARE};
use crate::instrument::model::Instrument;
use crate::instrument::prediction::PredictedNote;
use crate::units::{cents_between, shift_by_cents};

/// Steps in which what they share is tried, cents.
const COMMON_STEP_CENTS: i32 = 16;

/// One note as it was heard, in order of time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Heard {
    /// Pitch, hertz; `None` when no note was found.
    pub hz: Option<f64>,
    /// How long it sounds, seconds.
    pub seconds: f64,
    /// True for a note that was surely meant as a take (a file of its own): it is no false start,
    /// and a silent one still stands for its fingering.
    pub meant: bool,
}

/// In which order the fingerings were played.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Order {
    /// As they stand in the instrument file.
    File,
    /// As they stand in the file, from the last one back.
    FileBackward,
    /// From the lowest pitch up.
    LowestFirst,
    /// From the highest pitch down.
    HighestFirst,
    /// As the maker said, note by note.
    Said,
}

/// How a heard note stands in the order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// The first take of its fingering.
    Next,
    /// Right after another take of the same fingering.
    Repeat,
    /// A fingering that had been passed already.
    Back,
    /// Left out: broken off at once.
    FalseStart,
    /// Left out: fits no fingering here.
    Stray,
    /// Left out: no note in it.
    NoNote,
    /// Left out: the maker said so.
    SaidLeftOut,
}

/// One heard note with what it is taken as.
#[derive(Debug, Clone, PartialEq)]
pub struct AlignedNote {
    /// The fingering (index into [`Instrument::fingerings`]), or `None` when left out.
    pub fingering: Option<usize>,
    /// How it stands in the order.
    pub place: Place,
    /// Cents above the fingering's predicted pitch.
    pub cents_from_predicted: Option<f64>,
    /// Another resonance of its fingering that sounded instead (from 1).
    pub register: Option<usize>,
    /// Playable fingerings passed over just before it.
    pub skipped: Vec<usize>,
    /// Another fingering that is nearly as likely.
    pub or_else: Option<usize>,
}

/// All heard notes with what they are taken as.
#[derive(Debug, Clone, PartialEq)]
pub struct Alignment {
    /// The order in which the fingerings were played.
    pub order: Order,
    /// What all notes are off their predictions together, cents.
    pub common_cents: f64,
    /// One entry a heard note.
    pub notes: Vec<AlignedNote>,
    /// Playable fingerings without a note, in the file's order.
    pub missing: Vec<usize>,
}

/// Finds the cheapest way through the fingerings, over four orders and over what all notes may be off
/// together. Ties go to the file's own order.
#[must_use]
pub fn align(instrument: &Instrument, predicted: &[PredictedNote], heard: &[Heard]) -> Alignment {
    let short = short_ones(heard);
    let mut best: Option<(f64, Order, f64)> = None;
    for order in [Order::File, Order::LowestFirst, Order::FileBackward, Order::HighestFirst] {
        let fingerings = in_order(predicted, order);
        let steps = MOST_COMMON_CENTS / COMMON_STEP_CENTS;
        for common_cents in (-steps..=steps).map(|step| f64::from(step * COMMON_STEP_CENTS)) {
            let costs =
                Costs { instrument, predicted, fingerings: &fingerings, heard, short: &short, common_cents };
            let total = cheapest(&costs).total + (common_cents / COMMON_SD_CENTS).powi(2) / 2.0;
            if best.is_none_or(|(least, _, _)| total < least - 1e-9) {
                best = Some((total, order, common_cents));
            }
        }
    }
    let (_, order, common_cents) = best.unwrap_or((0.0, Order::File, 0.0));
    let fingerings = in_order(predicted, order);
    let costs = |common_cents| Costs {
        instrument,
        predicted,
        fingerings: &fingerings,
        heard,
        short: &short,
        common_cents,
    };
    let found = cheapest(&costs(common_cents));
    // The grid is coarse; the notes themselves tell the rest.
    let common_cents = middle(heard, predicted, &found.taken).unwrap_or(common_cents);
    let costs = costs(common_cents);
    let found = cheapest(&costs);
    let mut alignment = describe(instrument, predicted, heard, &fingerings, &found.taken, common_cents);
    alignment.order = order;
    for (note, or_else) in alignment.notes.iter_mut().zip(nearly_as_cheap(&costs, &found)) {
        note.or_else = or_else;
    }
    alignment
}

/// The same when the maker says what each note is; `None` leaves one out.
#[must_use]
pub fn as_said(
    instrument: &Instrument,
    predicted: &[PredictedNote],
    heard: &[Heard],
    said: &[Option<usize>],
) -> Alignment {
    let common_cents = middle(heard, predicted, said).unwrap_or(0.0);
    let fingerings = in_order(predicted, Order::File);
    let mut alignment = describe(instrument, predicted, heard, &fingerings, said, common_cents);
    alignment.order = Order::Said;
    for note in &mut alignment.notes {
        note.skipped.clear();
        match note.place {
            Place::FalseStart | Place::Stray => note.place = Place::SaidLeftOut,
            Place::Back => note.place = Place::Next,
            _ => {}
        }
    }
    alignment
}

fn in_order(predicted: &[PredictedNote], order: Order) -> Vec<usize> {
    let mut fingerings: Vec<usize> = (0..predicted.len()).collect();
    let hz = |f: &usize| predicted.get(*f).map_or(0.0, |note| note.predicted_hz.unwrap_or(note.target_hz));
    match order {
        Order::File | Order::Said => {}
        Order::FileBackward => fingerings.reverse(),
        Order::LowestFirst => fingerings.sort_by(|a, b| hz(a).total_cmp(&hz(b))),
        Order::HighestFirst => fingerings.sort_by(|a, b| hz(b).total_cmp(&hz(a))),
    }
    fingerings
}

/// Median offset of the notes from their predictions, within what is plausible.
fn middle(heard: &[Heard], predicted: &[PredictedNote], taken: &[Option<usize>]) -> Option<f64> {
    let mut offsets: Vec<f64> = heard
        .iter()
        .zip(taken)
        .filter_map(|(heard, fingering)| own_cents(heard, predicted.get((*fingering)?)?))
        .filter(|cents| cents.abs() <= 2.0 * f64::from(MOST_COMMON_CENTS))
        .collect();
    offsets.sort_by(f64::total_cmp);
    let most = f64::from(MOST_COMMON_CENTS);
    offsets.get(offsets.len() / 2).map(|cents| cents.clamp(-most, most))
}

/// Cents of a heard note above what the fingering should sound.
pub(in crate::diagnosis) fn own_cents(heard: &Heard, predicted: &PredictedNote) -> Option<f64> {
    Some(cents_between(heard.hz?, predicted.predicted_hz?))
}

/// The other resonance of its fingering (from 1) that a note sounds, if it does.
pub(in crate::diagnosis) fn jumped_to(
    heard: &Heard,
    predicted: &PredictedNote,
    register: usize,
    common_cents: f64,
) -> Option<usize> {
    let hz = shift_by_cents(heard.hz?, -common_cents);
    let near = |resonance_hz: f64| cents_between(hz, resonance_hz).abs();
    predicted
        .resonances
        .iter()
        .enumerate()
        .map(|(index, resonance)| (index + 1, near(resonance.hz)))
        .filter(|(number, cents)| *number != register && *cents < JUMP_CENTS)
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(number, _)| number)
}

/// What the cheapest way means, note by note.
fn describe(
    instrument: &Instrument,
    predicted: &[PredictedNote],
    heard: &[Heard],
    fingerings: &[usize],
    taken: &[Option<usize>],
    common_cents: f64,
) -> Alignment {
    let position = |fingering: usize| fingerings.iter().position(|&f| f == fingering);
    let playable =
        |f: &usize| instrument.fingerings.get(*f).is_some_and(|fingering| instrument.playable(fingering));
    let mut last: Option<usize> = None;
    let mut passed: Vec<usize> = Vec::new();
    let mut notes = Vec::with_capacity(heard.len());
    for ((heard_note, short), &fingering) in heard.iter().zip(short_ones(heard)).zip(taken) {
        let mut note = AlignedNote {
            fingering,
            place: left_out(heard_note, short),
            cents_from_predicted: None,
            register: None,
            skipped: Vec::new(),
            or_else: None,
        };
        if let Some(fingering) = fingering {
            let at = position(fingering);
            note.place = match at.cmp(&last) {
                std::cmp::Ordering::Equal => Place::Repeat,
                std::cmp::Ordering::Greater if !passed.contains(&fingering) => Place::Next,
                _ => Place::Back,
            };
            let from = last.map_or(0, |last| last + 1);
            let between = fingerings.get(from..at.unwrap_or(0).max(from)).unwrap_or_default();
            note.skipped = between.iter().copied().filter(playable).filter(|f| !passed.contains(f)).collect();
            passed.push(fingering);
            last = at;
            let own = predicted.get(fingering);
            note.cents_from_predicted = own.and_then(|own| own_cents(heard_note, own));
            if note.cents_from_predicted.is_some_and(|cents| (cents - common_cents).abs() > JUMP_CENTS) {
                let register = instrument.fingerings.get(fingering).map_or(1, |f| f.register);
                note.register = own.and_then(|own| jumped_to(heard_note, own, register, common_cents));
            }
        }
        notes.push(note);
    }
    // What was skipped first and played later was not skipped.
    for note in &mut notes {
        note.skipped.retain(|f| !passed.contains(f));
    }
    let missing = (0..instrument.fingerings.len()).filter(playable).filter(|f| !passed.contains(f)).collect();
    Alignment { order: Order::File, common_cents, notes, missing }
}

fn left_out(heard: &Heard, short: bool) -> Place {
    match heard.hz {
        None => Place::NoNote,
        Some(_) if short => Place::FalseStart,
        Some(_) => Place::Stray,
    }
}

/// Which notes are much shorter than the others, and no files of their own.
fn short_ones(heard: &[Heard]) -> Vec<bool> {
    let mut lengths: Vec<f64> = heard.iter().filter(|h| h.hz.is_some()).map(|h| h.seconds).collect();
    lengths.sort_by(f64::total_cmp);
    let usual = lengths.get(lengths.len() / 2).copied().unwrap_or(0.0);
    heard.iter().map(|h| !h.meant && h.seconds < SHORT_SHARE * usual).collect()
}
