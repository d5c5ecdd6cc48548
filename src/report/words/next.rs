//! The next action in the maker's words: what to do, why, and what to find out first. Computes nothing.

use crate::diagnosis::check::Check;
use crate::diagnosis::decide::action::{Left, Reason};
use crate::diagnosis::decide::bench_tests::{BenchTest, Measured, Shows, Why};
use crate::diagnosis::decide::prospect::Play;
use crate::diagnosis::findings::ranking::Kind;
use crate::diagnosis::words::{capitalized, closing, leak_place, sharp_or_flat, trimmed};
use crate::diagnosis::work::adjust::Adjustment;
use crate::diagnosis::work::cuts::Cut;
use crate::diagnosis::work::plain_tube::TopLength;
use crate::instrument::change::{leak_stopped, place_name};
use crate::instrument::column::{LeakPlace, reed_give_ml};
use crate::instrument::drilling::{next_to_drill, planned_from_the_end};
use crate::instrument::model::Instrument;
use crate::report::questions;
use crate::report::words::cut::work;

/// What comes before anything else while the file's measures can't be right.
pub const ANSWER: &str = "The file and the notes that it wants can't both be right: answer that in the file first, and check again.";

/// What to do now, in a few sentences.
#[must_use]
pub fn text(instrument: &Instrument, check: &Check) -> String {
    match &check.next.reason {
        Reason::NoTakes => "Record the lowest note first, then the others upward.".to_string(),
        Reason::PlayAgain(fingerings) => {
            format!(
                "Play {} again: {} did not speak as wanted, or the take was lost. Cut nothing for it.",
                names(instrument, fingerings),
                if fingerings.len() == 1 { "it" } else { "they" }
            )
        }
        Reason::Test => check
            .next
            .tests
            .first()
            .map_or_else(String::new, |test| format!("Cut nothing yet. {}", test_text(instrument, test))),
        Reason::Leaks(place, weight) => seal(instrument, *place, *weight),
        Reason::StuckPad(hole) => format!(
            "Cut nothing yet. The pad of {} does not open: its note sounds like the one below. Look whether the key is \
             stuck or the hole is blocked.",
            instrument.holes[*hole].name
        ),
        Reason::AllOff(adjustment) => adjust(adjustment),
        Reason::WarmUp(cents) => format!(
            "Stop here for now: all notes together are {} of their targets, and the air explains it. Warm the instrument up, or \
             wait for a warmer room, and play again. Cut nothing for it.",
            sharp_or_flat(*cents)
        ),
        Reason::Cuts(cuts) => cut(&cuts.iter().filter_map(|&cut| check.cuts.get(cut)).collect::<Vec<_>>()),
        Reason::PlainTube(Some(top)) if top.disagrees() => other_tube(instrument, top),
        Reason::PlainTube(top) => plain_tube(instrument, top.as_ref()),
        Reason::HolesWait => drill_on(instrument, check),
        Reason::Look => look(instrument, check),
        Reason::Done(left) => done(instrument, left),
    }
}

/// For how much more or less of bore mouthpiece and reed stand than the file says.
fn stand_for(top: &TopLength) -> String {
    let more_mm = top.more_mm.round();
    let length = match more_mm {
        0.0 => "as much bore as it says".to_string(),
        _ => format!(
            "{:.0} mm {} of bore than it says",
            more_mm.abs(),
            if more_mm > 0.0 { "more" } else { "less" }
        ),
    };
    format!("reed and mouthpiece stand for {length}, ± {:.0} mm", top.sd_mm.max(1.0))
}

/// A tube that is not as its file says: what moves every hole alike is found before the first one is drilled.
fn other_tube(instrument: &Instrument, top: &TopLength) -> String {
    let cure = match top.reed_ml {
        Some(reed_ml) => format!(
            "If all of that stays, let the reed's give stand for it, whatever it is: write reed_ml = {reed_ml:.1} (it is \
             {:.1} so far) under [mouthpiece]",
            reed_give_ml(instrument)
        ),
        None => "No reed gives so little, so one of these must be otherwise: correct it".to_string(),
    };
    format!(
        "Drill nothing yet: the tube and its file don't agree. It sounds as if {}. Measure its length and its bore again, \
         weigh the chamber's water again, measure how warm the room is (--room), and play it three times, on another day \
         too. {cure} in the file, and check again.",
        stand_for(top).replace("it says", "the file says")
    )
}

