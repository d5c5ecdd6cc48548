//! Where the notes stand beside their targets, and what could be done for them: settings and cuts, sure and doubtful ones.
//!
//! Must not know words, files or the terminal.

use crate::diagnosis::beliefs::decisions::{ALMOST_TWO_TAKES, DOUBTFUL_FROM};
use crate::diagnosis::beliefs::findings::LIKELIER_THAN_NOT;
use crate::diagnosis::beliefs::{KNOWN_OFF_CENTS, NO_CUT_FROM_LEAK, PERHAPS_OFF, SURELY_OFF, WARM_C};
use crate::diagnosis::causes::catalogue::Cause;
use crate::diagnosis::expectation::noise::Noise;
use crate::diagnosis::findings::ranking::{Basis, Finding, Kind};
use crate::diagnosis::takes::condition::Bench;
use crate::diagnosis::takes::evidence::Evidence;
use crate::diagnosis::weigh::explain::Explained;
use crate::diagnosis::weigh::own::OwnOffset;
use crate::diagnosis::work::adjust::{Adjustment, adjustment};
use crate::diagnosis::work::aim::{Aim, Standing};
use crate::diagnosis::work::cuts::{Cut, CutKind, plan_cuts};
use crate::instrument::model::{InsideAir, Instrument};
use crate::instrument::prediction::{PredictedNote, predict};

/// What the measured air inside makes of all notes, beside a warm instrument's, cents (the speed of sound grows with the
/// root of the absolute temperature); 0 while nobody measured it.
pub(in crate::diagnosis) fn air_cents(instrument: &Instrument) -> f64 {
    const ZERO_C_IN_K: f64 = 273.15;
    if !instrument.air_is_measured {
        return 0.0;
    }
    600.0 * ((instrument.air.temperature_c + ZERO_C_IN_K) / (WARM_C + ZERO_C_IN_K)).log2()
}

/// The instrument in the air that it is to be in tune in: a hole that is cut for a cold room is a ruined hole.
pub(in crate::diagnosis) struct Tuned {
    /// In that air.
    pub(in crate::diagnosis) instrument: Instrument,
    /// What it should sound then.
    pub(in crate::diagnosis) predicted: Vec<PredictedNote>,
}

impl Tuned {
    pub(in crate::diagnosis) fn new(bench: &Bench<'_>) -> Tuned {
        let played_c = bench.instrument.air.temperature_c;
        match bench.instrument.in_tune_at_c.filter(|&tuned_c| tuned_c != played_c) {
            Some(temperature_c) => {
                let air = InsideAir { temperature_c, ..bench.instrument.air };
                let instrument = Instrument { air, ..bench.instrument.clone() };
                let predicted = predict(&instrument);
                Tuned { instrument, predicted }
            }
            None => Tuned { instrument: bench.instrument.clone(), predicted: bench.predicted.to_vec() },
        }
    }
}

/// Where the notes stand, and what could be done for them.
pub(in crate::diagnosis) struct Planned<'a> {
    tuned: &'a Tuned,
    /// Where the notes stand.
    pub(in crate::diagnosis) aim: Aim,
    /// Where they would stand were a note that rests on one take where all other notes expect it.
    doubting: Aim,
    /// Where the takes alone put the notes.
    played: Aim,
    /// Holes that may be otherwise than the file says.
    doubtful_holes: Vec<usize>,
    /// What to do for what all notes share.
    pub(in crate::diagnosis) adjustment: Option<Adjustment>,
    /// The cuts that are worth it.
    pub(in crate::diagnosis) cuts: Vec<Cut>,
}

