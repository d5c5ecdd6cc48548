//! Undertones: which takes carry one, what mechanism it speaks for, and what to do first.
//!
//! Must not know samples or how undertones are measured.

use crate::analysis::measurement::{Undertone, UndertoneKind};
use crate::diagnosis::evidence::{Evidence, FiledTake, Standing};
use crate::diagnosis::findings::{Amount, Finding, Kind, Suspect};
use crate::instrument::model::Instrument;
use crate::units::cents_between;

/// An undertone fainter than this is not told as a fault, dB below the strongest partial (real wind
/// notes carry none above −40 dB in the recordings we measured).
const FAINTEST_DB: f64 = -40.0;

/// What the undertones of one kind say.
struct Family<'a> {
    ratio: (u32, u32),
    heard: Vec<(usize, &'a Undertone)>,
}

/// One finding for each kind of undertone that is heard. `any_leak` is how likely it is that something leaks: a leak can
/// let another resonance sound along, so for those only the rest speaks for a fault of its own. It does not make a
/// reed beat every second time.
#[must_use]
pub fn undertone_findings(
    instrument: &Instrument,
    evidence: &Evidence,
    takes: &[FiledTake],
    any_leak: f64,
) -> Vec<Finding> {
    let mut families: Vec<Family<'_>> = Vec::new();
    for note in &evidence.notes {
        for &(take, standing) in &note.takes {
            if !matches!(standing, Standing::Used | Standing::Unsettled) {
                continue;
            }
            let measurement = &takes[take].measurement;
            for undertone in &measurement.undertones {
                let note_hz = measurement.pitch_hz.unwrap_or(f64::INFINITY);
                let Some(ratio) = fault_ratio(undertone, note_hz) else { continue };
                match families.iter_mut().find(|family| family.ratio == ratio) {
                    Some(family) => family.heard.push((note.fingering, undertone)),
                    None => families.push(Family { ratio, heard: vec![(note.fingering, undertone)] }),
                }
            }
        }
    }
    families
        .iter()
        .map(|family| {
            let by_a_leak = if family.is_of_the_reed() { 0.0 } else { any_leak };
            family.finding(instrument, 1.0 - by_a_leak)
        })
        .collect()
}

/// A free line counts as nearly a fraction within so much, cents: as far as the player can push a note
/// off the resonance below it (our choice).
const NEARLY_CENTS: f64 = 50.0;

/// The fraction an undertone stands for: 1/2 (also 1/4) or 1/3. `None` when it is faint, when its place
/// is not sure, or when it stands alone above the note: that may be a weakly damped mode. A free line
/// whose mixtures with the note are heard is driven by the reed as well.
fn fault_ratio(undertone: &Undertone, note_hz: f64) -> Option<(u32, u32)> {
    if undertone.db < FAINTEST_DB {
        return None;
    }
    match (undertone.kind, undertone.family, undertone.mixed_with_hz) {
        (UndertoneKind::Locked, Some((_, 3)), _) => Some((1, 3)),
        (UndertoneKind::Locked, Some(_), _) => Some((1, 2)),
        (UndertoneKind::Free, _, Some(root_hz)) => nearly_a_fraction(root_hz / note_hz),
        _ => None,
    }
}

/// The fraction, if any, that a line `order` times as high as the note is nearly at, with what it makes with the note:
/// lines at 0.51, 0.49 and 1.51 are one family.
fn nearly_a_fraction(order: f64) -> Option<(u32, u32)> {
    let distance = (order - order.round()).abs();
    [2, 3]
        .into_iter()
        .find(|under| {
            let fraction = f64::from(*under).recip();
            [distance, 1.0 - distance]
                .into_iter()
                .any(|place| cents_between(place, fraction).abs() < NEARLY_CENTS)
        })
        .map(|under| (1, under))
}

impl Family<'_> {
    /// Whether the reed beats every second time: exact halves.
    fn is_of_the_reed(&self) -> bool {
        self.ratio == (1, 2)
            && self.heard.iter().any(|(_, undertone)| undertone.kind == UndertoneKind::Locked)
    }

    /// The strongest line of each fingering, in the order they were heard.
    fn strongest_of_each(&self) -> Vec<(usize, &Undertone)> {
        let mut strongest: Vec<(usize, &Undertone)> = Vec::new();
        for &(fingering, undertone) in &self.heard {
            match strongest.iter_mut().find(|(known, _)| *known == fingering) {
                Some((_, known)) if known.db < undertone.db => *known = undertone,
                Some(_) => {}
                None => strongest.push((fingering, undertone)),
            }
        }
        strongest
    }

    fn finding(&self, instrument: &Instrument, own_fault: f64) -> Finding {
        let mut names: Vec<&str> = Vec::new();
        for (fingering, _) in &self.heard {
            let name = instrument.fingerings[*fingering].name.as_str();
            if !names.contains(&name) {
                names.push(name);
            }
        }
        let strongest = self.heard.iter().max_by(|a, b| a.1.db.total_cmp(&b.1.db));
        let place = strongest.map(|(fingering, _)| instrument.fingerings[*fingering].name.clone());
        let strongest_db = strongest.map_or(0.0, |(_, undertone)| undertone.db);
        let vents_open = self.heard.iter().all(|(fingering, _)| {
            instrument.fingerings[*fingering].open.iter().any(|&hole| instrument.holes[hole].vent)
        });
        let vent = instrument.holes.iter().find(|hole| hole.vent).map(|hole| hole.name.clone());
        let list = names.join(", ");
        let (text, test, group) = match (self.ratio, vents_open) {
            ((1, 3), true) => (
                format!(
                    "Undertone at a third of {list}, {:.0} dB below the note: the first register still sounds under \
                     the second. The vent is too small or its tube too long for this bore, or the bore too wide for \
                     the mouthpiece.",
                    -strongest_db
                ),
                "First make sure that the vent is clean and dry. Then try the next larger vent tube, one that you \
                 can take out again.",
                vent.map(|name| Suspect { kind: Kind::Vent, place: Some(name) }),
            ),
            ((1, 3), false) => (
                format!(
                    "Undertone at a third of {list}, {:.0} dB below the note: another resonance of the tube sounds \
                     along.",
                    -strongest_db
                ),
                "Check that the first open hole opens fully and that nothing leaks above it.",
                None,
            ),
            _ => (
                format!(
                    "Undertone an octave below {list}, {:.0} dB below the note: the reed beats every second time. \
                     This comes from reed, facing or blowing, not from holes.",
                    -strongest_db
                ),
                "Play softer; if it goes, try a harder reed or a closer facing. Cut nothing for it.",
                Some(Suspect { kind: Kind::Mouthpiece, place: None }),
            ),
        };
        // Two notes with the same kind speak louder than one.
        let weight = own_fault * if names.len() > 1 { 0.95 } else { 0.8 };
        Finding {
            suspect: Suspect { kind: Kind::Undertone, place },
            group: group.into_iter().collect(),
            weight,
            amount: Amount::default(),
            text,
            evidence: self
                .strongest_of_each()
                .iter()
                .take(4)
                .map(|(fingering, undertone)| {
                    format!(
                        "{}: {:.1} Hz, {:.0} dB below the strongest partial.",
                        instrument.fingerings[*fingering].name, undertone.hz, -undertone.db
                    )
                })
                .collect(),
            test: Some(test.to_string()),
            cause: None,
            pattern: Vec::new(),
        }
    }
}
