//! What is done to the instrument for a bench test, in the maker's words.
//!
//! Must not know what the test showed.

use crate::instrument::change::{Change, HoleMeasure, Operation, Target, parse, place_name};
use crate::instrument::column::LeakPlace;
use crate::instrument::model::Instrument;
use crate::instrument::problem::plain;

/// The changes in words: `v pressed hard, film round p3`. One that is no change of this instrument stays as it was
/// typed.
#[must_use]
pub fn in_words(instrument: &Instrument, written: &[String]) -> String {
    let words = |text: &String| {
        let change = parse(instrument, text).ok();
        change.and_then(|change| done(instrument, &change)).unwrap_or_else(|| text.clone())
    };
    written.iter().map(words).collect::<Vec<_>>().join(", ")
}

/// What is done, for the changes that a bench test is made of; `None` for all others.
fn done(instrument: &Instrument, change: &Change) -> Option<String> {
    let hole = |index: usize| instrument.holes.get(index).map(|hole| hole.name.as_str());
    match (change.target, change.operation) {
        (Target::Leak(place @ LeakPlace::Hole(_)), Operation::Set(0.0)) => {
            Some(format!("{} pressed hard", place_name(instrument, place)))
        }
        (Target::Leak(place @ LeakPlace::Site(_)), Operation::Set(0.0)) => {
            Some(format!("film round {}", place_name(instrument, place)))
        }
        (Target::Leak(place), Operation::Set(mm)) => {
            Some(format!("a leak of {} mm at {}", plain(mm), place_name(instrument, place)))
        }
        (Target::Hole(index, HoleMeasure::Diameter), Operation::Add(mm)) if mm < 0.0 => {
            Some(format!("tape in {}, {} mm narrower", hole(index)?, plain(-mm)))
        }
        (Target::Hole(index, HoleMeasure::Pad), Operation::Off) => {
            Some(format!("pad of {} off", hole(index)?))
        }
        (Target::MouthpieceOut, Operation::Set(mm)) if mm < 0.0 => {
            Some(format!("mouthpiece {} mm in", plain(-mm)))
        }
        (Target::MouthpieceOut, Operation::Set(mm)) => Some(format!("mouthpiece {} mm out", plain(mm))),
        (Target::EndTrim, Operation::Set(mm)) if mm < 0.0 => {
            Some(format!("a collar at the open end, {} mm longer", plain(-mm)))
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::instrument::file::parse as read;

    #[test]
    fn every_bench_test_says_what_to_do() {
        let instrument = read(TUBE).unwrap();
        for (written, words) in [
            ("leak.h1=0", "h1 pressed hard"),
            ("leak.p3=0", "film round p3"),
            ("leak.h1=0.8", "a leak of 0.8 mm at h1"),
            ("h1.diameter-=2", "tape in h1, 2 mm narrower"),
            ("end.trim=-4", "a collar at the open end, 4 mm longer"),
            ("h1.pad=off", "pad of h1 off"),
            ("mouthpiece.out=2", "mouthpiece 2 mm out"),
            ("mouthpiece.out=-1.5", "mouthpiece 1.5 mm in"),
            ("h1.chimney+=1", "h1.chimney+=1"),
            ("nothing.at=1", "nothing.at=1"),
        ] {
            assert_eq!(in_words(&instrument, &[written.to_string()]), words);
        }
    }

    const TUBE: &str = "format = 1\n[instrument]\nname = \"Tube\"\nprototype = \"P1\"\ndrive = \"reed\"\n[mouthpiece]\nchamber_ml = 12.5\n\
        [[bore]]\nat_mm = 0.0\ndiameter_mm = 20.0\n[[bore]]\nat_mm = 1180.0\ndiameter_mm = 20.0\n\
        [[hole]]\nname = \"h1\"\nat_mm = 1040.0\ndiameter_mm = 12.0\nchimney_mm = 3.0\n\
        [[leak_site]]\nname = \"p3\"\nat_mm = 300.0\nwall_mm = 3.0\n";
}
