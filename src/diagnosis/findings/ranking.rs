//! Findings: what is not as the file says, ranked, with what cannot be told apart and the test that
//! would split it.
//!
//! Must not know cuts, files or the terminal.

use crate::diagnosis::beliefs::findings::{
    ALIKE_BELOW, LEAST_SHARE_IN_GROUP, LEAST_WEIGHT, LIKELIER_THAN_NOT,
};
use crate::diagnosis::causes::bore_places::bore_places;
use crate::diagnosis::causes::catalogue::Cause;
use crate::diagnosis::causes::effect::{Candidate, Shift};
use crate::diagnosis::expectation::blowing::Blowing;
use crate::diagnosis::expectation::gaussian::Gaussian;
use crate::diagnosis::expectation::noise::Noise;
use crate::diagnosis::weigh::lists::mean;
use crate::diagnosis::weigh::posterior::Posterior;
use crate::diagnosis::words;
use crate::instrument::change::place_name;
use crate::instrument::model::Instrument;

/// At most this many causes of pitch are told.
const MOST_FINDINGS: usize = 6;
/// Other places told in a group.
const MOST_IN_GROUP: usize = 3;

/// Kind of cause.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)] // each is its own word
pub enum Kind {
    Healthy,
    Hole,
    Leak,
    Pad,
    Air,
    Length,
    Mouthpiece,
    Bore,
    Vent,
    Undertone,
    Player,
    Recording,
}

impl Kind {
    /// The word in JSON and text.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Kind::Healthy => "healthy",
            Kind::Hole => "hole",
            Kind::Leak => "leak",
            Kind::Pad => "pad",
            Kind::Air => "air",
            Kind::Length => "length",
            Kind::Mouthpiece => "mouthpiece",
            Kind::Bore => "bore",
            Kind::Vent => "vent",
            Kind::Undertone => "undertone",
            Kind::Player => "player",
            Kind::Recording => "recording",
        }
    }
}

/// A kind of cause at a place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Suspect {
    /// What.
    pub kind: Kind,
    /// Hole, leak site or fingering by its name in the file.
    pub place: Option<String>,
}

/// How large a cause is; only what applies is given.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Amount {
    /// `too small` or `too big`, for holes and vents.
    pub acts: Option<&'static str>,
    /// Size in mm (acting diameter, length), positive.
    pub mm: Option<f64>,
    /// What it does to its own note, cents.
    pub cents: Option<f64>,
    /// `shut` for a pad that stays shut.
    pub stuck: Option<&'static str>,
    /// Diameter of the round hole that would leak as much, mm.
    pub equivalent_mm: Option<f64>,
    /// Air warmer than the file says, °C.
    pub warmer_c: Option<f64>,
}

/// What a finding rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    /// Its probability was weighed against that of other causes.
    Weighed,
    /// It was seen in the takes: an undertone, a wrong fingering, a lost take. It has no probability.
    Seen,
}

impl Basis {
    /// The word in JSON.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Basis::Weighed => "weighed",
            Basis::Seen => "seen",
        }
    }
}

/// One cause with its weight.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// What and where.
    pub suspect: Suspect,
    /// What cannot be told apart from it, likeliest first.
    pub group: Vec<Suspect>,
    /// Probability that this cause is at work at this place, 0 to 1; 1 for what was seen.
    pub weight: f64,
    /// The same for this place and what looks the same and is of its own kind.
    pub group_weight: f64,
    /// Whether it was weighed against other causes, or simply seen in the takes.
    pub basis: Basis,
    /// How large.
    pub amount: Amount,
    /// In the maker's words.
    pub text: String,
    /// What speaks for it, a sentence each.
    pub evidence: Vec<String>,
    /// What would split the group or confirm it.
    pub test: Option<String>,
    /// The cause as it was computed, for causes of pitch.
    pub cause: Option<Cause>,
    /// What the cause would do to every compared note, beside what was measured; empty for what is no
    /// cause of pitch.
    pub pattern: Vec<Mark>,
}

/// One note under one cause.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// Index into [`Instrument::fingerings`].
    pub fingering: usize,
    /// Measured above predicted, cents.
    pub measured_cents: f64,
    /// What the cause at its likeliest size and the mean offset of all notes besides would make it, cents.
    pub expected_cents: f64,
}

/// Everything that ranking causes of pitch needs.
pub struct Weighed<'a> {
    /// The maker's file.
    pub instrument: &'a Instrument,
    /// The compared notes.
    pub noise: &'a Noise,
    /// Their distribution when nothing is wrong.
    pub gaussian: &'a Gaussian,
    /// What was tried.
    pub candidates: &'a [Candidate],
    /// How it fared.
    pub posterior: &'a Posterior,
}

