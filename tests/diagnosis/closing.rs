//! The loop of the bench, closed: play, check, do what it says, play again, until nothing is left to do.

use borescribe::acoustics::blown::blown_hz;
use borescribe::diagnosis::check::{Check, Known, check_knowing};
use borescribe::diagnosis::decide::action::Do;
use borescribe::diagnosis::decide::bench_tests::{BenchTest, Measured};
use borescribe::diagnosis::takes::condition::{Found, FoundPlace};
use borescribe::diagnosis::takes::evidence::FiledTake;
use borescribe::diagnosis::work::cuts::{Cut, CutKind};
use borescribe::instrument::alter::Altered;
use borescribe::instrument::change::{parse, place_called};
use borescribe::instrument::column::{Leak, LeakPlace, column, playing_hz};
use borescribe::instrument::model::Instrument;
use borescribe::units::{cents_between, shift_by_cents};

use crate::common::bittern;
use crate::{Player, take};

/// Most rounds of cutting.
const ROUNDS: usize = 4;
/// A drill wanders, a file slips, mm (common practice, no source).
const SLIP_MM: f64 = 0.1;

/// A body on the bench: what the maker's file says, what is really there, who plays.
struct Bench {
    file: Instrument,
    truth: Instrument,
    leaks: Vec<Leak>,
    player: Player,
    usual: bool,
    /// Places that were tested.
    tight: Vec<LeakPlace>,
}

/// What came of it.
#[derive(Default)]
struct Outcome {
    /// What the notes of the first register are off together, cents.
    shared_cents: f64,
    /// First-register notes that were left more than 5 cents off besides, though neither the cuts nor their
    /// hole's other note said why, with their cents.
    left: Vec<(String, f64)>,
    /// First-register notes at the end.
    notes: usize,
    /// Cuts that were made.
    cuts: usize,
    /// Cuts after which the hole's own note lay more than 3 cents beyond its target, with the cents beyond and the
    /// uncertainty that was stated.
    overshoots: Vec<(String, f64, f64)>,
}

/// An instrument after a change in the spelling of `try`.
fn changed(instrument: &Instrument, text: &str) -> Instrument {
    let altered = Altered::unchanged(instrument);
    let step = altered.settle(&parse(instrument, text).unwrap()).unwrap();
    altered.after(&step, 1.0).instrument
}

impl Bench {
    fn heard_hz(&self, fingering: usize) -> f64 {
        let f = &self.truth.fingerings[fingering];
        // A pad leaks only while it is shut.
        let leaks: Vec<Leak> = self
            .leaks
            .iter()
            .copied()
            .filter(|leak| !matches!(leak.place, LeakPlace::Hole(hole) if f.open.contains(&hole)))
            .collect();
        let hz = playing_hz(&self.truth, &f.open, f.register, &leaks).unwrap();
        if self.usual { blown_hz(&column(&self.truth, &f.open, &leaks), hz) } else { hz }
    }

    /// Three takes of every fingering.
    fn play(&mut self) -> Vec<FiledTake> {
        let mut takes = Vec::new();
        for fingering in 0..self.truth.fingerings.len() {
            let hz = self.heard_hz(fingering);
            for repeat in 1..=3 {
                let name = format!("{}-{repeat}.wav", self.truth.fingerings[fingering].name);
                takes.push(take(name, fingering, shift_by_cents(hz, self.player.scatter())));
            }
        }
        takes
    }

