//! One evening at the bench: play, check, do the test that is asked for, check again, until nothing is asked any more.

use borescribe::analysis::measurement::Measurement;
use borescribe::diagnosis::beliefs::takes::PLAYER_SPREADS;
use borescribe::diagnosis::beliefs::{DRIFT_CENTS, SLIP_CENTS, SLIP_CHANCE};
use borescribe::diagnosis::causes::catalogue::Cause;
use borescribe::diagnosis::check::{Check, Known, check_knowing};
use borescribe::diagnosis::decide::bench_tests::{BenchTest, Measured};
use borescribe::diagnosis::decide::prospect::Play;
use borescribe::diagnosis::expectation::blowing::Blowing;
use borescribe::diagnosis::expectation::speaking::chance_to_fail;
use borescribe::diagnosis::findings::ranking::Basis;
use borescribe::diagnosis::takes::condition::Condition;
use borescribe::diagnosis::takes::evidence::FiledTake;
use borescribe::instrument::column::LeakPlace;
use borescribe::instrument::model::Instrument;
use borescribe::units::shift_by_cents;

use super::body;
use super::chance::Chance;
use super::truth::{World, draw_faults};

/// At most this many tests a session.
const MOST_TESTS: usize = 4;
/// Share of sessions with three takes a note at once.
const THREE_TAKES: f64 = 0.5;
/// Tone over breath of a clear note, dB; of one that did not speak; and its scatter from note to note.
const CLEAR_DB: f64 = 35.0;
const BREATH_DB: f64 = 2.0;
const TONE_SCATTER_DB: f64 = 3.0;

/// What a finding said, and what was so.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Said {
    /// `None`: that nothing is wrong.
    pub cause: Option<Cause>,
    pub weight: f64,
    pub happened: bool,
}

/// All findings of one session.
#[derive(Debug, Clone, PartialEq)]
pub struct Session {
    /// Of the first check.
    pub first: Vec<Said>,
    /// Of the last one, after the tests.
    pub last: Vec<Said>,
    /// How many tests were made.
    pub tests: usize,
    /// What was really wrong at first.
    pub causes: Vec<Cause>,
    /// The world in a line, for whoever looks into a wrong finding.
    pub world: String,
}

/// Draws and plays case `number` of a run with this seed; `most_tests` of 0 stops after the first check.
pub fn played(seed: u64, number: u64, most_tests: usize) -> Session {
    let mut chance = Chance::of_case(seed, number);
    let file = body::drawn(&mut chance);
    let faults = draw_faults(&file, &mut chance);
    let mut bench =
        Bench::new(file, &mut chance, |file, usual, chance| World::draw(file, faults, usual, chance));
    bench.evening(&mut chance, most_tests.min(MOST_TESTS))
}

struct Bench {
    file: Instrument,
    world: World,
    spread_cents: f64,
    /// How far the tone falls for each dB that a resonance is lower.
    tone_gain: f64,
    tone_db_per_octave: f64,
    takes: Vec<FiledTake>,
    conditions: Vec<Condition>,
}

impl Bench {
    fn new(
        file: Instrument,
        chance: &mut Chance,
        world: impl FnOnce(&Instrument, bool, &mut Chance) -> World,
    ) -> Bench {
        let spread_cents = PLAYER_SPREADS[chance.index(PLAYER_SPREADS.iter().map(|spread| spread.1))].0;
        let blowings = Blowing::with_shares();
        let blowing = blowings[chance.index(blowings.iter().map(|blowing| blowing.1))].0;
        let world = world(&file, blowing == Blowing::Usual, chance);
        Bench {
            file,
            world,
            spread_cents,
            tone_gain: if chance.happens(0.5) { 0.0 } else { chance.between(0.5, 3.0) },
            tone_db_per_octave: chance.between(0.0, 6.0),
            takes: Vec::new(),
            conditions: Vec::new(),
        }
    }

