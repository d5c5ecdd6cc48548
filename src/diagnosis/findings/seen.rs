//! What was seen in the takes and not weighed, and where it stands among what was weighed.
//!
//! Must not know takes, cuts or files.

use crate::diagnosis::findings::ranking::{Amount, Basis, Finding, Kind, Suspect};

/// A finding that was seen in the takes, with its place among the weighed ones.
#[derive(Debug, Clone, PartialEq)]
pub struct Seen {
    /// The finding.
    pub finding: Finding,
    /// It comes before weighed findings that are less likely than this.
    pub comes_before: f64,
    /// Whether it is a fault of tone, so that `healthy` is only what it leaves.
    pub is_of_tone: bool,
}

impl Finding {
    /// A finding that was seen in the takes: it has no probability, and no pattern over the notes.
    #[must_use]
    pub fn seen(suspect: Suspect, group: Vec<Suspect>, text: String, test: Option<String>) -> Finding {
        Finding {
            suspect,
            group,
            weight: 1.0,
            group_weight: 1.0,
            basis: Basis::Seen,
            amount: Amount::default(),
            text,
            evidence: Vec::new(),
            test,
            cause: None,
            pattern: Vec::new(),
        }
    }
}

/// Puts what was seen among what was weighed: before the first weighed finding where it matters more to the maker, else
/// behind all of them.
#[must_use]
pub fn in_order(weighed: Vec<Finding>, mut seen: Vec<Seen>) -> Vec<Finding> {
    let tone = seen.iter().filter(|seen| seen.is_of_tone).map(|seen| seen.comes_before).fold(0.0, f64::max);
    let leads = |finding: &Finding| match finding.suspect.kind {
        Kind::Healthy => finding.group_weight * (1.0 - tone),
        _ => finding.group_weight,
    };
    let lead = weighed.iter().map(leads).fold(0.0, f64::max);
    seen.sort_by(|a, b| b.comes_before.total_cmp(&a.comes_before));
    let (first, last): (Vec<Seen>, Vec<Seen>) = seen.into_iter().partition(|seen| seen.comes_before > lead);
    let finding = |seen: Seen| seen.finding;
    first.into_iter().map(finding).chain(weighed).chain(last.into_iter().map(finding)).collect()
}
