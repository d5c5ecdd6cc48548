//! The main job: measured takes beside predicted notes, findings, the next action, cuts.
//!
//! Findings explain measured minus predicted; cuts serve target minus measured; the two are never mixed.
//! Must not know samples, files or the terminal.

use crate::analysis::measurement::{Trouble, Undertone};
use crate::diagnosis::causes::{Candidate, Cause, TriedNote, candidates, log_speaking};
use crate::diagnosis::cuts::{Cut, plan_cuts};
use crate::diagnosis::evidence::{Evidence, FiledTake, Standing, gather};
use crate::diagnosis::findings::{Amount, Finding, Kind, Suspect, Weighed, pitch_findings};
use crate::diagnosis::gaussian::Gaussian;
use crate::diagnosis::next::{FirstOfAll, Next, next_action};
use crate::diagnosis::noise::{Noise, expected_noise};
use crate::diagnosis::note_check::{checked_note, remarks};
use crate::diagnosis::undertone::undertone_findings;
use crate::diagnosis::weigh::{Posterior, weigh};
use crate::instrument::advice::{Warning, warnings};
use crate::instrument::column::LeakPlace;
use crate::instrument::model::Instrument;
use crate::instrument::prediction::{PredictedNote, predict};

/// Two places closer than this share of the tube are neighbours when a leak is sought.
const NEAR_SHARE: f64 = 0.05;

/// A leak is worth a bench test from this share of the weight of "nothing is wrong" on: on healthy
/// instruments the share lies about 0.3 (our own simulations), and a test costs a minute.
const WORTH_A_TEST: f64 = 0.6;

