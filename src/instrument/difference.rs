//! What differs between two measured bodies: the geometry only, in the maker's words.
//!
//! Targets, names and weights of fingerings, the goal, drills and the air are no geometry and never count; where a hole
//! lies round the tube moves no note, and keys in the box are on no body yet. Must not know files,
//! steps or pitch.

use std::fmt;

use super::alter::trim_top;
use super::model::{Bend, Hole, Instrument};
use super::problem::plain;

/// One measure that is not as it was.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Difference {
    /// What, like `h5 diameter`.
    pub what: String,
    /// The old value with its unit; `None` when there was none.
    pub old: Option<String>,
    /// The new value with its unit; `None` when there is none any more.
    pub new: Option<String>,
}

impl fmt::Display for Difference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (&self.old, &self.new) {
            (Some(old), Some(new)) => write!(f, "{} {old} → {new}", self.what),
            (None, Some(new)) => write!(f, "{} new: {new}", self.what),
            (Some(old), None) => write!(f, "{} gone (was {old})", self.what),
            (None, None) => f.write_str(&self.what),
        }
    }
}

/// Every measure in which `new` is not as `old`; empty when the bodies are the same.
#[must_use]
pub fn differences(old: &Instrument, new: &Instrument) -> Vec<Difference> {
    let mut list = List::default();
    list.text("drive", format!("{:?}", old.drive), format!("{:?}", new.drive));
    list.mm("wall", Some(old.wall.thickness_mm), Some(new.wall.thickness_mm));
    list.text("finish", format!("{:?}", old.wall.finish), format!("{:?}", new.wall.finish));
    let chamber = |i: &Instrument| i.mouthpiece.map(|mouthpiece| mouthpiece.chamber_ml);
    list.number("mouthpiece chamber", chamber(old), chamber(new), "ml");
    let reed = |i: &Instrument| i.mouthpiece.and_then(|mouthpiece| mouthpiece.reed_ml);
    list.number("reed's give", reed(old), reed(new), "ml");
    list.mm("embouchure", old.embouchure_mm, new.embouchure_mm);
    let moved = moved_mouthpiece(old, new);
    let old = moved.as_ref().map_or(old, |(mm, pulled)| {
        let way = if *mm > 0.0 { "farther out" } else { "farther in" };
        list.text("mouthpiece", "as it was".to_string(), format!("{} mm {way}", plain(mm.abs())));
        pulled
    });
    list.bore(old, new);
    list.holes(old, new);
    let bends = |i: &Instrument| i.bends.iter().map(bend).collect::<Vec<_>>().join(", ");
    list.text("bends", bends(old), bends(new));
    list.found
}

/// How far the mouthpiece was pulled out, mm (negative: pushed in, or the top cut), and the old body with it so:
/// when all holes and the open end lie farther from it by the same length. `None` for a body without holes, whose
/// two ends can't be parted.
fn moved_mouthpiece(old: &Instrument, new: &Instrument) -> Option<(f64, Instrument)> {
    // Files have six places after the point.
    let micron = |mm: f64| (mm * 1e6).round() / 1e6;
    let by_mm = micron(new.length_mm() - old.length_mm());
    let same = |a: f64, b: f64| micron(a) == micron(b);
    let all_moved = old.holes.len() == new.holes.len()
        && old.holes.iter().zip(&new.holes).all(|(was, is)| same(is.at_mm - was.at_mm, by_mm));
    if by_mm == 0.0 || old.holes.is_empty() || !all_moved {
        return None;
    }
    let mut pulled = old.clone();
    trim_top(&mut pulled, -by_mm);
    let same_bore = pulled.bore.len() == new.bore.len()
        && pulled
            .bore
            .iter()
            .zip(&new.bore)
            .all(|(was, is)| same(was.at_mm, is.at_mm) && same(was.diameter_mm, is.diameter_mm));
    if !same_bore {
        return None;
    }
    // Sums are off in the last place; what was written is what counts.
    pulled.bore.clone_from(&new.bore);
    for (was, is) in pulled.holes.iter_mut().zip(&new.holes) {
        was.at_mm = is.at_mm;
    }
    for (was, is) in pulled.bends.iter_mut().zip(&new.bends).filter(|(was, is)| same(was.at_mm, is.at_mm)) {
        was.at_mm = is.at_mm;
    }
    Some((by_mm, pulled))
}

