//! The main job: measured takes beside predicted notes, findings, the next action, cuts.
//!
//! Findings explain measured minus predicted; cuts serve target minus measured; the two are never mixed.
//! Must not know samples, files or the terminal.

use crate::analysis::measurement::{Trouble, Undertone};
use crate::diagnosis::beliefs::WRONG_FINGERING_COMES_BEFORE;
use crate::diagnosis::beliefs::decisions::{OTHER_AIR_C, SMALL_LEAK_FROM};
use crate::diagnosis::causes::catalogue::Cause;
use crate::diagnosis::causes::effect::Progress;
use crate::diagnosis::decide::action::Next;
use crate::diagnosis::decide::asked::open_questions;
use crate::diagnosis::decide::bench_tests::{Tests, worthwhile_tests};
use crate::diagnosis::decide::next::Facts;
use crate::diagnosis::decide::planned::{Planned, Tuned, air_cents, may_be_cut};
use crate::diagnosis::decide::prospect::Prospect;
use crate::diagnosis::expectation::noise::{Noise, expected_noise};
use crate::diagnosis::findings::one_cause::Account;
use crate::diagnosis::findings::ranking::{Finding, Kind, Suspect};
use crate::diagnosis::findings::seen::{Seen, in_order};
use crate::diagnosis::findings::undertone::Undertones;
use crate::diagnosis::note_check::{checked_note, remarks};
use crate::diagnosis::takes::condition::{Bench, Condition, Found};
use crate::diagnosis::takes::evidence::{Evidence, FiledTake, Standing, gather};
use crate::diagnosis::weigh::explain::explain;
use crate::diagnosis::weigh::learned::{LearnError, Learned};
use crate::diagnosis::weigh::lists::mean;
use crate::diagnosis::words::leak_place;
use crate::diagnosis::work::cuts::Cut;
use crate::diagnosis::work::plain_tube::top_length;
use crate::instrument::advice::{Warning, warnings};
use crate::instrument::model::Instrument;
use crate::instrument::prediction::predict;
use crate::instrument::sanity::Question;

/// Everything that `check` found.
#[derive(Debug, Clone, PartialEq)]
pub struct Check {
    /// One entry a fingering, in the file's order.
    pub notes: Vec<CheckedNote>,
    /// In falling weight; never empty.
    pub findings: Vec<Finding>,
    /// Every cause of pitch that was weighed, told or not, in falling weight, and `healthy` as the last; empty
    /// without comparable notes.
    pub accounts: Vec<Account>,
    /// The one thing to do now.
    pub next: Next,
    /// In the order of work; empty while something else comes first.
    pub cuts: Vec<Cut>,
    /// Root mean square of measured minus predicted, cents; `None` without comparable notes.
    pub rms_before_cents: Option<f64>,
    /// The same after the leading findings and the common part.
    pub rms_after_cents: Option<f64>,
    /// Mean of what all notes share (player, air, reed, model) beside the prediction, cents.
    pub common_cents: f64,
    /// What the first register's notes share beside their targets, cents.
    pub target_cents: f64,
    /// What cannot be told from these takes, in sentences.
    pub remarks: Vec<String>,
    /// What the geometry alone gives cause to say.
    pub warnings: Vec<Warning>,
    /// What is asked about the file's measures before any of this is believed; empty as a rule.
    pub questions: Vec<Question>,
}

/// One fingering with prediction and measurement.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckedNote {
    /// Index into [`Instrument::fingerings`].
    pub fingering: usize,
    /// Target, hertz.
    pub target_hz: f64,
    /// From the geometry, hertz.
    pub predicted_hz: Option<f64>,
    /// From the geometry, the leading findings and the common part, hertz.
    pub explained_hz: Option<f64>,
    /// Mean of the takes that count, hertz.
    pub measured_hz: Option<f64>,
    /// Standard uncertainty of that mean, cents.
    pub sd_cents: Option<f64>,
    /// Which resonance sounded.
    pub sounded_register: Option<usize>,
    /// False while a hole that it opens is only planned.
    pub playable: bool,
    /// Its takes.
    pub takes: Vec<CheckedTake>,
    /// Undertones of its takes, strongest first.
    pub undertones: Vec<Undertone>,
    /// Troubles of its takes, each once.
    pub troubles: Vec<Trouble>,
}

/// One take of a fingering.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckedTake {
    /// Name of its file.
    pub file: String,
    /// Cents above target.
    pub cents: Option<f64>,
    /// Whether it counts for the fingering.
    pub used: bool,
    /// Why not.
    pub why: Option<String>,
}

