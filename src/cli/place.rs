//! The commands `place` and `scale`: where the holes of a body go before it is drilled.

use std::path::Path;
use std::process::ExitCode;

use super::bench_book::{bench_file, book_root};
use super::check::set_room;
use super::failure::Failure;
use super::learned::Lesson;
use super::output::{put, say};
use super::place_args::{LimitArguments, PlaceArguments, ResultArguments, ScaleArguments};
use crate::book::disk::write_whole;
use crate::book::folder::Book;
use crate::diagnosis::weigh::learned::Expectation;
use crate::instrument::counts::{MOST_SIZES, MOST_WISHES};
use crate::instrument::file::load;
use crate::instrument::model::Instrument;
use crate::instrument::save::{check_layout, save_layout};
use crate::placing::error::PlaceError;
use crate::placing::limits::{Limits, Reach, fingering_called, hole_called};
use crate::placing::place::{Placed, begun, place};
use crate::placing::scale::{Carried, Wanted, carry, with_sizes_to_make};
use crate::report::layout::{paragraph, visible_path};
use crate::report::strip::{PAPERS, strip};
use crate::report::{learned, place as report};

/// A note that does not matter still counts this, so that a hole of its own has a place.
const LEAST_WEIGHT: f64 = 0.01;

/// What is expected of a note counts as the same within this, cents: placing meets notes no nearer.
const SAME_CENTS: f64 = 0.5;

/// Places the holes and tells where they go.
///
/// # Errors
/// [`Failure`] for an instrument file that can't be read, limits that nothing can meet, and results that can't be
/// written.
pub fn run(arguments: &PlaceArguments, quiet: bool) -> Result<ExitCode, Failure> {
    let file = bench_file(&arguments.instrument)?;
    let mut instrument = load(&file)?;
    set_room(&mut instrument, arguments.limits.room)?;
    let limits = limits(&instrument, &arguments.limits)?;
    let (placed, expected) = place_as_played(&instrument, &limits, &arguments.limits, quiet)?;
    let told = Told { placed: &placed, reaches: &limits.reaches, carried: None, expected: expected.as_ref() };
    told.finish(&file, &instrument, &arguments.results)
}

/// Carries a layout to another size and tells where the holes go.
///
/// # Errors
/// As [`run`].
pub fn run_scale(arguments: &ScaleArguments, quiet: bool) -> Result<ExitCode, Failure> {
    let file = bench_file(&arguments.instrument)?;
    let mut donor = load(&file)?;
    set_room(&mut donor, arguments.limits.room)?;
    let wanted = Wanted {
        semitones: arguments.higher,
        bore_mm: positive("--new-bore", arguments.new_bore)?,
        wall_mm: positive("--new-wall", arguments.new_wall)?,
        chimney_mm: positive("--new-chimney", arguments.new_chimney)?,
        chamber_ml: not_negative("--new-chamber", arguments.new_chamber)?,
        reed_ml: not_negative("--new-reed", arguments.new_reed)?,
    };
    let limits = limits(&donor, &arguments.limits)?;
    let carried = carry(&donor, &wanted)?;
    let body = with_sizes_to_make(&carried.instrument, &limits);
    check_layout(&file, &donor, &body)?;
    let (placed, expected) = place_as_played(&body, &limits, &arguments.limits, quiet)?;
    let told = Told {
        placed: &placed,
        reaches: &limits.reaches,
        carried: Some(&carried),
        expected: expected.as_ref(),
    };
    told.finish(&file, &donor, &arguments.results)
}

/// Places the holes; with a book to learn from so that the notes meet their targets as they are expected to be played.
fn place_as_played(
    instrument: &Instrument,
    limits: &Limits,
    arguments: &LimitArguments,
    quiet: bool,
) -> Result<(Placed, Option<Expectation>), Failure> {
    let instrument = &in_air_of_its_length(instrument, limits, arguments.room)?;
    let Some(lesson) = Lesson::of(arguments.learned_from.as_deref(), None)? else {
        return Ok((place_aloud(instrument, limits, quiet)?, None));
    };
    let guessed = lesson.expectation(&begun(instrument, limits)?)?;
    let placed = place_meeting(instrument, limits, &guessed, quiet)?;
    // What reed and mouthpiece do to a note hangs on where its vent and holes come to lie.
    let expected = lesson.expectation(&placed.after.finished())?;
    if !differs(&guessed, &expected) {
        return Ok((placed, Some(guessed)));
    }
    Ok((place_meeting(instrument, limits, &expected, quiet)?, Some(expected)))
}