fn bend(bend: &Bend) -> String {
    let Bend { at_mm, radius_mm, angle_deg } = bend;
    format!("{}° at {} mm round {} mm", plain(*angle_deg), plain(*at_mm), plain(*radius_mm))
}

#[derive(Default)]
struct List {
    found: Vec<Difference>,
}

impl List {
    fn note(&mut self, what: &str, old: Option<String>, new: Option<String>) {
        if old != new {
            self.found.push(Difference { what: what.to_string(), old, new });
        }
    }

    fn text(&mut self, what: &str, old: String, new: String) {
        let some = |text: String| (!text.is_empty()).then_some(text);
        self.note(what, some(old), some(new));
    }

    fn number(&mut self, what: &str, old: Option<f64>, new: Option<f64>, unit: &str) {
        if old != new {
            let shown = |value: f64| format!("{} {unit}", plain(value));
            self.note(what, old.map(shown), new.map(shown));
        }
    }

    fn mm(&mut self, what: &str, old: Option<f64>, new: Option<f64>) {
        self.number(what, old, new, "mm");
    }

    fn bore(&mut self, old: &Instrument, new: &Instrument) {
        if old.bore == new.bore {
            return;
        }
        self.mm("tube length", Some(old.length_mm()), Some(new.length_mm()));
        let shape = |instrument: &Instrument| {
            let points = instrument.bore.iter();
            points
                .map(|p| format!("{} at {}", plain(p.diameter_mm), plain(p.at_mm)))
                .collect::<Vec<_>>()
                .join(", ")
        };
        // A tube that was only cut off, or only made longer, is told by its length.
        let is_even = |instrument: &Instrument| {
            instrument.bore.len() == 2
                && instrument.bore.iter().all(|p| p.diameter_mm == instrument.bore[0].diameter_mm)
        };
        let same_width = old.bore.first().map(|p| p.diameter_mm) == new.bore.first().map(|p| p.diameter_mm);
        if !(is_even(old) && is_even(new) && same_width) {
            self.text("bore", shape(old), shape(new));
        }
    }

    fn holes(&mut self, old: &Instrument, new: &Instrument) {
        for hole in &old.holes {
            match new.holes.iter().find(|other| other.name == hole.name) {
                Some(other) => self.hole(hole, other),
                None => self.note(&hole.name, Some(size(hole)), None),
            }
        }
        for hole in &new.holes {
            if !old.holes.iter().any(|other| other.name == hole.name) {
                self.note(&hole.name, None, Some(size(hole)));
            }
        }
    }

    fn hole(&mut self, old: &Hole, new: &Hole) {
        let name = &old.name;
        let pad =
            |hole: &Hole, lift: bool| hole.pad.map(|pad| if lift { pad.lift_mm } else { pad.diameter_mm });
        for (what, before, after) in [
            ("at", Some(old.at_mm), Some(new.at_mm)),
            ("diameter", Some(old.diameter_mm), Some(new.diameter_mm)),
            ("chimney", Some(old.chimney_mm), Some(new.chimney_mm)),
            ("pad", pad(old, false), pad(new, false)),
            ("lift", pad(old, true), pad(new, true)),
            ("rim", Some(old.rim_mm), Some(new.rim_mm)),
            ("undercut", Some(old.undercut_mm), Some(new.undercut_mm)),
        ] {
            self.mm(&format!("{name} {what}"), before, after);
        }
        let closed = |hole: &Hole| Some(if hole.finger { "a finger" } else { "a flat lid" }.to_string());
        self.note(&format!("{name} closed by"), closed(old), closed(new));
        let yes = |flag: bool| Some(if flag { "yes" } else { "no" }.to_string());
        self.note(&format!("{name} drilled"), yes(old.drilled), yes(new.drilled));
        self.note(&format!("{name} vent"), yes(old.vent), yes(new.vent));
    }
}

