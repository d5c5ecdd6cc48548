//! The command `demo`: the main job on the sample inside the program.

use std::process::ExitCode;

use rayon::prelude::*;

use super::args::DemoArguments;
use super::failure::Failure;
use super::output::put;
use super::samples::{STEPS, Step};
use super::take_sheets::of_samples;
use crate::diagnosis::check::{Check, check};
use crate::diagnosis::takes::evidence::FiledTake;
use crate::instrument::model::Instrument;
use crate::report::layout::paragraph;
use crate::report::page::sheet::Sheet;
use crate::report::{check_json, check_text};

/// The step that shows most, from 1: a leak that must be found before anything is cut.
const SHOWS_MOST: usize = 2;

/// Checks the sample's steps, or the one that was asked for, and prints what was found.
///
/// # Errors
/// [`Failure::Usage`] for a step that the sample does not have.
pub fn run(arguments: &DemoArguments) -> Result<ExitCode, Failure> {
    arguments.page.must_make_sense()?;
    let shows_most = arguments.step.unwrap_or(SHOWS_MOST);
    let shown: Vec<(usize, &Step)> = if arguments.json || arguments.step.is_some() {
        vec![numbered(shows_most)?]
    } else {
        (1..).zip(&STEPS).collect()
    };
    let outcomes: Vec<_> = shown.par_iter().map(|(_, step)| checked(step)).collect();
    let mut out = String::new();
    let mut paged = None;
    for ((number, step), outcome) in shown.into_iter().zip(outcomes) {
        let (instrument, takes, result) = outcome?;
        if arguments.json {
            out.push_str(&format!("{}\n", check_json::json(&instrument, &result, None)));
        } else {
            out.push_str(&format!("{}\n", headline(number)));
            out.push_str(&paragraph("", step.story));
            out.push_str(&format!("\n{}\n", check_text::text(&instrument, &result)));
        }
        if number == shows_most {
            paged = Some((step, instrument, takes, result));
        }
    }
    if !arguments.json {
        out.push_str(&paragraph("", ENDING));
    }
    put(&out)?;
    if let Some((step, instrument, takes, result)) = paged.filter(|_| arguments.page.is_wanted()) {
        arguments.page.write(&Sheet {
            instrument: &instrument,
            check: &result,
            takes: &of_samples(&takes, |file| step.sound(file), arguments.page.sound),
            book: None,
            story: Some(step.story),
            version: env!("CARGO_PKG_VERSION"),
        })?;
    }
    Ok(ExitCode::SUCCESS)
}

/// What the reader must know before believing any of it, and how to go on.
const ENDING: &str = "The recordings are simulated and show how it works, not how exact it is. \
    Start with your own: borescribe new my-instrument";

/// A line as wide as the screen, so that the steps stand apart.
fn headline(number: usize) -> String {
    let title = format!("=== Sample, step {number} of {} ", STEPS.len());
    format!("{title:=<width$}", width = crate::report::layout::COLUMNS)
}

fn numbered(number: usize) -> Result<(usize, &'static Step), Failure> {
    number
        .checked_sub(1)
        .and_then(|index| STEPS.get(index))
        .map(|step| (number, step))
        .ok_or_else(|| Failure::Usage(format!("--step {number}: the sample has steps 1 to {}", STEPS.len())))
}

fn checked(step: &Step) -> Result<(Instrument, Vec<FiledTake>, Check), Failure> {
    let (instrument, takes) = step.read()?;
    let result = check(&instrument, &takes);
    Ok((instrument, takes, result))
}
