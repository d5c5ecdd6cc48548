//! Carries changes out on the computer: the instrument with some of its measures altered, and with leaks.
//!
//! A change is first settled into a [`Step`] from one value to another, so that it can also be taken part
//! of the way. Must not know pitch, files or the terminal.

use super::change::{Change, ChangeError, HoleMeasure, Operation, Target};
use super::column::{Leak, LeakPlace, embouchure_mm, reed_give_ml};
use super::model::{BorePoint, Drive, Instrument};
use super::problem::plain;
use super::reader::Limits;
use super::section_hole::{CHIMNEY, DIAMETER, PAD_DIAMETER, PAD_LIFT, UNDERCUT};
use super::section_mouthpiece::{CHAMBER, EMBOUCHURE, REED};
use super::sections::{PLACE, TEMPERATURE};

/// A wider leak is no leak any more (common practice, no source).
const LEAK: Limits = Limits::between("a leak", 0.0, 20.0, "mm");
/// What a trim may leave or make of the tube's length.
const LENGTH: Limits = Limits::above("the length of the tube", 0.0, 20_000.0, "mm");

/// An instrument as changed on the computer.
#[derive(Debug, Clone, PartialEq)]
pub struct Altered {
    /// Its geometry and air.
    pub instrument: Instrument,
    /// What leaks.
    pub leaks: Vec<Leak>,
}

/// A change settled into two values.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// As the maker typed it.
    pub written: String,
    /// What changes.
    pub target: Target,
    /// The value before, in the target's unit; 0 for a trim and for the mouthpiece's place.
    pub from: f64,
    /// The value after; what comes off for a trim. A pad of 0 mm is taken off.
    pub to: f64,
}

impl Step {
    /// The hole whose pad is taken off.
    #[must_use]
    pub fn pad_taken_off(&self) -> Option<usize> {
        match self.target {
            Target::Hole(hole, HoleMeasure::Pad) if self.to == 0.0 => Some(hole),
            _ => None,
        }
    }
}

impl Altered {
    /// The instrument as it is, with nothing leaking.
    #[must_use]
    pub fn unchanged(instrument: &Instrument) -> Altered {
        Altered { instrument: instrument.clone(), leaks: Vec::new() }
    }

    /// Settles a change into the value before and after.
    ///
    /// # Errors
    /// [`ChangeError`] for values that nothing can have, and for parts that the instrument lacks.
    pub fn settle(&self, change: &Change) -> Result<Step, ChangeError> {
        let from = self.value(change)?;
        let to = match change.operation {
            Operation::Set(value) => value,
            Operation::Add(value) => from + value,
            Operation::Off => 0.0,
        };
        // Typed numbers have few digits; sums of them should have no more.
        let to = (to * 1e6).round() / 1e6;
        let step = Step { written: change.written.clone(), target: change.target, from, to };
        // No pad is 0 mm wide; off is another matter.
        if change.operation != Operation::Off {
            self.check(&step)?;
        }
        Ok(step)
    }

    /// The instrument after `share` (0…1) of a step.
    #[must_use]
    pub fn after(&self, step: &Step, share: f64) -> Altered {
        let mut altered = self.clone();
        let value = step.from + share * (step.to - step.from);
        let instrument = &mut altered.instrument;
        match step.target {
            Target::Hole(index, measure) => {
                if let Some(hole) = instrument.holes.get_mut(index) {
                    match (measure, hole.pad.as_mut()) {
                        (HoleMeasure::Pad, Some(pad)) if step.pad_taken_off().is_some() => {
                            // Lifted away: the farther, the less of it is felt.
                            pad.lift_mm /= 1.0 - share.min(1.0);
                            hole.pad = hole.pad.filter(|_| share < 1.0);
                        }
                        (HoleMeasure::At, _) => hole.at_mm = value,
                        (HoleMeasure::Diameter, _) => hole.diameter_mm = value,
                        (HoleMeasure::Chimney, _) => hole.chimney_mm = value,
                        (HoleMeasure::Undercut, _) => hole.undercut_mm = value,
                        (HoleMeasure::Lift, Some(pad)) => pad.lift_mm = value,
                        (HoleMeasure::Pad, Some(pad)) => pad.diameter_mm = value,
                        // `settle` refuses these.
                        (HoleMeasure::Lift | HoleMeasure::Pad, None) => {}
                    }
                }
            }
            Target::EndTrim => trim_end(instrument, value),
            Target::TopTrim => trim_top(instrument, value),
            Target::MouthpieceOut => trim_top(instrument, -value),
            Target::Chamber | Target::Reed => {
                if let Some(mouthpiece) = instrument.mouthpiece.as_mut() {
                    match step.target {
                        Target::Chamber => mouthpiece.chamber_ml = value,
                        _ => mouthpiece.reed_ml = Some(value),
                    }
                }
            }
            Target::Embouchure => instrument.embouchure_mm = Some(value),
            Target::Temperature => instrument.measure_air(value),
            Target::Leak(place) => {
                altered.leaks.retain(|leak| leak.place != place);
                if value > 0.0 {
                    altered.leaks.push(Leak { place, diameter_mm: value });
                }
            }
        }
        altered
    }

