//! The main job: measured takes beside predicted notes, findings, the next action, cuts.
//!
//! Findings explain measured minus predicted; cuts serve target minus measured; the two are never mixed.
//! Must not know samples, files or the terminal.

use crate::analysis::measurement::{Trouble, Undertone};
use crate::diagnosis::causes::catalogue::Cause;
use crate::diagnosis::decide::next::{FirstOfAll, Next, next_action};
use crate::diagnosis::expectation::noise::{Noise, expected_noise};
use crate::diagnosis::findings::one_cause::Account;
use crate::diagnosis::findings::ranking::{Amount, Finding, Kind, Suspect};
use crate::diagnosis::findings::undertone::Undertones;
use crate::diagnosis::note_check::{checked_note, remarks};
use crate::diagnosis::takes::condition::{Condition, Found, FoundPlace};
use crate::diagnosis::takes::evidence::{Evidence, FiledTake, Standing, gather};
use crate::diagnosis::weigh::explain::{explain, mean};
use crate::diagnosis::weigh::learned::{LearnError, Learned};
use crate::diagnosis::words::leak_place;
use crate::diagnosis::work::cuts::{Cut, CutKind, plan_cuts};
use crate::instrument::advice::{Warning, warnings};
use crate::instrument::column::LeakPlace;
use crate::instrument::model::{InsideAir, Instrument};
use crate::instrument::prediction::{PredictedNote, predict};

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
    /// Mean of what all notes share (player, air, reed, model), cents.
    pub common_cents: f64,
    /// What cannot be told from these takes, in sentences.
    pub remarks: Vec<String>,
    /// What the geometry alone gives cause to say.
    pub warnings: Vec<Warning>,
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

/// What is known besides the file and the takes.
#[derive(Clone, Copy, Default)]
pub struct Known<'a> {
    /// What other takes taught of player, mouthpiece and reed.
    pub learned: Option<&'a Learned>,
    /// What the maker found without recordings.
    pub found: &'a [Found],
    /// What the takes with a number above 0 were played under; the first has number 1.
    pub conditions: &'a [Condition],
    /// Whether somebody measured how warm the room is.
    pub room_is_known: bool,
    /// The air that the instrument is to be in tune in, where the takes were played in other air: a hole that is cut for
    /// a cold room is a ruined hole.
    pub tuned_air: Option<InsideAir>,
}

/// Checks all takes against the instrument.
#[must_use]
pub fn check(instrument: &Instrument, takes: &[FiledTake]) -> Check {
    let predicted = predict(instrument);
    let evidence = gather(instrument, &predicted, takes);
    let noise = noise(instrument, &predicted, &evidence);
    explained_check(instrument, takes, &predicted, &evidence, &noise, &Known::default())
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
    let evidence = gather(instrument, &predicted, takes);
    let mut noise = noise(instrument, &predicted, &evidence);
    if let Some(learned) = known.learned {
        learned.teach(&mut noise, instrument, &predicted)?;
    }
    Ok(explained_check(instrument, takes, &predicted, &evidence, &noise, known))
}

fn noise(instrument: &Instrument, predicted: &[PredictedNote], evidence: &Evidence) -> Noise {
    let base: Vec<Option<f64>> = predicted.iter().map(|note| note.predicted_hz).collect();
    expected_noise(instrument, evidence, &base)
}

fn explained_check(
    instrument: &Instrument,
    takes: &[FiledTake],
    predicted: &[PredictedNote],
    evidence: &Evidence,
    noise: &Noise,
    known: &Known<'_>,
) -> Check {
    let tight: Vec<LeakPlace> = known
        .found
        .iter()
        .filter_map(|found| match found {
            Found::Place(place, FoundPlace::Tight) => Some(*place),
            _ => None,
        })
        .collect();
    let explained = explain(instrument, predicted, evidence, noise, &tight);
    let mut findings = explained.findings;
    let undertones = Undertones { instrument, predicted, evidence, takes };
    findings.extend(undertones.findings(explained.any_leak));
    findings.extend(wrong_fingerings(instrument, evidence, takes));
    findings.extend(recording_finding(evidence, takes));
    settle_healthy(&mut findings);
    let common_cents = mean(&explained.common_cents);
    let other_air = known.tuned_air.filter(|air| *air != instrument.air).map(|air| {
        let tuned = Instrument { air, ..instrument.clone() };
        let in_tuned_air = predict(&tuned);
        (tuned, in_tuned_air)
    });
    let (tuned, in_tuned_air) = match &other_air {
        Some((tuned, in_tuned_air)) => (tuned, in_tuned_air.as_slice()),
        None => (instrument, predicted),
    };
    let mut cuts = plan_cuts(tuned, in_tuned_air, &noise.fingerings, &explained.own, explained.shared_cents);
    let mut first = FirstOfAll { leak: explained.leak, healthy: explained.healthy };
    let due = |cut: &Cut| is_due_anyway(cut, tuned, in_tuned_air);
    // A leak that is less likely than nothing at all does not hold up what has to be cut whether it leaks or not.
    if first.leak.is_some_and(|(_, weight)| weight < first.healthy) && cuts.iter().any(due) {
        cuts.retain(due);
        first.leak = None;
    }
    let cuts = if first.may_cut(&findings) { cuts } else { Vec::new() };
    let mut next = next_action(instrument, &findings, &first, &cuts, evidence);
    let mut said: Vec<String> = of_other_air(instrument, tuned).into_iter().collect();
    let is_fault = |finding: &Finding| finding.cause.is_some();
    if let Some(note) = explained.telling.filter(|_| findings.first().is_some_and(is_fault)) {
        let name = &instrument.fingerings[note.fingering].name;
        said.push(note.text(name));
        if !next.allows_cuts() && !next.retake.contains(name) {
            next.retake.push(name.clone());
        }
    }
    if first.leak.is_none() && !findings.first().is_some_and(is_fault) {
        said.extend(small_leak(instrument, explained.any_leak, &explained.accounts));
    }
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
        rms_before_cents: rms(&noise.offsets_cents),
        rms_after_cents: rms(&explained.rest_cents),
        common_cents,
        remarks: said,
        warnings: warnings(instrument, predicted),
    }
}

