//! Words about a check that the terminal's text and the page share: what to be careful about, what a cut
//! does, which findings are told, what else there is to say. Computes nothing.

use crate::diagnosis::check::Check;
use crate::diagnosis::decide::action::Reason;
use crate::diagnosis::decide::bench_tests::BenchTest;
use crate::diagnosis::findings::ranking::{Finding, Kind, Suspect};
use crate::diagnosis::work::cuts::{Cut, CutKind};
use crate::instrument::column::LeakPlace;
use crate::instrument::model::Instrument;
use crate::report::cautions;
use crate::report::words::next;

/// Findings lighter than this are left to the JSON output unless they lead.
const LEAST_SHOWN: f64 = 0.1;

/// How the takes of the test that is asked for are handed over: `--test leak.v=0 FOLDER`, and what that is, with what the ear
/// may tell instead. `None` where no test asks for a change.
pub(super) fn hand_over(instrument: &Instrument, check: &Check) -> Option<(String, String)> {
    let changes = next::changes(instrument, check.next.tests.first()?);
    let place = changes.first()?.strip_prefix("leak.")?.strip_suffix("=0")?.to_string();
    let option = format!("--test {} FOLDER", changes.join(","));
    let besides = format!(
        "the folder of these takes. Heard without recording: --found {place}:leaks, {place}:tight or {place}:unchanged."
    );
    Some((option, besides))
}

/// What to be careful about in what is to be done now. Cuts that are only listed have theirs in [`listed_cautions`].
pub(super) fn cautions(instrument: &Instrument, check: &Check) -> Vec<&'static str> {
    let now = match &check.next.reason {
        Reason::Cuts(cuts) => cuts.as_slice(),
        _ => &[],
    };
    let mut all = cautions_of(now.iter().filter_map(|&cut| check.cuts.get(cut)));
    let closes = |test: &BenchTest| match test {
        BenchTest::Play { play, .. } => play.closed.iter().any(|place| wants_stopper(instrument, *place)),
        BenchTest::Measure { .. } | BenchTest::Answer { .. } => false,
    };
    if check.next.tests.first().is_some_and(closes) && !all.contains(&cautions::FILLING) {
        all.insert(0, cautions::STOPPING);
    }
    all
}

/// What to be careful about in the cuts that are listed, as far as the next action did not say it.
pub(super) fn listed_cautions(instrument: &Instrument, check: &Check) -> Vec<&'static str> {
    let told = cautions(instrument, check);
    cautions_of(check.cuts.iter()).into_iter().filter(|caution| !told.contains(caution)).collect()
}

/// What to be careful about in these cuts, each caution once.
fn cautions_of<'a>(cuts: impl Iterator<Item = &'a Cut>) -> Vec<&'static str> {
    let mut all: Vec<&str> = Vec::new();
    for caution in cuts.filter_map(caution) {
        if !all.contains(&caution) {
            all.push(caution);
        }
    }
    all
}

/// Whether a place is closed with film, putty or wax, not by pressing its pad.
fn wants_stopper(instrument: &Instrument, place: LeakPlace) -> bool {
    match place {
        LeakPlace::Hole(hole) => instrument.holes.get(hole).is_some_and(|hole| hole.pad.is_none()),
        LeakPlace::Site(_) => true,
    }
}

fn caution(cut: &Cut) -> Option<&'static str> {
    match cut.kind {
        CutKind::Enlarge | CutKind::ShortenChimney | CutKind::TrimEnd => Some(cautions::CUTTING),
        CutKind::Shrink => Some(cautions::FILLING),
        CutKind::RaisePad | CutKind::Move => None,
    }
}

/// `E2 -7 to -2 cents`, the note that the cut is made for; `None` where that was not measured.
pub(super) fn own_note(instrument: &Instrument, cut: &Cut) -> Option<String> {
    let effect = cut.effects.iter().find(|effect| effect.fingering == cut.fingering)?;
    let name = &instrument.fingerings[effect.fingering].name;
    // Rounded first, and no minus before nought.
    let whole = |cents: f64| cents.round() + 0.0;
    Some(format!("{name} {:+} to {:+} cents", whole(effect.before_cents), whole(effect.after_cents)))
}

/// The findings that are told, at most `most`; the leading one is told however light it is.
pub(super) fn told(check: &Check, most: usize) -> Vec<&Finding> {
    let heavy = |(i, finding): &(usize, &Finding)| *i == 0 || finding.weight >= LEAST_SHOWN;
    check.findings.iter().enumerate().filter(heavy).map(|(_, finding)| finding).take(most).collect()
}

/// Whether a finding calls the instrument healthy with hardly any weight: beside a fault that is no news.
pub(super) fn is_hardly_healthy(finding: &Finding) -> bool {
    finding.suspect.kind == Kind::Healthy && finding.weight < LEAST_SHOWN
}

/// `leak p3`, or the kind alone where it has no place.
pub(super) fn suspect_words(suspect: &Suspect) -> String {
    let place = suspect.place.as_deref().map_or_else(String::new, |place| format!(" {place}"));
    format!("{}{place}", suspect.kind.as_str())
}

/// A weight in whole percent; nothing is ever certain. What was seen has none.
pub(super) fn percent(finding: &Finding) -> String {
    format!("{:.0}", (100.0 * finding.weight).round().clamp(0.0, 99.0))
}

/// What can't be told apart from a finding.
pub(super) fn others(finding: &Finding) -> Vec<String> {
    // Of a hole its own pad goes without saying.
    let own_pad = |suspect: &&Suspect| suspect.kind != Kind::Pad || suspect.place != finding.suspect.place;
    finding.group.iter().filter(own_pad).map(suspect_words).collect()
}

/// Troubles of the takes, each once, with the fingerings that have it.
pub(super) fn troubles<'a>(instrument: &'a Instrument, check: &'a Check) -> Vec<(&'a str, Vec<&'a str>)> {
    let mut troubles: Vec<(&str, Vec<&str>)> = Vec::new();
    for note in &check.notes {
        for trouble in &note.troubles {
            let name = instrument.fingerings[note.fingering].name.as_str();
            match troubles.iter_mut().find(|(text, _)| *text == trouble.text) {
                Some((_, names)) => names.push(name),
                None => troubles.push((&trouble.text, vec![name])),
            }
        }
    }
    troubles
}

/// What else there is to say of takes and geometry.
pub(super) fn sentences(check: &Check) -> Vec<&str> {
    // Where an undertone or the vent is a finding, the geometry's word on vents was said better.
    let told = |kind: Kind| check.findings.iter().any(|f| f.suspect.kind == kind && f.weight >= LEAST_SHOWN);
    let vent_told = told(Kind::Undertone) || told(Kind::Vent);
    let warnings = check.warnings.iter().filter(|warning| !(vent_told && warning.code.starts_with("vent-")));
    check.remarks.iter().chain(warnings.map(|warning| &warning.text)).map(String::as_str).collect()
}
