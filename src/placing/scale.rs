//! Carries a measured layout to another pitch, bore, wall and mouthpiece by lengths from the effective top: the
//! start for placing, and what copying alone would give.
//!
//! Must not know recordings, files or the terminal.

use super::error::PlaceError;
use super::limits::Limits;
use crate::instrument::bench_limits::size_to_make_mm;
use crate::instrument::column::{FLUSH_ALLOWANCE_MM, mouthpiece_length_mm};
use crate::instrument::model::{BorePoint, Instrument};
use crate::instrument::prediction::{PredictedNote, predict};
use crate::units::Note;

/// Where a layout is carried to; what is `None` stays as on the donor.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Wanted {
    /// Semitones that the new body sounds higher.
    pub semitones: i32,
    /// Inner diameter at the top, mm.
    pub bore_mm: Option<f64>,
    /// Wall, mm.
    pub wall_mm: Option<f64>,
    /// Chimneys of tone holes, mm.
    pub chimney_mm: Option<f64>,
    /// Mouthpiece's chamber, ml.
    pub chamber_ml: Option<f64>,
    /// Reed's give, ml.
    pub reed_ml: Option<f64>,
}

/// A layout carried over by proportion alone.
#[derive(Debug, Clone, PartialEq)]
pub struct Carried {
    /// The new instrument: every length from the effective top multiplied, fingerings renamed.
    pub instrument: Instrument,
    /// What was wanted.
    pub wanted: Wanted,
    /// What lengths were multiplied by.
    pub times: f64,
    /// The length of bore that mouthpiece and reed stand for on the donor and on the new body, mm.
    pub tops_mm: [f64; 2],
    /// Cents from the target that copying alone would leave, one a fingering in the file's order.
    pub copied_cents: Vec<Option<f64>>,
    /// The same when lengths were multiplied from the rim of the tube instead.
    pub from_rim_cents: Vec<Option<f64>>,
}

/// Carries `donor` over. Lengths from the effective top are multiplied by `2^(-n/12)` for n semitones up; holes
/// keep their share of the bore, pads their overlap and their lift's share of the hole.
///
/// # Errors
/// [`PlaceError::CannotCarry`] when something would come to lie above the top of the new tube.
pub fn carry(donor: &Instrument, wanted: &Wanted) -> Result<Carried, PlaceError> {
    let times = (-f64::from(wanted.semitones) / 12.0).exp2();
    let mut body = donor.clone();
    let wider = wanted.bore_mm.map_or(1.0, |mm| mm / donor.bore_at_mm(0.0));
    body.bore.iter_mut().for_each(|point| point.diameter_mm *= wider);
    set_top(&mut body, wanted, wider);
    set_walls(&mut body, donor, wanted);
    set_sizes(&mut body, wider);
    set_notes(&mut body, wanted.semitones);
    body.holes.iter_mut().for_each(|hole| hole.drilled = false);
    let tops_mm = [mouthpiece_length_mm(donor), mouthpiece_length_mm(&body)];
    let rim = moved(&body, &|at_mm| at_mm * times);
    let instrument = moved(&body, &|at_mm| (at_mm + tops_mm[0]) * times - tops_mm[1]);
    check_top(&instrument)?;
    let cents = |body: &Instrument| predict(&body.finished()).iter().map(PredictedNote::cents).collect();
    let (copied_cents, from_rim_cents) = (cents(&instrument), cents(&rim));
    Ok(Carried { instrument, wanted: *wanted, times, tops_mm, copied_cents, from_rim_cents })
}

/// The carried layout with sizes that can be made for all holes whose size stays: proportion gives thousandths of a
/// millimetre.
#[must_use]
pub fn with_sizes_to_make(carried: &Instrument, limits: &Limits) -> Instrument {
    let mut body = carried.clone();
    for (index, hole) in body.holes.iter_mut().enumerate() {
        if !limits.may_resize(index) {
            hole.diameter_mm = size_to_make_mm(carried, hole);
        }
    }
    body
}

