//! What the maker allows when holes are placed, read against the names of one instrument, and what makes placing
//! impossible before it begins.
//!
//! Must not know air columns, files or the terminal.

use super::error::PlaceError;
use crate::instrument::bench_limits::{
    LEAST_LIFT_SHARE, apart_mm, covered_mm, round_the_tube_mm, widest_in_bore_mm,
};
use crate::instrument::drill_series::series_mm;
use crate::instrument::model::{Hole, Instrument};
use crate::instrument::spelling::{folded, nearest};
use crate::instrument::twelfth::open_tone_holes;

/// Below this share of the bore a tone hole gets stuffy and is avoided, unless the file's own is smaller (common
/// practice, no source).
const NARROWEST_SHARE: f64 = 0.25;
/// A register vent lies between these shares of the bore (common practice, no source).
const VENT_SHARES: [f64; 2] = [0.04, 0.25];

/// What the maker allows.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Limits {
    /// Holes that keep place and size: indices into [`Instrument::holes`].
    pub fixed: Vec<usize>,
    /// Whether every hole keeps its size.
    pub keep_sizes: bool,
    /// Holes (indices) that are to be this wide, mm.
    pub sizes_mm: Vec<(usize, f64)>,
    /// Whether the open end stays where it is.
    pub keep_end: bool,
    /// How far apart holes may lie.
    pub reaches: Vec<Reach>,
    /// Least wall between neighbouring holes, mm; `None`: the wider rim of the two.
    pub least_wall_mm: Option<f64>,
    /// Smallest tone hole, mm; `None`: a quarter of the bore, or the file's own when that is smaller.
    pub smallest_mm: Option<f64>,
    /// Widest tone hole, mm; `None`: what bore and pad allow.
    pub widest_mm: Option<f64>,
    /// How much smaller holes are drilled at first, mm; `None`: 1 mm, but at most a fifth of the hole.
    pub undersize_mm: Option<f64>,
    /// Sizes of the holes as the maker wrote them, mm, in the file's order; empty: as they are in the instrument.
    pub own_mm: Vec<f64>,
    /// Pads at hand, mm, rising; empty: the file's pads stay.
    pub pads_mm: Vec<f64>,
    /// Fingerings (indices) that count more or less than 1.
    pub weights: Vec<(usize, f64)>,
    /// Holes that a key of the maker's closes: its pad is theirs, and they lie within its reach.
    pub keys: Vec<HeldByKey>,
}

/// What the key that was chosen for a hole sets.
#[derive(Debug, Clone, PartialEq)]
pub struct HeldByKey {
    /// Index into [`Instrument::holes`].
    pub hole: usize,
    /// What the key is called in a sentence.
    pub key: String,
    /// Where its reach begins, mm; `None`: anywhere.
    pub from_mm: Option<f64>,
    /// Where its reach ends, mm; `None`: anywhere.
    pub to_mm: Option<f64>,
}

/// Two holes that one hand must reach.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reach {
    /// Index into [`Instrument::holes`].
    pub from: usize,
    /// Index into [`Instrument::holes`].
    pub to: usize,
    /// From centre to centre at most, mm.
    pub most_mm: f64,
}

/// The hole of this name.
///
/// # Errors
/// [`PlaceError::UnknownName`] with the nearest name.
pub fn hole_called(instrument: &Instrument, option: &'static str, name: &str) -> Result<usize, PlaceError> {
    one_called(option, "hole", name, instrument.holes.iter().map(|hole| hole.name.as_str()).collect())
}

/// The fingering of this name.
///
/// # Errors
/// [`PlaceError::UnknownName`] with the nearest name.
pub fn fingering_called(
    instrument: &Instrument,
    option: &'static str,
    name: &str,
) -> Result<usize, PlaceError> {
    let names = instrument.fingerings.iter().map(|fingering| fingering.name.as_str()).collect();
    one_called(option, "fingering", name, names)
}

fn one_called(
    option: &'static str,
    kind: &'static str,
    name: &str,
    names: Vec<&str>,
) -> Result<usize, PlaceError> {
    names.iter().position(|known| folded(known) == folded(name)).ok_or_else(|| {
        let to_do = match nearest(name, names.iter().copied()) {
            Some(meant) => format!("Did you mean {meant}?"),
            None => format!("It has: {}.", names.join(", ")),
        };
        PlaceError::UnknownName { option, kind, name: name.to_string(), to_do }
    })
}

/// The drills at hand, mm, rising; half millimetres when the file names none.
#[must_use]
pub fn drills_mm(instrument: &Instrument) -> Vec<f64> {
    let own = &instrument.workshop.drills_mm;
    if own.is_empty() { series_mm("metric-0.5").unwrap_or_default() } else { own.clone() }
}

