//! The one thing to do now: seal before lifting, lift before cutting, nothing when nothing is wrong.
//!
//! Must not know files or the terminal.

use crate::diagnosis::causes::catalogue::Cause;
use crate::diagnosis::findings::ranking::{Amount, Finding, Kind, Suspect, suspect};
use crate::diagnosis::takes::evidence::{Evidence, Standing};
use crate::diagnosis::words;
use crate::diagnosis::work::cuts::{Cut, CutKind};
use crate::instrument::column::LeakPlace;
use crate::instrument::model::Instrument;

/// A leak this likely is tested before anything is cut: pressing a pad costs a minute, a
/// wrong cut costs the body.
const TEST_FROM: f64 = 0.2;
/// At most this many notes are asked for again.
const MOST_RETAKES: usize = 3;

/// A cause of the whole instrument or a stuck pad comes before cuts from this weight on, when it is
/// likelier than that nothing is wrong.
const COMES_FIRST_FROM: f64 = 0.3;

/// A leak that is less likely than this share of a cause of the whole instrument waits until that is settled (our choice).
const LEAK_FIRST_FROM: f64 = 0.5;

/// What must be settled before anything is cut.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FirstOfAll {
    /// Where a leak would be likeliest and how likely any is; `None` when no test is worth while.
    pub leak: Option<(LeakPlace, f64)>,
    /// How likely it is that nothing is wrong with the pitch.
    pub healthy: f64,
}

impl FirstOfAll {
    /// Whether holes may be cut: no leak to be tested, nothing of the whole instrument, no stuck pad, and
    /// recordings that can be used.
    #[must_use]
    pub fn may_cut(&self, findings: &[Finding]) -> bool {
        let unusable = |finding: &Finding| finding.suspect.kind == Kind::Recording && finding.weight > 0.5;
        self.leak_to_test().is_none()
            && self.before_cuts(findings).is_none()
            && !findings.iter().any(unusable)
    }

    fn leak_to_test(&self) -> Option<LeakPlace> {
        self.leak.filter(|(_, weight)| *weight > TEST_FROM).map(|(place, _)| place)
    }

    /// The first finding of the whole instrument, or of a stuck pad, that outweighs "nothing is wrong".
    fn before_cuts<'a>(&self, findings: &'a [Finding]) -> Option<&'a Finding> {
        findings.iter().find(|finding| {
            let kind = matches!(
                finding.cause,
                Some(
                    Cause::StuckShut(_)
                        | Cause::Air
                        | Cause::Top
                        | Cause::Taper
                        | Cause::BorePlace(_)
                        | Cause::Leak(_)
                )
            );
            kind && finding.weight > COMES_FIRST_FROM && finding.weight > self.healthy
        })
    }
}

/// Kind of action.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)] // each is its own word
pub enum Do {
    Seal,
    Press,
    Lift,
    ReRecord,
    Cut,
    Nothing,
}

impl Do {
    /// The word in JSON.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Do::Seal => "seal",
            Do::Press => "press",
            Do::Lift => "lift",
            Do::ReRecord => "re-record",
            Do::Cut => "cut",
            Do::Nothing => "nothing",
        }
    }
}

/// The next action.
#[derive(Debug, Clone, PartialEq)]
pub struct Next {
    /// What.
    pub action: Do,
    /// Hole, leak site or fingering by name.
    pub place: Option<String>,
    /// In the maker's words.
    pub text: String,
    /// A reversible trial first.
    pub stand_in: Option<String>,
    /// Fingerings to play again afterwards, by name.
    pub retake: Vec<String>,
}

impl Next {
    /// Whether cuts may be told beside this action.
    #[must_use]
    pub fn allows_cuts(&self) -> bool {
        matches!(self.action, Do::Cut | Do::Lift | Do::Nothing)
    }
}