/// Everything that `check` found.
#[derive(Debug, Clone, PartialEq)]
pub struct Check {
    /// One entry a fingering, in the file's order.
    pub notes: Vec<CheckedNote>,
    /// In falling weight; never empty.
    pub findings: Vec<Finding>,
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

/// Checks all takes against the instrument.
#[must_use]
pub fn check(instrument: &Instrument, takes: &[FiledTake]) -> Check {
    let predicted = predict(instrument);
    let evidence = gather(instrument, &predicted, takes);
    let base: Vec<Option<f64>> = predicted.iter().map(|note| note.predicted_hz).collect();
    let noise = expected_noise(instrument, &evidence, &base);
    let explained = explain(instrument, &predicted, &evidence, &noise);
    let mut findings = explained.findings;
    findings.extend(undertone_findings(instrument, &evidence, takes));
    findings.extend(wrong_fingerings(instrument, &evidence, takes));
    findings.extend(recording_finding(&evidence, takes));
    settle_healthy(&mut findings);
    let common_cents = mean(&explained.common_cents);
    let first = FirstOfAll { leak: explained.leak, healthy: explained.healthy };
    let cuts = if first.may_cut(&findings) {
        plan_cuts(instrument, &predicted, &noise.fingerings, &explained.lasting, common_cents)
    } else {
        Vec::new()
    };
    let next = next_action(instrument, &findings, &first, &cuts, &evidence);
    let cuts = if next.allows_cuts() { cuts } else { Vec::new() };
    let notes = predicted
        .iter()
        .map(|note| {
            let compared = noise.fingerings.iter().position(|&f| f == note.fingering);
            let shift = compared.and_then(|i| explained.shift_cents.get(i)).copied().unwrap_or(common_cents);
            checked_note(instrument, note, &evidence, takes, shift)
        })
        .collect();
    Check {
        notes,
        findings,
        next,
        cuts,
        rms_before_cents: rms(&noise.offsets_cents),
        rms_after_cents: rms(&explained.rest_cents),
        common_cents,
        remarks: remarks(instrument, &evidence),
        warnings: warnings(instrument, &predicted),
    }
}

/// Findings about pitch and what they leave unexplained.
struct Explained {
    findings: Vec<Finding>,
    /// Findings and common part, cents, one a compared note.
    shift_cents: Vec<f64>,
    /// The common part alone.
    common_cents: Vec<f64>,
    /// What neither explains.
    rest_cents: Vec<f64>,
    /// Each compared note's lasting offset from its prediction and the uncertainty of that, cents: the
    /// player's scatter taken out as well as all notes together allow.
    lasting: Vec<(f64, f64)>,
    /// Where a leak would be likeliest, and how likely any leak is.
    leak: Option<(LeakPlace, f64)>,
    /// That nothing is wrong with the pitch.
    healthy: f64,
}

fn explain(
    instrument: &Instrument,
    predicted: &[PredictedNote],
    evidence: &Evidence,
    noise: &Noise,
) -> Explained {
    let nothing = Explained {
        findings: Vec::new(),
        shift_cents: Vec::new(),
        common_cents: Vec::new(),
        rest_cents: Vec::new(),
        lasting: Vec::new(),
        leak: None,
        healthy: 0.0,
    };
    if noise.fingerings.is_empty() {
        return nothing;
    }
    let noises: Vec<(Gaussian, f64)> = evidence
        .spreads()
        .into_iter()
        .filter_map(|(spread, share)| Some((Gaussian::new(&noise.covariance(spread))?, share)))
        .collect();
    let Some(gaussian) = Gaussian::new(&noise.covariance(evidence.player_spread_cents)) else {
        return nothing;
    };
    let tried = tried_notes(predicted, evidence);
    let candidates = candidates(instrument, &tried);
    let speaking = log_speaking(&tried, |_| 0.0);
    let posterior = weigh(&noises, &noise.offsets_cents, speaking, &candidates);
    let weighed =
        Weighed { instrument, noise, gaussian: &gaussian, candidates: &candidates, posterior: &posterior };
    let mut caused = vec![0.0; noise.fingerings.len()];
    for &(candidate, shift) in &posterior.best {
        for (sum, cents) in caused.iter_mut().zip(&candidates[candidate].shifts[shift].cents) {
            *sum += cents;
        }
    }
    let left: Vec<f64> = noise.offsets_cents.iter().zip(&caused).map(|(y, c)| y - c).collect();
    let common_cents = gaussian.conditional_mean(&noise.common, &left);
    let rest_cents = left.iter().zip(&common_cents).map(|(l, c)| l - c).collect();
    let shift_cents = caused.iter().zip(&common_cents).map(|(a, b)| a + b).collect();
    let lasting = caused
        .iter()
        .zip(gaussian.conditional_mean(&noise.instrument, &left))
        .zip(gaussian.conditional_sd(&noise.instrument))
        .map(|((cause, rest), sd)| (cause + rest, sd))
        .collect();
    let leak = likeliest_leak(instrument, &candidates, &posterior);
    Explained {
        findings: pitch_findings(&weighed),
        shift_cents,
        common_cents,
        rest_cents,
        lasting,
        leak,
        healthy: posterior.healthy,
    }
}

/// The place with most of the leaks' weight on itself and its near neighbours, and the weight of all leaks.
/// `None` while nothing wrong at all is much likelier than any leak.
fn likeliest_leak(
    instrument: &Instrument,
    candidates: &[Candidate],
    posterior: &Posterior,
) -> Option<(LeakPlace, f64)> {
    let leaks: Vec<(LeakPlace, f64)> = candidates
        .iter()
        .zip(&posterior.weights)
        .filter_map(|(candidate, &weight)| match candidate.cause {
            Cause::Leak(place) => Some((place, weight)),
            _ => None,
        })
        .collect();
    let at_mm = |place: LeakPlace| match place {
        LeakPlace::Hole(index) => instrument.holes[index].at_mm,
        LeakPlace::Site(index) => instrument.leak_sites[index].at_mm,
    };
    let near_mm = NEAR_SHARE * instrument.length_mm();
    let around = |place: LeakPlace| -> f64 {
        leaks.iter().filter(|(other, _)| (at_mm(*other) - at_mm(place)).abs() <= near_mm).map(|l| l.1).sum()
    };
    let likely = posterior.any_leak > WORTH_A_TEST * posterior.healthy;
    leaks
        .iter()
        .filter(|_| likely)
        .max_by(|a, b| (a.1 + around(a.0)).total_cmp(&(b.1 + around(b.0))))
        .map(|&(place, _)| (place, posterior.any_leak))
}

/// The notes that spoke or failed to, in the file's order.
fn tried_notes(predicted: &[PredictedNote], evidence: &Evidence) -> Vec<TriedNote> {
    evidence
        .notes
        .iter()
        .filter_map(|note| {
            let base_hz = predicted[note.fingering].predicted_hz?;
            Some(TriedNote { fingering: note.fingering, base_hz, spoke: note.spoke()? })
        })
        .collect()
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
    })
}

/// `healthy` means pitch and tone: a sure undertone leaves it only what is left. Sorts by weight.
fn settle_healthy(findings: &mut [Finding]) {
    let tone = findings
        .iter()
        .filter(|finding| finding.suspect.kind == Kind::Undertone)
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

fn mean(values: &[f64]) -> f64 {
    if values.is_empty() { 0.0 } else { values.iter().sum::<f64>() / values.len() as f64 }
}