    /// Does bench tests and sets the mouthpiece until cuts are proposed or nothing more is to do.
    fn checked(&mut self) -> Check {
        let mut takes = self.play();
        for _ in 0..20 {
            let found: Vec<Found> =
                self.tight.iter().map(|place| Found::Place(*place, FoundPlace::Tight)).collect();
            let known = Known { found: &found, ..Known::default() };
            let result = check_knowing(&self.file, &takes, &known).unwrap();
            if result.next.action == Do::Adjust {
                let change = result.next.changes[0].clone();
                self.file = changed(&self.file, &change);
                self.truth = changed(&self.truth, &change);
                takes = self.play();
                continue;
            }
            match result.next.tests.first() {
                Some(BenchTest::Measure { of: Measured::Hole(hole), .. }) => {
                    self.file.holes[*hole] = self.truth.holes[*hole].clone();
                    self.file.holes[*hole].measured_again = true;
                    continue;
                }
                Some(BenchTest::Measure { of: Measured::Air, .. }) => {
                    self.file.measure_air(self.truth.air.temperature_c);
                    continue;
                }
                Some(BenchTest::Play { play, .. }) if play.closed.is_empty() => {
                    takes.extend(self.play());
                    continue;
                }
                _ => {}
            }
            if !matches!(result.next.action, Do::Press | Do::Seal) {
                return result;
            }
            let place = place_called(&self.file, result.next.place.as_deref().unwrap()).unwrap();
            if self.leaks.iter().any(|leak| leak.place == place) {
                self.leaks.retain(|leak| leak.place != place);
                takes = self.play();
            } else {
                self.tight.push(place);
            }
        }
        panic!("twenty bench tests and no end");
    }

    fn make(&mut self, cut: &Cut) {
        self.file = changed(&self.file, &cut.full);
        let (what, size) = cut.full.split_once('=').unwrap();
        let slipped =
            size.parse::<f64>().unwrap() + SLIP_MM * self.player.scatter() / self.player.spread_cents;
        self.truth = changed(&self.truth, &format!("{what}={slipped:.3}"));
    }

    /// The first register's note that a hole is cut for.
    fn own_note(&self, cut: &Cut) -> Option<usize> {
        (0..self.file.fingerings.len()).find(|&f| {
            let first = self.file.first_open_hole(f).map(|hole| &self.file.holes[hole].name);
            self.file.fingerings[f].register == 1 && first == cut.place.as_ref()
        })
    }

    fn off_target(&self, fingering: usize) -> f64 {
        let f = &self.file.fingerings[fingering];
        cents_between(self.heard_hz(fingering), shift_by_cents(f.note.hz(440.0), f.cents))
    }

    /// Whether curing a note would take the second register's note of the same hole out of what is good enough, or farther
    /// from its target than it is.
    fn is_held_back(&self, fingering: usize, cents: f64, shared_cents: f64) -> bool {
        let hole = self.file.first_open_hole(fingering);
        (0..self.file.fingerings.len())
            .filter(|&f| self.file.fingerings[f].register == 2 && self.file.first_open_hole(f) == hole)
            .map(|f| self.off_target(f) - shared_cents)
            .any(|upper_cents| {
                (upper_cents - cents).abs() > upper_cents.abs().max(self.file.goal.within_cents)
            })
    }

    fn run(mut self) -> Outcome {
        let mut outcome = Outcome::default();
        let mut incurable: Vec<String> = Vec::new();
        for _ in 0..ROUNDS {
            let result = self.checked();
            incurable = result
                .cuts
                .iter()
                .filter(|cut| cut.kind == CutKind::Move)
                .filter_map(|cut| cut.place.clone())
                .collect();
            let cuts: Vec<&Cut> = result.cuts.iter().filter(|cut| cut.kind != CutKind::Move).collect();
            if cuts.is_empty() {
                break;
            }
            let before: Vec<f64> = (0..self.file.fingerings.len()).map(|f| self.off_target(f)).collect();
            for cut in &cuts {
                self.make(cut);
            }
            for cut in cuts {
                let Some(note) = self.own_note(cut) else { continue };
                outcome.cuts += 1;
                let after = self.off_target(note);
                let beyond = if before[note] < 0.0 { after } else { -after };
                if beyond > 3.0 {
                    let sd = result.notes[note].sd_cents.unwrap();
                    outcome.overshoots.push((cut.text.clone(), beyond, sd));
                }
            }
        }
        // What all notes share is the player's and the mouthpiece's: no hole is cut for it, and it is set last.
        self.checked();
        let first: Vec<usize> =
            (0..self.file.fingerings.len()).filter(|&f| self.file.fingerings[f].register == 1).collect();
        outcome.shared_cents = first.iter().map(|&f| self.off_target(f)).sum::<f64>() / first.len() as f64;
        for fingering in first {
            let hole = self.file.first_open_hole(fingering).map(|hole| self.file.holes[hole].name.clone());
            if hole.is_some_and(|hole| incurable.contains(&hole)) {
                continue;
            }
            outcome.notes += 1;
            let cents = self.off_target(fingering) - outcome.shared_cents;
            if cents.abs() > 5.0 && !self.is_held_back(fingering, cents, outcome.shared_cents) {
                outcome.left.push((self.file.fingerings[fingering].name.clone(), cents));
            }
        }
        outcome
    }
}

