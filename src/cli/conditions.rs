//! `--test CHANGES FOLDER_OR_FILE`, `--found PLACE:WORD` and `--tight PLACES`: what was played under changes that were
//! undone again, and what the maker found without a recording.

use std::path::PathBuf;

use super::failure::Failure;
use super::takes::{Found as FoundFiles, find, measure_all};
use crate::diagnosis::takes::condition::{Condition, Found, FoundNote, FoundPlace};
use crate::diagnosis::takes::evidence::FiledTake;
use crate::instrument::change::{parse, place_called, place_names};
use crate::instrument::model::Instrument;
use crate::instrument::prediction::PredictedNote;
use crate::instrument::spelling::folded;
use crate::instrument::take_names::{TakeOf, take_of};

/// Takes that were played under one condition.
pub struct Test {
    /// The changes.
    pub condition: Condition,
    /// The recordings.
    pub files: FoundFiles,
}

/// The tests that the command line names, in its order: pairs of changes and a folder or file.
///
/// # Errors
/// [`Failure`] for changes that are none and folders without takes.
pub fn tests(instrument: &Instrument, words: &[String]) -> Result<Vec<Test>, Failure> {
    let pairs = words.chunks_exact(2);
    pairs
        .map(|pair| {
            let condition = condition(instrument, &pair[0])?;
            let files = find(instrument, &[PathBuf::from(&pair[1])], &[])?;
            Ok(Test { condition, files })
        })
        .collect()
}

/// Reads changes that are separated by commas.
///
/// # Errors
/// [`Failure`] for text that is no change, and for values that nothing can have.
pub fn condition(instrument: &Instrument, written: &str) -> Result<Condition, Failure> {
    let changes = written.split(',').map(str::trim).filter(|text| !text.is_empty());
    let changes = changes.map(|text| parse(instrument, text)).collect::<Result<Vec<_>, _>>()?;
    if changes.is_empty() {
        return Err(Failure::Usage(
            "--test: say what was changed while you played, like leak.h3=0 for a pad pressed hard"
                .to_string(),
        ));
    }
    Ok(Condition::of(instrument, &changes)?)
}

/// Measures the takes of all tests; a condition's number is its place in `tests`, from 1. Each take's octave is settled
/// by what the instrument should sound under the condition: `predicted`, where that changes no geometry. `told` as of
/// [`measure_all`].
#[must_use]
pub fn measured(predicted: &[PredictedNote], tests: &mut [Test], told: &mut Vec<String>) -> Vec<FiledTake> {
    let mut takes = Vec::new();
    for (index, test) in tests.iter_mut().enumerate() {
        let predicted = test.condition.changed.as_ref().map_or(predicted, |changed| &changed.predicted);
        let measured = measure_all(&mut test.files, predicted, told);
        takes.extend(measured.into_iter().map(|take| FiledTake { condition: index + 1, ..take }));
    }
    takes
}

/// What was found without recordings; `tight` is the short form.
///
/// # Errors
/// [`Failure::Usage`] for a name that nothing has and for a word that means nothing.
pub fn found(instrument: &Instrument, tight: &[String], words: &[String]) -> Result<Vec<Found>, Failure> {
    let mut all = Vec::new();
    for name in tight {
        let place = place_called(instrument, name.trim()).ok_or_else(|| {
            let known = place_names(instrument).join(", ");
            Failure::Usage(format!(
                "--tight {name}: nothing that could leak is called that. What could: {known}"
            ))
        })?;
        all.push(Found::Place(place, FoundPlace::Tight));
    }
    for written in words {
        let found = parse_found(instrument, written);
        all.push(found.map_err(|what| Failure::Usage(format!("--found {what}")))?);
    }
    Ok(all)
}

/// `v:leaks`, `D2:hissy`.
///
/// # Errors
/// What is wrong with it and what would be right, for a name that nothing has and for a word that means nothing.
pub fn parse_found(instrument: &Instrument, written: &str) -> Result<Found, String> {
    let places = FoundPlace::WORDS.map(|(word, _)| word).join("|");
    let notes = FoundNote::WORDS.map(|(word, _)| word).join("|");
    let right = format!("Write a place and {places}, or a fingering and {notes}");
    let Some((name, word)) = written.rsplit_once(':') else {
        return Err(format!("{written}: a word is missing. {right}"));
    };
    let (name, word) = (name.trim(), folded(word.trim()));
    if let Some((_, what)) = FoundPlace::WORDS.iter().find(|(known, _)| *known == word) {
        return place_called(instrument, name).map(|place| Found::Place(place, *what)).ok_or_else(|| {
            let known = place_names(instrument).join(", ");
            format!("{written}: nothing that could leak is called {name}. What could: {known}")
        });
    }
    if let Some((_, what)) = FoundNote::WORDS.iter().find(|(known, _)| *known == word) {
        return match take_of(name, &instrument.fingerings) {
            TakeOf::Fingering(fingering) => Ok(Found::Note(fingering, *what)),
            TakeOf::Room | TakeOf::Unknown => {
                let known: Vec<&str> = instrument.fingerings.iter().map(|f| f.name.as_str()).collect();
                Err(format!("{written}: no fingering is called {name}. The file has: {}", known.join(", ")))
            }
        };
    }
    Err(format!("{written}: {word} is no word for it. {right}"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::book::found::PLACE_WORDS;

    #[test]
    fn the_book_knows_which_words_are_about_a_place() {
        assert_eq!(FoundPlace::WORDS.map(|(word, _)| word), PLACE_WORDS);
        assert!(FoundNote::WORDS.iter().all(|(word, _)| !PLACE_WORDS.contains(word)));
    }
}
