//! Holds what findings say against what is so: `cargo run --release --example calibration -- --cases 600 --seed 1`.
//!
//! Draws instruments, faults, players and a truth that differs from the assumed forward model, checks, makes the tests
//! that are asked for, and prints for bands of weight how often the findings were right. `--svg FILE` draws it.

#[path = "calibration/picture.rs"]
mod picture;
#[path = "calibration/mod.rs"]
mod simulation;

use std::collections::BTreeMap;
use std::error::Error;
use std::path::PathBuf;
use std::sync::atomic::{AtomicUsize, Ordering};

use clap::Parser;
use rayon::prelude::*;

use borescribe::diagnosis::causes::catalogue::Cause;
use borescribe::instrument::column::LeakPlace;
use simulation::session::{Said, Session, played};
use simulation::tally::{bands, brier};

/// Compares the weights of findings with how often they are right, on simulated sessions.
#[derive(Parser)]
struct Asked {
    /// Sessions to draw.
    #[arg(long, default_value_t = 600)]
    cases: usize,
    /// Another seed draws other sessions.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Most tests a session.
    #[arg(long, default_value_t = 4)]
    tests: usize,
    /// Lists findings that were said with at least this probability and were wrong.
    #[arg(long)]
    wrong_from: Option<f64>,
    /// Draws the picture into this file.
    #[arg(long)]
    svg: Option<PathBuf>,
}

fn main() -> Result<(), Box<dyn Error>> {
    let asked = Asked::parse();
    let done = AtomicUsize::new(0);
    let sessions: Vec<Session> = (0..asked.cases)
        .into_par_iter()
        .map(|case| {
            let session = played(asked.seed, case as u64, asked.tests);
            let done = done.fetch_add(1, Ordering::Relaxed) + 1;
            if done.is_multiple_of(20) {
                eprintln!("{done} of {}", asked.cases);
            }
            session
        })
        .collect();
    let first: Vec<Said> = sessions.iter().flat_map(|session| session.first.clone()).collect();
    let last: Vec<Said> = sessions.iter().flat_map(|session| session.last.clone()).collect();
    let tests: usize = sessions.iter().map(|session| session.tests).sum();
    let sound = sessions.iter().filter(|session| session.causes.is_empty()).count();
    println!(
        "{} sessions, seed {}; nothing material was wrong in {sound}; {:.2} tests a session\n",
        asked.cases,
        asked.seed,
        tests as f64 / asked.cases.max(1) as f64
    );
    print_table("first check", &first);
    print_table("after tests", &last);
    print_kinds("first check", &first);
    print_kinds("after tests", &last);
    if let Some(least) = asked.wrong_from {
        print_wrong(&sessions, least);
    }
    if let Some(file) = asked.svg {
        std::fs::write(file, picture::drawn(&bands(&first), &bands(&last), asked.cases)?)?;
    }
    Ok(())
}

fn print_table(title: &str, all: &[Said]) {
    println!("{title}: {} findings", all.len());
    println!("  weight      count   said   happened   95 % interval");
    for band in bands(all) {
        println!("{}", band.row());
    }
    let (score, constant) = brier(all);
    println!("  Brier score {score:.4}; best constant {constant:.4}; {:.2} of it\n", score / constant);
}

/// The same for each kind of cause: where weights are off, this shows which.
fn print_kinds(title: &str, all: &[Said]) {
    let mut kinds: BTreeMap<&str, Vec<&Said>> = BTreeMap::new();
    for said in all {
        kinds.entry(kind(said.cause)).or_default().push(said);
    }
    println!("{title}, by kind: count, sum of weights, how many were so");
    for (kind, own) in kinds {
        let weights: f64 = own.iter().map(|said| said.weight).sum();
        let right = own.iter().filter(|said| said.happened).count();
        println!("  {kind:<16} {:>5}  {weights:>7.1}  {right:>5}", own.len());
    }
    println!();
}

/// Each finding that was said surely and was wrong, with what was really there.
fn print_wrong(sessions: &[Session], least: f64) {
    println!("wrong after the tests, though said with {:.0} % or more:", 100.0 * least);
    for (case, session) in sessions.iter().enumerate() {
        for said in session.last.iter().filter(|said| said.weight >= least && !said.happened) {
            println!(
                "  case {case}, {} tests: {:?} with {:.1} %; at first {:?}; drawn {}",
                session.tests,
                said.cause,
                100.0 * said.weight,
                session
                    .first
                    .iter()
                    .map(|s| (s.cause, (100.0 * s.weight).round()))
                    .take(3)
                    .collect::<Vec<_>>(),
                session.world,
            );
        }
    }
}

fn kind(cause: Option<Cause>) -> &'static str {
    match cause {
        None => "healthy",
        Some(Cause::Hole(_)) => "hole",
        Some(Cause::Leak(LeakPlace::Hole(_))) => "leak at a pad",
        Some(Cause::Leak(LeakPlace::Site(_))) => "leak at a post",
        Some(Cause::StuckShut(_)) => "pad shut",
        Some(Cause::Air) => "air",
        Some(Cause::Top) => "top",
        Some(Cause::End) => "end",
        Some(Cause::Taper) => "taper",
        Some(Cause::BorePlace(_)) => "place of the bore",
        Some(Cause::VentSize(_)) => "vent's size",
        Some(Cause::VentPlace(_)) => "vent's place",
    }
}