impl Weighed<'_> {
    /// The shifts of a candidate at its most likely size, cents.
    fn typical_shift(&self, candidate: usize) -> &[f64] {
        self.typical(candidate).cents(self.blowing())
    }

    /// A candidate at its most likely size.
    pub(in crate::diagnosis) fn typical(&self, candidate: usize) -> &Shift {
        let amount = self.posterior.amounts[candidate];
        let shifts = &self.candidates[candidate].shifts;
        // Of a leak's gains at one size, the middle one.
        let far =
            |shift: &Shift| (shift.amount - amount).abs() + if shift.is_as_computed() { 0.0 } else { 1e-6 };
        let nearest = (0..shifts.len()).min_by(|&a, &b| far(&shifts[a]).total_cmp(&far(&shifts[b])));
        &shifts[nearest.unwrap_or(0)]
    }

    /// How the notes were blown, more likely than not.
    pub(in crate::diagnosis) fn blowing(&self) -> Blowing {
        if self.posterior.usual >= 0.5 { Blowing::Usual } else { Blowing::Soft }
    }

    /// The size at which `b` leaves a mark most like that of `a`.
    pub(in crate::diagnosis) fn size_most_like(&self, a: usize, b: usize) -> f64 {
        let mark = self.typical_shift(a);
        let shifts = &self.candidates[b].shifts;
        let nearest = shifts.iter().min_by(|x, y| {
            let [x, y] = [x, y].map(|shift| self.distance(mark, shift));
            x.total_cmp(&y)
        });
        nearest.map_or(0.0, |shift| shift.amount)
    }

    /// Squared distance of two marks in units of the noise.
    fn distance(&self, mark: &[f64], shift: &Shift) -> f64 {
        let apart: Vec<f64> = mark.iter().zip(shift.cents(self.blowing())).map(|(x, y)| x - y).collect();
        self.gaussian.whiten(&apart).iter().map(|z| z * z).sum()
    }

    /// Whether the notes could tell `b`, at the size that mimics `a` best, from `a`: the squared distance
    /// of their marks in units of the noise.
    fn alike(&self, a: usize, b: usize) -> bool {
        let mark = self.typical_shift(a);
        self.candidates[b].shifts.iter().any(|shift| self.distance(mark, shift) < ALIKE_BELOW)
    }
}

/// Causes of pitch in falling weight of what looks the same, with `healthy` among them.
#[must_use]
pub fn pitch_findings(weighed: &Weighed<'_>) -> Vec<Finding> {
    let weights = &weighed.posterior.weights;
    let mut order: Vec<usize> = (0..weights.len()).collect();
    order.sort_by(|&a, &b| weights[b].total_cmp(&weights[a]));
    let mut told = vec![false; weights.len()];
    let mut findings = Vec::new();
    for &lead in &order {
        if told[lead] || weights[lead] < LEAST_WEIGHT || findings.len() >= MOST_FINDINGS {
            continue;
        }
        told[lead] = true;
        let group: Vec<usize> = order
            .iter()
            .copied()
            .filter(|&other| {
                !told[other]
                    && weights[other] > LEAST_SHARE_IN_GROUP * weights[lead]
                    && weighed.alike(lead, other)
            })
            .take(MOST_IN_GROUP)
            .collect();
        for &other in &group {
            told[other] = true;
        }
        findings.push(finding(weighed, lead, &group));
    }
    findings.push(healthy(weighed));
    // A leak disturbs everything else: one that is likelier than not comes before what it may disturb.
    let leaks = |finding: &Finding| {
        matches!(finding.cause, Some(Cause::Leak(_))) && finding.group_weight >= LIKELIER_THAN_NOT
    };
    findings.sort_by(|a, b| leaks(b).cmp(&leaks(a)).then(b.group_weight.total_cmp(&a.group_weight)));
    findings
}

/// One cause with the others that can't be told apart from it.
pub(in crate::diagnosis) fn finding(weighed: &Weighed<'_>, lead: usize, group: &[usize]) -> Finding {
    let instrument = weighed.instrument;
    let cause = weighed.candidates[lead].cause;
    let amount_raw = weighed.posterior.amounts[lead];
    let shift = weighed.typical_shift(lead);
    let weights = &weighed.posterior.weights;
    // Of what can't be told apart, only its own kind speaks for it.
    let own_kind = group.iter().filter(|&&other| is_same_kind(cause, weighed.candidates[other].cause));
    let weight = weights[lead].min(1.0 - weighed.posterior.healthy);
    let group_weight = (weights[lead] + own_kind.map(|&other| weights[other]).sum::<f64>())
        .min(1.0 - weighed.posterior.healthy);
    let suspect = suspect(instrument, cause);
    // A hole that acts small may as well be a pad that hangs low, a long top a full mouthpiece.
    let as_well = match cause {
        Cause::Hole(hole) if instrument.holes[hole].pad.is_some() => {
            Some(Suspect { kind: Kind::Pad, place: suspect.place.clone() })
        }
        Cause::Top => Some(Suspect { kind: Kind::Mouthpiece, place: None }),
        _ => None,
    };
    let alike = group.iter().map(|&other| self::suspect(instrument, weighed.candidates[other].cause));
    // What goes by one name for the maker is told once.
    let mut others: Vec<Suspect> = Vec::new();
    for other in as_well.into_iter().chain(alike) {
        if other != suspect && !others.contains(&other) {
            others.push(other);
        }
    }
    let amount = amount(cause, amount_raw, shift);
    Finding {
        text: words::cause_text(instrument, cause, &amount),
        evidence: words::evidence(instrument, weighed.noise, shift),
        test: words::test(instrument, cause, &amount, &others),
        suspect,
        group: others,
        weight,
        group_weight,
        basis: Basis::Weighed,
        amount,
        cause: Some(cause),
        pattern: pattern(weighed.noise, shift),
    }
}

