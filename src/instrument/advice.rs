//! What in the geometry is likely to make trouble whatever the pitch, in the maker's words with what to do.
//!
//! Must not know recordings, findings or targets.

use super::bench_limits::{
    LEAST_LIFT_SHARE, PAD_OVERLAP_MM, apart_mm, covered_mm, pairs_that_may_meet, widest_in_bore_mm,
};
use super::model::{Hole, Instrument};
use super::prediction::PredictedNote;
use super::vent::{VentedNote, vented_notes};

/// A low lift is warned of from a tenth below the least: nobody measures a lift better.
const WARN_BELOW: f64 = 0.9;
/// A chimney may be this much lower than the wall before one of the two is wrong, mm: nobody measures
/// either better.
const CHIMNEY_DOUBT_MM: f64 = 0.5;

/// A vent is warned of when it serves more than this share of its notes badly: one vent never suits all
/// (common practice, no source).
const MOST_OF_ITS_NOTES: f64 = 2.0 / 3.0;

/// Something about the geometry that the maker should know before playing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Warning {
    /// Short word for programs.
    pub code: &'static str,
    /// What is the matter and what to do.
    pub text: String,
}

/// Everything to be warned of, from the mouthpiece down.
#[must_use]
pub fn warnings(instrument: &Instrument, notes: &[PredictedNote]) -> Vec<Warning> {
    let mut warnings = geometry_warnings(instrument);
    warn_of_vents(instrument, &vented_notes(instrument, notes), &mut warnings);
    for note in notes.iter().filter(|note| note.predicted_hz.is_none()) {
        let fingering = &instrument.fingerings[note.fingering];
        warnings.push(Warning {
            code: "no-resonance",
            text: format!(
                "{}: the air column has no resonance number {} that could sound. Check which holes are open.",
                fingering.name, fingering.register
            ),
        });
    }
    warnings
}

/// What the measures alone show, without any note.
#[must_use]
pub fn geometry_warnings(instrument: &Instrument) -> Vec<Warning> {
    let mut warnings = Vec::new();
    warn_of_mouthpiece(instrument, &mut warnings);
    for hole in &instrument.holes {
        warn_of_size(instrument, hole, &mut warnings);
        warn_of_end(instrument, hole, &mut warnings);
        if !hole.vent {
            warn_of_pad(hole, &mut warnings);
        }
    }
    warn_of_neighbours(instrument, &mut warnings);
    warnings
}

fn warn_of_pad(hole: &Hole, warnings: &mut Vec<Warning>) {
    let (Some(pad), Some(covered_mm)) = (hole.pad, covered_mm(hole)) else { return };
    let name = &hole.name;
    if pad.lift_mm < WARN_BELOW * LEAST_LIFT_SHARE * hole.diameter_mm {
        warnings.push(Warning {
            code: "low-lift",
            text: format!(
                "{name}: the pad opens {:.1} mm, less than a third of the hole ({:.1} mm). The note will be flat and \
                 stuffy. Raise the pad to {:.1} mm or more before you drill anything.",
                pad.lift_mm,
                hole.diameter_mm,
                LEAST_LIFT_SHARE * hole.diameter_mm
            ),
        });
    }
    let rim_mm = hole.diameter_mm + 2.0 * hole.rim_mm;
    if pad.diameter_mm < rim_mm {
        warnings.push(Warning {
            code: "pad-too-small",
            text: format!(
                "{name}: a {:.1} mm pad does not cover the rim, which is {rim_mm:.1} mm across. It will leak. Fit a \
                 pad of {:.1} mm or more.",
                pad.diameter_mm,
                rim_mm + 2.0 * PAD_OVERLAP_MM
            ),
        });
    } else if hole.diameter_mm > covered_mm + 1e-9 {
        warnings.push(Warning {
            code: "pad-barely-covers",
            text: format!(
                "{name}: a {:.1} mm pad reaches only {:.1} mm beyond the rim on each side. Seat it with care, or fit \
                 one of {:.1} mm or more.",
                pad.diameter_mm,
                0.5 * (pad.diameter_mm - rim_mm),
                rim_mm + 2.0 * PAD_OVERLAP_MM
            ),
        });
    }
}

fn warn_of_size(instrument: &Instrument, hole: &Hole, warnings: &mut Vec<Warning>) {
    let name = &hole.name;
    let bore_mm = instrument.bore_at_mm(hole.at_mm);
    let inside_mm = hole.diameter_mm + hole.undercut_mm;
    let widest_mm = widest_in_bore_mm(instrument, hole);
    if inside_mm > widest_mm {
        warnings.push(Warning {
            code: "hole-too-wide",
            text: format!(
                "{name} is {inside_mm:.1} mm wide at the bore of {bore_mm:.1} mm, more than nine tenths of it. Such a \
                 hole can't be cut or covered cleanly. Keep it to {widest_mm:.1} mm, and move it towards the mouthpiece \
                 on the next body if its note is flat."
            ),
        });
    }
    let wall_mm = instrument.wall.thickness_mm;
    if hole.chimney_mm < wall_mm - CHIMNEY_DOUBT_MM {
        warnings.push(Warning {
            code: "chimney-below-wall",
            text: format!(
                "{name}: a chimney of {:.1} mm is lower than the wall of {wall_mm:.1} mm. Without a flat milled there \
                 it can't be. Measure from the bore's surface to the outer rim again, and the wall.",
                hole.chimney_mm
            ),
        });
    }
}

