//! The one thing to do now: find out what is worth finding out, seal before anything else, set what can be undone, cut
//! what is worth a cut, and else stop.
//!
//! An ordered list of rules; the first that applies decides. Must not know words, files or the terminal.

use crate::diagnosis::beliefs::decisions::{APART_CENTS, ENOUGH_FAILURES, LOOK_FROM, MOST_CUTS};
use crate::diagnosis::beliefs::{AIR_PASSES_FROM_CENTS, BORE_LEADS_FROM, MEASURE_AIR_FROM, TAKES_FOR_A_CUT};
use crate::diagnosis::causes::catalogue::Cause;
use crate::diagnosis::decide::action::{Do, Left, Next, Reason};
use crate::diagnosis::decide::asked::to_measure;
use crate::diagnosis::decide::bench_tests::{BenchTest, Measured, Why, measure, measure_air};
use crate::diagnosis::decide::planned::{Planned, may_cut};
use crate::diagnosis::decide::prospect::Play;
use crate::diagnosis::decide::remedy::Remedy;
use crate::diagnosis::findings::ranking::{Basis, Finding, Kind, Suspect};
use crate::diagnosis::takes::evidence::{Evidence, Standing};
use crate::diagnosis::work::adjust::Adjustment;
use crate::diagnosis::work::cuts::{Cut, CutKind};
use crate::diagnosis::work::plain_tube::TopLength;
use crate::instrument::change::{leak_stopped, place_name};
use crate::instrument::column::LeakPlace;
use crate::instrument::drilling::{has_tone_holes, next_to_drill};
use crate::instrument::model::Instrument;
use crate::instrument::sanity::Question;

/// At most this many notes are asked for again.
const MOST_RETAKES: usize = 3;

/// Everything that decides.
pub struct Facts<'a> {
    /// The maker's file.
    pub instrument: &'a Instrument,
    /// What the takes say.
    pub evidence: &'a Evidence,
    /// What was found, in order.
    pub findings: &'a [Finding],
    /// The cheapest remedy as things stand; `None` without comparable notes.
    pub remedy: Option<Remedy>,
    /// Tests that are worth their time, best first.
    pub tests: Vec<BenchTest>,
    /// The test for a leak that is made before anything is set or cut while a leak is likely.
    pub test_before_work: Option<BenchTest>,
    /// That anything leaks.
    pub any_leak: f64,
    /// Where the notes stand, and what could be done for them.
    pub(in crate::diagnosis) planned: &'a Planned<'a>,
    /// What the measured air makes of all notes, beside a warm instrument's, cents.
    pub air_cents: f64,
    /// What a plain tube tells of mouthpiece and reed.
    pub top: Option<TopLength>,
    /// Cuts that better the aim by more than they risk.
    pub cuts: &'a [Cut],
    /// The first question about the file that is open.
    pub question: Option<&'a Question>,
}

