//! The main job: measured takes beside predicted notes, findings, the next action, cuts.
//!
//! Findings explain measured minus predicted; cuts serve target minus measured; the two are never mixed.
//! Must not know samples, files or the terminal.

use crate::analysis::measurement::{Trouble, Undertone};
use crate::diagnosis::beliefs::{KNOWN_OFF_CENTS, WRONG_FINGERING_COMES_BEFORE};
use crate::diagnosis::causes::catalogue::Cause;
use crate::diagnosis::decide::bench_tests::worthwhile_tests;
use crate::diagnosis::decide::next::{Do, Facts, Next, Reason, may_cut};
use crate::diagnosis::decide::prospect::Prospect;
use crate::diagnosis::expectation::noise::{Noise, expected_noise};
use crate::diagnosis::findings::one_cause::Account;
use crate::diagnosis::findings::ranking::{Amount, Basis, Finding, Kind, Seen, Suspect, in_order};
use crate::diagnosis::findings::undertone::Undertones;
use crate::diagnosis::note_check::{checked_note, remarks};
use crate::diagnosis::takes::condition::{Bench, Condition, Found};
use crate::diagnosis::takes::evidence::{self, Evidence, FiledTake, gather};
use crate::diagnosis::weigh::explain::{Explained, explain, mean};
use crate::diagnosis::weigh::learned::{LearnError, Learned};
use crate::diagnosis::words::leak_place;
use crate::diagnosis::work::adjust::{Adjustment, adjustment};
use crate::diagnosis::work::aim::{Aim, Standing};
use crate::diagnosis::work::cuts::{Cut, CutKind, plan_cuts};
use crate::instrument::advice::{Warning, warnings};
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
    /// Mean of what all notes share (player, air, reed, model) beside the prediction, cents.
    pub common_cents: f64,
    /// What the first register's notes share beside their targets, cents.
    pub target_cents: f64,
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
    /// The air that the instrument is to be in tune in, where the takes were played in other air: a hole that is cut for
    /// a cold room is a ruined hole.
    pub tuned_air: Option<InsideAir>,
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
    let explained = explain(bench, evidence, noise, known.found);
    let any_leak = explained.weighing.as_ref().map_or(0.0, |weighing| weighing.posterior.any_leak);
    let undertones = Undertones { instrument, predicted, evidence, takes };
    let mut seen = undertones.findings(any_leak);
    seen.extend(wrong_fingerings(instrument, evidence, takes));
    seen.extend(recording_finding(evidence, takes));
    let findings = in_order(explained.findings.clone(), seen);
    let common_cents = mean(&explained.common_cents[..noise.ordinary()]);
    let tuned = Tuned::new(bench, known.tuned_air);
    let planned = Planned::new(&tuned, gathered, &explained);
    let prospect = explained.weighing.as_ref().map(|weighing| Prospect::new(noise, weighing));
    let cuts = may_be_cut(&planned.cuts, &findings, any_leak, &tuned);
    let facts = Facts {
        instrument,
        evidence,
        findings: &findings,
        remedy: prospect.as_ref().map(Prospect::best),
        tests: explained
            .weighing
            .as_ref()
            .zip(prospect.as_ref())
            .map_or_else(Vec::new, |(weighing, prospect)| {
                worthwhile_tests(instrument, weighing, prospect, evidence, known.found)
            }),
        any_leak,
        aim: &planned.aim,
        adjustment: planned.adjustment.clone(),
        doubtful: planned.doubtful(evidence, &cuts),
        cuts: &cuts,
    };
    let next = facts.decide();
    let mut said: Vec<String> = of_other_air(instrument, &tuned.instrument).into_iter().collect();
    if next.tests.is_empty() && !findings.first().is_some_and(|finding| finding.cause.is_some()) {
        said.extend(small_leak(instrument, any_leak, &explained.accounts));
    }
    said.extend(remarks(instrument, evidence));
    let waits = matches!(next.action, Do::Press | Do::Seal | Do::ReRecord) || !next.tests.is_empty();
    // A tube without holes gets its length when they are drilled.
    let is_plain_tube = next.reason == Reason::PlainTube;
    let cuts = if waits || is_plain_tube { Vec::new() } else { cuts };
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
    }
}

