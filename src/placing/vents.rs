//! Where vents go and how wide they are: in tune, and so that the upper notes speak rather than fall.
//!
//! Whether a note speaks is the rule of thumb of [`crate::instrument::vent`], the one that `predict` tells. Must not know
//! words or the terminal.

use super::limits::{Limits, drills_mm};
use super::solve::with_places;
use super::tuning::LOST_CENTS;
use super::vent_scan::{Price, Priced, VentScan};
use crate::instrument::model::Instrument;
use crate::instrument::prediction::{PredictedNote, predict};
use crate::instrument::vent::{VentedNote, vented_notes};

/// Sizes of a vent that are tried differ by this factor at least: its strength goes as the square.
const SIZES_APART: f64 = 1.18;
/// For so many sizes, those that cost least, all other holes are placed anew.
const MOST_SOLVED: usize = 2;
/// Holes times fingerings: up to here vents are looked at in full (measured: the slowest of 300 plans drawn by chance takes
/// some ten seconds of one core there).
const LARGEST_IN_FULL: usize = 1000;
/// In larger plans, so many sizes of each vent are tried, those nearest to the file's.
pub const SIZES_OF_LARGE: usize = 3;
/// Vents that lie nearer than this share of their distance from the top are the same.
const SAME_PLACE_SHARE: f64 = 0.02;

/// A size that was tried for a vent, with every place solved anew.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TriedVent {
    /// Index into [`Instrument::holes`].
    pub hole: usize,
    /// Size, mm.
    pub diameter_mm: f64,
    /// How far the notes are off, root mean square, cents.
    pub off_cents: f64,
    /// How many notes may sound with an undertone.
    pub undertones: usize,
    /// How many may be slow to speak or fall, undertones aside.
    pub falls: usize,
}

/// One upper note as the vent is, and as it would be with the vent where and as wide as pitch alone would have it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VentTrade {
    /// Index into [`Instrument::fingerings`].
    pub fingering: usize,
    /// The vent that it opens: index into [`Instrument::holes`].
    pub vent: usize,
    /// As it is.
    pub taken: UpperNote,
    /// As pitch alone would have it; `None` where that is the same layout.
    pub by_pitch: Option<UpperNote>,
}

/// What an upper note does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UpperNote {
    /// From the target, cents; `None` without a resonance.
    pub cents: Option<f64>,
    /// An undertone may sound along.
    pub has_undertone: bool,
    /// It may be slow to speak, or fall.
    pub may_fall: bool,
}

impl UpperNote {
    /// Whether nothing speaks against it.
    #[must_use]
    pub fn speaks(&self) -> bool {
        !self.has_undertone && !self.may_fall
    }
}

/// A layout with its vents.
pub(super) struct Vented {
    pub(super) layout: Instrument,
    /// Sizes that were tried.
    pub(super) tried: Vec<TriedVent>,
}

/// The vents whose place is free.
pub(super) fn movable(instrument: &Instrument, limits: &Limits) -> Vec<usize> {
    let serves = |hole: usize| instrument.fingerings.iter().any(|f| f.register > 1 && f.open.contains(&hole));
    (0..instrument.holes.len())
        .filter(|&hole| instrument.holes[hole].vent && limits.may_move(hole) && serves(hole))
        .collect()
}

/// The same limits with these vents kept where they are.
pub(super) fn holding(limits: &Limits, vents: &[usize]) -> Limits {
    let mut held = limits.clone();
    held.fixed.extend(vents);
    held
}

/// Layouts to begin with.
pub(super) struct FirstVents {
    /// With the vents that cost least.
    pub(super) speaking: Instrument,
    /// With the vents that pitch alone would have.
    pub(super) in_tune: Instrument,
}

