//! The command `record`: one fingering after the other, from the sound card or from a pipe.

use std::io::{BufRead, IsTerminal, StdinLock};
use std::path::PathBuf;
use std::process::ExitCode;

use super::args::RecordArguments;
use super::check::instrument_file;
use super::failure::Failure;
use super::output::{put, say, warn};
use super::run::COULD_NOT;
use super::take_store::TakeStore;
use crate::analysis::measure::{Settings, measure};
use crate::analysis::measurement::Measurement;
use crate::audio::capture::{RawFormat, Recorded};
use crate::audio::decode;
use crate::audio::sound_card::SoundCard;
use crate::audio::take::Take;
use crate::instrument::file::load;
use crate::instrument::model::Instrument;
use crate::instrument::prediction::{PredictedNote, predict};
use crate::instrument::take_names::{TakeOf, take_of};
use crate::report::{measure as measure_report, record as report};

/// Shortest and longest take, seconds.
const SECONDS: std::ops::RangeInclusive<f64> = 0.5..=600.0;

/// Records the fingerings and prints what each take sounds like.
///
/// # Errors
/// [`Failure`] for files and options that are wrong, for a card that can't be used and for a disk
/// that can't be written. Takes kept before that stay.
pub fn run(arguments: &RecordArguments, quiet: bool) -> Result<ExitCode, Failure> {
    let file = instrument_file(&arguments.instrument);
    let instrument = load(&file)?;
    if !SECONDS.contains(&arguments.seconds) {
        let seconds = arguments.seconds;
        return Err(Failure::Usage(format!("--seconds {seconds}: a take lasts from half a second to 600")));
    }
    let wanted = wanted(&instrument, &arguments.fingerings)?;
    let raw: Option<RawFormat> = arguments
        .raw
        .as_deref()
        .map(str::parse)
        .transpose()
        .map_err(|error| Failure::Usage(format!("--raw {error}")))?;
    let mut stdin = std::io::stdin().lock();
    let mut source = Source::choose(raw, &mut stdin)?;
    let store = TakeStore::open(arguments.into.clone().unwrap_or_else(|| file.with_file_name("takes")))?;
    let predicted = predict(&instrument);
    let mut recorder = Recorder { arguments, quiet, instrument: &instrument, predicted: &predicted, store };
    let (kept, missed) = recorder.record_all(&mut source, &wanted)?;
    if arguments.json {
        put(&format!("{}\n", measure_report::json(&kept, instrument.a4_hz)))?;
    }
    if missed.is_empty() {
        return Ok(ExitCode::SUCCESS);
    }
    warn(&format!("nothing was recorded for {}.", missed.join(", ")));
    Ok(ExitCode::from(COULD_NOT))
}

/// The fingerings to record: those named, in that order; without any, all that can be played, the
/// lowest first.
fn wanted(instrument: &Instrument, names: &[String]) -> Result<Vec<usize>, Failure> {
    let all = &instrument.fingerings;
    let known: Vec<&str> = all.iter().map(|fingering| fingering.name.as_str()).collect();
    if all.is_empty() {
        return Err(Failure::Usage(
            "the instrument file has no fingerings yet. Add a [[fingering]].".to_string(),
        ));
    }
    if names.is_empty() {
        let mut playable: Vec<usize> = (0..all.len()).filter(|&f| instrument.playable(&all[f])).collect();
        playable.sort_by(|&a, &b| instrument.target_hz(&all[a]).total_cmp(&instrument.target_hz(&all[b])));
        return Ok(playable);
    }
    let index = |name: &String| match take_of(name, all) {
        TakeOf::Fingering(index) if !instrument.playable(&all[index]) => {
            Err(Failure::Usage(format!("{name} opens a hole that is only planned: not playable yet")))
        }
        TakeOf::Fingering(index) => Ok(index),
        TakeOf::Room | TakeOf::Unknown => Err(Failure::Usage(format!(
            "{name}: no fingering is called that. The file has: {}",
            known.join(", ")
        ))),
    };
    names.iter().map(index).collect()
}

/// Where the sound comes from.
enum Source<'a> {
    /// The sound card; the maker presses Enter.
    Card { card: SoundCard, keys: &'a mut StdinLock<'static> },
    /// Raw samples on stdin.
    Raw { format: RawFormat, pipe: &'a mut StdinLock<'static> },
    /// A whole recording that came on stdin, and how many of its samples are used up.
    Whole { take: Take, used: usize },
}

/// What a source gave for one fingering.
enum Given {
    Sound(Take),
    Skipped,
    Ended,
}