/// A leak that is less likely than a test is worth is told from this weight on (our choice).
const SMALL_LEAK_FROM: f64 = 0.1;

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

/// What is said where the takes were played in other air than the instrument is tuned for, °C apart.
const OTHER_AIR_C: f64 = 1.0;

fn of_other_air(played: &Instrument, tuned: &Instrument) -> Option<String> {
    let warmer_c = played.air.temperature_c - tuned.air.temperature_c;
    let word = if warmer_c < 0.0 { "colder" } else { "warmer" };
    (warmer_c.abs() >= OTHER_AIR_C).then(|| {
        format!(
            "The air inside was {:.0} °C {word} than the {:.0} °C of the file, which the instrument is to be in tune with. \
             Cuts are reckoned for the file's air.",
            warmer_c.abs(),
            tuned.air.temperature_c
        )
    })
}

/// A first-register note so far off by its geometry alone, cents, has a hole that must be opened or filled whatever leaks
/// besides: the prediction knows of no leak (our choice: three times what is left alone).
const KNOWN_OFF_CENTS: f64 = 15.0;

/// Whether the measured geometry itself asks for this cut.
fn is_due_anyway(cut: &Cut, instrument: &Instrument, predicted: &[PredictedNote]) -> bool {
    let wrong_way = match cut.kind {
        CutKind::Enlarge | CutKind::RaisePad | CutKind::ShortenChimney => -1.0,
        CutKind::Shrink => 1.0,
        CutKind::Move | CutKind::TrimEnd | CutKind::TrimTop => return false,
    };
    let is_its_note = |note: &&PredictedNote| {
        let hole = instrument.first_open_hole(note.fingering).map(|hole| &instrument.holes[hole].name);
        instrument.fingerings[note.fingering].register == 1 && hole == cut.place.as_ref()
    };
    let off = |note: &PredictedNote| note.cents().is_some_and(|cents| wrong_way * cents >= KNOWN_OFF_CENTS);
    predicted.iter().filter(is_its_note).any(off)
}

/// A take of another fingering is called that before anything else.
fn wrong_fingerings(instrument: &Instrument, evidence: &Evidence, takes: &[FiledTake]) -> Vec<Finding> {
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
            findings.push(Finding {
                suspect: Suspect { kind: Kind::Player, place: Some(own.name.clone()) },
                group: shut,
                weight: 0.97,
                amount: Amount::default(),
                text: format!(
                    "{} sounds like {}, not like {}: probably the wrong fingering was played. The take is left out.",
                    takes[take].file, sounded.name, own.name
                ),
                evidence: Vec::new(),
                test: Some(test),
                cause: None,
            pattern: Vec::new(),
            });
        }
    }
    findings
}

/// Takes without a usable note, as one finding.
fn recording_finding(evidence: &Evidence, takes: &[FiledTake]) -> Option<Finding> {
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
    let weight = if usable { lost.len() as f64 / takes.len().max(1) as f64 } else { 1.0 };
    Some(Finding {
        suspect: Suspect { kind: Kind::Recording, place: None },
        group: Vec::new(),
        weight,
        amount: Amount::default(),
        text,
        evidence: Vec::new(),
        test: None,
        cause: None,
        pattern: Vec::new(),
    })
}

/// `healthy` means pitch and tone: a sure undertone leaves it only what is left. Sorts by weight.
fn settle_healthy(findings: &mut [Finding]) {
    let tone = findings
        .iter()
        .filter(|finding| {
            finding.suspect.kind == Kind::Undertone
                || finding.cause.is_none() && finding.suspect.kind == Kind::Vent
        })
        .map(|finding| finding.weight)
        .fold(0.0, f64::max);
    for finding in findings.iter_mut().filter(|finding| finding.suspect.kind == Kind::Healthy) {
        finding.weight *= 1.0 - tone;
    }
    findings.sort_by(|a, b| b.weight.total_cmp(&a.weight));
}

fn rms(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| (values.iter().map(|v| v * v).sum::<f64>() / values.len() as f64).sqrt())
}