/// Sizes and places of vents to begin with: what will be best once the sizes of `open_sizes` have followed too.
pub(super) fn first_vents(
    layout: &Instrument,
    limits: &Limits,
    vents: &[usize],
    open_sizes: &[usize],
) -> FirstVents {
    let held = holding(limits, vents);
    let mut found = FirstVents { speaking: layout.clone(), in_tune: layout.clone() };
    for &vent in vents {
        let begun = found.speaking.clone();
        let scan = VentScan::of(&begun, &held, vent, open_sizes);
        let all = scan.all(&sizes_to_try(&begun, limits, vent));
        let least = |by: fn(&Price) -> f64| all.iter().min_by(|a, b| by(&a.price).total_cmp(&by(&b.price)));
        let put = |body: &mut Instrument, priced: &Priced| {
            body.holes[vent].at_mm = priced.at_mm;
            body.holes[vent].diameter_mm = priced.diameter_mm;
        };
        if let (Some(speaking), Some(in_tune)) = (least(Price::whole), least(|price| price.pitch)) {
            put(&mut found.speaking, speaking);
            put(&mut found.in_tune, in_tune);
        }
    }
    found
}

/// The sizes of a vent that are worth trying: its own where it has no choice.
pub(super) fn sizes_to_try(layout: &Instrument, limits: &Limits, vent: usize) -> Vec<f64> {
    let own_mm = layout.holes[vent].diameter_mm;
    if !limits.may_resize(vent) {
        return vec![own_mm];
    }
    let mut sizes = spread_out(&limits.sizes(layout, &layout.holes[vent]).drills(&drills_mm(layout)), own_mm);
    if is_large(layout) {
        sizes.sort_by(|a, b| (a / own_mm).ln().abs().total_cmp(&(b / own_mm).ln().abs()));
        sizes.truncate(SIZES_OF_LARGE);
    }
    sizes
}

/// Whether a plan is so large that vents are tried in a few sizes only, and no second one is looked for, so that the answer
/// comes within ten seconds.
pub(super) fn is_large(layout: &Instrument) -> bool {
    layout.holes.len() * layout.fingerings.len() > LARGEST_IN_FULL
}

/// Finds place and size of one vent after the other.
pub(super) fn with_vents(
    mut layout: Instrument,
    limits: &Limits,
    vents: &[usize],
    progress: &dyn Fn(&str),
) -> Vented {
    let held = holding(limits, vents);
    let mut tried = Vec::new();
    for &vent in vents {
        progress(&format!("place and size of {}", layout.holes[vent].name));
        let one = one_vent(&layout, limits, &held, vent);
        tried.extend(one.tried);
        layout = one.layout;
    }
    Vented { layout, tried }
}

/// The best place of every size, and the best of these with all other holes placed anew.
fn one_vent(layout: &Instrument, limits: &Limits, held: &Limits, vent: usize) -> Vented {
    let scan = VentScan::of(layout, held, vent, &[]);
    let cost = |priced: &Priced| priced.price.whole();
    let mut best: Vec<Priced> = sizes_to_try(layout, limits, vent)
        .into_iter()
        .filter_map(|diameter_mm| {
            let places = scan.places(diameter_mm).into_iter();
            Some(scan.refined(places.min_by(|a, b| cost(a).total_cmp(&cost(b)))?))
        })
        .collect();
    best.sort_by(|a, b| cost(a).total_cmp(&cost(b)));
    best.truncate(MOST_SOLVED);
    let solved = |priced: &Priced| {
        let found = with_places(&scan.with_vent(priced.at_mm, priced.diameter_mm), held);
        (Price::of(&found, limits).whole(), found)
    };
    let found: Vec<(f64, Instrument)> = best.iter().map(solved).collect();
    let tried = if limits.may_resize(vent) {
        found.iter().map(|(_, body)| told(body, vent)).collect()
    } else {
        Vec::new()
    };
    let cheapest = found.into_iter().min_by(|a, b| a.0.total_cmp(&b.0));
    Vented { layout: cheapest.map_or_else(|| layout.clone(), |(_, body)| body), tried }
}