impl<'a> Source<'a> {
    fn choose(raw: Option<RawFormat>, stdin: &'a mut StdinLock<'static>) -> Result<Source<'a>, Failure> {
        let failure = |source| Failure::File { path: PathBuf::from("standard input"), source };
        if let Some(format) = raw {
            if stdin.is_terminal() {
                return Err(Failure::Usage(
                    "--raw reads samples from standard input: pipe a recorder into it".into(),
                ));
            }
            return Ok(Source::Raw { format, pipe: stdin });
        }
        // A pipe may carry a recording, or the Enter keys of a script.
        if !stdin.is_terminal() && stdin.fill_buf().map_err(failure)?.starts_with(b"RIFF") {
            let mut bytes = Vec::new();
            std::io::Read::read_to_end(stdin, &mut bytes).map_err(failure)?;
            let path = PathBuf::from("standard input");
            let take =
                decode::read_bytes(bytes, "wav").map_err(|source| Failure::Recording { path, source })?;
            return Ok(Source::Whole { take, used: 0 });
        }
        Ok(Source::Card { card: SoundCard::open()?, keys: stdin })
    }

    fn next(&mut self, prompt: &str, seconds: f64) -> Result<Given, Failure> {
        match self {
            Source::Card { card, keys } => {
                say(prompt);
                match key(keys)?.as_deref() {
                    None | Some("q") => return Ok(Given::Ended),
                    Some("s") => return Ok(Given::Skipped),
                    Some(_) => {}
                }
                say(&format!("recording {seconds} s …\n"));
                Ok(Given::Sound(card.record(seconds)?.into_take()))
            }
            Source::Raw { format, pipe } => {
                Ok(format.read(*pipe, seconds)?.map(Recorded::into_take).map_or(Given::Ended, Given::Sound))
            }
            Source::Whole { take, used } => {
                let length = (seconds * take.rate_hz).round() as usize;
                let samples: Vec<f64> = take.samples.iter().skip(*used).take(length).copied().collect();
                *used += samples.len();
                if samples.is_empty() {
                    return Ok(Given::Ended);
                }
                Ok(Given::Sound(Take { samples, rate_hz: take.rate_hz, origin: take.origin.clone() }))
            }
        }
    }

    /// Whether the maker wants the take that was just told; a pipe can't answer, so its takes are kept.
    fn is_kept(&mut self) -> Result<bool, Failure> {
        let Source::Card { keys, .. } = self else { return Ok(true) };
        if !keys.is_terminal() {
            return Ok(true);
        }
        say("Enter keeps it, a records it again: ");
        Ok(key(keys)?.as_deref() != Some("a"))
    }

    /// Seconds of a whole recording that no fingering took.
    fn left_over_s(&self) -> f64 {
        match self {
            Source::Whole { take, used } => take.samples.len().saturating_sub(*used) as f64 / take.rate_hz,
            Source::Card { .. } | Source::Raw { .. } => 0.0,
        }
    }
}

/// One line from the keyboard; `None` at its end.
fn key(keys: &mut StdinLock<'static>) -> Result<Option<String>, Failure> {
    let mut line = String::new();
    let count = keys
        .read_line(&mut line)
        .map_err(|source| Failure::File { path: PathBuf::from("standard input"), source })?;
    Ok((count > 0).then(|| line.trim().to_ascii_lowercase()))
}

/// A kept take: its file and what it sounds like.
type Kept = (String, Measurement);

struct Recorder<'a> {
    arguments: &'a RecordArguments,
    quiet: bool,
    instrument: &'a Instrument,
    predicted: &'a [PredictedNote],
    store: TakeStore,
}

impl Recorder<'_> {
    /// The takes that were kept, and the names that got none.
    fn record_all(
        &mut self,
        source: &mut Source<'_>,
        wanted: &[usize],
    ) -> Result<(Vec<Kept>, Vec<String>), Failure> {
        let mut kept = Vec::new();
        for (done, &fingering) in wanted.iter().enumerate() {
            loop {
                let take = match source.next(&self.prompt(fingering), self.arguments.seconds)? {
                    Given::Sound(take) => take,
                    Given::Skipped => break,
                    Given::Ended => {
                        let name = |f: &usize| self.instrument.fingerings[*f].name.clone();
                        return Ok((kept, wanted[done..].iter().map(name).collect()));
                    }
                };
                if let Some(taken) = self.offer(source, fingering, &take)? {
                    kept.push(taken);
                    break;
                }
            }
        }
        let left_over_s = source.left_over_s();
        if left_over_s > 0.0 && !self.quiet {
            warn(&format!("{left_over_s:.1} s of sound were left over and not used"));
        }
        Ok((kept, Vec::new()))
    }

    fn prompt(&self, fingering: usize) -> String {
        let fingering = &self.instrument.fingerings[fingering];
        let open: Vec<&str> =
            fingering.open.iter().map(|&hole| self.instrument.holes[hole].name.as_str()).collect();
        let open =
            if open.is_empty() { "all closed".to_string() } else { format!("open: {}", open.join(", ")) };
        format!(
            "{} ({open}). Enter, then hold the note for {} s; s skips it, q stops: ",
            fingering.name, self.arguments.seconds
        )
    }

    /// Writes the take aside, measures it, tells it, and keeps it if the maker wants.
    fn offer(&mut self, source: &mut Source<'_>, index: usize, take: &Take) -> Result<Option<Kept>, Failure> {
        let expected_s = self.arguments.seconds;
        let name = &self.instrument.fingerings[index].name;
        if take.seconds() < 0.99 * expected_s && !self.quiet {
            warn(&format!("{name}: the sound ends after {:.1} of {expected_s} s", take.seconds()));
        }
        let offered = self.store.write(self.instrument, index, take)?;
        let predicted_hz = self.predicted.get(index).and_then(|note| note.predicted_hz);
        let settings = Settings { expect_hz: predicted_hz, ..Settings::default() };
        let measured = measure(take, &settings, None);
        let file = offered.path().display().to_string();
        let target_hz = self.instrument.target_hz(&self.instrument.fingerings[index]);
        let told = report::text(&file, &measured, target_hz, predicted_hz);
        if self.arguments.json {
            say(&told)
        } else {
            put(&told)?
        }
        if source.is_kept()? {
            offered.keep()?;
            return Ok(Some((file, measured)));
        }
        offered.discard()?;
        Ok(None)
    }
}
