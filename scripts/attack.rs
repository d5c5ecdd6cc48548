//! Attacks the bench book for about ten minutes and counts: `cargo run --release --example attack`, after
//! `cargo build --release`.
//!
//! Kills commands at random moments, lets them find a full disk, and runs twelve at once on one book. After each it
//! looks whether anything that the book promises was broken (`tests/book/attack/`). Full disks need root on Linux. A
//! build meanwhile takes the program away: don't. With `TMPDIR` in memory it goes several times as fast.
//! Ends with exit code 1 when a promise was broken. `--seed` with one event's seed repeats its evening, as far as the
//! system's own timing allows.

// The tests use more of these two than the attack does.
#[allow(dead_code)]
#[path = "../tests/book/attack/mod.rs"]
mod attack;
#[allow(dead_code)]
#[path = "../tests/book/maker.rs"]
mod maker;
#[path = "../tests/common/reed_pipe.rs"]
mod reed_pipe;
#[path = "../tests/common/reed_takes.rs"]
mod reed_takes;

use std::collections::BTreeMap;
use std::process::ExitCode;
use std::time::Instant;

use attack::dice::Dice;
use attack::small_disk::SmallDisk;
use attack::trouble::Trouble;
use attack::{Deed, Evening, Event};
use clap::Parser;
use maker::Maker;

/// Attacks the bench book and counts what breaks.
#[derive(Parser)]
struct Asked {
    /// Kills.
    #[arg(long, default_value_t = 500)]
    kills: usize,
    /// Full disks.
    #[arg(long, default_value_t = 200)]
    disks: usize,
    /// Rounds of twelve commands at once.
    #[arg(long, default_value_t = 40)]
    rounds: usize,
    /// The first evening's seed; the next has the next number.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// No evening is begun after so many minutes.
    #[arg(long, default_value_t = 15)]
    minutes: u64,
    /// Only commands that are typed like this, like "check --step TAKES".
    #[arg(long)]
    only: Option<String>,
    /// Tells every failure as it is found.
    #[arg(long)]
    tell: bool,
}

/// Attacks on one book before the next is begun, so that none grows slow.
const EVENTS_AN_EVENING: usize = 10;
const ROUNDS_AN_EVENING: usize = 2;
/// Kilobytes of a disk on which an evening finds room.
const DISK_KB: usize = 32_000;

/// What was counted.
#[derive(Default)]
struct Tally {
    /// By way and command: attacks, those after which all was done, those after which nothing was.
    events: BTreeMap<(&'static str, &'static str), [usize; 3]>,
    /// By way, kind and command: how often, the first seed, what was seen then.
    failures: BTreeMap<(&'static str, &'static str, &'static str), (usize, u64, Trouble)>,
    tells: bool,
}

impl Tally {
    /// An evening of kills.
    fn kills(&mut self, deeds: &[Deed], seed: u64) {
        let (mut evening, mut choice) = (Evening::new(Maker::new(), seed), Dice::new(seed));
        for _ in 0..EVENTS_AN_EVENING {
            self.count("kill", seed, evening.kill(*choice.one_of(deeds)));
        }
        self.count("kill", seed, evening.close());
    }

    /// An evening on a disk that is full again and again. False where no disk can be made.
    fn full_disks(&mut self, deeds: &[Deed], seed: u64) -> bool {
        let Some(disk) = SmallDisk::new(DISK_KB) else { return false };
        let (mut evening, mut choice) = (Evening::new(Maker::on(disk.path()), seed), Dice::new(seed));
        for _ in 0..EVENTS_AN_EVENING {
            self.count("full disk", seed, evening.fill(*choice.one_of(deeds), &disk));
        }
        self.count("full disk", seed, evening.close());
        true
    }

    /// Rounds of twelve commands at once.
    fn rounds(&mut self, seed: u64) {
        let mut evening = Evening::new(Maker::new(), seed);
        self.count("at once", seed, evening.twelve_checks());
        self.count("at once", seed, evening.twelve_mixed());
        self.count("at once", seed, evening.close());
    }

    fn count(&mut self, way: &'static str, seed: u64, event: Event) {
        let counts = self.events.entry((way, event.name)).or_default();
        counts[0] += 1;
        counts[1] += usize::from(event.was_done);
        counts[2] += usize::from(!event.was_begun);
        for trouble in event.troubles {
            if self.tells {
                eprintln!("{way}, {}, seed {seed}: {trouble:?}", event.name);
            }
            self.failures.entry((way, trouble.kind, event.name)).or_insert((0, seed, trouble)).0 += 1;
        }
    }

    fn print(&self) {
        println!(
            "{:<12} {:<42} {:>7} {:>7} {:>9} {:>9}",
            "way", "command", "attacks", "done", "untouched", "half-way"
        );
        for ((way, name), [all, done, untouched]) in &self.events {
            println!("{way:<12} {name:<42} {all:>7} {done:>7} {untouched:>9} {:>9}", all - done - untouched);
        }
        if self.failures.is_empty() {
            println!("\nNo promise was broken.");
            return;
        }
        println!("\n{:>5} {:>10}  failure", "times", "first seed");
        for ((way, kind, name), (times, seed, first)) in &self.failures {
            println!("{times:>5} {seed:>10}  {way}, {name}: {kind}");
            println!(
                "{:>18}{}: {}",
                "",
                first.about,
                first.seen.trim().replace('\n', "\n                    ")
            );
        }
    }
}

fn main() -> ExitCode {
    let asked = Asked::parse();
    let is_asked = |deed: &Deed| asked.only.as_ref().is_none_or(|only| deed.typed() == only);
    let deeds: Vec<Deed> = Deed::ALL.into_iter().filter(is_asked).collect();
    if deeds.is_empty() || !maker::program().is_file() {
        eprintln!("nothing to attack: see --only, and build the program first (cargo build --release)");
        return ExitCode::FAILURE;
    }
    let started = Instant::now();
    let mut tally = Tally { tells: asked.tell, ..Tally::default() };
    let evenings = |events: usize, each: usize| events.div_ceil(each);
    let kills = evenings(asked.kills, EVENTS_AN_EVENING);
    let mut disks = evenings(asked.disks, EVENTS_AN_EVENING);
    let rounds = evenings(asked.rounds, ROUNDS_AN_EVENING);
    // In turn, so that a run that is cut short has tried a part of each.
    let all = kills.max(disks).max(rounds);
    let is_due = |evening: usize, count: usize| (evening + 1) * count / all > evening * count / all;
    for evening in 0..all {
        if started.elapsed().as_secs() >= 60 * asked.minutes {
            println!("Stopped after {} minutes, {evening} of {all} evenings.\n", asked.minutes);
            break;
        }
        let seed = asked.seed + evening as u64;
        if is_due(evening, kills) {
            tally.kills(&deeds, seed);
        }
        if is_due(evening, disks) && !tally.full_disks(&deeds, seed) {
            disks = 0;
        }
        if is_due(evening, rounds) {
            tally.rounds(seed);
        }
    }
    tally.print();
    println!("{:.0} s", started.elapsed().as_secs_f64());
    if tally.failures.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