/// The upper notes of a layout beside those that pitch alone would give.
pub(super) fn trades(layout: &Instrument, by_pitch: &Instrument) -> Vec<VentTrade> {
    let (own, other) = (upper_notes(layout), upper_notes(by_pitch));
    let vents = |body: &Instrument| -> Vec<(f64, f64)> {
        body.holes.iter().filter(|hole| hole.vent).map(|hole| (hole.at_mm, hole.diameter_mm)).collect()
    };
    let differs = vents(layout)
        .iter()
        .zip(vents(by_pitch))
        .any(|(a, b)| (a.0 - b.0).abs() > SAME_PLACE_SHARE * a.0 || a.1 != b.1);
    own.into_iter()
        .map(|(vented, taken)| VentTrade {
            fingering: vented.fingering,
            vent: vented.vent,
            taken,
            by_pitch: other
                .iter()
                .find(|(twin, _)| differs && twin.fingering == vented.fingering)
                .map(|(_, note)| *note),
        })
        .collect()
}

/// Every note that opens a vent, and what it does.
pub(super) fn upper_notes(layout: &Instrument) -> Vec<(VentedNote, UpperNote)> {
    let notes = predict(layout);
    let upper = |vented: VentedNote| {
        let cents =
            notes.iter().find(|note| note.fingering == vented.fingering).and_then(PredictedNote::cents);
        let (has_undertone, may_fall) = (vented.lower_stays(), vented.lower_is_strong());
        (vented, UpperNote { cents, has_undertone, may_fall })
    };
    vented_notes(layout, &notes).into_iter().map(upper).collect()
}

/// How far all notes are off, root mean square, cents.
pub(super) fn off_cents(notes: &[PredictedNote]) -> f64 {
    let off = |note: &PredictedNote| note.cents().unwrap_or(LOST_CENTS);
    (notes.iter().map(|note| off(note).powi(2)).sum::<f64>() / notes.len() as f64).sqrt()
}

fn told(layout: &Instrument, vent: usize) -> TriedVent {
    let notes = predict(layout);
    let vented = vented_notes(layout, &notes);
    TriedVent {
        hole: vent,
        diameter_mm: layout.holes[vent].diameter_mm,
        off_cents: off_cents(&notes),
        undertones: vented.iter().filter(|note| note.lower_stays()).count(),
        falls: vented.iter().filter(|note| note.lower_is_strong() && !note.lower_stays()).count(),
    }
}

/// Of rising sizes the one nearest to `own_mm`, and from it up and down those that differ enough from the last.
fn spread_out(sizes_mm: &[f64], own_mm: f64) -> Vec<f64> {
    let apart = |mm: f64| (mm / own_mm).ln().abs();
    let Some(nearest) =
        (0..sizes_mm.len()).min_by(|&a, &b| apart(sizes_mm[a]).total_cmp(&apart(sizes_mm[b])))
    else {
        return Vec::new();
    };
    let mut chosen = vec![sizes_mm[nearest]];
    let (below, above) = (sizes_mm[..nearest].iter().rev(), sizes_mm[nearest..].iter());
    for side in [below.copied().collect::<Vec<f64>>(), above.copied().collect()] {
        let mut last_mm = sizes_mm[nearest];
        for mm in side {
            if (mm / last_mm).ln().abs() > SIZES_APART.ln() {
                chosen.push(mm);
                last_mm = mm;
            }
        }
    }
    chosen
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn vents_are_tried_from_the_files_own_size_up_and_down() {
        let halves: Vec<f64> = (2..=12).map(|halves| 0.5 * f64::from(halves)).collect();
        assert_eq!(spread_out(&halves, 2.1), [2.0, 1.5, 1.0, 2.5, 3.0, 4.0, 5.0, 6.0]);
        assert_eq!(spread_out(&[1.2], 9.0), [1.2]);
        assert!(spread_out(&[], 2.0).is_empty());
    }
}
