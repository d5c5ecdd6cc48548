//! The command `measure`.

use std::io::{self, IsTerminal};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use rayon::prelude::*;

use super::args::{Arguments, MeasureArguments};
use super::failure::Failure;
use super::output::{put, warn};
use super::page::put_whole;
use super::recording;
use super::run::COULD_NOT;
use super::takes::unreadable;
use crate::analysis::measure::{Settings, measure};
use crate::analysis::measurement::{Measurement, TroubleCode};
use crate::analysis::portrait::{Portrait, portrait};
use crate::analysis::room::RoomSound;
use crate::report::figure::WIDE;
use crate::report::take_chart::take_chart;
use crate::report::{measure as report, measure_csv};
use crate::units::{Note, STANDARD_A4_HZ};

/// Measures every file and prints the results in the order of the arguments.
///
/// # Errors
/// [`Failure`] for options that make no sense and a room take that can't be read. A recording that can't be
/// read is listed as such.
pub fn run(arguments: &MeasureArguments, common: &Arguments) -> Result<ExitCode, Failure> {
    let settings = settings(arguments)?;
    if let Some(plot) = &arguments.plot {
        refuse_plot(plot, &arguments.files)?;
    }
    let room = arguments.room.as_deref().map(room_sound).transpose()?;
    let draws = arguments.plot.is_some();
    let (takes, portraits): (Vec<(String, Measurement)>, Vec<Option<Portrait>>) = arguments
        .files
        .par_iter()
        .map(|file| {
            let (take, portrait) = heard(file, &settings, room.as_ref(), draws);
            ((file.display().to_string(), take), portrait)
        })
        .unzip();
    if arguments.json {
        put(&format!("{}\n", report::json(&takes, STANDARD_A4_HZ)))?;
    } else if arguments.csv {
        put(&measure_csv::csv(&takes, STANDARD_A4_HZ))?;
    } else {
        let bold = common.wants_color(io::stdout().is_terminal());
        let cards: Vec<String> = takes
            .iter()
            .map(|(file, take)| heading(&report::card(file, take, STANDARD_A4_HZ), bold))
            .collect();
        put(&cards.join("\n"))?;
    }
    let mut exit_code = 0;
    if let (Some(plot), [file], [(name, take)]) = (&arguments.plot, &arguments.files[..], &takes[..]) {
        match portraits.first().and_then(Option::as_ref) {
            Some(portrait) => draw(plot, file, take, portrait)?,
            None => {
                warn(&format!(
                    "{name}: no note is heard, so there is nothing to draw. {} was not written",
                    plot.display()
                ));
                exit_code = COULD_NOT;
            }
        }
    }
    for (file, take) in &takes {
        for trouble in take.troubles.iter().filter(|trouble| trouble.code == TroubleCode::Unreadable) {
            warn(&format!("{file}: {}.", trouble.text));
            exit_code = COULD_NOT;
        }
    }
    Ok(ExitCode::from(exit_code))
}

/// Makes the first line of a card bold where that is wanted.
fn heading(card: &str, bold: bool) -> String {
    match card.split_once('\n') {
        Some((first, rest)) if bold => format!("\x1b[1m{first}\x1b[0m\n{rest}"),
        _ => card.to_string(),
    }
}

fn settings(arguments: &MeasureArguments) -> Result<Settings, Failure> {
    let expect_hz = arguments.expect.as_deref().map(pitch).transpose().map_err(Failure::Usage)?;
    let (from_s, to_s) = (arguments.from, arguments.to);
    for (name, value) in [("--from", from_s), ("--to", to_s)] {
        if value.is_some_and(|s| !s.is_finite() || s < 0.0) {
            return Err(Failure::Usage(format!("{name} is a time in seconds, 0 or more")));
        }
    }
    if let (Some(from), Some(to)) = (from_s, to_s)
        && from >= to
    {
        return Err(Failure::Usage(format!("--from {from} is not before --to {to}")));
    }
    Ok(Settings { expect_hz, from_s, to_s })
}

fn room_sound(file: &Path) -> Result<RoomSound, Failure> {
    recording::room_sound(file).map_err(|source| Failure::Recording { path: file.to_path_buf(), source })
}

/// One recording measured and, when its chart is wanted, looked at for that too: what comes through a pipe is
/// there only once.
fn heard(
    file: &Path,
    settings: &Settings,
    room: Option<&RoomSound>,
    draws: bool,
) -> (Measurement, Option<Portrait>) {
    let (take, trouble) = match recording::note(file, settings) {
        Ok(note) => note,
        Err(error) => return (unreadable(error.to_string()), None),
    };
    let mut measurement = measure(&take, settings, room);
    measurement.troubles.extend(trouble);
    (measurement, draws.then(|| portrait(&take, settings)).flatten())
}

/// A chart is written over what is there, so that nothing but a chart may be meant.
fn refuse_plot(plot: &Path, files: &[PathBuf]) -> Result<(), Failure> {
    if files.len() != 1 {
        return Err(Failure::Usage(format!("--plot draws one take, but {} are given", files.len())));
    }
    if !plot.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("svg")) {
        return Err(Failure::Usage(format!(
            "--plot {}: a chart's name ends in .svg, like D2.svg",
            plot.display()
        )));
    }
    Ok(())
}

/// Draws the take's chart; one that is there is lost only to a whole new one.
fn draw(plot: &Path, file: &Path, take: &Measurement, portrait: &Portrait) -> Result<(), Failure> {
    let name = file
        .file_name()
        .map_or_else(|| file.display().to_string(), |name| name.to_string_lossy().into_owned());
    let svg = take_chart(("take", WIDE), &name, take, portrait, STANDARD_A4_HZ)?;
    put_whole(plot, &svg)
}

/// A pitch as hertz or as a note's name.
fn pitch(text: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(hz) if hz.is_finite() && hz > 0.0 => Ok(hz),
        Ok(_) => Err(format!("--expect {text}: a pitch in hertz is a number above 0")),
        Err(_) => text
            .parse::<Note>()
            .map(|note| note.hz(STANDARD_A4_HZ))
            .map_err(|error| format!("--expect: {error}")),
    }
}
