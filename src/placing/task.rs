//! What is free when holes are placed, between which bounds, and what an instrument with these values is.
//!
//! Must not know how well it sounds.

use super::fit::Bounds;
use super::limits::Limits;
use crate::instrument::alter::trim_end;
use crate::instrument::bench_limits::PAD_OVERLAP_MM;
use crate::instrument::model::Instrument;
use crate::instrument::twelfth::open_tone_holes;

/// Farthest that a hole, a size and the end move in one round, mm.
const PLACE_STRIDE_MM: f64 = 25.0;
const SIZE_STRIDE_MM: f64 = 1.5;
/// No tube is longer, mm (the file's own limit).
pub(super) const LONGEST_MM: f64 = 20_000.0;

/// One measure that is free.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Unknown {
    /// A hole's place.
    At(usize),
    /// A hole's size.
    Size(usize),
    /// The length of the tube.
    End,
}

/// An instrument with some of its measures free.
#[derive(Clone)]
pub(super) struct Task<'a> {
    /// The instrument so far, every hole there.
    pub(super) instrument: Instrument,
    /// What the maker allows.
    pub(super) limits: &'a Limits,
    /// What is free.
    pub(super) free: Vec<Unknown>,
}

impl<'a> Task<'a> {
    /// Places and end free, sizes as they are.
    pub(super) fn of_places(instrument: &Instrument, limits: &'a Limits) -> Task<'a> {
        let mut free: Vec<Unknown> =
            (0..instrument.holes.len()).filter(|&hole| limits.may_move(hole)).map(Unknown::At).collect();
        if end_is_free(instrument, limits) {
            free.push(Unknown::End);
        }
        Task { instrument: instrument.clone(), limits, free }
    }

    /// The same with the sizes of these holes free too.
    pub(super) fn with_sizes(mut self, holes: &[usize]) -> Task<'a> {
        self.free.extend(holes.iter().map(|&hole| Unknown::Size(hole)));
        self
    }

    /// The free measures of an instrument, mm.
    pub(super) fn values(&self, instrument: &Instrument) -> Vec<f64> {
        let value = |unknown: &Unknown| match *unknown {
            Unknown::At(hole) => instrument.holes[hole].at_mm,
            Unknown::Size(hole) => instrument.holes[hole].diameter_mm,
            Unknown::End => instrument.length_mm(),
        };
        self.free.iter().map(value).collect()
    }

    /// The instrument with these measures, mm.
    pub(super) fn with_values(&self, values: &[f64]) -> Instrument {
        let mut instrument = self.instrument.clone();
        for (unknown, &mm) in self.free.iter().zip(values) {
            match *unknown {
                Unknown::At(hole) => instrument.holes[hole].at_mm = mm,
                Unknown::Size(hole) => instrument.holes[hole].diameter_mm = mm,
                Unknown::End => {
                    let trim_mm = instrument.length_mm() - mm;
                    trim_end(&mut instrument, trim_mm);
                }
            }
        }
        instrument
    }

    /// Where the values may lie, mm.
    pub(super) fn bounds(&self) -> Bounds {
        let mut bounds = Bounds { least: Vec::new(), most: Vec::new(), stride: Vec::new() };
        for unknown in &self.free {
            let (least, most, stride) = match *unknown {
                Unknown::At(hole) => {
                    let half_mm = 0.5 * self.instrument.holes[hole].diameter_mm;
                    let most_mm = if self.free.contains(&Unknown::End) {
                        LONGEST_MM
                    } else {
                        self.instrument.length_mm()
                    };
                    let (mut least_mm, mut most_mm) = (half_mm, most_mm - half_mm);
                    if let Some(held) = self.limits.key_of(hole) {
                        least_mm = held.from_mm.map_or(least_mm, |mm| mm.max(least_mm));
                        most_mm = held.to_mm.map_or(most_mm, |mm| mm.min(most_mm));
                    }
                    (least_mm, most_mm, PLACE_STRIDE_MM)
                }
                Unknown::Size(hole) => {
                    let range = self.limits.sizes(&self.instrument, &self.instrument.holes[hole]);
                    (range.smallest_mm, range.widest_mm, SIZE_STRIDE_MM)
                }
                Unknown::End => (self.shortest_mm(), LONGEST_MM, PLACE_STRIDE_MM),
            };
            bounds.least.push(least);
            bounds.most.push(most);
            bounds.stride.push(stride);
        }
        bounds
    }

    /// The end must stay below what can't move.
    fn shortest_mm(&self) -> f64 {
        let holes = self.instrument.holes.iter().enumerate();
        let kept = holes.filter(|(index, _)| !self.limits.may_move(*index)).map(|(_, hole)| hole);
        let bends = self.instrument.bends.iter();
        let lowest = kept.map(|hole| hole.at_mm + 0.5 * hole.diameter_mm + hole.rim_mm);
        lowest.chain(bends.map(|bend| bend.at_mm)).fold(1.0, f64::max)
    }
}

/// The end is found from notes that open no tone hole; without one it stays.
pub(super) fn end_is_free(instrument: &Instrument, limits: &Limits) -> bool {
    let all_closed = (0..instrument.fingerings.len()).any(|f| open_tone_holes(instrument, f).is_empty());
    !limits.keep_end && all_closed
}

/// Gives every tone hole with a pad the smallest of the maker's pads that covers it well; sizes that no pad of theirs covers
/// keep the widest. A vent keeps its own small pad, and a hole with a key that of the key. No pads given: nothing changes.
pub(super) fn choose_pads(instrument: &mut Instrument, limits: &Limits) {
    for (index, hole) in instrument.holes.iter_mut().enumerate() {
        if hole.vent || limits.key_of(index).is_some() {
            continue;
        }
        let needed_mm = hole.diameter_mm + 2.0 * (hole.rim_mm + PAD_OVERLAP_MM) - 1e-9;
        let chosen = limits.pads_mm.iter().copied().find(|pad_mm| *pad_mm >= needed_mm);
        if let (Some(pad), true, Some(pad_mm)) =
            (hole.pad.as_mut(), limits.may_move(index), chosen.or(limits.pads_mm.last().copied()))
        {
            pad.diameter_mm = pad_mm;
        }
    }
}