/// Whether two causes are one kind for the maker: all of the whole instrument, all leaks, all of the bore,
/// all of one hole, all of the vent.
fn is_same_kind(a: Cause, b: Cause) -> bool {
    match (a, b) {
        (Cause::Air | Cause::Top | Cause::End, Cause::Air | Cause::Top | Cause::End)
        | (Cause::Leak(_), Cause::Leak(_))
        | (Cause::Taper | Cause::BorePlace(_), Cause::Taper | Cause::BorePlace(_)) => true,
        (Cause::Hole(a) | Cause::StuckShut(a), Cause::Hole(b) | Cause::StuckShut(b))
        | (Cause::VentSize(a) | Cause::VentPlace(a), Cause::VentSize(b) | Cause::VentPlace(b)) => a == b,
        _ => false,
    }
}

/// The offset that all notes share besides is free, as it is where causes are weighed.
fn pattern(noise: &Noise, shift: &[f64]) -> Vec<Mark> {
    let rest: Vec<f64> =
        noise.offsets_cents.iter().zip(shift).map(|(offset, shift)| offset - shift).collect();
    let shared = mean(&rest);
    let measured = noise.fingerings.iter().zip(&noise.offsets_cents).take(noise.ordinary());
    measured
        .zip(shift)
        .map(|((&fingering, &measured_cents), shift)| Mark {
            fingering,
            measured_cents,
            expected_cents: shift + shared,
        })
        .collect()
}

/// That nothing is wrong.
pub(in crate::diagnosis) fn healthy(weighed: &Weighed<'_>) -> Finding {
    Finding {
        suspect: Suspect { kind: Kind::Healthy, place: None },
        group: Vec::new(),
        weight: weighed.posterior.healthy,
        group_weight: weighed.posterior.healthy,
        basis: Basis::Weighed,
        amount: Amount::default(),
        text: words::healthy_text(weighed.noise),
        evidence: Vec::new(),
        test: None,
        cause: None,
        pattern: Vec::new(),
    }
}

fn amount(cause: Cause, raw: f64, shift: &[f64]) -> Amount {
    let cents = shift.iter().copied().max_by(|a, b| a.abs().total_cmp(&b.abs()));
    let base = Amount { cents, ..Amount::default() };
    match cause {
        Cause::Hole(_) | Cause::VentSize(_) => Amount {
            acts: Some(if raw < 0.0 { "too small" } else { "too big" }),
            mm: Some(raw.abs()),
            ..base
        },
        Cause::Leak(_) => Amount { equivalent_mm: Some(raw), ..base },
        Cause::StuckShut(_) => Amount { stuck: Some("shut"), ..base },
        Cause::Air => Amount { warmer_c: Some(raw), ..base },
        Cause::Top | Cause::End | Cause::Taper | Cause::BorePlace(_) | Cause::VentPlace(_) => {
            Amount { mm: Some(raw), ..base }
        }
    }
}

/// The kind and place by which the maker knows a cause.
#[must_use]
pub fn suspect(instrument: &Instrument, cause: Cause) -> Suspect {
    let hole = |kind: Kind, index: usize| Suspect {
        kind,
        place: instrument.holes.get(index).map(|hole| hole.name.clone()),
    };
    match cause {
        Cause::Hole(index) => hole(Kind::Hole, index),
        Cause::StuckShut(index) => hole(Kind::Pad, index),
        Cause::VentSize(index) | Cause::VentPlace(index) => hole(Kind::Vent, index),
        Cause::Leak(place) => {
            Suspect { kind: Kind::Leak, place: Some(place_name(instrument, place).to_string()) }
        }
        Cause::Air => Suspect { kind: Kind::Air, place: None },
        Cause::Top | Cause::End => Suspect { kind: Kind::Length, place: None },
        Cause::Taper => Suspect { kind: Kind::Bore, place: None },
        Cause::BorePlace(index) => Suspect {
            kind: Kind::Bore,
            place: bore_places(instrument).get(index).map(|place| place.name(instrument)),
        },
    }
}
