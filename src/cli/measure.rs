//! The command `measure`.
#![allow(clippy::print_stdout, clippy::print_stderr)] // Only the commands print.

use std::path::Path;
use std::process::ExitCode;

use rayon::prelude::*;

use super::args::{Arguments, MeasureArguments};
use super::run::{COULD_NOT, WRONG_USAGE};
use crate::analysis::measure::{Settings, measure};
use crate::analysis::measurement::{Measurement, Trouble, TroubleCode};
use crate::audio::decode;
use crate::report::measure as report;
use crate::units::{Note, STANDARD_A4_HZ};

/// Measures every file and prints the results in the order of the arguments.
#[must_use]
pub fn run(arguments: &MeasureArguments, common: &Arguments) -> ExitCode {
    let expect_hz = match arguments.expect.as_deref().map(pitch).transpose() {
        Ok(hz) => hz,
        Err(text) => {
            eprintln!("borescribe: {text}");
            return ExitCode::from(WRONG_USAGE);
        }
    };
    let settings = Settings { expect_hz, from_s: arguments.from, to_s: arguments.to };
    let takes: Vec<(String, Measurement)> = arguments
        .files
        .par_iter()
        .map(|file| (file.display().to_string(), measure_file(file, &settings)))
        .collect();
    if arguments.json {
        println!("{}", report::json(&takes, STANDARD_A4_HZ));
    } else {
        let _ = common;
        for (file, take) in &takes {
            println!("{}", report::card(file, take, STANDARD_A4_HZ));
        }
    }
    let unread = takes.iter().any(|(_, t)| t.troubles.iter().any(|t| t.code == TroubleCode::Unreadable));
    ExitCode::from(if unread { COULD_NOT } else { 0 })
}

fn measure_file(file: &Path, settings: &Settings) -> Measurement {
    match decode::read(file) {
        Ok(take) => measure(&take, settings, None),
        Err(error) => Measurement {
            troubles: vec![Trouble { code: TroubleCode::Unreadable, text: error.to_string() }],
            ..Measurement::default()
        },
    }
}

fn pitch(text: &str) -> Result<f64, String> {
    if let Ok(hz) = text.trim().parse::<f64>() {
        return if hz.is_finite() && hz > 0.0 {
            Ok(hz)
        } else {
            Err(format!("--expect {text}: a pitch in hertz is a number above 0"))
        };
    }
    text.parse::<Note>().map(|note| note.hz(STANDARD_A4_HZ)).map_err(|error| format!("--expect: {error}"))
}
