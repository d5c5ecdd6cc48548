//! Draws plans by chance, lets the program place each on one core, and counts what breaks:
//! `cargo run --release --example many_plans -- --plans 300`, after `cargo build --release`.
//!
//! Every plan is drawn round a body that can be made (`tests/placing/drawn/`), so that few are refused. Of each answer
//! it holds that kept holes and a kept end stay, that wall, reach, drills and pads are kept, that notes which are off
//! are named, that `predict` on the written file tells the same pitches, and that it came within ten seconds of one
//! core's time and 200 MB. Ends with exit code 1 when a promise was broken. `--seed` with one plan's seed and `--plans 1`
//! draws it again, `--keep FOLDER` keeps the files of plans that broke a promise or were refused.

#[allow(dead_code)] // The tests use the same.
#[path = "../tests/placing/drawn/mod.rs"]
mod drawn;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::Duration;

use clap::Parser;
use drawn::body::Most;
use drawn::plan::Plan;
use drawn::promises::{Outcome, hold};

/// Lets the program place plans that were drawn by chance, and counts broken promises.
#[derive(Parser)]
struct Asked {
    /// Plans.
    #[arg(long, default_value_t = 300)]
    plans: u64,
    /// The first plan's seed; the next has the next number.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Most holes of a plan.
    #[arg(long, default_value_t = 40)]
    holes: usize,
    /// Most fingerings of a plan.
    #[arg(long, default_value_t = 80)]
    fingerings: usize,
    /// A plan is stopped after so many seconds.
    #[arg(long, default_value_t = 200)]
    stop_after: u64,
    /// The program; the one beside this when left out.
    #[arg(long)]
    program: Option<PathBuf>,
    /// Files of plans that broke a promise or were refused go here.
    #[arg(long)]
    keep: Option<PathBuf>,
}

struct Row {
    seed: u64,
    plan: Plan,
    outcome: Outcome,
}

fn main() -> ExitCode {
    let asked = Asked::parse();
    let program = asked.program.clone().unwrap_or_else(beside);
    let mut rows = Vec::new();
    for seed in asked.seed..asked.seed + asked.plans {
        let plan = Plan::drawn(seed, Most { holes: asked.holes, fingerings: asked.fingerings });
        let folder = tempfile::tempdir().unwrap();
        let outcome = hold(&program, folder.path(), &plan, Duration::from_secs(asked.stop_after));
        let row = Row { seed, plan, outcome };
        println!("{}", line(&row));
        if row.outcome.refused.is_some() || !row.outcome.broken.is_empty() {
            tell(&row);
            if let Some(keep) = &asked.keep {
                keep_files(&keep.join(format!("plan-{seed}")), &row);
            }
        }
        rows.push(row);
    }
    summary(&rows)
}

/// The program in the folder above the one of the examples.
fn beside() -> PathBuf {
    let own = std::env::current_exe().unwrap();
    own.ancestors().nth(2).unwrap().join(format!("borescribe{}", std::env::consts::EXE_SUFFIX))
}

fn line(row: &Row) -> String {
    let Row { seed, plan, outcome } = row;
    let slowest = outcome.placed.stages.first();
    let stage = slowest.map_or(String::new(), |(line, took)| {
        format!("{} {:.1} s", line.trim_start_matches("borescribe: "), took.as_secs_f64())
    });
    format!(
        "seed {seed:>5}  {:>2} holes × {:>2} fingerings  {:>6.2} s  {:>4} MB  {:>2} off (most {:>5.1})  slowest: {stage}",
        plan.holes,
        plan.fingerings,
        outcome.placed.cpu.as_secs_f64(),
        outcome.placed.most_bytes / 1_000_000,
        outcome.off.0,
        outcome.off.1,
    )
}

fn tell(row: &Row) {
    println!("            place {}", row.plan.options.join(" "));
    row.outcome.refused.iter().for_each(|why| println!("            refused: {why}"));
    row.outcome.broken.iter().for_each(|what| println!("            BROKEN: {what}"));
}

fn keep_files(folder: &Path, row: &Row) {
    std::fs::create_dir_all(folder).unwrap();
    std::fs::write(folder.join("plan.toml"), &row.plan.text).unwrap();
    std::fs::write(folder.join("options.txt"), row.plan.options.join(" ")).unwrap();
    std::fs::write(folder.join("told.json"), &row.outcome.placed.stdout).unwrap();
    std::fs::write(folder.join("said.txt"), &row.outcome.placed.stderr).unwrap();
}

/// A refusal or a broken promise without the names and numbers of one plan.
fn kind(text: &str) -> String {
    let is_plain = |word: &&str| !word.chars().any(|c| c.is_ascii_digit() || c == '"');
    text.split_whitespace().filter(is_plain).collect::<Vec<_>>().join(" ")
}

fn summary(rows: &[Row]) -> ExitCode {
    let by = |measure: fn(&Row) -> f64| {
        let mut sorted: Vec<&Row> = rows.iter().collect();
        sorted.sort_by(|a, b| measure(b).total_cmp(&measure(a)));
        sorted.into_iter().take(12).for_each(|row| println!("{}", line(row)));
    };
    println!("\nThe slowest:");
    by(|row| row.outcome.placed.cpu.as_secs_f64());
    println!("\nThe biggest in memory:");
    by(|row| row.outcome.placed.most_bytes as f64);
    let mut refusals: BTreeMap<String, Vec<u64>> = BTreeMap::new();
    let mut broken: BTreeMap<String, Vec<u64>> = BTreeMap::new();
    for row in rows {
        row.outcome.refused.iter().for_each(|why| refusals.entry(kind(why)).or_default().push(row.seed));
        row.outcome.broken.iter().for_each(|what| broken.entry(kind(what)).or_default().push(row.seed));
    }
    for (title, counted) in [("Refused", &refusals), ("Broken promises", &broken)] {
        println!("\n{title}:");
        for (kind, seeds) in counted {
            println!("{:>5}  {kind}\n       seeds {seeds:?}", seeds.len());
        }
    }
    println!(
        "\n{} plans, {} refused, {} with a broken promise",
        rows.len(),
        rows.iter().filter(|row| row.outcome.refused.is_some()).count(),
        rows.iter().filter(|row| !row.outcome.broken.is_empty()).count()
    );
    if broken.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