/// The demo's body as its maker leaves it before tuning: holes drilled small and the end long on purpose, and three
/// things that are not as the file says; one body in three leaks at a post, every other one is blown as usual, the rest
/// softly.
fn faulty(seed: u64) -> Bench {
    let mut file = bittern();
    for hole in &mut file.holes[..8] {
        hole.diameter_mm -= 1.5;
    }
    file.bore[1].at_mm += 6.0;
    let mut player = Player::new(seed, 2.5);
    let mut truth = file.clone();
    let mut pick = |below: usize| (player.uniform() * below as f64) as usize;
    let (short, wrong, low, post) = (pick(8), pick(8), pick(8), pick(6));
    let (up, right) = (pick(2) == 0, pick(2) == 0);
    truth.holes[short].chimney_mm += if up { 1.2 } else { -1.2 };
    truth.holes[wrong].at_mm += if right { 2.5 } else { -2.5 };
    if let Some(pad) = truth.holes[low].pad.as_mut() {
        pad.lift_mm *= 0.6;
    }
    let leak = Leak { place: LeakPlace::Site(post), diameter_mm: 0.7 };
    let leaks = if seed.is_multiple_of(3) { vec![leak] } else { Vec::new() };
    // A maker who wants it nearer than most.
    file.goal.within_cents = 2.0;
    Bench { file, truth, leaks, player, usual: seed % 2 == 1, tight: Vec::new() }
}

#[test]
fn what_is_proposed_brings_every_curable_note_of_the_first_register_into_tune_in_four_rounds() {
    let mut all = Outcome::default();
    for seed in 0..12 {
        let outcome = faulty(seed).run();
        // Five cents are good enough; what is heard of the mean of nine notes is known to half a cent.
        assert!(
            outcome.shared_cents.abs() < 5.0 + 2.0 * 0.5,
            "seed {seed}: {:.1} all together",
            outcome.shared_cents
        );
        all.notes += outcome.notes;
        all.cuts += outcome.cuts;
        all.left.extend(outcome.left);
        all.overshoots.extend(outcome.overshoots);
    }
    assert!(all.notes >= 90 && all.cuts >= 60, "{} notes, {} cuts", all.notes, all.cuts);
    // What is left over five cents is seldom, and never so far that it would be worth another cut.
    assert!(20 * all.left.len() <= all.notes, "{} of {}: {:?}", all.left.len(), all.notes, all.left);
    assert!(all.left.iter().all(|(_, cents)| cents.abs() < 7.0), "{:?}", all.left);
    assert!(
        20 * all.overshoots.len() <= all.cuts,
        "{} of {}: {:?}",
        all.overshoots.len(),
        all.cuts,
        all.overshoots
    );
    for (text, beyond, sd) in &all.overshoots {
        assert!(*beyond <= 3.0 + 2.0 * sd, "{text}: {beyond:.1} beyond, uncertainty {sd:.1}");
    }
}