/// Mouthpiece and reed. A give that was learnt grows with the bore as the rule of thumb's does: a length that
/// grows with its root, times its area.
fn set_top(body: &mut Instrument, wanted: &Wanted, wider: f64) {
    let Some(mouthpiece) = body.mouthpiece.as_mut() else { return };
    if let Some(chamber_ml) = wanted.chamber_ml {
        mouthpiece.chamber_ml = chamber_ml;
        // It is another mouthpiece; what it suits is not known.
        mouthpiece.suits_bore_mm = None;
    }
    mouthpiece.reed_ml = wanted.reed_ml.or(mouthpiece.reed_ml.map(|learnt_ml| learnt_ml * wider.powf(2.5)));
}

/// Wall and chimneys.
fn set_walls(body: &mut Instrument, donor: &Instrument, wanted: &Wanted) {
    let old_mm = donor.wall.thickness_mm;
    let new_mm = wanted.wall_mm.unwrap_or(old_mm);
    body.wall.thickness_mm = new_mm;
    for hole in &mut body.holes {
        let was_flush = hole.chimney_mm <= old_mm + FLUSH_ALLOWANCE_MM;
        hole.chimney_mm = match wanted.chimney_mm.filter(|_| !hole.vent) {
            Some(chimney_mm) => chimney_mm,
            None if was_flush => new_mm,
            None => hole.chimney_mm + new_mm - old_mm,
        };
    }
    body.leak_sites.iter_mut().for_each(|site| site.wall_mm += new_mm - old_mm);
}

/// Holes and vents keep their share of the bore, so that they vent alike.
fn set_sizes(body: &mut Instrument, wider: f64) {
    for hole in &mut body.holes {
        let was_mm = hole.diameter_mm;
        hole.diameter_mm *= wider;
        hole.undercut_mm *= wider;
        if let Some(pad) = hole.pad.as_mut() {
            pad.diameter_mm += hole.diameter_mm - was_mm;
            pad.lift_mm *= wider;
        }
    }
}

/// Wanted notes go along; a fingering that is called after its note gets the new note's name.
fn set_notes(body: &mut Instrument, semitones: i32) {
    for fingering in &mut body.fingerings {
        let old = fingering.note;
        fingering.note = Note { midi: old.midi + semitones };
        if semitones != 0 && fingering.name.parse::<Note>() == Ok(old) {
            fingering.name = fingering.note.to_string();
        }
    }
}

/// The body with every place along the tube mapped.
fn moved(body: &Instrument, map: &dyn Fn(f64) -> f64) -> Instrument {
    let mut moved = body.clone();
    let top_mm = body.bore_at_mm(0.0);
    moved.bore.iter_mut().for_each(|point| point.at_mm = map(point.at_mm));
    // What lies above the new top is cut off; what is missing there is filled with bore.
    moved.bore.retain(|point| point.at_mm > 0.0);
    let diameter_mm =
        moved.bore.first().map_or(top_mm, |first| if map(0.0) >= 0.0 { top_mm } else { first.diameter_mm });
    moved.bore.insert(0, BorePoint { at_mm: 0.0, diameter_mm });
    moved.holes.iter_mut().for_each(|hole| hole.at_mm = map(hole.at_mm));
    moved.leak_sites.iter_mut().for_each(|site| site.at_mm = map(site.at_mm));
    moved.bends.iter_mut().for_each(|bend| bend.at_mm = map(bend.at_mm));
    moved
}

fn check_top(body: &Instrument) -> Result<(), PlaceError> {
    let above = |at_mm: f64| at_mm < 0.0;
    let holes = body.holes.iter().map(|hole| (hole.at_mm - 0.5 * hole.diameter_mm, hole.name.as_str()));
    let sites = body.leak_sites.iter().map(|site| (site.at_mm, site.name.as_str()));
    match holes.chain(sites).find(|(at_mm, _)| above(*at_mm)) {
        None => Ok(()),
        Some((at_mm, name)) => Err(PlaceError::CannotCarry {
            what: format!(
                "{name} would come to lie {:.0} mm above the top of the new tube: its mouthpiece stands for too much length",
                -at_mm
            ),
            to_do: "Take a mouthpiece with a smaller chamber, a wider bore, or a lower pitch.",
        }),
    }
}