    /// The value that a change starts from.
    fn value(&self, change: &Change) -> Result<f64, ChangeError> {
        let instrument = &self.instrument;
        let missing = |missing: String, to_do: String| ChangeError::Missing {
            written: change.written.clone(),
            missing,
            to_do,
        };
        match change.target {
            Target::Hole(index, measure) => {
                let hole = instrument.holes.get(index);
                let pad = hole.and_then(|hole| hole.pad);
                let value = match measure {
                    HoleMeasure::At => hole.map(|hole| hole.at_mm),
                    HoleMeasure::Diameter => hole.map(|hole| hole.diameter_mm),
                    HoleMeasure::Chimney => hole.map(|hole| hole.chimney_mm),
                    HoleMeasure::Undercut => hole.map(|hole| hole.undercut_mm),
                    HoleMeasure::Lift => pad.map(|pad| pad.lift_mm),
                    HoleMeasure::Pad => pad.map(|pad| pad.diameter_mm),
                };
                value.ok_or_else(|| {
                    let to_do = match change.operation {
                        Operation::Off => "Leave this change out.",
                        _ => "Add pad_diameter_mm and pad_lift_mm to the hole first.",
                    };
                    missing(format!("{} has no pad", hole.map_or("it", |hole| &hole.name)), to_do.to_string())
                })
            }
            Target::EndTrim | Target::TopTrim => Ok(0.0),
            Target::Temperature => Ok(instrument.air.temperature_c),
            Target::Chamber | Target::Reed | Target::MouthpieceOut => {
                match (&instrument.mouthpiece, change.target) {
                    (Some(mouthpiece), Target::Chamber) => Ok(mouthpiece.chamber_ml),
                    (Some(_), Target::MouthpieceOut) => Ok(0.0),
                    (Some(_), _) => Ok(reed_give_ml(instrument)),
                    (None, _) => Err(missing(
                        "the instrument has no mouthpiece with a reed".to_string(),
                        "Leave this change out.".to_string(),
                    )),
                }
            }
            Target::Embouchure => match instrument.drive {
                Drive::AirJet => Ok(embouchure_mm(instrument)),
                Drive::Reed => Err(missing(
                    "the instrument has a reed, and no embouchure hole".to_string(),
                    "Leave this change out.".to_string(),
                )),
            },
            Target::Leak(place) => {
                let planned = match place {
                    LeakPlace::Hole(index) => instrument.holes.get(index).filter(|hole| !hole.drilled),
                    LeakPlace::Site(_) => None,
                };
                match planned {
                    Some(hole) => Err(missing(
                        format!("{} is only planned, and a hole that isn't there can't leak", hole.name),
                        "Leave this change out, or write drilled = true once it is.".to_string(),
                    )),
                    None => Ok(self
                        .leaks
                        .iter()
                        .find(|leak| leak.place == place)
                        .map_or(0.0, |leak| leak.diameter_mm)),
                }
            }
        }
    }