/// Places the holes so that notes which come out off by what is expected meet their targets.
fn place_meeting(
    instrument: &Instrument,
    limits: &Limits,
    expected: &Expectation,
    quiet: bool,
) -> Result<Placed, Failure> {
    let mut wanted = instrument.clone();
    for (fingering, offset) in wanted.fingerings.iter_mut().zip(&expected.notes) {
        fingering.cents -= offset.map_or(0.0, |offset| offset.cents);
    }
    let mut placed = place_aloud(&wanted, limits, quiet)?;
    for body in [&mut placed.before, &mut placed.after] {
        body.fingerings.clone_from(&instrument.fingerings);
    }
    Ok(placed)
}

/// Whether any note is expected elsewhere by more than [`SAME_CENTS`].
fn differs(one: &Expectation, other: &Expectation) -> bool {
    let pairs = one.notes.iter().zip(&other.notes);
    pairs
        .filter_map(|(one, other)| Some((one.as_ref()?, other.as_ref()?)))
        .any(|(one, other)| (one.cents - other.cents).abs() > SAME_CENTS)
}

/// With the air that the room gives to a tube as long as this one will be: breath cools on its way, and a blank tube is
/// longer than what becomes of it.
fn in_air_of_its_length(
    instrument: &Instrument,
    limits: &Limits,
    room_c: Option<f64>,
) -> Result<Instrument, Failure> {
    let mut instrument = instrument.clone();
    if room_c.is_some() {
        let mut body = begun(&instrument, limits)?;
        set_room(&mut body, room_c)?;
        instrument.measure_air(body.air.temperature_c);
    }
    Ok(instrument)
}

fn place_aloud(instrument: &Instrument, limits: &Limits, quiet: bool) -> Result<Placed, Failure> {
    let progress = |text: &str| {
        if !quiet {
            say(&format!("borescribe: {text}\n"));
        }
    };
    Ok(place(instrument, limits, &progress)?)
}

/// What is told.
struct Told<'a> {
    placed: &'a Placed,
    reaches: &'a [Reach],
    carried: Option<&'a Carried>,
    expected: Option<&'a Expectation>,
}

impl Told<'_> {
    /// Writes what was asked for and prints the result.
    fn finish(
        &self,
        file: &Path,
        original: &Instrument,
        results: &ResultArguments,
    ) -> Result<ExitCode, Failure> {
        let Told { placed, reaches, carried, expected } = *self;
        let mut written = Vec::new();
        if let Some(copy) = &results.out {
            save_layout(file, original, &placed.planned(), copy)?;
            written.push(copy.display().to_string());
        }
        if let Some(folder) = &results.strip {
            std::fs::create_dir_all(folder)
                .map_err(|source| Failure::File { path: folder.clone(), source })?;
            for paper in PAPERS {
                for (number, page) in strip(placed, reaches, paper).into_iter().enumerate() {
                    let path = folder.join(format!("strip-{}-{}.svg", paper.name, number + 1));
                    write_whole(&path, page.as_bytes())?;
                    written.push(path.display().to_string());
                }
            }
        }
        if results.json {
            let mut told = report::json(placed, carried, &written);
            if let Some(expected) = expected {
                told["learned"] = learned::json(&placed.after, expected);
            }
            put(&format!("{told}\n"))?;
        } else {
            let learnt = expected.map(|expected| paragraph("", &learned::placed(expected)));
            let taken_over = results.out.as_deref().map(take_over).transpose()?;
            put(&(report::text(placed, carried, &written)
                + &taken_over.unwrap_or_default()
                + &learnt.unwrap_or_default()))?;
        }
        Ok(ExitCode::SUCCESS)
    }
}

/// How a book takes the planned file over.
fn take_over(plan: &Path) -> Result<String, Failure> {
    let plan = visible_path(plan);
    let Some(root) = book_root(Path::new("."))? else {
        return Ok(format!("Begin a book with it: borescribe new BOOK --plan \"{plan}\"\n"));
    };
    let book = Book::open(&root)?;
    let mut told = format!("Take it over: borescribe step --plan \"{plan}\"\n");
    if let Some(newest) = book.prototypes().last() {
        let next = following(newest);
        told += &format!(
            "Or for the next body:  borescribe new . --prototype \"{next}\" --from \"{newest}\" --plan \"{plan}\"\n"
        );
    }
    Ok(told)
}

