//! What the maker found without a recording, and how long it holds: `v:leaks` until a later step touches v,
//! `D2:hissy` for its own step only.
//!
//! Must not know what it means for the instrument.

use super::error::BookError;
use super::folder::Book;
use super::note;
use super::step::StepFolder;
use crate::instrument::file::load;
use crate::instrument::model::{Hole, Instrument};
use crate::instrument::spelling::folded;

/// The words for a place that may leak; every other word is about a note.
pub const PLACE_WORDS: [&str; 3] = ["leaks", "tight", "unchanged"];

/// Something that was found and still holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Held {
    /// The place or fingering.
    pub name: String,
    /// What was found of it.
    pub word: String,
    /// The step in which it was found, by its folder's name.
    pub step: String,
}

impl Held {
    /// As it is written: `v:leaks`.
    #[must_use]
    pub fn written(&self) -> String {
        format!("{}:{}", self.name, self.word)
    }
}

/// What one step says of finds.
#[derive(Debug, Clone, Default)]
pub struct StepFinds<'a> {
    /// The step's folder.
    pub step: &'a str,
    /// What was found in it, in that order.
    pub found: &'a [String],
    /// Places that were touched for it.
    pub touched: &'a [String],
    /// Places whose own measures changed since the step before.
    pub changed: Vec<String>,
}

