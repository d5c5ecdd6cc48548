//! Which questions about the file the takes leave open: where notes sound as the doubted geometry says, the measures are
//! right, and only the wish may be wrong.
//!
//! Must not know words, files or the terminal.

use crate::diagnosis::beliefs::decisions::PROVEN_CENTS;
use crate::diagnosis::takes::evidence::Evidence;
use crate::instrument::model::Instrument;
use crate::instrument::prediction::PredictedNote;
use crate::instrument::sanity::{Doubt, Question, questions};
use crate::units::cents_between;

/// The questions that are open beside the takes.
#[must_use]
pub fn open_questions(
    instrument: &Instrument,
    predicted: &[PredictedNote],
    evidence: &Evidence,
) -> Vec<Question> {
    let apart = |fingering: usize| {
        let measured_hz = evidence.notes.iter().find(|note| note.fingering == fingering)?.measured_hz?;
        let predicted_hz = predicted.iter().find(|note| note.fingering == fingering)?.predicted_hz?;
        Some(cents_between(measured_hz, predicted_hz).abs())
    };
    let proven = |question: &Question| {
        let mut apart = question.fingerings.iter().filter_map(|&fingering| apart(fingering)).peekable();
        apart.peek().is_some() && apart.all(|cents| cents < PROVEN_CENTS)
    };
    questions(instrument, predicted).into_iter().filter(|question| !proven(question)).collect()
}

/// What is to be measured or looked at again for a question, in the spelling of `try` as far as it has one.
#[must_use]
pub fn to_measure(instrument: &Instrument, question: &Question) -> Vec<String> {
    let at = |hole: usize| format!("{}.at", instrument.holes[hole].name);
    let all = || (0..instrument.holes.len()).map(at).collect();
    match question.about {
        Doubt::Hole { hole, .. } => vec![at(hole)],
        Doubt::Swapped { holes } => holes.map(at).to_vec(),
        Doubt::Chamber { .. } => vec!["mouthpiece.chamber".to_string()],
        Doubt::End { .. } => vec!["bore".to_string()],
        Doubt::Zero { .. } | Doubt::OtherEnd | Doubt::Unit { .. } => all(),
        Doubt::Interval { .. } => Vec::new(),
        Doubt::Note => {
            let first =
                question.fingerings.iter().filter_map(|&fingering| instrument.first_open_hole(fingering));
            let mut measures: Vec<String> = first.map(at).collect();
            measures.sort();
            measures.dedup();
            measures
        }
    }
}
