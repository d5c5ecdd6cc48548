//! Undertones: which takes carry one, what mechanism it speaks for, and what to do first.
//!
//! Must not know samples or how undertones are measured.

use crate::analysis::measurement::{Undertone, UndertoneKind};
use crate::diagnosis::beliefs::findings::{FAINTEST_DB, LOWER_CENTS, NEARLY_CENTS};
use crate::diagnosis::beliefs::{UNDERTONE_IS_FAULT, UNDERTONES_ARE_FAULTS};
use crate::diagnosis::findings::ranking::{Finding, Kind, Suspect};
use crate::diagnosis::findings::seen::Seen;
use crate::diagnosis::takes::evidence::{Evidence, FiledTake, Standing};
use crate::instrument::model::Instrument;
use crate::instrument::prediction::PredictedNote;
use crate::instrument::vent::vented_notes;
use crate::units::cents_between;

/// Most sentences of evidence.
const MOST_EVIDENCE: usize = 4;

/// What makes a line under the note.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Mechanism {
    /// The reed beats every second time.
    EverySecond,
    /// With the vent open, the register below sounds along.
    LowerRegister,
    /// Another resonance of the tube sounds along.
    OtherResonance,
}

/// How it shows in one take.
#[derive(Debug, Clone, Copy)]
enum Sign<'a> {
    /// A line under the held note.
    Line(&'a Undertone),
    /// A line only while the note builds up. Many sound instruments have it; it counts beside a note that fell.
    BuildsUp(&'a Undertone),
    /// The lower resonance sounded instead of the note.
    Fell,
}

/// Everything that speaks for one mechanism, with the fingering of each sign.
struct Family<'a> {
    mechanism: Mechanism,
    signs: Vec<(usize, Sign<'a>)>,
}

/// The takes of one evening and what the file says of their notes.
pub struct Undertones<'a> {
    /// The maker's file.
    pub instrument: &'a Instrument,
    /// Its notes.
    pub predicted: &'a [PredictedNote],
    /// What each take is worth.
    pub evidence: &'a Evidence,
    /// The takes.
    pub takes: &'a [FiledTake],
}

impl Undertones<'_> {
    /// One finding for each mechanism that is heard. `any_leak` is how likely it is that something leaks: a leak can
    /// let another resonance sound along, so for those only the rest speaks for a fault of its own. It does not make
    /// a reed beat every second time.
    #[must_use]
    pub fn findings(&self, any_leak: f64) -> Vec<Seen> {
        let mut families: Vec<Family<'_>> = Vec::new();
        for (fingering, mechanism, sign) in self.signs() {
            match families.iter_mut().find(|family| family.mechanism == mechanism) {
                Some(family) => family.signs.push((fingering, sign)),
                None => families.push(Family { mechanism, signs: vec![(fingering, sign)] }),
            }
        }
        let told = families.iter().filter(|family| family.is_told());
        told.map(|family| {
            let by_a_leak = if family.is_of_the_reed() { 0.0 } else { any_leak };
            // Two notes with the same kind speak louder than one.
            let faults =
                if family.with_lines().len() > 1 { UNDERTONES_ARE_FAULTS } else { UNDERTONE_IS_FAULT };
            Seen {
                finding: family.finding(self.instrument),
                comes_before: (1.0 - by_a_leak) * faults,
                is_of_tone: true,
            }
        })
        .collect()
    }

    fn signs(&self) -> Vec<(usize, Mechanism, Sign<'_>)> {
        let vented = vented_notes(self.instrument, self.predicted);
        let mut signs = Vec::new();
        for note in &self.evidence.notes {
            let fingering = note.fingering;
            // The file itself lets the lower register stay.
            let lower_may_stay = vented.iter().any(|vented| {
                vented.fingering == fingering && (vented.lower_stays() || vented.lower_is_strong())
            });
            for &(take, standing) in &note.takes {
                let measurement = &self.takes[take].measurement;
                let note_hz = measurement.pitch_hz.unwrap_or(f64::INFINITY);
                match standing {
                    Standing::Used | Standing::Unsettled => {
                        signs.extend(measurement.undertones.iter().filter_map(|undertone| {
                            let mechanism = self.mechanism(fingering, undertone, note_hz)?;
                            Some((fingering, mechanism, Sign::Line(undertone)))
                        }));
                        let lower = measurement.building_up.iter().find(|u| self.is_lower(fingering, u));
                        signs.extend(lower.map(|u| (fingering, Mechanism::LowerRegister, Sign::BuildsUp(u))));
                    }
                    Standing::OtherRegister(1) if lower_may_stay => {
                        signs.push((fingering, Mechanism::LowerRegister, Sign::Fell));
                    }
                    _ => {}
                }
            }
        }
        signs
    }

    /// What makes an undertone: `None` when it is faint, when its place is not sure, or when it stands alone above the
    /// note: that may be a weakly damped mode. A free line whose mixtures with the note are heard is driven by the
    /// reed as well.
    fn mechanism(&self, fingering: usize, undertone: &Undertone, note_hz: f64) -> Option<Mechanism> {
        if undertone.db < FAINTEST_DB {
            return None;
        }
        if undertone.kind == UndertoneKind::Free
            && undertone.hz < note_hz
            && self.is_lower(fingering, undertone)
        {
            return Some(Mechanism::LowerRegister);
        }
        let under = match (undertone.kind, undertone.family, undertone.mixed_with_hz) {
            (UndertoneKind::Locked, Some((_, under)), _) => under,
            (UndertoneKind::Free, _, Some(root_hz)) => nearly_a_fraction(root_hz / note_hz)?,
            _ => return None,
        };
        Some(match (under, self.opens_vent(fingering)) {
            (3, true) => Mechanism::LowerRegister,
            (3, false) => Mechanism::OtherResonance,
            _ => Mechanism::EverySecond,
        })
    }

    /// Whether a line lies where the resonance below a vented note does.
    fn is_lower(&self, fingering: usize, undertone: &Undertone) -> bool {
        let below = self.instrument.fingerings[fingering].register.checked_sub(2);
        let lower = below.and_then(|index| self.predicted[fingering].resonances.get(index));
        self.opens_vent(fingering)
            && lower.is_some_and(|lower| cents_between(undertone.hz, lower.hz).abs() < LOWER_CENTS)
    }

    fn opens_vent(&self, fingering: usize) -> bool {
        self.instrument.fingerings[fingering].open.iter().any(|&hole| self.instrument.holes[hole].vent)
    }
}