/// The name of the prototype after this one: P3 after P2.
fn following(name: &str) -> String {
    let head = name.trim_end_matches(|c: char| c.is_ascii_digit());
    let next = name[head.len()..].parse().ok().and_then(|number: u64| number.checked_add(1));
    next.map_or_else(|| format!("{name} 2"), |number| format!("{head}{number}"))
}

/// The limits that the options mean.
fn limits(instrument: &Instrument, arguments: &LimitArguments) -> Result<Limits, Failure> {
    for (option, given, most) in [
        ("--fixed", arguments.fixed.len(), MOST_WISHES),
        ("--reach", arguments.reach.len() / 3, MOST_WISHES),
        ("--size", arguments.size.len() / 2, MOST_WISHES),
        ("--weight", arguments.weight.len() / 2, MOST_WISHES),
        ("--pads", arguments.pads.len(), MOST_SIZES),
    ] {
        if given > most {
            return Err(PlaceError::TooMany { option, given, most }.into());
        }
    }
    let mut fixed = arguments
        .fixed
        .iter()
        .map(|name| hole_called(instrument, "--fixed", name))
        .collect::<Result<Vec<usize>, PlaceError>>()?;
    if arguments.keep_drilled {
        fixed.extend((0..instrument.holes.len()).filter(|&hole| instrument.holes[hole].drilled));
    }
    let mut reaches = Vec::new();
    for three in arguments.reach.chunks(3) {
        let [from, to, mm] = three else { continue };
        let (from, to) = (hole_called(instrument, "--reach", from)?, hole_called(instrument, "--reach", to)?);
        if from == to {
            return Err(PlaceError::SameHole { hole: instrument.holes[from].name.clone() }.into());
        }
        let most_mm = number("--reach", mm, "the third word is the distance in mm, more than 0")?;
        reaches.push(Reach { from, to, most_mm });
    }
    let mut sizes_mm = Vec::new();
    for two in arguments.size.chunks(2) {
        let [name, mm] = two else { continue };
        let size_mm = number("--size", mm, "the second word is the width in mm, more than 0")?;
        sizes_mm.push((hole_called(instrument, "--size", name)?, size_mm));
    }
    // What --weight says comes after, and the last word counts.
    let own_weights = instrument.fingerings.iter().map(|fingering| fingering.weight.max(LEAST_WEIGHT));
    let mut weights: Vec<(usize, f64)> = own_weights.enumerate().collect();
    for two in arguments.weight.chunks(2) {
        let [name, times] = two else { continue };
        let weight = number("--weight", times, "the second word says how much it counts, more than 0")?;
        weights.push((fingering_called(instrument, "--weight", name)?, weight));
    }
    let mut pads_mm = arguments.pads.clone();
    for &pad_mm in &pads_mm {
        positive("--pads", Some(pad_mm))?;
    }
    pads_mm.sort_by(f64::total_cmp);
    Ok(Limits {
        fixed,
        keep_sizes: arguments.keep_diameters,
        sizes_mm,
        keep_end: arguments.keep_end,
        reaches,
        least_wall_mm: not_negative("--least-wall", arguments.least_wall)?,
        smallest_mm: positive("--smallest", arguments.smallest)?,
        widest_mm: positive("--widest", arguments.widest)?,
        undersize_mm: not_negative("--undersize", arguments.undersize)?,
        pads_mm,
        weights,
        // Which keys go where, and what the sizes were, is for `place` to find.
        keys: Vec::new(),
        own_mm: Vec::new(),
    })
}

fn number(option: &'static str, written: &str, right: &'static str) -> Result<f64, PlaceError> {
    let number = written.parse::<f64>().ok().filter(|number| number.is_finite() && *number > 0.0);
    number.ok_or_else(|| PlaceError::BadNumber { option, written: written.to_string(), right })
}

fn positive(option: &'static str, value: Option<f64>) -> Result<Option<f64>, PlaceError> {
    match value {
        Some(value) if !(value.is_finite() && value > 0.0) => {
            let right = "give a number of millimetres, more than 0";
            Err(PlaceError::BadNumber { option, written: value.to_string(), right })
        }
        _ => Ok(value),
    }
}

fn not_negative(option: &'static str, value: Option<f64>) -> Result<Option<f64>, PlaceError> {
    match value {
        Some(value) if !(value.is_finite() && value >= 0.0) => {
            let right = "give a number, 0 or more";
            Err(PlaceError::BadNumber { option, written: value.to_string(), right })
        }
        _ => Ok(value),
    }
}
