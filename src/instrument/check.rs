//! Geometry that can't be right: parts that don't fit together, each with its place.
//!
//! Single values are within their limits already, or NaN after a problem that is noted; every
//! comparison here is written so that NaN never makes a second one. Must not know air columns.

use super::entries::Table;
use super::model::{Hole, Instrument};
use super::problem::{Problems, Span, plain};

/// Notes everything in the geometry that can't be right.
pub(crate) fn check(instrument: &Instrument, root: &Table, problems: &mut Problems<'_>) {
    let bore_is_sound = check_bore(instrument, root, problems);
    for (index, hole) in instrument.holes.iter().enumerate() {
        let place = |key: &str| root.place_in_list("hole", index, key);
        check_pad(hole, place, problems);
        if bore_is_sound {
            check_hole_in_bore(instrument, hole, place, problems);
        }
    }
    if bore_is_sound {
        check_leak_sites(instrument, root, problems);
        check_bends(instrument, root, problems);
    }
}

/// Whether the bore is good enough to hold holes against it.
fn check_bore(instrument: &Instrument, root: &Table, problems: &mut Problems<'_>) -> bool {
    let points = &instrument.bore;
    let at = |index: usize| root.place_in_list("bore", index, "at_mm");
    if points.len() < 2 {
        let count = if points.is_empty() { "no point" } else { "only one point" };
        problems.add(
            &at(0),
            format!("the bore has {count}; a tube needs two at least"),
            "Add a [[bore]] with at_mm and diameter_mm for each end.",
        );
        return false;
    }
    if points.iter().any(|point| !point.at_mm.is_finite() || !point.diameter_mm.is_finite()) {
        return false;
    }
    let mut sound = true;
    if let Some(first) = points.first().filter(|first| first.at_mm != 0.0) {
        problems.add(
            &at(0),
            format!("the bore starts at {} mm, not at 0", plain(first.at_mm)),
            "Measure from where the mouthpiece ends, and write the first point as at_mm = 0.",
        );
        sound = false;
    }
    for (index, pair) in points.windows(2).enumerate() {
        let [before, point] = pair else { continue };
        if point.at_mm < before.at_mm {
            problems.add(
                &at(index + 1),
                format!(
                    "bore point {} is at {} mm, before the point above it at {} mm",
                    index + 2,
                    plain(point.at_mm),
                    plain(before.at_mm)
                ),
                "Put the points in order from the mouthpiece down, or correct the number.",
            );
            sound = false;
        }
    }
    for (index, three) in points.windows(3).enumerate() {
        let [first, second, third] = three else { continue };
        if first.at_mm == second.at_mm && second.at_mm == third.at_mm {
            problems.add(
                &at(index + 2),
                format!("three points of the bore are at {} mm", plain(third.at_mm)),
                "Keep two: the diameter before and after the change.",
            );
            sound = false;
        }
    }
    let highest = points.iter().map(|point| point.at_mm).fold(0.0, f64::max);
    if highest == 0.0 {
        problems.add(
            &at(points.len() - 1),
            "the tube is 0 mm long",
            "Measure from where the mouthpiece ends to the open end, and write it as the last at_mm.",
        );
        sound = false;
    }
    sound
}

fn check_pad(hole: &Hole, place: impl Fn(&str) -> Span, problems: &mut Problems<'_>) {
    let Some(pad) = hole.pad else { return };
    if pad.diameter_mm < hole.diameter_mm {
        problems.add(
            &place("pad_diameter_mm"),
            format!(
                "hole \"{}\": a pad of {} mm can't cover a hole of {} mm",
                hole.name,
                plain(pad.diameter_mm),
                plain(hole.diameter_mm)
            ),
            "Measure both again: pad_diameter_mm is the pad, diameter_mm the hole at its rim.",
        );
    }
}