/// The instrument in the air that it is to be in tune in: a hole that is cut for a cold room is a ruined hole.
struct Tuned {
    instrument: Instrument,
    predicted: Vec<PredictedNote>,
}

impl Tuned {
    fn new(bench: &Bench<'_>, tuned_air: Option<InsideAir>) -> Tuned {
        match tuned_air.filter(|air| *air != bench.instrument.air) {
            Some(air) => {
                let instrument = Instrument { air, ..bench.instrument.clone() };
                let predicted = predict(&instrument);
                Tuned { instrument, predicted }
            }
            None => Tuned { instrument: bench.instrument.clone(), predicted: bench.predicted.to_vec() },
        }
    }
}

/// Where the notes stand, and what could be done for them.
struct Planned {
    aim: Aim,
    adjustment: Option<Adjustment>,
    cuts: Vec<Cut>,
    /// The cuts that stay when the one take that a note rests on is not believed.
    sure: Vec<Cut>,
}

impl Planned {
    fn new(tuned: &Tuned, gathered: &Gathered<'_>, explained: &Explained) -> Planned {
        let compared = &gathered.noise.fingerings[..gathered.noise.ordinary()];
        let standings = |own_of: &dyn Fn(usize) -> Option<(f64, f64)>| -> Vec<Option<Standing>> {
            tuned
                .predicted
                .iter()
                .map(|note| {
                    let index = compared.iter().position(|&f| f == note.fingering)?;
                    let (own_cents, sd_cents) = own_of(index)?;
                    let cents = note.cents()? + own_cents + explained.shared_cents;
                    Some(Standing { cents, sd_cents, takes: explained.own.get(index)?.takes })
                })
                .collect()
        };
        let as_heard = standings(&|index| {
            let own = explained.own.get(index)?;
            Some((own.cents, own.sd_cents))
        });
        let by_geometry: Vec<Option<f64>> = tuned.predicted.iter().map(PredictedNote::cents).collect();
        let aim = Aim::new(&tuned.instrument, as_heard, &by_geometry);
        // A note that rests on one take alone: what all other notes expect of it.
        let without = standings(&|index| {
            let own = explained.own.get(index)?;
            let lone = own.takes < ALMOST_TWO_TAKES;
            Some(if lone { own.without_its_take } else { (own.cents, own.sd_cents) })
        });
        let doubting = aim.with_notes(without);
        let doubtful = doubtful_holes(&tuned.instrument, &explained.findings);
        let plan = |aim: &Aim| plan_cuts(&tuned.instrument, &tuned.predicted, aim, &doubtful);
        Planned {
            adjustment: adjustment(&tuned.instrument, &tuned.predicted, &aim),
            cuts: plan(&aim),
            sure: plan(&doubting),
            aim,
        }
    }

    /// Notes whose cut would rest on a single take: with that left out it would not be advised.
    fn doubtful(&self, evidence: &Evidence, cuts: &[Cut]) -> Vec<usize> {
        let is_sure =
            |cut: &Cut| self.sure.iter().any(|other| other.place == cut.place && other.kind == cut.kind);
        let doubtful = cuts.iter().filter(|cut| cut.kind != CutKind::Move && !is_sure(cut));
        let mut notes: Vec<usize> =
            doubtful.filter_map(|cut| cut.own_note()).filter(|&note| evidence.notes[note].used < 2).collect();
        notes.sort_unstable();
        notes.dedup();
        notes
    }
}

/// Holes that are likelier than this to be otherwise than the file says are not drilled to a size.
const DOUBTFUL_FROM: f64 = 0.2;

