//! What a second vent would do where one can't serve all its notes: the upper notes parted in two, each part with the
//! vent that serves it best.
//!
//! Must not know words or the terminal.

use super::limits::Limits;
use super::solve::with_places;
use super::vent_scan::{MUTE_CENTS, Price, Priced, VentScan, clear_mm};
use super::vents::{holding, is_large, off_cents, sizes_to_try, upper_notes};
use crate::instrument::model::{Hole, Instrument};
use crate::instrument::prediction::{PredictedNote, predict};
use crate::instrument::twelfth::same_holes_below;

/// A second vent, with its key, must leave no more than this share of what the layout costs (our choice).
const WORTH_SHARE: f64 = 0.75;

/// A vent of each kind: where, and how wide.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VentAt {
    /// Millimetres from the datum.
    pub at_mm: f64,
    /// Size, mm.
    pub diameter_mm: f64,
}

/// A second vent that would help.
#[derive(Debug, Clone, PartialEq)]
pub struct SecondVent {
    /// The vent of the file, which would go on to serve the other notes: index into
    /// [`Instrument::holes`](crate::instrument::model::Instrument::holes).
    pub vent: usize,
    /// Where that one would go.
    pub first: VentAt,
    /// Where the second would go.
    pub second: VentAt,
    /// The fingerings that would open the second instead of the first.
    pub fingerings: Vec<usize>,
    /// How many upper notes speak by the rule of thumb: with one vent, with two, and of how many.
    pub speak: [usize; 3],
    /// How far all notes are off, root mean square, cents: with one vent, with two.
    pub off_cents: [f64; 2],
}

/// The second vent beside `vent`; `None` where every note speaks, nothing may move, or a second one brings nothing.
pub(super) fn second_vent(layout: &Instrument, limits: &Limits, vent: usize) -> Option<SecondVent> {
    let speak = speaking(layout, &[vent]);
    if is_large(layout) || !limits.may_move(vent) || speak[0] == speak[1] || speak[1] < 2 {
        return None;
    }
    let held = holding(limits, &[vent]);
    let scan = VentScan::of(layout, &held, vent, &[]);
    let lower_cents = lower_cents(layout, scan.served());
    let at = |priced: &Priced| VentAt { at_mm: priced.at_mm, diameter_mm: priced.diameter_mm };
    let tried: Vec<(VentAt, Vec<f64>)> = scan
        .all(&sizes_to_try(layout, limits, vent))
        .iter()
        .map(|priced| (at(priced), note_prices(limits, &scan, &lower_cents, priced)))
        .collect();
    let rising = by_pitch(layout, scan.served());
    let (first, second, upper) = parted(layout, limits, vent, &tried, &rising)?;
    let fingerings: Vec<usize> = upper.iter().map(|&served| scan.served()[served]).collect();
    let both = with_both(layout, vent, first, second, &fingerings);
    let added = both.holes.len() - 1;
    let both = with_places(&both, &holding(limits, &[vent, added]));
    let speak_with_both = speaking(&both, &[vent, added])[0];
    let is_worth_it = Price::of(&both, limits).whole() < WORTH_SHARE * Price::of(layout, limits).whole();
    (is_worth_it && speak_with_both >= speak[0]).then(|| SecondVent {
        vent,
        first,
        second,
        fingerings,
        speak: [speak[0], speak_with_both, speak[1]],
        off_cents: [layout, &both].map(|body| off_cents(&predict(body))),
    })
}

/// How many of the notes that open one of these vents speak, and how many there are.
fn speaking(layout: &Instrument, vents: &[usize]) -> [usize; 2] {
    let notes = upper_notes(layout);
    let own = || notes.iter().filter(|(vented, _)| vents.contains(&vented.vent));
    [own().filter(|(_, note)| note.speaks()).count(), own().count()]
}

