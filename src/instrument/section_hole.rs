//! Reads the holes of the file.
//!
//! Must not know whether they fit the bore (that is `check`).

use super::entries::Table;
use super::keys::HOLE;
use super::model::{Hole, Pad};
use super::problem::Problems;
use super::reader::{Limits, Reader};
use super::sections::{PLACE, called, choice, tables};

// Limits: what no hole can exceed (common practice, no source).
pub(crate) const DIAMETER: Limits = Limits::between("the diameter of a hole", 0.1, 500.0, "mm");
pub(crate) const CHIMNEY: Limits = Limits::between("the height of a chimney", 0.0, 500.0, "mm");
pub(crate) const PAD_DIAMETER: Limits = Limits::above("the diameter of a pad", 0.0, 600.0, "mm");
pub(crate) const PAD_LIFT: Limits = Limits::above("the lift of a pad over an open hole", 0.0, 200.0, "mm");
const RIM: Limits = Limits::between("the width of a rim", 0.0, 100.0, "mm");
pub(crate) const UNDERCUT: Limits = Limits::between("an undercut", 0.0, 100.0, "mm");

pub(crate) const ANGLE: Limits =
    Limits::between("the angle round the tube, from the line of the finger holes,", -180.0, 180.0, "degrees");

/// Rim of a hole that says none, mm (common practice, no source).
const USUAL_RIM_MM: f64 = 1.5;

/// Reads every `[[hole]]`, in the order of the file.
pub(crate) fn read(root: &Table, problems: &mut Problems<'_>) -> Vec<Hole> {
    let mut holes = Vec::new();
    for (index, (table, head)) in tables(root, "hole", HOLE, problems).into_iter().enumerate() {
        let mut reader = Reader::new(table, head, HOLE, called("hole", table, index), problems);
        holes.push(Hole {
            name: reader.text("name", "h1").unwrap_or_default().to_string(),
            at_mm: reader.number("at_mm", &PLACE),
            diameter_mm: reader.number("diameter_mm", &DIAMETER),
            chimney_mm: reader.number("chimney_mm", &CHIMNEY),
            pad: read_pad(&mut reader),
            finger: read_finger(&mut reader),
            rim_mm: reader.number_or("rim_mm", USUAL_RIM_MM, &RIM),
            undercut_mm: reader.number_or("undercut_mm", 0.0, &UNDERCUT),
            angle_deg: reader.number_or("angle_deg", 0.0, &ANGLE),
            vent: reader.flag_or("vent", false),
            drilled: reader.flag_or("drilled", true),
            measured_again: reader.flag_or("measured_again", false),
        });
    }
    holes
}

/// Whether a fingertip closes the hole.
fn read_finger(reader: &mut Reader<'_, '_>) -> bool {
    let Some(word) = reader.text_if_given("closed_by", "finger") else { return false };
    let finger = choice(reader, "closed_by", word, &[("finger", true)]).unwrap_or(false);
    if finger && reader.given("pad_diameter_mm").is_some() {
        let span = reader.given("closed_by").map_or(0..0, |value| value.span.clone());
        reader.problem(
            &span,
            "closed_by is \"finger\", but a pad hangs over the hole",
            "Delete closed_by when the pad closes it, or both pad lines when a finger does.".to_string(),
        );
    }
    finger
}

fn read_pad(reader: &mut Reader<'_, '_>) -> Option<Pad> {
    let diameter = reader.number_if_given("pad_diameter_mm", &PAD_DIAMETER);
    let lift = reader.number_if_given("pad_lift_mm", &PAD_LIFT);
    let (given, missing) = match (diameter, lift) {
        (Some(diameter_mm), Some(lift_mm)) => return Some(Pad { diameter_mm, lift_mm }),
        (None, None) => return None,
        (Some(_), None) => ("pad_diameter_mm", "pad_lift_mm"),
        (None, Some(_)) => ("pad_lift_mm", "pad_diameter_mm"),
    };
    let span = reader.given(given).map_or(0..0, |value| value.span.clone());
    reader.problem(
        &span,
        format!("{given} is given, but {missing} is not"),
        format!("Measure the pad and add {missing}, or delete {given} when no pad hangs over the hole."),
    );
    None
}