/// What is known besides the file and the takes, and who waits.
#[derive(Clone, Copy, Default)]
pub struct Known<'a> {
    /// What other takes taught of player, mouthpiece and reed.
    pub learned: Option<&'a Learned>,
    /// What the maker found without recordings.
    pub found: &'a [Found],
    /// What the takes with a number above 0 were played under; the first has number 1.
    pub conditions: &'a [Condition],
    /// Who is told how far the work has come.
    pub progress: Option<Progress<'a>>,
}

/// Checks all takes against the instrument.
#[must_use]
pub fn check(instrument: &Instrument, takes: &[FiledTake]) -> Check {
    let predicted = predict(instrument);
    let bench = Bench::new(instrument, &predicted, &[]);
    let gathered = Gathered::new(&bench, takes);
    explained_check(&gathered, &Known::default())
}

/// The same with what is known besides.
///
/// # Errors
/// [`LearnError::OtherDrive`].
pub fn check_knowing(
    instrument: &Instrument,
    takes: &[FiledTake],
    known: &Known<'_>,
) -> Result<Check, LearnError> {
    let predicted = predict(instrument);
    let bench = Bench::new(instrument, &predicted, known.conditions);
    let mut gathered = Gathered::new(&bench, takes);
    if let Some(learned) = known.learned {
        learned.teach(&mut gathered.noise, instrument, &predicted)?;
    }
    Ok(explained_check(&gathered, known))
}

/// The takes beside what the instrument should sound.
struct Gathered<'a> {
    bench: &'a Bench<'a>,
    takes: &'a [FiledTake],
    evidence: Evidence,
    noise: Noise,
}