fn doubtful_holes(instrument: &Instrument, findings: &[Finding]) -> Vec<usize> {
    let likely = findings.iter().filter(|finding| finding.weight >= DOUBTFUL_FROM);
    let hole = |finding: &Finding| match finding.cause {
        Some(Cause::Hole(hole)) if !instrument.holes[hole].measured_again => Some(hole),
        _ => None,
    };
    likely.filter_map(hole).collect()
}

/// Fewer takes than this are one take, slips left out.
const ALMOST_TWO_TAKES: f64 = 1.5;

/// The cuts that may be made as things stand: none while it leaks, but for those that the file's own measures ask for, and
/// the open end waits for the vent.
fn may_be_cut(cuts: &[Cut], findings: &[Finding], any_leak: f64, tuned: &Tuned) -> Vec<Cut> {
    let of_vent = |finding: &Finding| {
        let weighed = finding.basis == Basis::Weighed && finding.weight < 0.5;
        matches!(finding.suspect.kind, Kind::Vent | Kind::Undertone) && !weighed
    };
    let vent_waits = findings.iter().any(of_vent);
    let lost = |finding: &Finding| finding.suspect.kind == Kind::Recording && finding.weight > 0.5;
    if findings.iter().any(lost) {
        return Vec::new();
    }
    cuts.iter()
        .filter(|cut| may_cut(any_leak) || is_due_anyway(cut, &tuned.instrument, &tuned.predicted))
        .filter(|cut| !(vent_waits && cut.kind == CutKind::TrimEnd))
        .cloned()
        .collect()
}

/// A leak that is less likely than a test is worth is mentioned from this weight on (our choice).
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
             Cuts are computed for the file's air.",
            warmer_c.abs(),
            tuned.air.temperature_c
        )
    })
}

/// Whether the measured geometry itself asks for this cut.
fn is_due_anyway(cut: &Cut, instrument: &Instrument, predicted: &[PredictedNote]) -> bool {
    let wrong_way = match cut.kind {
        CutKind::Enlarge | CutKind::RaisePad | CutKind::ShortenChimney => -1.0,
        CutKind::Shrink => 1.0,
        CutKind::Move | CutKind::TrimEnd => return false,
    };
    let is_its_note = |note: &&PredictedNote| {
        let hole = instrument.first_open_hole(note.fingering).map(|hole| &instrument.holes[hole].name);
        instrument.fingerings[note.fingering].register == 1 && hole == cut.place.as_ref()
    };
    let off = |note: &PredictedNote| note.cents().is_some_and(|cents| wrong_way * cents >= KNOWN_OFF_CENTS);
    predicted.iter().filter(is_its_note).any(off)
}

/// A take of another fingering is called that before anything else.
fn wrong_fingerings(instrument: &Instrument, evidence: &Evidence, takes: &[FiledTake]) -> Vec<Seen> {
    let mut findings = Vec::new();
    for note in &evidence.notes {
        for &(take, standing) in &note.takes {
            let evidence::Standing::OtherFingering(other) = standing else { continue };
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
            let finding = Finding {
                suspect: Suspect { kind: Kind::Player, place: Some(own.name.clone()) },
                group: shut,
                weight: 1.0,
                group_weight: 1.0,
                basis: Basis::Seen,
                amount: Amount::default(),
                text: format!(
                    "{} sounds like {}, not like {}: probably the wrong fingering was played. The take is left out.",
                    takes[take].file, sounded.name, own.name
                ),
                evidence: Vec::new(),
                test: Some(test),
                cause: None,
                pattern: Vec::new(),
            };
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
        .filter(|(_, standing)| *standing == evidence::Standing::NoNote)
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
    let finding = Finding {
        suspect: Suspect { kind: Kind::Recording, place: None },
        group: Vec::new(),
        weight: 1.0,
        group_weight: 1.0,
        basis: Basis::Seen,
        amount: Amount::default(),
        text,
        evidence: Vec::new(),
        test: None,
        cause: None,
        pattern: Vec::new(),
    };
    Some(Seen { finding, comes_before, is_of_tone: false })
}

fn rms(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| (values.iter().map(|v| v * v).sum::<f64>() / values.len() as f64).sqrt())
}