/// The smallest and the widest that a hole may become, mm, and what sets the upper limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SizeRange {
    /// Smallest, mm.
    pub smallest_mm: f64,
    /// Widest, mm.
    pub widest_mm: f64,
    /// What sets the widest.
    pub why: &'static str,
}

impl SizeRange {
    /// The range with this limit, where it is less.
    fn at_most(mut self, limit_mm: Option<f64>, why: &'static str) -> SizeRange {
        if let Some(limit_mm) = limit_mm.filter(|mm| *mm < self.widest_mm) {
            (self.widest_mm, self.why) = (limit_mm, why);
        }
        self
    }

    /// The drills within, rising.
    #[must_use]
    pub fn drills(&self, drills_mm: &[f64]) -> Vec<f64> {
        let fits = |mm: &f64| *mm >= self.smallest_mm - 1e-9 && *mm <= self.widest_mm + 1e-9;
        drills_mm.iter().copied().filter(fits).collect()
    }
}

impl Limits {
    /// How much `fingering` counts.
    #[must_use]
    pub fn weight(&self, fingering: usize) -> f64 {
        self.weights.iter().rev().find(|(index, _)| *index == fingering).map_or(1.0, |(_, weight)| *weight)
    }

    /// Whether the hole may move.
    #[must_use]
    pub fn may_move(&self, hole: usize) -> bool {
        !self.fixed.contains(&hole)
    }

    /// What the hole's key sets; `None` without one.
    #[must_use]
    pub fn key_of(&self, hole: usize) -> Option<&HeldByKey> {
        self.keys.iter().find(|held| held.hole == hole)
    }

    /// Whether pads are chosen from what the maker has, and not as the file gives them.
    #[must_use]
    pub fn chooses_pads(&self, instrument: &Instrument) -> bool {
        !self.pads_mm.is_empty() || !instrument.keys.is_empty()
    }

    /// Whether the hole's size is free.
    #[must_use]
    pub fn may_resize(&self, hole: usize) -> bool {
        let is_given = self.sizes_mm.iter().any(|(index, _)| *index == hole);
        !self.keep_sizes && !is_given && self.may_move(hole)
    }

    /// The instrument with the sizes that are given.
    #[must_use]
    pub fn sized(&self, instrument: &Instrument) -> Instrument {
        let mut sized = instrument.clone();
        for &(index, size_mm) in &self.sizes_mm {
            if let Some(hole) = sized.holes.get_mut(index) {
                hole.diameter_mm = size_mm;
            }
        }
        sized
    }

    /// Wall that must stay between two neighbours, mm.
    #[must_use]
    pub fn wall_between_mm(&self, upper: &Hole, lower: &Hole) -> f64 {
        self.least_wall_mm.unwrap_or_else(|| upper.rim_mm.max(lower.rim_mm))
    }

    /// What sizes a hole may have.
    #[must_use]
    pub fn sizes(&self, instrument: &Instrument, hole: &Hole) -> SizeRange {
        let bore_mm = instrument.bore_at_mm(hole.at_mm);
        let index = instrument.holes.iter().position(|known| known.name == hole.name);
        let has_key = index.and_then(|index| self.key_of(index)).is_some();
        let own_mm = index.and_then(|index| self.own_mm.get(index)).copied().unwrap_or(hole.diameter_mm);
        let covered_by_key = covered_mm(hole).filter(|_| has_key);
        if hole.vent {
            let [smallest_mm, widest_mm] = VENT_SHARES.map(|share| share * bore_mm);
            let (smallest_mm, widest_mm) = (smallest_mm.min(own_mm), widest_mm.max(own_mm));
            let range = SizeRange { smallest_mm, widest_mm, why: "a vent in this bore" };
            return range.at_most(covered_by_key, "its pad must cover it");
        }
        let smallest_mm = self.smallest_mm.unwrap_or_else(|| (NARROWEST_SHARE * bore_mm).min(own_mm));
        let range = SizeRange {
            smallest_mm,
            widest_mm: widest_in_bore_mm(instrument, hole) - hole.undercut_mm,
            why: "nine tenths of the bore",
        };
        let covered = match self.pads_mm.last() {
            _ if has_key => covered_by_key,
            Some(widest_pad_mm) => hole.pad.and_then(|mut pad| {
                pad.diameter_mm = *widest_pad_mm;
                covered_mm(&Hole { pad: Some(pad), ..hole.clone() })
            }),
            // A file's own hole that its pad hardly covers was made so.
            None => covered_mm(hole).map(|mm| mm.max(own_mm)),
        };
        // … and one that its pad hardly clears; what is chosen here must not open too little.
        let made_mm = if self.chooses_pads(instrument) { smallest_mm } else { own_mm };
        let served = hole.pad.map(|pad| (pad.lift_mm / LEAST_LIFT_SHARE).max(made_mm));
        // A pad that opens too little for every drill is warned of; nothing is refused for it.
        let has_drill = |most_mm: &f64| {
            drills_mm(instrument).iter().any(|drill_mm| (smallest_mm..=*most_mm).contains(drill_mm))
        };
        let served = served.filter(has_drill);
        range
            .at_most(covered, "its pad must cover it")
            .at_most(served, "its pad must open a third of it")
            .at_most(self.widest_mm, "as you said")
    }
}