/// A tube that is as its file says: placed once more as it is, then drilled.
fn plain_tube(instrument: &Instrument, top: Option<&TopLength>) -> String {
    let told = top.map_or_else(String::new, |top| format!(": {}", stand_for(top)));
    let agrees = format!("Your tube agrees with the file as well as can be measured{told}.");
    match planned_from_the_end(instrument).first() {
        Some(lowest) => format!(
            "{agrees} Place the holes once more, for the tube as it is and in the sizes that they have: borescribe place \
             --keep-diameters --out plan.toml (with the limits that you gave before, and with --learned-from, if this check \
             had it), then: borescribe step --plan plan.toml. Then drill from the open end up, and say so after each: \
             borescribe step --drilled {lowest}."
        ),
        None => format!("{agrees} Drill the first hole."),
    }
}

/// A body that is not drilled to its end yet, and that nothing holds up.
fn drill_on(instrument: &Instrument, check: &Check) -> String {
    let is_healthy = check.findings.first().is_none_or(|lead| lead.suspect.kind == Kind::Healthy);
    let so_far = if is_healthy {
        "What is drilled so far sounds as the file says."
    } else {
        "Nothing that was found so far has to be mended before you drill on."
    };
    let next = next_to_drill(instrument).unwrap_or_default();
    format!(
        "{so_far} Drill on from the open end up, each hole with its first drill: {next} is next. Say it with the width that \
         you measure: borescribe step --drilled {next}=MM. Cut nothing else, and leave the mouthpiece where it is, before the \
         last hole is there."
    )
}

/// The first cut in full, the others in a few words each.
fn cut(cuts: &[&Cut]) -> String {
    let Some((first, others)) = cuts.split_first() else { return String::new() };
    if others.is_empty() {
        return first.text.clone();
    }
    let others: Vec<String> = others.iter().map(|cut| work(cut)).collect();
    format!("{} Then, hearing each before the next: {}.", first.text, others.join("; "))
}

/// One test in the maker's words, with the reason.
#[must_use]
pub fn test_text(instrument: &Instrument, test: &BenchTest) -> String {
    match test {
        BenchTest::Measure { of: Measured::Hole(hole), .. } => {
            let hole = &instrument.holes[*hole];
            let lift = if hole.pad.is_some() { ", chimney and how far the pad opens" } else { " and chimney" };
            format!(
                "Measure {} again with calipers: diameter, place{lift}. Write what you find into the file and check \
                 again. It is the cheapest test of a hole.",
                hole.name
            )
        }
        BenchTest::Answer { question, .. } => {
            format!("{ANSWER} {}", questions::sentence(instrument, question))
        }
        BenchTest::Measure { of: Measured::Bore, .. } => {
            "Measure the bore at both ends in two directions and, with a plug on a stick, in between; feel for a ridge at joints \
             and posts. Write what you find into the file and check again."
                .to_string()
        }
        BenchTest::Measure { of: Measured::Air, .. } => {
            "Measure how warm the room is, and check again with --room: air that is warmer or colder than the file says \
             moves all notes by about the same interval."
                .to_string()
        }
        BenchTest::Play { play, why } => match why {
            Why::ShowsLeak(shows) => leak_test(instrument, play, shows),
            Why::Disputed { right } => format!(
                "Play {} again, {}: that tells the likely causes apart {}.",
                names(instrument, &play.fingerings),
                times(play.takes),
                in_ten(*right)
            ),
            Why::DidNotSpeak => format!(
                "Play {} again, {}: what fails once may be a slip, what fails three times is a fault.",
                names(instrument, &play.fingerings),
                times(play.takes)
            ),
            Why::BeforeACut => format!(
                "Play {} again, {}: a cut must not rest on a single take.",
                names(instrument, &play.fingerings),
                times(play.takes)
            ),
        },
    }
}

/// What a test changes, in the spelling of `try`; empty for ordinary takes and measurements.
#[must_use]
pub fn changes(instrument: &Instrument, test: &BenchTest) -> Vec<String> {
    match test {
        BenchTest::Measure { .. } | BenchTest::Answer { .. } => Vec::new(),
        BenchTest::Play { play, .. } => {
            play.closed.iter().map(|&place| leak_stopped(instrument, place)).collect()
        }
    }
}