impl<'a> Planned<'a> {
    pub(in crate::diagnosis) fn new(tuned: &'a Tuned, noise: &Noise, explained: &Explained) -> Planned<'a> {
        let compared = &noise.fingerings[..noise.ordinary()];
        let standings = |of: &dyn Fn(&OwnOffset) -> (f64, f64)| -> Vec<Option<Standing>> {
            let standing = |note: &PredictedNote| {
                let index = compared.iter().position(|&f| f == note.fingering)?;
                let (own_cents, sd_cents) = of(explained.own.notes.get(index)?);
                Some(Standing { cents: note.cents()? + own_cents + explained.own.shared_cents, sd_cents })
            };
            tuned.predicted.iter().map(standing).collect()
        };
        let by_geometry: Vec<Option<f64>> = tuned.predicted.iter().map(PredictedNote::cents).collect();
        let aim = Aim::new(&tuned.instrument, standings(&|own| (own.cents, own.sd_cents)), &by_geometry);
        let doubting = aim.with_notes(standings(&|own| {
            if own.takes < ALMOST_TWO_TAKES { own.without_its_take } else { (own.cents, own.sd_cents) }
        }));
        let played =
            aim.with_notes(standings(&|own| (own.played_cents - explained.own.shared_cents, own.sd_cents)));
        let doubtful_holes = doubtful_holes(&tuned.instrument, &explained.findings);
        let mut planned =
            Planned { tuned, aim, doubting, played, doubtful_holes, adjustment: None, cuts: Vec::new() };
        planned.cuts = planned.plan(&planned.aim, SURELY_OFF);
        // What no hole is opened for any more is set at the mouthpiece too.
        let holes_wait = planned.cuts.iter().any(|cut| cut.kind != CutKind::Move);
        let aim = &planned.aim;
        let shared_cents = if holes_wait { aim.not_of_holes_cents } else { aim.shared_cents };
        planned.adjustment = adjustment(&tuned.instrument, &tuned.predicted, aim, shared_cents);
        planned
    }

    fn plan(&self, aim: &Aim, surely: f64) -> Vec<Cut> {
        plan_cuts(&self.tuned.instrument, &self.tuned.predicted, aim, &self.doubtful_holes, surely)
    }

    /// The cuts that would be advised if no note that was played once had been played.
    pub(in crate::diagnosis) fn without_single_takes(&self) -> Vec<Cut> {
        self.plan(&self.doubting, SURELY_OFF)
    }

    /// Notes that were played once and that a cut or fill might be made for if that take were confirmed.
    pub(in crate::diagnosis) fn perhaps(&self, evidence: &Evidence) -> Vec<usize> {
        let plan = self.plan(&self.played, PERHAPS_OFF);
        let cuts = plan.iter().filter(|cut| !matches!(cut.kind, CutKind::RaisePad | CutKind::Move));
        cuts.map(|cut| cut.fingering).filter(|&note| evidence.notes[note].used < 2).collect()
    }
}

fn doubtful_holes(instrument: &Instrument, findings: &[Finding]) -> Vec<usize> {
    let likely = findings.iter().filter(|finding| finding.weight >= DOUBTFUL_FROM);
    let hole = |finding: &Finding| match finding.cause {
        Some(Cause::Hole(hole)) if !instrument.holes[hole].measured_again => Some(hole),
        _ => None,
    };
    likely.filter_map(hole).collect()
}

/// The cuts that may be made as things stand: none while it leaks, but for those that the file's own measures ask for, and
/// the open end waits for the vent.
pub(in crate::diagnosis) fn may_be_cut(
    cuts: &[Cut],
    findings: &[Finding],
    any_leak: f64,
    tuned: &Tuned,
) -> Vec<Cut> {
    let of_vent = |finding: &Finding| {
        let weighed = finding.basis == Basis::Weighed && finding.weight < LIKELIER_THAN_NOT;
        finding.suspect.kind == Kind::Vent && !weighed
    };
    let vent_waits = findings.iter().any(of_vent);
    let lost =
        |finding: &Finding| finding.suspect.kind == Kind::Recording && finding.weight > LIKELIER_THAN_NOT;
    if findings.iter().any(lost) {
        return Vec::new();
    }
    cuts.iter()
        .filter(|cut| may_cut(any_leak) || is_due_anyway(cut, &tuned.instrument, &tuned.predicted))
        .filter(|cut| !(vent_waits && cut.kind == CutKind::TrimEnd))
        .cloned()
        .collect()
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

/// Whether holes may be cut while a leak is this likely.
pub(in crate::diagnosis) fn may_cut(any_leak: f64) -> bool {
    any_leak < NO_CUT_FROM_LEAK
}