fn warn_of_end(instrument: &Instrument, hole: &Hole, warnings: &mut Vec<Warning>) {
    let name = &hole.name;
    let length_mm = instrument.length_mm();
    if hole.at_mm > length_mm {
        warnings.push(Warning {
            code: "past-the-end",
            text: format!(
                "{name} would lie at {:.1} mm, past the open end at {length_mm:.1} mm, and is left out of every note. \
                 Keep it on the tube.",
                hole.at_mm
            ),
        });
    } else if hole.at_mm + 0.5 * hole.diameter_mm > length_mm || hole.at_mm < 0.5 * hole.diameter_mm {
        warnings.push(Warning {
            code: "cuts-the-end",
            text: format!(
                "{name}, {:.1} mm wide at {:.1} mm, would break through the end of the tube of {length_mm:.1} mm. \
                 Keep it clear of the end.",
                hole.diameter_mm, hole.at_mm
            ),
        });
    }
}

/// Neighbours with less than a rim's width of wall between them.
fn warn_of_neighbours(instrument: &Instrument, warnings: &mut Vec<Warning>) {
    for pair in pairs_that_may_meet(instrument, &instrument.holes_from_the_top()) {
        let [upper, lower] = pair.map(|hole| &instrument.holes[hole]);
        let between_mm = apart_mm(instrument, upper, lower) - 0.5 * (lower.diameter_mm + upper.diameter_mm);
        let needed_mm = upper.rim_mm.max(lower.rim_mm);
        if between_mm < needed_mm {
            let left = if between_mm > 0.0 {
                format!("only {between_mm:.1} mm of wall between them")
            } else {
                "no wall between them".to_string()
            };
            let (place, turn) = if upper.angle_deg == lower.angle_deg {
                (" if they sit in one line", "Turn one aside around the tube")
            } else {
                (", although they sit at different angles", "Turn one farther aside")
            };
            warnings.push(Warning {
                code: "holes-too-close",
                text: format!(
                    "{} and {} have {left}{place}; a pad needs a rim of {needed_mm:.1} mm. {turn}, or make them smaller.",
                    upper.name, lower.name
                ),
            });
        }
    }
}

/// A bore beside what its mouthpiece suits (common practice, no source).
fn warn_of_mouthpiece(instrument: &Instrument, warnings: &mut Vec<Warning>) {
    let Some([narrowest, widest]) = instrument.mouthpiece.and_then(|m| m.suits_bore_mm) else { return };
    let bore_mm = instrument.bore_at_mm(0.0);
    if bore_mm > widest {
        warnings.push(Warning {
            code: "bore-too-wide",
            text: format!(
                "The bore is {bore_mm:.1} mm; the mouthpiece was made for {narrowest:.1} to {widest:.1} mm. Expect \
                 hard blowing and undertones in the upper register. Try a tapered adaptor, a larger mouthpiece, or a \
                 larger vent."
            ),
        });
    } else if bore_mm < narrowest {
        warnings.push(Warning {
            code: "bore-too-narrow",
            text: format!(
                "The bore is {bore_mm:.1} mm; the mouthpiece was made for {narrowest:.1} to {widest:.1} mm. The top \
                 of the scale may be flat and dull. Weigh the water it holds and compare."
            ),
        });
    }
}

/// One warning a vent that serves most of its notes badly; that it does so for the shortest is usual. A rule
/// of thumb, and said to be one.
fn warn_of_vents(instrument: &Instrument, vented: &[VentedNote], warnings: &mut Vec<Warning>) {
    for (index, vent) in instrument.holes.iter().enumerate().filter(|(_, hole)| hole.vent) {
        let served: Vec<&VentedNote> = vented.iter().filter(|note| note.vent == index).collect();
        let names_of = |bad: fn(&VentedNote) -> bool| {
            let names: Vec<&str> = served
                .iter()
                .filter(|note| bad(note))
                .map(|note| instrument.fingerings[note.fingering].name.as_str())
                .collect();
            let most = names.len() as f64 > MOST_OF_ITS_NOTES * served.len() as f64;
            most.then(|| names.join(", "))
        };
        let name = &vent.name;
        if let Some(names) = names_of(VentedNote::lower_stays) {
            warnings.push(Warning {
                code: "vent-too-weak",
                text: format!(
                    "{name}: open, it leaves the lower resonance near a third of the note ({names}), so an undertone \
                     may sound along. That is a rule of thumb: listen for it. A wider or shorter vent moves it away \
                     and makes the outer twelfths wider; try it on the computer first."
                ),
            });
        } else if let Some(names) = names_of(VentedNote::lower_is_strong) {
            warnings.push(Warning {
                code: "vent-leaves-lower-strong",
                text: format!(
                    "{name}: open, it leaves the lower resonance strong ({names}), so these may be slow to speak or \
                     fall down. That is a rule of thumb. Try another size, or a place nearer a third of the sounding \
                     length, on the computer first."
                ),
            });
        }
    }
}
