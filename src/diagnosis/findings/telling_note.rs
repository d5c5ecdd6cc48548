//! The note that would best tell two causes apart: where their predictions differ most, beyond what the takes so far
//! could show.
//!
//! Must not know cuts, files or the terminal.

use crate::acoustics::resonance::follow;
use crate::diagnosis::beliefs::findings::{MOST_CENTS, RIVAL_FROM, RIVAL_SHARE, TAKES, TELLS_SDS};
use crate::diagnosis::causes::catalogue::{leak_of, open_holes, with_cause};
use crate::diagnosis::findings::ranking::{Finding, Kind, Suspect, Weighed, suspect};
use crate::diagnosis::takes::evidence::Evidence;
use crate::diagnosis::weigh::lists::mean;
use crate::instrument::column::column;
use crate::instrument::prediction::PredictedNote;
use crate::units::cents_between;

/// A note worth playing.
#[derive(Debug, Clone, PartialEq)]
pub struct TellingNote {
    /// Index into the instrument's fingerings.
    pub fingering: usize,
    /// The two causes.
    pub between: [Suspect; 2],
    /// How much higher the note lies under the first, cents.
    pub apart_cents: f64,
    /// Whether it was played already, but less than [`TAKES`] times.
    pub played: bool,
}

/// The note that would best tell the likeliest fault from what it is most easily taken for; `None` when no playable note
/// would, or when there is nothing to tell apart.
#[must_use]
pub fn telling_note(
    weighed: &Weighed<'_>,
    findings: &[Finding],
    predicted: &[PredictedNote],
    evidence: &Evidence,
) -> Option<TellingNote> {
    let index_of = |finding: &Finding| {
        let cause = finding.cause?;
        weighed.candidates.iter().position(|candidate| candidate.cause == cause)
    };
    let lead = findings.iter().find(|finding| finding.cause.is_some())?;
    let a = index_of(lead)?;
    let in_group = |candidate: &usize| {
        let suspect = suspect(weighed.instrument, weighed.candidates[*candidate].cause);
        *candidate != a
            && weighed.posterior.weights[*candidate] >= RIVAL_SHARE * weighed.posterior.weights[a]
            && lead.group.contains(&suspect)
    };
    let weights = &weighed.posterior.weights;
    let alike = (0..weighed.candidates.len()).filter(in_group);
    let rival = alike.max_by(|&x, &y| weights[x].total_cmp(&weights[y])).or_else(|| {
        let next = findings.iter().filter(|finding| finding.cause.is_some()).nth(1);
        next.filter(|finding| finding.weight >= RIVAL_FROM).and_then(index_of)
    })?;
    let sizes = [weighed.posterior.amounts[a], weighed.size_most_like(a, rival)];
    let [first, second] = [(a, sizes[0]), (rival, sizes[1])].map(|(candidate, amount)| {
        let cause = weighed.candidates[candidate].cause;
        let changed = with_cause(weighed.instrument, cause, amount);
        let leaks = leak_of(cause, amount);
        move |note: &PredictedNote| {
            let base_hz = note.predicted_hz?;
            let open = open_holes(weighed.instrument, note.fingering, cause);
            follow(&column(&changed, &open, &leaks), base_hz).map(|hz| cents_between(hz, base_hz))
        }
    });
    let apart = |note: &PredictedNote| Some(first(note)? - second(note)?);
    let compared = predicted.iter().filter(|note| weighed.noise.fingerings.contains(&note.fingering));
    // What all notes share tells nothing: the player's common offset is free.
    let shared = mean(&compared.filter_map(apart).collect::<Vec<f64>>());
    let least = TELLS_SDS * evidence.player_spread_cents / (TAKES as f64).sqrt();
    predicted
        .iter()
        .filter(|note| {
            let fingering = &weighed.instrument.fingerings[note.fingering];
            let heard = &evidence.notes[note.fingering];
            weighed.instrument.playable(fingering)
                && heard.takes.len() < TAKES
                && heard.spoke() != Some(false)
        })
        .filter_map(|note| Some((note.fingering, apart(note)? - shared)))
        .filter(|(_, apart_cents)| (least..MOST_CENTS).contains(&apart_cents.abs()))
        .max_by(|x, y| x.1.abs().total_cmp(&y.1.abs()))
        .map(|(fingering, apart_cents)| TellingNote {
            fingering,
            between: [a, rival].map(|index| suspect(weighed.instrument, weighed.candidates[index].cause)),
            apart_cents,
            played: !evidence.notes[fingering].takes.is_empty(),
        })
}

impl TellingNote {
    /// In the maker's words.
    #[must_use]
    pub fn text(&self, name: &str) -> String {
        let [first, second] = self.between.each_ref().map(|suspect| {
            let at = suspect.place.as_ref().map_or_else(String::new, |place| format!(" {place}"));
            match suspect.kind {
                Kind::Leak => format!("a leak at{at}"),
                kind => format!("{}{at}", kind.as_str()),
            }
        });
        let higher = if self.apart_cents > 0.0 { "higher" } else { "lower" };
        let again = if self.played { "again, until there are three takes" } else { "three times" };
        format!(
            "To tell {first} from {second}, play {name} {again}: it comes out {:.0} cents {higher} with the first.",
            self.apart_cents.abs()
        )
    }
}