/// What every served note costs with the vent so, cents²: half the square of how far it and the lower note of its holes
/// lie apart, since one place splits that between them, and the doubt that it speaks.
fn note_prices(limits: &Limits, scan: &VentScan<'_>, lower_cents: &[f64], priced: &Priced) -> Vec<f64> {
    let price = |((&fingering, lower_cents), (cents, doubt)): ((&usize, &f64), (f64, f64))| {
        let apart_cents = cents - lower_cents;
        limits.weight(fingering).powi(2) * (0.5 * apart_cents.powi(2) + (MUTE_CENTS * doubt).powi(2))
    };
    scan.served().iter().zip(lower_cents).zip(scan.heard(priced)).map(price).collect()
}

/// Cents of the lower note of the same holes, one a served fingering; 0 without one.
fn lower_cents(layout: &Instrument, served: &[usize]) -> Vec<f64> {
    let notes = predict(layout);
    let lower = |fingering: &usize| {
        let below = notes.get(*fingering).and_then(|note| same_holes_below(layout, &notes, note));
        below.and_then(PredictedNote::cents).unwrap_or(0.0)
    };
    served.iter().map(lower).collect()
}

/// Indices into `served`, lowest wanted note first.
fn by_pitch(layout: &Instrument, served: &[usize]) -> Vec<usize> {
    let target_hz = |index: usize| layout.target_hz(&layout.fingerings[served[index]]);
    let mut rising: Vec<usize> = (0..served.len()).collect();
    rising.sort_by(|&a, &b| target_hz(a).total_cmp(&target_hz(b)));
    rising
}

/// The vent of the lower notes, that of the upper ones, and which notes those are: the cheapest parting of all.
fn parted(
    layout: &Instrument,
    limits: &Limits,
    vent: usize,
    tried: &[(VentAt, Vec<f64>)],
    rising: &[usize],
) -> Option<(VentAt, VentAt, Vec<usize>)> {
    let sum = |prices: &[f64], notes: &[usize]| notes.iter().map(|&note| prices[note]).sum::<f64>();
    let cheapest = |notes: &[usize], beside: Option<VentAt>| {
        tried
            .iter()
            .filter(|(at, _)| beside.is_none_or(|other| are_clear(layout, limits, vent, *at, other)))
            .map(|(at, prices)| (*at, sum(prices, notes)))
            .min_by(|a, b| a.1.total_cmp(&b.1))
    };
    (1..rising.len())
        .filter_map(|cut| {
            let (low, high) = rising.split_at(cut);
            let (first, low_price) = cheapest(low, None)?;
            let (second, high_price) = cheapest(high, Some(first))?;
            Some((low_price + high_price, first, second, high.to_vec()))
        })
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, first, second, high)| (first, second, high))
}

fn are_clear(layout: &Instrument, limits: &Limits, vent: usize, a: VentAt, b: VentAt) -> bool {
    let hole =
        |at: VentAt| Hole { at_mm: at.at_mm, diameter_mm: at.diameter_mm, ..layout.holes[vent].clone() };
    (a.at_mm - b.at_mm).abs() >= clear_mm(&hole(a), &hole(b), limits)
}

/// The layout with both vents, the second as the last hole.
fn with_both(
    layout: &Instrument,
    vent: usize,
    first: VentAt,
    second: VentAt,
    fingerings: &[usize],
) -> Instrument {
    let mut both = layout.clone();
    let own = both.holes[vent].clone();
    let added = both.holes.len();
    both.holes[vent] = Hole { at_mm: first.at_mm, diameter_mm: first.diameter_mm, ..own.clone() };
    both.holes.push(Hole {
        name: format!("{} (second)", own.name),
        at_mm: second.at_mm,
        diameter_mm: second.diameter_mm,
        ..own
    });
    for &fingering in fingerings {
        for hole in &mut both.fingerings[fingering].open {
            if *hole == vent {
                *hole = added;
            }
        }
    }
    both
}