fn leak_test(instrument: &Instrument, play: &Play, shows: &Shows) -> String {
    let note = &instrument.fingerings[shows.fingering].name;
    let way = if shows.moves_cents < 0.0 { "falls" } else { "rises" };
    let it = match play.closed.as_slice() {
        [place] => place_name(instrument, *place),
        _ => "one of them",
    };
    format!(
        "{}, and play {} {}. If {it} leaks, {note} {way} by about {:.0} cents; if not, it stays within {:.0} cents. \
         This finds the right cause {}.",
        closing(instrument, &play.closed),
        names(instrument, &play.fingerings),
        times(play.takes),
        shows.moves_cents.abs(),
        shows.stays_cents,
        in_ten(shows.right)
    )
}

fn seal(instrument: &Instrument, place: LeakPlace, weight: f64) -> String {
    let how = match place {
        LeakPlace::Hole(_) => "seat its pad anew or replace it",
        LeakPlace::Site(_) => "close it for good",
    };
    format!(
        "Cut nothing yet. {} leaks ({:.0} % likely): {how}, then play everything again.",
        capitalized(&leak_place(instrument, place)),
        (100.0 * weight).min(99.0)
    )
}

fn adjust(adjustment: &Adjustment) -> String {
    let mm = trimmed(adjustment.out_mm.abs());
    let way = if adjustment.out_mm > 0.0 {
        format!("Pull the mouthpiece out by {mm} mm, with a ring of the same bore in the gap")
    } else {
        format!("Push the mouthpiece in by {mm} mm, as far as its socket lets it, or put a shorter barrel on")
    };
    format!(
        "All notes together are {} of their targets. Player, reed and air do that too, so cut no hole for it. {way}: that \
         leaves them {}.",
        sharp_or_flat(adjustment.shared_cents),
        sharp_or_flat(adjustment.left_cents)
    )
}

fn look(instrument: &Instrument, check: &Check) -> String {
    let lead = check.findings.first();
    let test = lead.and_then(|finding| finding.test.clone()).unwrap_or_default();
    let left = silent(instrument, check);
    format!("Nothing is worth a cut as things stand. {test}{left}").trim_end().to_string()
}

fn silent(instrument: &Instrument, check: &Check) -> String {
    let silent: Vec<usize> = check
        .notes
        .iter()
        .filter(|note| !note.takes.is_empty() && note.measured_hz.is_none())
        .map(|note| note.fingering)
        .collect();
    if silent.is_empty() {
        return String::new();
    }
    format!(" {} did not speak as wanted.", names(instrument, &silent))
}

fn done(instrument: &Instrument, left: &[Left]) -> String {
    let off: Vec<String> = left
        .iter()
        .filter_map(|note| {
            let name = &instrument.fingerings[note.fingering].name;
            note.off_cents.map(|cents| format!("{name} {}", sharp_or_flat(cents)))
        })
        .collect();
    let silent: Vec<usize> =
        left.iter().filter(|note| note.off_cents.is_none()).map(|note| note.fingering).collect();
    let mut text = "Stop here: nothing is left that is worth a cut on this body.".to_string();
    if !off.is_empty() {
        text.push_str(&format!(
            " What stays: {}. Bringing that nearer would cost and risk more than it is worth, or spoil other notes.",
            off.join(", ")
        ));
    }
    if !silent.is_empty() {
        text.push_str(&format!(
            " {} did not speak as wanted: look that the vent is clean and opens, and press the closed pads hard.",
            names(instrument, &silent)
        ));
    }
    text
}

fn names(instrument: &Instrument, fingerings: &[usize]) -> String {
    let names: Vec<&str> = fingerings.iter().map(|&f| instrument.fingerings[f].name.as_str()).collect();
    names.join(", ")
}

fn times(takes: usize) -> String {
    match takes {
        1 => "once".to_string(),
        2 => "twice".to_string(),
        _ => format!("{takes} times"),
    }
}

fn in_ten(share: f64) -> String {
    let tenths = (10.0 * share).round().clamp(1.0, 9.0);
    let words = ["one", "two", "three", "four", "five", "six", "seven", "eight", "nine"];
    let word = words[tenths as usize - 1];
    if tenths == 1.0 { "one time in ten".to_string() } else { format!("{word} times in ten") }
}