impl Facts<'_> {
    /// Chooses.
    #[must_use]
    pub fn decide(mut self) -> Next {
        if let Some(next) = self.question_first() {
            return next;
        }
        if let Some(next) = self.nothing_usable() {
            return next;
        }
        if self.bore_leads() {
            self.tests.insert(0, BenchTest::Measure { what: vec!["bore".to_string()], of: Measured::Bore });
            return self.next(Reason::Test);
        }
        if let Some(test @ BenchTest::Play { why: Why::ShowsLeak(_), .. }) = self.tests.first() {
            let place = self.likeliest(test);
            return self.press(place);
        }
        if let Some(Remedy::Seal(place)) = self.remedy {
            return self.seal(place);
        }
        if let Some(hole) = self.stuck_pad() {
            return self.lift(hole);
        }
        let not_spoken = self.not_spoken();
        if !not_spoken.is_empty() {
            let play = Play { closed: Vec::new(), fingerings: not_spoken.clone(), takes: 2 };
            self.tests.insert(0, BenchTest::Play { play, why: Why::DidNotSpeak });
            return Next { action: Do::ReRecord, ..self.next(Reason::PlayAgain(not_spoken)) };
        }
        if let Some(test) = self.tests.first() {
            let repeats = matches!(test, BenchTest::Play { .. });
            let action = if repeats { Do::ReRecord } else { Do::Nothing };
            return Next { action, ..self.next(Reason::Test) };
        }
        if !has_tone_holes(self.instrument) {
            let done = self.top.is_none_or(|top| !top.disagrees());
            return Next { done, ..self.next(Reason::PlainTube(self.top)) };
        }
        if !may_cut(self.any_leak)
            && self.has_work()
            && let Some(test) = self.test_before_work.take()
        {
            let place = self.likeliest(&test);
            self.tests.insert(0, test);
            return self.press(place);
        }
        if next_to_drill(self.instrument).is_some() {
            return Next { done: true, ..self.next(Reason::HolesWait) };
        }
        if let Some(adjustment) = self.planned.adjustment.clone() {
            if self.air_may_be_wrong() {
                self.tests.insert(0, measure_air());
                return self.next(Reason::Test);
            }
            if self.passes_with_the_air(&adjustment) {
                return Next { done: true, ..self.next(Reason::WarmUp(adjustment.shared_cents)) };
            }
            let changes = vec![adjustment.change()];
            let retake = self.lowest_measured();
            let next = self.next(Reason::AllOff(adjustment));
            return Next { action: Do::Adjust, changes, retake, ..next };
        }
        if let Some(hole) = self.pad_may_hang_low() {
            let known = &self.instrument.holes[hole];
            self.tests.insert(0, measure(known, hole));
            return Next { action: Do::Lift, place: Some(known.name.clone()), ..self.next(Reason::Test) };
        }
        let (sure, doubtful) = self.due();
        if !sure.is_empty() {
            return self.cut(&sure);
        }
        if !doubtful.is_empty() {
            let takes = TAKES_FOR_A_CUT - 1;
            let play = Play { closed: Vec::new(), fingerings: doubtful, takes };
            self.tests.insert(0, BenchTest::Play { play, why: Why::BeforeACut });
            return Next { action: Do::ReRecord, ..self.next(Reason::Test) };
        }
        if let Some(test) = self.measure_suspect() {
            self.tests.insert(0, test);
            return self.next(Reason::Test);
        }
        self.stop()
    }

    fn next(&self, reason: Reason) -> Next {
        Next {
            action: Do::Nothing,
            place: None,
            reason,
            changes: Vec::new(),
            tests: self.tests.clone(),
            stand_in: None,
            retake: Vec::new(),
            done: false,
        }
    }

    fn name(&self, fingering: usize) -> String {
        self.instrument.fingerings[fingering].name.clone()
    }

    /// Takes are held against a file whose measures can't be right: nothing that follows from them counts.
    fn question_first(&self) -> Option<Next> {
        let question =
            self.question.filter(|_| self.evidence.notes.iter().any(|note| !note.takes.is_empty()))?;
        let what = to_measure(self.instrument, question);
        let tests = vec![BenchTest::Answer { what, question: question.clone() }];
        Some(Next { tests, ..self.next(Reason::Test) })
    }

    /// Nothing could be compared: play, or play again.
    fn nothing_usable(&self) -> Option<Next> {
        if self.evidence.notes.iter().any(|note| note.measured_hz.is_some()) {
            return None;
        }
        let played = self.evidence.notes.iter().filter(|note| !note.takes.is_empty());
        let lost: Vec<usize> = played.map(|note| note.fingering).collect();
        let retake = lost.iter().map(|&fingering| self.name(fingering)).collect();
        let reason = if lost.is_empty() { Reason::NoTakes } else { Reason::PlayAgain(lost) };
        Some(Next { action: Do::ReRecord, retake, tests: Vec::new(), ..self.next(reason) })
    }

    /// Notes without a usable take that were not tried often enough to call it a fact.
    fn not_spoken(&self) -> Vec<usize> {
        let notes = self.evidence.notes.iter();
        notes
            .filter(|note| {
                let wrong = |standing: &Standing| matches!(standing, Standing::OtherFingering(_));
                let failed = note.measured_hz.is_none() || note.takes.iter().any(|(_, s)| wrong(s));
                failed && !note.takes.is_empty() && note.takes.len() < ENOUGH_FAILURES
            })
            .map(|note| note.fingering)
            .collect()
    }

    /// Whether anything would be set or cut now.
    fn has_work(&self) -> bool {
        self.planned.adjustment.is_some() || !self.cuts.is_empty()
    }

    /// Of the places that a test closes, the one that is named first among the findings.
    fn likeliest(&self, test: &BenchTest) -> Option<LeakPlace> {
        let BenchTest::Play { play, .. } = test else { return None };
        let rank = |place: &LeakPlace| {
            let name = place_name(self.instrument, *place);
            let is_it =
                |suspect: &Suspect| suspect.kind == Kind::Leak && suspect.place.as_deref() == Some(name);
            let all =
                self.findings.iter().flat_map(|finding| [&finding.suspect].into_iter().chain(&finding.group));
            all.take_while(|suspect| !is_it(suspect)).count()
        };
        play.closed.iter().copied().min_by_key(rank)
    }

    fn press(&self, place: Option<LeakPlace>) -> Next {
        let action = if matches!(place, Some(LeakPlace::Site(_))) { Do::Seal } else { Do::Press };
        let place = place.map(|place| place_name(self.instrument, place).to_string());
        Next { action, place, retake: self.lowest_measured(), ..self.next(Reason::Test) }
    }

    fn seal(&self, place: LeakPlace) -> Next {
        let is_it = |finding: &&Finding| finding.cause == Some(Cause::Leak(place));
        let weight = self.findings.iter().find(is_it).map_or(self.any_leak, |finding| finding.weight);
        Next {
            action: Do::Seal,
            changes: vec![leak_stopped(self.instrument, place)],
            place: Some(place_name(self.instrument, place).to_string()),
            retake: self.lowest_measured(),
            tests: Vec::new(),
            ..self.next(Reason::Leaks(place, weight))
        }
    }

    fn stuck_pad(&self) -> Option<usize> {
        self.findings.iter().filter(|finding| finding.weight >= LOOK_FROM).find_map(|finding| {
            match finding.cause {
                Some(Cause::StuckShut(hole)) => Some(hole),
                _ => None,
            }
        })
    }

    fn lift(&self, hole: usize) -> Next {
        let place = Some(self.instrument.holes[hole].name.clone());
        let next = self.next(Reason::StuckPad(hole));
        Next { action: Do::Lift, place, retake: self.lowest_measured(), tests: Vec::new(), ..next }
    }

    /// Whether the likeliest finding is that the bore is otherwise than the file says: nothing is set or cut before it was
    /// measured.
    fn bore_leads(&self) -> bool {
        let of_bore = |finding: &&Finding| matches!(finding.cause, Some(Cause::Taper | Cause::BorePlace(_)));
        let lead = self.findings.iter().find(|finding| finding.basis == Basis::Weighed);
        let least = BORE_LEADS_FROM.max(self.any_leak);
        lead.filter(of_bore).is_some_and(|finding| finding.group_weight >= least)
    }

    /// Whether the air leads although nobody measured it.
    fn air_may_be_wrong(&self) -> bool {
        let air = self.findings.iter().find(|finding| finding.cause == Some(Cause::Air));
        !self.instrument.air_is_measured && air.is_some_and(|finding| finding.weight >= MEASURE_AIR_FROM)
    }

    /// Whether measured air explains what all notes are off, so that warming or waiting cures it.
    fn passes_with_the_air(&self, adjustment: &Adjustment) -> bool {
        let left_cents = adjustment.shared_cents - self.air_cents;
        self.air_cents.abs() >= AIR_PASSES_FROM_CENTS && left_cents.abs() <= self.air_cents.abs()
    }

    /// A hole that is the best thing to see to, or the likeliest fault, but which no cut serves: measured again, it may turn
    /// out that one does.
    fn measure_suspect(&self) -> Option<BenchTest> {
        let lead = self.findings.first().and_then(|finding| finding.cause);
        let index = match (self.remedy, lead) {
            (Some(Remedy::Hole(index)), _) | (_, Some(Cause::Hole(index))) => index,
            _ => return None,
        };
        let hole = self.instrument.holes.get(index).filter(|hole| !hole.measured_again)?;
        Some(measure(hole, index))
    }

    /// A hole that acts smaller than its file says, with a pad over it: most often the pad hangs low (common practice, no
    /// source), and a pad that is raised can be lowered again.
    fn pad_may_hang_low(&self) -> Option<usize> {
        let lead = self.findings.iter().find(|finding| finding.basis == Basis::Weighed)?;
        let Some(Cause::Hole(index)) = lead.cause else { return None };
        let hole = self.instrument.holes.get(index)?;
        let suspect = hole.pad.is_some() && !hole.measured_again && lead.amount.acts == Some("too small");
        suspect.then_some(index)
    }

    /// The cuts that may be made now, in the order of work, and the notes to be played again before any other is: nothing
    /// that can't be undone rests on a single take, nor a fill of a hole that the findings don't name first.
    fn due(&self) -> (Vec<usize>, Vec<usize>) {
        let mut due: Vec<usize> =
            (0..self.cuts.len()).filter(|&index| self.cuts[index].kind != CutKind::Move).collect();
        if due.is_empty() {
            return (due, self.planned.perhaps(self.evidence));
        }
        let without_single_takes = self.planned.without_single_takes();
        let may_be_made = |cut: &Cut| {
            let is_it = |other: &Cut| other.place == cut.place && other.kind == cut.kind;
            let can_be_undone = cut.kind == CutKind::RaisePad || cut.undo && self.leads(cut);
            can_be_undone
                || self.evidence.notes[cut.fingering].used > 1
                || without_single_takes.iter().any(is_it)
        };
        // A hole that is cut moves the notes above it, so none is cut before one below that waits.
        let sure = due.iter().take_while(|&&index| may_be_made(&self.cuts[index])).count();
        let waiting = due.split_off(sure).into_iter().map(|index| &self.cuts[index]);
        (due, waiting.filter(|cut| !may_be_made(cut)).map(|cut| cut.fingering).collect())
    }

    /// Whether the hole of a cut is the likeliest of all weighed findings.
    fn leads(&self, cut: &Cut) -> bool {
        let lead = self.findings.iter().find(|finding| finding.basis == Basis::Weighed);
        lead.is_some_and(|lead| match lead.cause {
            Some(Cause::Hole(hole)) => Some(&self.instrument.holes[hole].name) == cut.place.as_ref(),
            _ => false,
        })
    }

    /// The first of these cuts, with the others whose notes it doesn't move.
    fn cut(&self, due: &[usize]) -> Next {
        let first = due[0];
        let mut together = vec![first];
        for &index in &due[1..] {
            let apart = |&other: &usize| {
                let (cut, other) = (&self.cuts[index], &self.cuts[other]);
                let moved = other.moves(cut.fingering).abs();
                moved < APART_CENTS && (other.kind == CutKind::RaisePad) == (cut.kind == CutKind::RaisePad)
            };
            if together.len() < MOST_CUTS && together.iter().all(apart) {
                together.push(index);
            }
        }
        let cut = &self.cuts[first];
        let action = if cut.kind == CutKind::RaisePad { Do::Lift } else { Do::Cut };
        let moved =
            cut.effects.iter().filter(|effect| (effect.after_cents - effect.before_cents).abs() > 1.0);
        Next {
            action,
            place: cut.place.clone(),
            changes: together.iter().map(|&index| self.cuts[index].change.clone()).collect(),
            stand_in: cut.stand_in.clone(),
            retake: moved.take(MOST_RETAKES).map(|effect| self.name(effect.fingering)).collect(),
            ..self.next(Reason::Cuts(together))
        }
    }

    /// Something that was seen and has to be looked at, which no test here can show; else nothing more is to be done on
    /// this body. What was only weighed is past that: no test, measurement or cut is worth its time any more.
    fn stop(&self) -> Next {
        let is_to_be_seen_to = |finding: &Finding| {
            finding.basis == Basis::Seen
                && !matches!(finding.suspect.kind, Kind::Healthy | Kind::Recording | Kind::Player)
        };
        if self.findings.first().is_some_and(is_to_be_seen_to) {
            return self.next(Reason::Look);
        }
        Next { done: true, ..self.next(Reason::Done(self.left())) }
    }

    /// The notes that stay off or silent.
    fn left(&self) -> Vec<Left> {
        let notes = self.evidence.notes.iter();
        notes
            .filter_map(|note| {
                let fingering = note.fingering;
                if note.spoke() == Some(false) {
                    return Some(Left { fingering, off_cents: None });
                }
                let off = self.planned.aim.off_cents(fingering)?;
                let left = Left { fingering, off_cents: Some(off) };
                (off.abs() > self.planned.aim.within_cents).then_some(left)
            })
            .collect()
    }

    /// The lowest notes that were measured: a leak shows there first.
    fn lowest_measured(&self) -> Vec<String> {
        let notes = self.evidence.notes.iter();
        let mut measured: Vec<(f64, usize)> =
            notes.filter_map(|note| Some((note.measured_hz?, note.fingering))).collect();
        measured.sort_by(|a, b| a.0.total_cmp(&b.0));
        measured.iter().take(MOST_RETAKES).map(|&(_, fingering)| self.name(fingering)).collect()
    }
}