/// What holds at the last of `steps`, which are those of one prototype in their order. Of two finds for one place the
/// later counts.
#[must_use]
pub fn holding(steps: &[StepFinds<'_>]) -> Vec<Held> {
    steps.iter().fold(Vec::new(), next)
}

/// What holds after one more step.
pub(super) fn next(before: Vec<Held>, step: &StepFinds<'_>) -> Vec<Held> {
    let is_touched = |name: &str| {
        let same = |other: &String| folded(other) == folded(name);
        step.touched.iter().any(same) || step.changed.iter().any(same)
    };
    let mut held: Vec<Held> =
        before.into_iter().filter(|find| is_of_a_place(&find.word) && !is_touched(&find.name)).collect();
    for written in step.found {
        let Some((name, word)) = written.rsplit_once(':') else { continue };
        let find =
            Held { name: name.trim().to_string(), word: folded(word.trim()), step: step.step.to_string() };
        // A note may be hissy and slow; a place is either tight or not.
        held.retain(|old| {
            let is_same_kind = is_of_a_place(&old.word) == is_of_a_place(&find.word);
            let is_other_word = !is_of_a_place(&find.word) && old.word != find.word;
            folded(&old.name) != folded(&find.name) || !is_same_kind || is_other_word
        });
        held.push(find);
    }
    held
}

fn is_of_a_place(word: &str) -> bool {
    PLACE_WORDS.contains(&word)
}

/// What holds at `step` of the book: found in it, or in an earlier step of its prototype and not touched since.
///
/// # Errors
/// [`BookError`] for a note that can't be read. A geometry that can't be read changes no place.
pub fn held_at(book: &Book, step: &StepFolder) -> Result<Vec<Held>, BookError> {
    let mut steps = book.steps(step.prototype());
    steps.retain(|known| known.number() <= step.number());
    let notes = steps.iter().map(|step| note::read(step.path())).collect::<Result<Vec<_>, _>>()?;
    if notes.iter().all(|note| note.found.is_empty()) {
        return Ok(Vec::new());
    }
    let bodies: Vec<Option<Instrument>> = steps
        .iter()
        .map(|step| {
            let file = if step.is_frozen() { step.frozen_file() } else { book.instrument_file() };
            load(&file).ok()
        })
        .collect();
    let finds: Vec<StepFinds<'_>> = (0..steps.len())
        .map(|index| {
            let before = index.checked_sub(1).and_then(|before| bodies[before].as_ref());
            let changed = before.zip(bodies[index].as_ref());
            StepFinds {
                step: steps[index].name(),
                found: &notes[index].found,
                touched: &notes[index].touched,
                changed: changed.map(|(before, now)| changed_places(before, now)).unwrap_or_default(),
            }
        })
        .collect();
    Ok(holding(&finds))
}

/// Places that may leak whose own measures are not as they were, or that are gone. A cut at the top moves
/// all places by the same length and changes none.
#[must_use]
pub fn changed_places(before: &Instrument, now: &Instrument) -> Vec<String> {
    let moved_mm = top_cut_mm(before, now);
    let is_same_hole = |old: &Hole, new: &Hole| {
        // Whether it was measured again, and what closes it, are not among its measures.
        let (at_mm, name, measured_again) = (new.at_mm, new.name.clone(), new.measured_again);
        let finger = new.finger;
        is_near(old.at_mm + moved_mm, new.at_mm)
            && Hole { at_mm, name, measured_again, finger, ..old.clone() } == *new
    };
    let mut changed = Vec::new();
    for old in &before.holes {
        let new = now.holes.iter().find(|hole| folded(&hole.name) == folded(&old.name));
        if !new.is_some_and(|new| is_same_hole(old, new)) {
            changed.push(old.name.clone());
        }
    }
    for old in &before.leak_sites {
        let new = now.leak_sites.iter().find(|site| folded(&site.name) == folded(&old.name));
        let is_same =
            |at_mm: f64, wall_mm: f64| is_near(old.at_mm + moved_mm, at_mm) && is_near(old.wall_mm, wall_mm);
        if !new.is_some_and(|new| is_same(new.at_mm, new.wall_mm)) {
            changed.push(old.name.clone());
        }
    }
    changed
}

/// How far everything in the wall moved together with the tube's length; 0 when it did not.
fn top_cut_mm(before: &Instrument, now: &Instrument) -> f64 {
    let longer_mm = now.length_mm() - before.length_mm();
    let places = |instrument: &Instrument| -> Vec<f64> {
        let holes = instrument.holes.iter().map(|hole| hole.at_mm);
        holes.chain(instrument.leak_sites.iter().map(|site| site.at_mm)).collect()
    };
    let (old, new) = (places(before), places(now));
    let all_moved =
        old.len() == new.len() && old.iter().zip(&new).all(|(old, new)| is_near(old + longer_mm, *new));
    if all_moved { longer_mm } else { 0.0 }
}

/// Typed millimetres that are the same after a sum.
fn is_near(one_mm: f64, other_mm: f64) -> bool {
    (one_mm - other_mm).abs() < 1e-6
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::instrument::file::parse;

    fn told(steps: &[StepFinds<'_>]) -> Vec<String> {
        holding(steps).iter().map(Held::written).collect()
    }

    fn texts(words: &[&str]) -> Vec<String> {
        words.iter().map(ToString::to_string).collect()
    }

    #[test]
    fn a_find_holds_until_a_later_step_touches_the_place() {
        let found = texts(&["v:leaks", "p3:tight"]);
        let touched = texts(&["V"]);
        let first = StepFinds { step: "01", found: &found, ..StepFinds::default() };
        let second = StepFinds { step: "02", ..StepFinds::default() };
        let third = StepFinds { step: "03", touched: &touched, ..StepFinds::default() };
        let fourth = StepFinds { step: "04", changed: texts(&["p3"]), ..StepFinds::default() };
        let all = [first, second, third, fourth];
        assert_eq!(told(&all[..1]), ["v:leaks", "p3:tight"]);
        assert_eq!(told(&all[..2]), ["v:leaks", "p3:tight"]);
        assert_eq!(holding(&all[..2])[0].step, "01");
        assert_eq!(told(&all[..3]), ["p3:tight"]);
        assert_eq!(told(&all), [""; 0]);
    }

    #[test]
    fn what_is_found_after_the_place_was_touched_in_the_same_step_holds() {
        let (found, touched) = (texts(&["v:tight"]), texts(&["v"]));
        let step = StepFinds { step: "02", found: &found, touched: &touched, changed: Vec::new() };
        assert_eq!(told(&[step]), ["v:tight"]);
    }

    #[test]
    fn of_two_finds_for_one_place_the_later_counts_and_a_note_keeps_all_its_words_for_its_own_step() {
        let found = texts(&["v:leaks", "D2:hissy", "v:tight", "D2:slow", "D2:hissy", "no word"]);
        let first = StepFinds { step: "01", found: &found, ..StepFinds::default() };
        assert_eq!(told(std::slice::from_ref(&first)), ["v:tight", "D2:slow", "D2:hissy"]);
        assert_eq!(told(&[first, StepFinds { step: "02", ..StepFinds::default() }]), ["v:tight"]);
    }

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
[[hole]]
name = "h2"
at_mm = 900.0
diameter_mm = 11.0
chimney_mm = 3.0
[[leak_site]]
name = "p3"
at_mm = 300.0
wall_mm = 3.0
[[fingering]]
name = "C#2"
open = []
"#;

    #[test]
    fn a_place_is_touched_by_a_change_of_its_own_measures_and_by_no_other() {
        let changed = |changes: &[(&str, &str)]| {
            let text = changes.iter().fold(TUBE.to_string(), |text, (from, to)| text.replace(from, to));
            changed_places(&parse(TUBE).unwrap(), &parse(&text).unwrap())
        };
        assert_eq!(changed(&[("diameter_mm = 12.0", "diameter_mm = 12.5")]), ["h1"]);
        assert_eq!(changed(&[("name = \"h1\"", "name = \"low\"")]), ["h1"]);
        assert_eq!(changed(&[("wall_mm = 3.0", "wall_mm = 3.5")]), ["p3"]);
        assert_eq!(changed(&[("1180.0", "1172.0"), ("chamber_ml = 12.5", "chamber_ml = 13")]), [""; 0]);
        assert_eq!(changed(&[("at_mm = 1040.0", "at_mm = 1041.0")]), ["h1"]);
        assert_eq!(changed(&[("diameter_mm = 12.0", "diameter_mm = 12.0\nmeasured_again = true")]), [""; 0]);
        // 4 mm off the top moves every place by 4 mm.
        let cut = [
            ("1180.0", "1176.0"),
            ("1040.0", "1036.0"),
            ("900.0", "896.0"),
            ("at_mm = 300.0", "at_mm = 296.0"),
        ];
        assert_eq!(changed(&cut), [""; 0]);
    }
}