impl<'a> Gathered<'a> {
    fn new(bench: &'a Bench<'a>, takes: &'a [FiledTake]) -> Gathered<'a> {
        let evidence = gather(bench, takes);
        let noise = expected_noise(bench, &evidence);
        Gathered { bench, takes, evidence, noise }
    }
}

fn explained_check(gathered: &Gathered<'_>, known: &Known<'_>) -> Check {
    let Gathered { bench, takes, evidence, noise } = gathered;
    let (instrument, predicted) = (bench.instrument, bench.predicted);
    let explained = explain(bench, evidence, noise, known.found, known.progress);
    let any_leak = explained.weighing.as_ref().map_or(0.0, |weighing| weighing.posterior.any_leak);
    let undertones = Undertones { instrument, predicted, evidence, takes };
    let mut seen = undertones.findings(any_leak);
    seen.extend(wrong_fingerings(instrument, evidence, takes));
    seen.extend(recording_finding(evidence, takes));
    let findings = in_order(explained.findings.clone(), seen);
    let common_cents = mean(&explained.common_cents[..noise.ordinary()]);
    let tuned = Tuned::new(bench);
    let planned = Planned::new(&tuned, noise, &explained);
    let prospect = explained.weighing.as_ref().map(|weighing| Prospect::new(noise, weighing));
    let cuts = may_be_cut(&planned.cuts, &findings, any_leak, &tuned);
    let tests = explained
        .weighing
        .as_ref()
        .zip(prospect.as_ref())
        .map_or_else(Tests::default, |(weighing, prospect)| {
            worthwhile_tests(instrument, weighing, prospect, evidence, known.found)
        });
    let usual = explained.weighing.as_ref().map_or(0.0, |weighing| weighing.posterior.usual);
    let top = top_length(instrument, predicted, noise, evidence.player_spread_cents, usual);
    let questions = open_questions(instrument, predicted, evidence);
    let facts = Facts {
        instrument,
        evidence,
        findings: &findings,
        remedy: prospect.as_ref().map(Prospect::best),
        tests: tests.worthwhile,
        test_before_work: tests.before_work,
        any_leak,
        planned: &planned,
        air_cents: air_cents(instrument),
        top,
        cuts: &cuts,
        question: questions.first(),
    };
    let next = facts.decide();
    let mut said: Vec<String> = of_other_air(instrument, &tuned.instrument).into_iter().collect();
    if next.tests.is_empty() && findings.first().is_none_or(|finding| finding.cause.is_none()) {
        said.extend(small_leak(instrument, any_leak, &explained.accounts));
    }
    let is_fault = findings.first().is_some_and(|finding| finding.cause.is_some());
    said.extend(
        explained
            .telling
            .as_ref()
            .filter(|_| is_fault)
            .map(|note| note.text(&instrument.fingerings[note.fingering].name)),
    );
    said.extend(remarks(instrument, evidence));
    let cuts = if next.allows_cuts() { cuts } else { Vec::new() };
    let notes = predicted
        .iter()
        .map(|note| {
            let compared = noise.fingerings.iter().position(|&f| f == note.fingering);
            let shift = compared.and_then(|i| explained.shift_cents.get(i)).copied().unwrap_or(common_cents);
            checked_note(instrument, note, evidence, takes, shift)
        })
        .collect();
    Check {
        notes,
        findings,
        accounts: explained.accounts,
        next,
        cuts,
        target_cents: planned.aim.shared_cents,
        rms_before_cents: rms(&noise.offsets_cents[..noise.ordinary()]),
        rms_after_cents: rms(&explained.rest_cents[..noise.ordinary().min(explained.rest_cents.len())]),
        common_cents,
        remarks: said,
        warnings: warnings(instrument, predicted),
        questions,
    }
}

/// Pitch alone can't rule out a leak that moves the notes by less than they scatter: where to look when one sounds weak.
fn small_leak(instrument: &Instrument, any_leak: f64, accounts: &[Account]) -> Option<String> {
    let leaks = accounts.iter().filter_map(|account| match account.cause {
        Some(Cause::Leak(place)) => Some(leak_place(instrument, place)),
        _ => None,
    });
    let places: Vec<String> = leaks.take(2).collect();
    (any_leak >= SMALL_LEAK_FROM && !places.is_empty()).then(|| {
        format!(
            "A leak too small to show in the pitch is still {:.0} % likely. If low notes are weak or slow to speak, try {} \
             first.",
            100.0 * any_leak,
            places.join(" and then ")
        )
    })
}

fn of_other_air(played: &Instrument, tuned: &Instrument) -> Option<String> {
    let warmer_c = played.air.temperature_c - tuned.air.temperature_c;
    let word = if warmer_c < 0.0 { "colder" } else { "warmer" };
    (warmer_c.abs() >= OTHER_AIR_C).then(|| {
        format!(
            "The air inside was {:.0} °C {word} than the {:.0} °C of the file, which the instrument is to be in tune with. \
             Cuts are computed for the file's air.",
            warmer_c.abs(),
            tuned.air.temperature_c
        )
    })
}

/// A take of another fingering is called that before anything else.
fn wrong_fingerings(instrument: &Instrument, evidence: &Evidence, takes: &[FiledTake]) -> Vec<Seen> {
    let mut findings = Vec::new();
    for note in &evidence.notes {
        for &(take, standing) in &note.takes {
            let Standing::OtherFingering(other) = standing else { continue };
            let (own, sounded) = (&instrument.fingerings[note.fingering], &instrument.fingerings[other]);
            // A pad that stays shut does the same, and pulls the note above a little flat.
            let shut: Vec<Suspect> = own
                .open
                .iter()
                .filter(|hole| !sounded.open.contains(hole))
                .map(|&hole| Suspect { kind: Kind::Pad, place: Some(instrument.holes[hole].name.clone()) })
                .take(3)
                .collect();
            let test = match shut.first().and_then(|suspect| suspect.place.as_deref()) {
                Some(pad) => {
                    format!("Record {} again. If it sounds the same, look whether {pad} opens.", own.name)
                }
                None => format!("Record {} again.", own.name),
            };
            let suspect = Suspect { kind: Kind::Player, place: Some(own.name.clone()) };
            let text = format!(
                "{} sounds like {}, not like {}: probably the wrong fingering was played. The take is left out.",
                takes[take].file, sounded.name, own.name
            );
            let finding = Finding::seen(suspect, shut, text, Some(test));
            let comes_before = WRONG_FINGERING_COMES_BEFORE;
            findings.push(Seen { finding, comes_before, is_of_tone: false });
        }
    }
    findings
}

/// Takes without a usable note, as one finding.
fn recording_finding(evidence: &Evidence, takes: &[FiledTake]) -> Option<Seen> {
    let lost: Vec<&str> = evidence
        .notes
        .iter()
        .flat_map(|note| &note.takes)
        .filter(|(_, standing)| *standing == Standing::NoNote)
        .map(|&(take, _)| takes[take].file.as_str())
        .collect();
    let usable = evidence.notes.iter().any(|note| note.measured_hz.is_some());
    if lost.is_empty() && usable {
        return None;
    }
    let text = if takes.is_empty() {
        "There are no takes yet. Record the lowest note first, then the others upward.".to_string()
    } else if lost.is_empty() {
        "No take could be compared with its prediction. Look at why beside each take.".to_string()
    } else {
        format!("No note could be measured in {}. Record them again.", lost.join(", "))
    };
    // Where nothing at all can be used, this is the whole answer.
    let comes_before =
        if usable { lost.len() as f64 / takes.len().max(1) as f64 } else { 1.0 + f64::EPSILON };
    let suspect = Suspect { kind: Kind::Recording, place: None };
    let finding = Finding::seen(suspect, Vec::new(), text, None);
    Some(Seen { finding, comes_before, is_of_tone: false })
}

fn rms(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| (values.iter().map(|v| v * v).sum::<f64>() / values.len() as f64).sqrt())
}