    fn check(&self, step: &Step) -> Result<(), ChangeError> {
        let (limits, value) = match step.target {
            Target::Hole(_, HoleMeasure::At) => (&PLACE, step.to),
            Target::Hole(_, HoleMeasure::Diameter) => (&DIAMETER, step.to),
            Target::Hole(_, HoleMeasure::Chimney) => (&CHIMNEY, step.to),
            Target::Hole(_, HoleMeasure::Lift) => (&PAD_LIFT, step.to),
            Target::Hole(_, HoleMeasure::Pad) => (&PAD_DIAMETER, step.to),
            Target::Hole(_, HoleMeasure::Undercut) => (&UNDERCUT, step.to),
            Target::EndTrim | Target::TopTrim => (&LENGTH, self.instrument.length_mm() - step.to),
            Target::MouthpieceOut => (&LENGTH, self.instrument.length_mm() + step.to),
            Target::Chamber => (&CHAMBER, step.to),
            Target::Reed => (&REED, step.to),
            Target::Embouchure => (&EMBOUCHURE, step.to),
            Target::Temperature => (&TEMPERATURE, step.to),
            Target::Leak(_) => (&LEAK, step.to),
        };
        if !limits.allow(value) {
            let written = step.written.clone();
            let value = format!("{} {}", plain(value), limits.unit);
            return Err(ChangeError::Impossible { written, value, limits: limits.described() });
        }
        match step.target {
            Target::TopTrim => match self.first_above(step.to) {
                Some(part) => Err(ChangeError::CutsAway {
                    written: step.written.clone(),
                    what: format!("this cuts into {part}"),
                }),
                None => Ok(()),
            },
            Target::MouthpieceOut => match self.first_above(-step.to) {
                Some(part) => Err(ChangeError::PushesInto {
                    written: step.written.clone(),
                    what: format!("this pushes the mouthpiece into {part}"),
                }),
                None => Ok(()),
            },
            Target::Leak(LeakPlace::Hole(index)) => match self.instrument.holes.get(index) {
                Some(hole) if step.to > hole.diameter_mm => Err(ChangeError::Impossible {
                    written: step.written.clone(),
                    value: format!("{} mm", plain(step.to)),
                    limits: format!("{} itself is only {} mm wide", hole.name, plain(hole.diameter_mm)),
                }),
                _ => Ok(()),
            },
            _ => Ok(()),
        }
    }

    /// What sits in the wall and begins above `mm` from the top, in words; `None` when nothing does.
    fn first_above(&self, mm: f64) -> Option<String> {
        let holes = self.instrument.holes.iter().map(|h| (h.at_mm - 0.5 * h.diameter_mm, h.name.clone()));
        let sites = self.instrument.leak_sites.iter().map(|site| (site.at_mm, site.name.clone()));
        let bends = self.instrument.bends.iter().enumerate().map(|(index, bend)| {
            let half_arc_mm = 0.5 * bend.radius_mm * bend.angle_deg.to_radians();
            (bend.at_mm - half_arc_mm, format!("bend {}", index + 1))
        });
        let (top_mm, name) = holes.chain(sites).chain(bends).find(|(top_mm, _)| *top_mm < mm)?;
        Some(format!("{name}, which begins {} mm from the top", plain((top_mm * 100.0).round() / 100.0)))
    }
}

/// Cuts `mm` off the open end; less than 0 adds a ring of the bore that is there.
pub(crate) fn trim_end(instrument: &mut Instrument, mm: f64) {
    let at_mm = instrument.length_mm() - mm;
    let diameter_mm = instrument.bore_at_mm(at_mm);
    let bore = &mut instrument.bore;
    if mm == 0.0 {
        return;
    }
    if mm > 0.0 {
        bore.retain(|point| point.at_mm < at_mm);
    } else if let [.., before, last] = bore.as_slice()
        && before.diameter_mm == last.diameter_mm
    {
        bore.pop();
    }
    bore.push(BorePoint { at_mm, diameter_mm });
}

/// Cuts `mm` off the top and moves everything up; less than 0 adds a ring of the bore that is there.
pub(crate) fn trim_top(instrument: &mut Instrument, mm: f64) {
    // At a change of diameter, the side that stays.
    let on_cut = instrument.bore.iter().rev().find(|point| point.at_mm == mm);
    let diameter_mm = on_cut.map_or_else(|| instrument.bore_at_mm(mm), |point| point.diameter_mm);
    let bore = &mut instrument.bore;
    if mm == 0.0 {
        return;
    }
    if mm > 0.0 {
        bore.retain(|point| point.at_mm > mm);
    } else if let [first, second, ..] = bore.as_slice()
        && first.diameter_mm == second.diameter_mm
    {
        bore.remove(0);
    }
    bore.insert(0, BorePoint { at_mm: mm, diameter_mm });
    for point in bore.iter_mut() {
        point.at_mm -= mm;
    }
    instrument.holes.iter_mut().for_each(|hole| hole.at_mm -= mm);
    instrument.leak_sites.iter_mut().for_each(|site| site.at_mm -= mm);
    instrument.bends.iter_mut().for_each(|bend| bend.at_mm -= mm);
}
