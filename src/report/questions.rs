//! What is asked of the maker before any cent is told: each question with the two likely answers. Computes nothing.

use serde_json::{Value, json};

use crate::instrument::model::Instrument;
use crate::instrument::problem::plain;
use crate::instrument::sanity::{Doubt, LengthUnit, Question};
use crate::report::layout::{hanging, paragraph};

/// Notes that are named of a question.
const MOST_NAMES: usize = 4;

/// A question in words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Asked {
    /// Short word for programs.
    pub code: &'static str,
    /// What is asked, and why.
    pub question: String,
    /// What to do for either answer.
    pub answers: [String; 2],
}

/// The questions for the terminal, before everything else; empty when nothing is asked.
#[must_use]
pub fn text(instrument: &Instrument, questions: &[Question]) -> String {
    let mut out = String::new();
    for question in questions {
        let asked = asked(instrument, question);
        out.push_str(&paragraph("? ", &asked.question));
        asked.answers.iter().for_each(|answer| out.push_str(&hanging("  - ", answer, 4)));
    }
    if !out.is_empty() {
        out.push('\n');
    }
    out
}

/// The questions as JSON.
#[must_use]
pub fn json(instrument: &Instrument, questions: &[Question]) -> Vec<Value> {
    let one = |question: &Question| {
        let asked = asked(instrument, question);
        let names: Vec<&str> =
            question.fingerings.iter().map(|&f| instrument.fingerings[f].name.as_str()).collect();
        json!({
            "code": asked.code,
            "text": asked.question,
            "answers": asked.answers,
            "fingerings": names,
            "off_cents": question.off_cents,
            "likely_mm": likely_mm(&question.about),
        })
    };
    questions.iter().map(one).collect()
}

fn likely_mm(doubt: &Doubt) -> Option<f64> {
    match *doubt {
        Doubt::Hole { wanted_mm, likely_mm, .. } => likely_mm.or(wanted_mm.map(f64::round)),
        Doubt::End { wanted_mm, likely_mm } => likely_mm.or(Some(wanted_mm.round())),
        _ => None,
    }
}

/// A question in one paragraph, as the next action tells it.
#[must_use]
pub fn sentence(instrument: &Instrument, question: &Question) -> String {
    let asked = asked(instrument, question);
    format!("{} {} {}", asked.question, asked.answers[0], asked.answers[1])
}

/// A question in words.
#[must_use]
pub fn asked(instrument: &Instrument, question: &Question) -> Asked {
    let hole = |index: usize| instrument.holes[index].name.as_str();
    let off = off(instrument, question);
    match question.about {
        Doubt::Zero { shift_mm, with_end } => zero(&off, shift_mm, with_end),
        Doubt::OtherEnd => Asked {
            code: "other-end",
            question: format!("Were the places of the holes measured from the open end? {off}; from there they fit."),
            answers: [
                format!(
                    "Yes: write {} minus what you measured as at_mm of each hole.",
                    plain(tenth(instrument.length_mm()))
                ),
                "No: look whether the fingerings open the right holes, and whether their notes are right.".to_string(),
            ],
        },
        Doubt::Unit { unit, all } => {
            let (name, mm) = unit_words(unit);
            let what = if all { "all lengths" } else { "all places along the tube" };
            Asked {
                code: "other-unit",
                question: format!("Are {what} in {name}? {off}; in {name} they fit."),
                answers: [
                    format!("Yes: multiply them by {mm}, for every key that ends in _mm is in millimetres."),
                    "No: measure the tube's length again, and look at the notes' names and octaves.".to_string(),
                ],
            }
        }
        Doubt::Interval { semitones } => interval(instrument, &off, semitones),
        Doubt::Chamber { likely_ml } => {
            let written = instrument.mouthpiece.map_or(0.0, |mouthpiece| mouthpiece.chamber_ml);
            Asked {
                code: "chamber",
                question: format!(
                    "Does the mouthpiece hold {} ml, not {} ml? {off}; with that they fit.",
                    plain(hundredth(likely_ml)),
                    plain(written)
                ),
                answers: [
                    "Yes: correct chamber_ml. 1000 mm³ are 1 ml, and 1 cm³ is 1 ml.".to_string(),
                    "No: weigh the water it holds once more; a gram is a millilitre.".to_string(),
                ],
            }
        }
        Doubt::Swapped { holes: [a, b] } => Asked {
            code: "holes-swapped",
            question: format!(
                "Have {} and {} each other's place? {off}; with {} at {} mm and {} at {} mm it fits.",
                hole(a),
                hole(b),
                hole(a),
                plain(instrument.holes[b].at_mm),
                hole(b),
                plain(instrument.holes[a].at_mm)
            ),
            answers: [
                "Yes: swap the two at_mm.".to_string(),
                format!("No: look which of the two {} opens.", first_name(instrument, question)),
            ],
        },
        Doubt::Hole { hole: index, wanted_mm, likely_mm } => {
            let at = plain(instrument.holes[index].at_mm);
            let wants = wanted_mm.map(|mm| format!(" by that it belongs near {mm:.0} mm"));
            let name = hole(index);
            Asked {
                code: "hole-place",
                question: match likely_mm {
                    Some(likely_mm) => format!(
                        "Is {name} near {} mm, not at {at} mm? {off}{}.",
                        plain(tenth(likely_mm)),
                        wants.map_or_else(|| "; with that it fits".to_string(), |wants| format!(";{wants}"))
                    ),
                    None => {
                        format!("Is {name} really at {at} mm? {off}{}.", wants.map_or_else(String::new, |wants| format!(";{wants}")))
                    }
                },
                answers: [
                    format!("If the number is a slip: correct at_mm of {name}."),
                    format!(
                        "If {name} is at {at} mm: look whether {} opens it, and whether that note is right.",
                        first_name(instrument, question)
                    ),
                ],
            }
        }
        Doubt::End { wanted_mm, likely_mm } => {
            let at = plain(instrument.length_mm());
            Asked {
                code: "open-end",
                question: match likely_mm {
                    Some(likely_mm) => {
                        format!("Is the open end at {} mm, not at {at} mm? {off}.", plain(tenth(likely_mm)))
                    }
                    None => format!(
                        "Is the open end really at {at} mm? {off}; by that it belongs near {wanted_mm:.0} mm."
                    ),
                },
                answers: [
                    "If the number is a slip: correct the last at_mm of the bore.".to_string(),
                    format!(
                        "If the tube ends at {at} mm and is still to be sawn, that is as it should be; else look at the note \
                         and octave of {}.",
                        first_name(instrument, question)
                    ),
                ],
            }
        }
        Doubt::Note => Asked {
            code: "note-far-off",
            question: format!("{off}, farther than a bench errs. What is it?"),
            answers: [
                "A wrong measure: look at the places of the holes that it opens first, then at bore and chamber.".to_string(),
                "A wrong wish: look at its note and octave, its register, and the holes that it opens.".to_string(),
            ],
        },
    }
}