/// Everything that makes placing impossible before it begins.
///
/// # Errors
/// The first [`PlaceError`].
pub fn check(instrument: &Instrument, limits: &Limits) -> Result<(), PlaceError> {
    if instrument.fingerings.is_empty() {
        return Err(PlaceError::NoFingerings);
    }
    if instrument.holes.is_empty() {
        return Err(PlaceError::NoHoles);
    }
    if limits.keep_end && (0..instrument.holes.len()).all(|hole| !limits.may_move(hole)) {
        return Err(PlaceError::NothingFree);
    }
    check_order(instrument)?;
    for &(index, size_mm) in &limits.sizes_mm {
        let Some(hole) = instrument.holes.get(index) else { continue };
        let widest_mm = widest_in_bore_mm(instrument, hole) - hole.undercut_mm;
        if size_mm > widest_mm {
            let (hole, why) = (hole.name.clone(), "nine tenths of the bore");
            return Err(PlaceError::NoSize { hole, smallest_mm: size_mm, widest_mm, why });
        }
    }
    let drills = drills_mm(instrument);
    for (index, hole) in instrument.holes.iter().enumerate() {
        if !limits.may_resize(index) {
            continue;
        }
        let range = limits.sizes(instrument, hole);
        let SizeRange { smallest_mm, widest_mm, why } = range;
        let name = hole.name.clone();
        if smallest_mm > widest_mm {
            return Err(PlaceError::NoSize { hole: name, smallest_mm, widest_mm, why });
        }
        if range.drills(&drills).is_empty() {
            return Err(PlaceError::NoDrill { hole: name, smallest_mm, widest_mm, why });
        }
    }
    limits.reaches.iter().try_for_each(|reach| check_reach(instrument, limits, reach))
}

/// A fingering that opens more can't be wanted lower in the same register.
fn check_order(instrument: &Instrument) -> Result<(), PlaceError> {
    let fingerings = &instrument.fingerings;
    for (a, more) in fingerings.iter().enumerate() {
        for fewer in fingerings.iter().filter(|f| f.register == more.register) {
            let contains_all = fewer.open.iter().all(|hole| more.open.contains(hole));
            if !contains_all || instrument.target_hz(more) >= instrument.target_hz(fewer) {
                continue;
            }
            let extra: Vec<&str> = open_tone_holes(instrument, a)
                .into_iter()
                .filter(|hole| !fewer.open.contains(hole))
                .map(|hole| instrument.holes[hole].name.as_str())
                .collect();
            // The same holes twice: two wishes for one sound are split, not refused.
            if !extra.is_empty() {
                return Err(PlaceError::OutOfOrder {
                    higher: more.name.clone(),
                    lower: fewer.name.clone(),
                    more: extra.join(", "),
                });
            }
        }
    }
    Ok(())
}

fn check_reach(instrument: &Instrument, limits: &Limits, reach: &Reach) -> Result<(), PlaceError> {
    let (Some(from), Some(to)) = (instrument.holes.get(reach.from), instrument.holes.get(reach.to)) else {
        return Ok(());
    };
    // Rounded up: what the message names must be enough when it is typed.
    let to_write_mm = |mm: f64| (mm * 10.0).ceil() / 10.0;
    if !limits.may_move(reach.from) && !limits.may_move(reach.to) {
        let (upper, lower) = if from.at_mm <= to.at_mm { (from, to) } else { (to, from) };
        let apart_mm = apart_mm(instrument, upper, lower);
        if apart_mm <= reach.most_mm {
            return Ok(());
        }
        return Err(PlaceError::KeptApart {
            from: from.name.clone(),
            to: to.name.clone(),
            most_mm: reach.most_mm,
            apart_mm: to_write_mm(apart_mm),
        });
    }
    let smallest = |index: usize, hole: &Hole| {
        if limits.may_resize(index) { limits.sizes(instrument, hole).smallest_mm } else { hole.diameter_mm }
    };
    let ends_mm = 0.5 * (smallest(reach.from, from) + smallest(reach.to, to));
    let wall_mm = limits.wall_between_mm(from, to);
    let needed_mm = (ends_mm + wall_mm).max(round_the_tube_mm(instrument, from, to));
    if reach.most_mm >= needed_mm {
        return Ok(());
    }
    Err(PlaceError::ImpossibleReach {
        from: from.name.clone(),
        to: to.name.clone(),
        most_mm: reach.most_mm,
        needed_mm: to_write_mm(needed_mm),
    })
}