/// Chooses the next action.
#[must_use]
pub fn next_action(
    instrument: &Instrument,
    findings: &[Finding],
    first: &FirstOfAll,
    cuts: &[Cut],
    evidence: &Evidence,
) -> Next {
    let leading = findings.first();
    if let Some(finding) =
        leading.filter(|finding| matches!(finding.suspect.kind, Kind::Player | Kind::Recording))
    {
        return record_again(instrument, finding, evidence);
    }
    let before = first.before_cuts(findings);
    if let Some(finding) = before
        && matches!(finding.cause, Some(Cause::StuckShut(_)))
    {
        return Next {
            action: Do::Lift,
            place: finding.suspect.place.clone(),
            text: format!("Cut nothing yet. {}", finding.text),
            stand_in: None,
            retake: lowest_measured(instrument, evidence),
        };
    }
    // Sealing comes first, unless something else is far likelier.
    let leak = first.leak.map_or(0.0, |(_, weight)| weight);
    let outweighed = before.is_some_and(|finding| leak < LEAK_FIRST_FROM * finding.weight);
    if let Some(place) = first.leak_to_test().filter(|_| !outweighed) {
        return test_leak(instrument, findings, place, evidence);
    }
    if let Some(finding) = before {
        return Next {
            action: Do::Nothing,
            place: None,
            text: format!(
                "Cut nothing yet. {}",
                finding.test.as_deref().unwrap_or("Measure again what the finding names.")
            ),
            stand_in: None,
            retake: lowest_measured(instrument, evidence),
        };
    }
    if let Some(pad) = leading.and_then(|finding| pad_first(instrument, finding, evidence)) {
        return pad;
    }
    if let Some(cut) = cuts.iter().find(|cut| cut.kind != CutKind::Move) {
        let action = if cut.kind == CutKind::RaisePad { Do::Lift } else { Do::Cut };
        let retake = cut
            .effects
            .iter()
            .filter(|effect| (effect.after_cents - effect.before_cents).abs() > 1.0)
            .take(MOST_RETAKES)
            .map(|effect| instrument.fingerings[effect.fingering].name.clone())
            .collect();
        return Next {
            action,
            place: cut.place.clone(),
            text: cut.text.clone(),
            stand_in: cut.stand_in.clone(),
            retake,
        };
    }
    nothing_to_cut(instrument, findings, cuts, evidence)
}

/// While nothing points to a fault for sure, one that is so likely is worth a look (our choice).
const LOOK_FROM: f64 = 0.15;

/// Nothing is to be cut on this body: says whether all is well, and what else to do.
fn nothing_to_cut(instrument: &Instrument, findings: &[Finding], cuts: &[Cut], evidence: &Evidence) -> Next {
    let to_look_at = findings.iter().find(|finding| finding.cause.is_some() && finding.weight >= LOOK_FROM);
    let look = to_look_at.and_then(|finding| finding.test.as_deref());
    let silent: Vec<String> = evidence
        .notes
        .iter()
        .filter(|note| note.spoke() == Some(false))
        .map(|note| instrument.fingerings[note.fingering].name.clone())
        .collect();
    let text = match findings.first().filter(|finding| finding.suspect.kind != Kind::Healthy) {
        Some(finding) => {
            finding.test.clone().unwrap_or_else(|| "Measure again what the first finding names.".to_string())
        }
        None if !silent.is_empty() => format!(
            "Nothing to cut so far, but {} did not speak as wanted. Play each three times more. If it fails again, press \
             its closed pads hard, and look that the vent is clean and opens.",
            silent.join(", ")
        ),
        None if cuts.iter().any(|cut| cut.kind == CutKind::Move) => {
            "Nothing to cut on this body: what is still off can't be drilled in. On the next body, move the holes as \
             the list says."
                .to_string()
        }
        None => {
            let well = "Nothing to cut: every note that was played is as it should be.";
            look.map_or_else(|| well.to_string(), |look| format!("{well} To make sure: {look}"))
        }
    };
    Next { action: Do::Nothing, place: None, text, stand_in: None, retake: silent }
}

/// A hole that acts smaller than it was measured is looked at before it is drilled: most often its pad hangs low
/// (common practice, no source), and a pad that is raised can be lowered again.
fn pad_first(instrument: &Instrument, finding: &Finding, evidence: &Evidence) -> Option<Next> {
    let Some(Cause::Hole(index)) = finding.cause else { return None };
    let hole = &instrument.holes[index];
    let pad = hole.pad.filter(|_| finding.amount.acts == Some("too small"))?;
    let acts_mm = finding.amount.mm.unwrap_or(0.0);
    Some(Next {
        action: Do::Lift,
        place: Some(hole.name.clone()),
        text: format!(
            "{} acts {acts_mm:.1} mm too small. Before you drill, look how far its pad opens: the file says {:.1} mm. Raise it \
             to that and play again. If it does, measure the hole's size, place and chimney again.",
            hole.name, pad.lift_mm
        ),
        stand_in: None,
        retake: evidence
            .notes
            .iter()
            .filter(|note| {
                note.measured_hz.is_some() && instrument.first_open_hole(note.fingering) == Some(index)
            })
            .take(MOST_RETAKES)
            .map(|note| instrument.fingerings[note.fingering].name.clone())
            .collect(),
    })
}