/// The denominator, 2 or 3, of the fraction that a line `order` times as high as the note is nearly at, with what it
/// makes with the note: lines at 0.51, 0.49 and 1.51 are one family.
fn nearly_a_fraction(order: f64) -> Option<u32> {
    let distance = (order - order.round()).abs();
    [2, 3].into_iter().find(|under| {
        let fraction = f64::from(*under).recip();
        [distance, 1.0 - distance]
            .into_iter()
            .any(|place| cents_between(place, fraction).abs() < NEARLY_CENTS)
    })
}

impl Sign<'_> {
    fn line(&self) -> Option<&Undertone> {
        match self {
            Sign::Line(undertone) => Some(undertone),
            Sign::BuildsUp(_) | Sign::Fell => None,
        }
    }
}

impl Family<'_> {
    /// Lines speak for themselves; one fallen note may be the player's slip, and a lower tone at the beginning is no
    /// fault, but together, or twice fallen, they are one.
    fn is_told(&self) -> bool {
        let fell = self.signs.iter().any(|(_, sign)| matches!(sign, Sign::Fell));
        self.lines().next().is_some() || fell && self.fingerings().len() > 1
    }

    fn lines(&self) -> impl Iterator<Item = (usize, &Undertone)> {
        self.signs.iter().filter_map(|(fingering, sign)| Some((*fingering, sign.line()?)))
    }

    /// Whether the reed beats every second time: exact halves.
    fn is_of_the_reed(&self) -> bool {
        self.mechanism == Mechanism::EverySecond
            && self.lines().any(|(_, undertone)| undertone.kind == UndertoneKind::Locked)
    }

    /// Each fingering once, in the order of its first sign.
    fn fingerings(&self) -> Vec<usize> {
        let mut fingerings = Vec::new();
        for (fingering, _) in &self.signs {
            if !fingerings.contains(fingering) {
                fingerings.push(*fingering);
            }
        }
        fingerings
    }

    /// The fingerings with a line under the held note.
    fn with_lines(&self) -> Vec<usize> {
        let has_line = |fingering: &usize| self.lines().any(|(other, _)| other == *fingering);
        self.fingerings().into_iter().filter(has_line).collect()
    }

    fn finding(&self, instrument: &Instrument) -> Finding {
        let strongest = self.lines().max_by(|a, b| a.1.db.total_cmp(&b.1.db));
        let vent = instrument.holes.iter().find(|hole| hole.vent).map(|hole| hole.name.clone());
        let vent = Suspect { kind: Kind::Vent, place: vent };
        let suspect = match strongest {
            Some((fingering, _)) => {
                Suspect { kind: Kind::Undertone, place: Some(instrument.fingerings[fingering].name.clone()) }
            }
            None => vent.clone(),
        };
        let group = match self.mechanism {
            Mechanism::LowerRegister => vec![vent],
            Mechanism::EverySecond => vec![Suspect { kind: Kind::Mouthpiece, place: None }],
            Mechanism::OtherResonance => Vec::new(),
        };
        let group = group.into_iter().filter(|other| *other != suspect).collect();
        let text = self.text(instrument, strongest.map(|(_, undertone)| undertone.db));
        let seen = Finding::seen(suspect, group, text, Some(self.test().to_string()));
        Finding { evidence: self.evidence(instrument), ..seen }
    }

    fn text(&self, instrument: &Instrument, strongest_db: Option<f64>) -> String {
        let names = |fingerings: &[usize]| -> String {
            let names = fingerings.iter().map(|&fingering| instrument.fingerings[fingering].name.as_str());
            names.collect::<Vec<_>>().join(", ")
        };
        let Some(db) = strongest_db else {
            return format!(
                "The register below holds on under {}: the vent does not part the two well, by its measures in the \
                 file as well.",
                names(&self.fingerings())
            );
        };
        let list = names(&self.with_lines());
        let below = -db;
        match self.mechanism {
            Mechanism::LowerRegister if self.at_a_third() => format!(
                "Undertone at a third of {list}, {below:.0} dB below the note: the first register still sounds under \
                 the second. The vent is too small or its tube too long for this bore, or the bore too wide for the \
                 mouthpiece."
            ),
            Mechanism::LowerRegister => format!(
                "Undertone under {list}, {below:.0} dB below the note: the first register still sounds under the \
                 second, though the vent has moved it. Size or place of the vent does not suit this bore."
            ),
            Mechanism::OtherResonance => format!(
                "Undertone at a third of {list}, {below:.0} dB below the note: another resonance of the tube sounds \
                 along."
            ),
            Mechanism::EverySecond => format!(
                "Undertone an octave below {list}, {below:.0} dB below the note: the reed beats every second time. \
                 This comes from reed, facing or blowing, not from holes."
            ),
        }
    }

    /// What to do first; the lower resonance stays at a third while a vent is too small for it.
    fn test(&self) -> &'static str {
        match self.mechanism {
            Mechanism::LowerRegister if self.at_a_third() => {
                "First make sure that the vent is clean and dry. Then try the next larger vent tube, one that you \
                 can take out again."
            }
            Mechanism::LowerRegister => {
                "First make sure that the vent is clean and dry, and that its pad opens. Then try other sizes, and a \
                 place nearer a third of the sounding length, on the computer."
            }
            Mechanism::OtherResonance => {
                "Check that the first open hole opens fully and that nothing leaks above it."
            }
            Mechanism::EverySecond => {
                "Play softer; if it goes, try a harder reed or a closer facing. Cut nothing for it."
            }
        }
    }

    fn at_a_third(&self) -> bool {
        self.lines().any(|(_, undertone)| {
            undertone.ratio.is_some_and(|(_, under)| under == 3) || undertone.family == Some((1, 3))
        })
    }

    /// The strongest line of each fingering, in the order they were heard, and what else shows it.
    fn evidence(&self, instrument: &Instrument) -> Vec<String> {
        let name = |fingering: usize| &instrument.fingerings[fingering].name;
        let mut said: Vec<String> = Vec::new();
        for fingering in self.with_lines() {
            let lines = self.lines().filter(|(other, _)| *other == fingering);
            if let Some((_, line)) = lines.max_by(|a, b| a.1.db.total_cmp(&b.1.db)) {
                let below = -line.db;
                said.push(format!(
                    "{}: {:.1} Hz, {below:.0} dB below the strongest partial.",
                    name(fingering),
                    line.hz
                ));
            }
        }
        let fell = self.signs.iter().filter(|(_, sign)| matches!(sign, Sign::Fell));
        said.extend(fell.map(|(fingering, _)| format!("{} fell to its lower resonance.", name(*fingering))));
        said.extend(self.signs.iter().filter_map(|(fingering, sign)| {
            let Sign::BuildsUp(line) = sign else { return None };
            Some(format!(
                "{} is slow to speak, and {:.1} Hz sounds along until it does.",
                name(*fingering),
                line.hz
            ))
        }));
        said.dedup();
        said.truncate(MOST_EVIDENCE);
        said
    }
}