fn zero(off: &str, shift_mm: f64, with_end: bool) -> Asked {
    let mm = shift_mm.abs();
    let what =
        if with_end { "all places, the open end too," } else { "the places of all holes, not the open end," };
    let (from, way) = if shift_mm > 0.0 {
        (format!("the tip of the mouthpiece, or another point some {mm:.0} mm above where it ends"), "less")
    } else {
        (
            format!(
                "the lower end of the socket, or another point some {mm:.0} mm below where the mouthpiece ends"
            ),
            "more",
        )
    };
    Asked {
        code: "wrong-zero",
        question: format!(
            "Were {what} measured from {from}? {off}; with all some {mm:.0} mm {way}, they fit."
        ),
        answers: [
            "Yes: measure how far that point is from where the mouthpiece ends, and take it off every at_mm."
                .to_string()
                .replace("take it off", if shift_mm > 0.0 { "take it off" } else { "add it to" }),
            "No: weigh the water that the mouthpiece holds, and look at a4_hz and the notes' names."
                .to_string(),
        ],
    }
}

fn interval(instrument: &Instrument, off: &str, semitones: i32) -> Asked {
    let way = if semitones > 0 { "higher" } else { "lower" };
    let count = semitones.abs();
    let octaves = if count % 12 == 0 { " That is the wrong octave." } else { "" };
    let written = instrument.written_above_sounding;
    Asked {
        code: "written-names",
        question: format!(
            "Are the notes called by their written names? {off}; all lie about {count} semitone{} {way} than they are \
             called.{octaves}",
            if count == 1 { "" } else { "s" }
        ),
        answers: [
            format!(
                "Yes: note is what sounds. Rename the notes, and write written_above_sounding = {}.",
                written - semitones
            ),
            "No: measure the tube's length and the water that the mouthpiece holds again.".to_string(),
        ],
    }
}

fn unit_words(unit: LengthUnit) -> (&'static str, &'static str) {
    match unit {
        LengthUnit::Inches => ("inches", "25.4"),
        LengthUnit::Centimetres => ("centimetres", "10"),
        LengthUnit::Metres => ("metres", "1000"),
    }
}

/// `C3 is predicted 1047 cents sharp, and D3, G4 are far off as well`.
fn off(instrument: &Instrument, question: &Question) -> String {
    let way = if question.off_cents > 0.0 { "sharp" } else { "flat" };
    let first = format!(
        "{} is predicted {:.0} cents {way}",
        first_name(instrument, question),
        question.off_cents.abs()
    );
    let others: Vec<&str> = question
        .fingerings
        .iter()
        .skip(1)
        .map(|&fingering| instrument.fingerings[fingering].name.as_str())
        .collect();
    match others.as_slice() {
        [] => first,
        few if few.len() <= MOST_NAMES => format!("{first}, and {} far off as well", few.join(", ")),
        many => format!("{first}, and {} other notes far off as well", many.len()),
    }
}

fn first_name<'i>(instrument: &'i Instrument, question: &Question) -> &'i str {
    question.fingerings.first().map_or("", |&fingering| instrument.fingerings[fingering].name.as_str())
}

fn tenth(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

fn hundredth(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}