fn record_again(instrument: &Instrument, finding: &Finding, evidence: &Evidence) -> Next {
    let mut names: Vec<String> = evidence
        .notes
        .iter()
        .filter(|note| {
            note.takes
                .iter()
                .any(|(_, standing)| matches!(standing, Standing::NoNote | Standing::OtherFingering(_)))
        })
        .map(|note| instrument.fingerings[note.fingering].name.clone())
        .collect();
    names.extend(finding.suspect.place.clone().filter(|place| !names.contains(place)));
    Next {
        action: Do::ReRecord,
        place: finding.suspect.place.clone(),
        text: if names.is_empty() {
            finding.text.clone()
        } else {
            format!("Record {} again before anything is cut.", names.join(", "))
        },
        stand_in: None,
        retake: names,
    }
}

/// A leak is heard in a bench test when the notes fall back by so many times what the player scatters (our choice).
const HEARD_SDS: f64 = 1.5;
/// The notes that are played before and after.
const TEST_NOTES: f64 = MOST_RETAKES as f64;

/// How likely the bench test of this leak is to show it: that it leaks there, and that the notes then move by more than
/// the player scatters.
fn chance_to_show(finding: &Finding, spread_cents: f64) -> f64 {
    let moves_cents = finding.amount.cents.unwrap_or(0.0).abs();
    let sd_cents = spread_cents * (2.0 / TEST_NOTES).sqrt();
    // A smooth step: half where the move is just heard.
    let heard = 1.0 / (1.0 + (2.0 * (HEARD_SDS - moves_cents / sd_cents)).exp());
    finding.weight * heard
}

/// Of places that can't be told apart, the vent's pad is pressed first: it works hardest, and pressing takes a minute
/// (common practice, no source). `None` when it is not among them.
fn vent_first(
    instrument: &Instrument,
    place: LeakPlace,
    group: &[Suspect],
) -> Option<(LeakPlace, Vec<Suspect>)> {
    let is_vent = |hole: &usize| {
        let suspect = suspect(instrument, Cause::Leak(LeakPlace::Hole(*hole)));
        instrument.holes[*hole].vent && group.contains(&suspect)
    };
    let vent = LeakPlace::Hole((0..instrument.holes.len()).find(is_vent)?);
    let pressed = suspect(instrument, Cause::Leak(vent));
    let mut others = vec![suspect(instrument, Cause::Leak(place))];
    others.extend(group.iter().filter(|other| **other != pressed).cloned());
    Some((vent, others))
}

/// The bench test of the told leak that it is likeliest to show; of `likeliest` when none is told.
fn test_leak(
    instrument: &Instrument,
    findings: &[Finding],
    likeliest: LeakPlace,
    evidence: &Evidence,
) -> Next {
    let chance = |finding: &&Finding| chance_to_show(finding, evidence.player_spread_cents);
    let told = findings
        .iter()
        .filter(|finding| matches!(finding.cause, Some(Cause::Leak(_))))
        // Of equals the first, which is the heavier.
        .rev()
        .max_by(|a, b| chance(a).total_cmp(&chance(b)));
    let (place, group) = match told {
        Some(Finding { cause: Some(Cause::Leak(place)), group, .. }) => {
            vent_first(instrument, *place, group).unwrap_or_else(|| (*place, group.clone()))
        }
        _ => (likeliest, Vec::new()),
    };
    let test = words::test(instrument, Cause::Leak(place), &Amount::default(), &group).unwrap_or_default();
    Next {
        action: if matches!(place, LeakPlace::Site(_)) { Do::Seal } else { Do::Press },
        place: suspect(instrument, Cause::Leak(place)).place,
        text: format!("Cut nothing yet. {test}"),
        stand_in: None,
        retake: lowest_measured(instrument, evidence),
    }
}

/// The lowest notes that were measured: a leak shows there first.
fn lowest_measured(instrument: &Instrument, evidence: &Evidence) -> Vec<String> {
    let mut measured: Vec<(f64, &str)> = evidence
        .notes
        .iter()
        .filter_map(|note| Some((note.measured_hz?, instrument.fingerings[note.fingering].name.as_str())))
        .collect();
    measured.sort_by(|a, b| a.0.total_cmp(&b.0));
    measured.iter().take(MOST_RETAKES).map(|(_, name)| (*name).to_string()).collect()
}