    fn evening(&mut self, chance: &mut Chance, most_tests: usize) -> Session {
        let takes = if chance.happens(THREE_TAKES) { 3 } else { 1 };
        for fingering in 0..self.file.fingerings.len() {
            self.play(fingering, takes, 0, 0.0, chance);
        }
        let causes = self.world.material();
        let world = format!(
            "{}; {takes} takes, spread {}, {} holes, {:.0} mm",
            self.world.described(),
            self.spread_cents,
            self.file.holes.len(),
            self.file.length_mm()
        );
        let mut check = self.check();
        let first = self.said(&check);
        let mut tests = 0;
        while tests < most_tests
            && let Some(test) = check.next.tests.first().cloned()
        {
            self.make(&test, chance);
            tests += 1;
            check = self.check();
        }
        Session { first, last: self.said(&check), tests, causes, world }
    }

    fn check(&self) -> Check {
        let known = Known { conditions: &self.conditions, ..Known::default() };
        // Only takes that teach of another drive are refused, and none teach here.
        check_knowing(&self.file, &self.takes, &known).unwrap()
    }

    fn said(&self, check: &Check) -> Vec<Said> {
        let material = self.world.material();
        let weighed = check.findings.iter().filter(|finding| finding.basis == Basis::Weighed);
        weighed
            .map(|finding| Said {
                cause: finding.cause,
                weight: finding.weight,
                happened: match finding.cause {
                    Some(cause) => material.contains(&cause),
                    None => material.is_empty(),
                },
            })
            .collect()
    }

    fn make(&mut self, test: &BenchTest, chance: &mut Chance) {
        match test {
            BenchTest::Play { play, .. } => self.play_test(play, chance),
            BenchTest::Measure { of: Measured::Hole(hole), .. } => {
                self.world.measure_hole(&mut self.file, *hole, chance);
            }
            // Nothing is answered for the bore, nor about the file: it stays as it is.
            BenchTest::Measure { of: Measured::Bore, .. } | BenchTest::Answer { .. } => {}
            BenchTest::Measure { of: Measured::Air, .. } => self.world.measure_air(&mut self.file, chance),
        }
    }

    fn play_test(&mut self, play: &Play, chance: &mut Chance) {
        let number = if play.closed.is_empty() { 0 } else { self.condition(&play.closed) };
        let drift_cents = DRIFT_CENTS * chance.normal();
        for &fingering in &play.fingerings {
            self.play(fingering, play.takes, number, drift_cents, chance);
        }
    }

    /// The number of the condition with nothing leaking at these places.
    fn condition(&mut self, closed: &[LeakPlace]) -> usize {
        let known = self.conditions.iter().position(|condition| condition.sealed == closed);
        let index = known.unwrap_or_else(|| {
            self.conditions.push(Condition { written: Vec::new(), sealed: closed.to_vec(), changed: None });
            self.conditions.len() - 1
        });
        index + 1
    }

    /// Takes of one fingering, all of one evening's part.
    fn play(
        &mut self,
        fingering: usize,
        takes: usize,
        condition: usize,
        drift_cents: f64,
        chance: &mut Chance,
    ) {
        let closed = match condition.checked_sub(1) {
            Some(index) => self.conditions[index].sealed.clone(),
            None => Vec::new(),
        };
        let sounding = self.world.sounds(fingering, &closed);
        // What makes a note fail makes it fail in all takes of it.
        let speaks = sounding.filter(|note| !chance.happens(chance_to_fail(note.lower_db)));
        for _ in 0..takes {
            let slip_cents = if chance.happens(SLIP_CHANCE) { SLIP_CENTS * chance.normal() } else { 0.0 };
            let off_cents = drift_cents + slip_cents + self.spread_cents * chance.normal();
            let tone_db = match &speaks {
                Some(note) => {
                    let octaves = (note.hz / 100.0).log2();
                    CLEAR_DB + self.tone_db_per_octave * octaves + self.tone_gain * note.lower_db
                }
                None => BREATH_DB,
            };
            let measurement = Measurement {
                pitch_hz: sounding.map(|note| shift_by_cents(note.hz, off_cents)),
                sd_cents: Some(0.1),
                confidence: 1.0,
                tone_over_noise_db: Some(tone_db + TONE_SCATTER_DB * chance.normal()),
                ..Measurement::default()
            };
            let file = format!("{}-{}.wav", self.file.fingerings[fingering].name, self.takes.len());
            self.takes.push(FiledTake { file, fingering, measurement, condition, evening: 0 });
        }
    }
}