fn size(hole: &Hole) -> String {
    format!("{} mm at {} mm", plain(hole.diameter_mm), plain(hole.at_mm))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::instrument::file::parse;

    const TUBE: &str = r#"format = 1
[instrument]
name = "Tube"
prototype = "P1"
drive = "reed"
[mouthpiece]
chamber_ml = 12.5
[[bore]]
at_mm = 0.0
diameter_mm = 20.0
[[bore]]
at_mm = 1180.0
diameter_mm = 20.0
[[hole]]
name = "h1"
at_mm = 1040.0
diameter_mm = 12.0
chimney_mm = 3.0
[[fingering]]
name = "C#2"
open = []
"#;

    fn told(changes: &[(&str, &str)]) -> Vec<String> {
        let changed = changes.iter().fold(TUBE.to_string(), |text, (from, to)| text.replace(from, to));
        let (old, new) = (parse(TUBE).unwrap(), parse(&changed).unwrap());
        differences(&old, &new).iter().map(Difference::to_string).collect()
    }

    #[test]
    fn old_and_new_are_told_in_the_words_of_the_bench() {
        assert_eq!(told(&[("diameter_mm = 12.0", "diameter_mm = 12.5")]), ["h1 diameter 12 mm → 12.5 mm"]);
        assert_eq!(told(&[("1180.0", "1172.0")]), ["tube length 1180 mm → 1172 mm"]);
        assert_eq!(
            told(&[("chimney_mm = 3.0", "chimney_mm = 3.0\npad_diameter_mm = 18\npad_lift_mm = 4")]),
            ["h1 pad new: 18 mm", "h1 lift new: 4 mm"]
        );
        assert_eq!(
            told(&[("name = \"h1\"", "name = \"low\"")]),
            ["h1 gone (was 12 mm at 1040 mm)", "low new: 12 mm at 1040 mm"]
        );
    }

    #[test]
    fn a_mouthpiece_that_was_pulled_out_is_one_difference_not_one_of_every_hole() {
        let pulled = [("1180.0", "1182.3"), ("1040.0", "1042.3")];
        assert_eq!(told(&pulled), ["mouthpiece as it was → 2.3 mm farther out"]);
        let and_wider = [("1180.0", "1177.7"), ("1040.0", "1037.7"), ("12.0", "12.5")];
        assert_eq!(
            told(&and_wider),
            ["mouthpiece as it was → 2.3 mm farther in", "h1 diameter 12 mm → 12.5 mm"]
        );
        assert_eq!(
            told(&[("1180.0", "1182.3"), ("1040.0", "1042.0")]),
            ["tube length 1180 mm → 1182.3 mm", "h1 at 1040 mm → 1042 mm"]
        );
    }

    #[test]
    fn a_pad_that_was_taken_off_is_gone() {
        let padded =
            TUBE.replace("chimney_mm = 3.0", "chimney_mm = 3.0\npad_diameter_mm = 18\npad_lift_mm = 4");
        let found = differences(&parse(&padded).unwrap(), &parse(TUBE).unwrap());
        let told: Vec<String> = found.iter().map(Difference::to_string).collect();
        assert_eq!(told, ["h1 pad gone (was 18 mm)", "h1 lift gone (was 4 mm)"]);
    }

    #[test]
    fn what_is_no_geometry_never_counts() {
        assert_eq!(
            told(&[("name = \"Tube\"", "name = \"Pipe\""), ("open = []", "open = [\"h1\"]\ncents = 4.0")]),
            [""; 0]
        );
        assert_eq!(told(&[("[[fingering]]", "[workshop]\nmeasured_to_mm = 0.2\n[[fingering]]")]), [""; 0]);
        assert_eq!(told(&[("[[fingering]]", "[goal]\nwithin_cents = 3\n[[fingering]]")]), [""; 0]);
        assert_eq!(told(&[("open = []", "open = []\nweight = 3\nleave = true")]), [""; 0]);
    }
}
