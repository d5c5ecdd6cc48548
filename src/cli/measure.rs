//! The command `measure`.

use std::path::Path;
use std::process::ExitCode;

use rayon::prelude::*;

use super::args::MeasureArguments;
use super::failure::Failure;
use super::output::{put, warn};
use super::run::COULD_NOT;
use crate::analysis::measure::{Settings, measure};
use crate::analysis::measurement::{Measurement, Trouble, TroubleCode};
use crate::audio::decode;
use crate::report::measure as report;
use crate::units::{Note, STANDARD_A4_HZ};

/// Measures every file and prints the results in the order of the arguments.
///
/// # Errors
/// [`Failure`] for options that make no sense. A file that can't be read is listed as such.
pub fn run(arguments: &MeasureArguments) -> Result<ExitCode, Failure> {
    let expect_hz = arguments.expect.as_deref().map(pitch).transpose().map_err(Failure::Usage)?;
    if let (Some(from_s), Some(to_s)) = (arguments.from, arguments.to)
        && (to_s <= from_s || to_s.is_nan() || from_s.is_nan())
    {
        return Err(Failure::Usage(format!(
            "--from {from_s} --to {to_s}: give two seconds, the later one as --to"
        )));
    }
    let settings = Settings { expect_hz, from_s: arguments.from, to_s: arguments.to };
    let takes: Vec<(String, Measurement)> = arguments
        .files
        .par_iter()
        .map(|file| (file.display().to_string(), measure_file(file, &settings)))
        .collect();
    if arguments.json {
        put(&format!("{}\n", report::json(&takes, STANDARD_A4_HZ)))?;
    } else {
        for (file, take) in &takes {
            put(&format!("{}\n", report::card(file, take, STANDARD_A4_HZ)))?;
        }
    }
    let mut exit_code = 0;
    for (file, take) in &takes {
        for trouble in take.troubles.iter().filter(|trouble| trouble.code == TroubleCode::Unreadable) {
            warn(&format!("{file}: {}.", trouble.text));
            exit_code = COULD_NOT;
        }
    }
    Ok(ExitCode::from(exit_code))
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