fn check_hole_in_bore(
    instrument: &Instrument,
    hole: &Hole,
    place: impl Fn(&str) -> Span,
    problems: &mut Problems<'_>,
) {
    let name = &hole.name;
    let length_mm = instrument.length_mm();
    let length = plain(length_mm);
    let (at, diameter) = (plain(hole.at_mm), plain(hole.diameter_mm));
    if hole.at_mm > length_mm {
        problems.add(
            &place("at_mm"),
            format!("hole \"{name}\" is at {at} mm, beyond the open end at {length} mm"),
            "Measure from where the mouthpiece ends to the centre of the hole.",
        );
        return;
    }
    let radius_mm = hole.diameter_mm / 2.0;
    let crossed = if hole.at_mm + radius_mm > length_mm {
        Some(format!("the open end at {length} mm"))
    } else if hole.at_mm - radius_mm < 0.0 {
        Some("the top of the bore at 0 mm".to_string())
    } else {
        None
    };
    if let Some(end) = crossed {
        problems.add(
            &place("at_mm"),
            format!("hole \"{name}\", {diameter} mm wide at {at} mm, cuts across {end}"),
            "Measure its centre and its diameter again.",
        );
    }
    let bore_mm = instrument.bore_at_mm(hole.at_mm);
    let bore = plain(round_to_hundredth(bore_mm));
    if hole.diameter_mm > bore_mm {
        problems.add(
            &place("diameter_mm"),
            format!("hole \"{name}\" is {diameter} mm wide, but the bore there is only {bore} mm"),
            "Measure the hole at its rim and the bore at that place again.",
        );
    } else if hole.diameter_mm + hole.undercut_mm > bore_mm {
        let inside = plain(round_to_hundredth(hole.diameter_mm + hole.undercut_mm));
        problems.add(
            &place("undercut_mm"),
            format!(
                "hole \"{name}\": the undercut makes it {inside} mm wide inside, but the bore there is only \
                 {bore} mm"
            ),
            "undercut_mm is how much wider the hole is at the bore than at its rim; measure it again.",
        );
    }
}

fn check_leak_sites(instrument: &Instrument, root: &Table, problems: &mut Problems<'_>) {
    let length_mm = instrument.length_mm();
    for (index, site) in instrument.leak_sites.iter().enumerate() {
        if site.at_mm > length_mm {
            problems.add(
                &root.place_in_list("leak_site", index, "at_mm"),
                format!(
                    "leak site \"{}\" is at {} mm, beyond the open end at {} mm",
                    site.name,
                    plain(site.at_mm),
                    plain(length_mm)
                ),
                "Measure from where the mouthpiece ends.",
            );
        }
    }
}

fn check_bends(instrument: &Instrument, root: &Table, problems: &mut Problems<'_>) {
    let length_mm = instrument.length_mm();
    for (index, bend) in instrument.bends.iter().enumerate() {
        let number = index + 1;
        let (at, length) = (plain(bend.at_mm), plain(length_mm));
        let half_arc_mm = bend.radius_mm * bend.angle_deg.to_radians() / 2.0;
        if bend.at_mm > length_mm {
            problems.add(
                &root.place_in_list("bend", index, "at_mm"),
                format!("bend {number} is at {at} mm, beyond the open end at {length} mm"),
                "Measure along the middle of the tube, from where the mouthpiece ends.",
            );
        } else if bend.at_mm + half_arc_mm > length_mm || bend.at_mm - half_arc_mm < 0.0 {
            let arc = plain((2.0 * half_arc_mm).round());
            problems.add(
                &root.place_in_list("bend", index, "at_mm"),
                format!(
                    "bend {number}, {arc} mm long with its middle at {at} mm, reaches past the tube's end"
                ),
                "at_mm is the middle of the bend; check it, radius_mm and angle_deg.",
            );
        }
        let bore_mm = instrument.bore_at_mm(bend.at_mm);
        if bend.radius_mm > 0.0 && bend.radius_mm < bore_mm / 2.0 {
            problems.add(
                &root.place_in_list("bend", index, "radius_mm"),
                format!(
                    "bend {number} has a radius of {} mm, less than half the bore of {} mm",
                    plain(bend.radius_mm),
                    plain(round_to_hundredth(bore_mm))
                ),
                "Measure the radius to the middle of the tube; write 0 for a mitred elbow.",
            );
        }
    }
}

fn round_to_hundredth(mm: f64) -> f64 {
    (mm * 100.0).round() / 100.0
}
