//! The command `record`: one fingering after the other, from the sound card or from a pipe.

use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use super::book_args::RecordArguments;
use super::clock::shuffle;
use super::failure::Failure;
use super::live_line::LiveLine;
use super::live_source::{Key, Source, list_devices};
use super::output::{put, say, warn};
use super::played::{Played, Playing};
use super::run::COULD_NOT;
use super::take_store::{Part, TakeStore};
use super::test_takes::{begin_test, end_test};
use crate::analysis::live::Watch;
use crate::analysis::measure::Settings;
use crate::analysis::measurement::{Measurement, TroubleCode};
use crate::analysis::room::RoomSound;
use crate::audio::capture::Loudest;
use crate::instrument::model::Instrument;
use crate::instrument::take_names::{TakeOf, take_of};
use crate::report::{live, measure as measure_report, record as report};
use crate::units::cents_between;

/// Shortest and longest take, seconds.
const SECONDS: std::ops::RangeInclusive<f64> = 0.5..=600.0;
/// Sound is taken in pieces of this length, seconds.
const PIECE_S: f64 = 0.05;
/// The room's silence when no option says how long, seconds.
const SILENCE_S: f64 = 5.0;
/// A reference note that has moved farther than this says that all notes have (common practice, no source).
const MOVED_CENTS: f64 = 4.0;

/// Records the fingerings and prints what each take sounds like.
///
/// # Errors
/// [`Failure`] for files and options that are wrong, for a card that can't be used and for a disk
/// that can't be written. Takes kept before that stay.
pub fn run(arguments: &RecordArguments, quiet: bool) -> Result<ExitCode, Failure> {
    if arguments.sound.devices {
        list_devices(arguments.json)?;
        return Ok(ExitCode::SUCCESS);
    }
    for (option, seconds, least) in
        [("--seconds", Some(arguments.seconds), *SECONDS.start()), ("--silence", arguments.silence, 0.0)]
    {
        if let Some(seconds) = seconds.filter(|s| !(least..=*SECONDS.end()).contains(s)) {
            return Err(Failure::Usage(format!("{option} {seconds}: choose from {least} to 600 seconds")));
        }
    }
    let (path, names) = instrument_and_fingerings(arguments);
    let playing = Playing {
        said: &arguments.notes.as_note(),
        test: arguments.test.as_deref(),
        keeps: arguments.into.is_none(),
    };
    let played = Played::open(&path, &playing)?;
    let mut wanted = wanted(&played.instrument, &names)?;
    let mut stdin = std::io::stdin().lock();
    let mut source = Source::choose(&arguments.sound, &mut stdin)?;
    if let Some(reference) = reference(arguments, &played.instrument, &names, &wanted, source.is_card())? {
        if arguments.shuffle {
            shuffle(&mut wanted);
            wanted.insert(0, reference);
        }
        wanted.push(reference);
    } else if arguments.shuffle {
        shuffle(&mut wanted);
    }
    let store = TakeStore::open(&played, arguments.into.as_deref())?;
    let room = store.room(quiet);
    let mut recorder =
        Recorder { arguments, quiet, played: &played, store, room, line: LiveLine::new(quiet) };
    let (kept, missed) = recorder.session(&mut source, &wanted)?;
    if !quiet {
        moved(&kept).iter().for_each(|text| warn(text));
    }
    if arguments.json {
        let kept: Vec<(String, Measurement)> =
            kept.into_iter().map(|take| (take.file, take.measured)).collect();
        put(&format!("{}\n", measure_report::json(&kept, played.instrument.a4_hz)))?;
    }
    if missed.is_empty() {
        return Ok(ExitCode::SUCCESS);
    }
    warn(&format!("nothing was recorded for {}.", missed.join(", ")));
    Ok(ExitCode::from(COULD_NOT))
}

/// A first word that is no file or folder is a fingering, and the instrument is the one here.
fn instrument_and_fingerings(arguments: &RecordArguments) -> (PathBuf, Vec<String>) {
    let first = &arguments.instrument;
    let mut names = arguments.fingerings.clone();
    let looks_like_a_path = first.components().count() > 1 || first.extension().is_some();
    if first.exists() || looks_like_a_path {
        return (first.clone(), names);
    }
    let here = Path::new(".");
    let is_here =
        here.join("instrument.toml").is_file() || matches!(super::bench_book::book_root(here), Ok(Some(_)));
    if !is_here {
        return (first.clone(), names);
    }
    names.insert(0, first.to_string_lossy().into_owned());
    (here.to_path_buf(), names)
}

/// The fingerings to record: those named, in that order; without any, all that can be played, the
/// lowest first.
fn wanted(instrument: &Instrument, names: &[String]) -> Result<Vec<usize>, Failure> {
    let all = &instrument.fingerings;
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
    names.iter().map(|name| fingering_called(instrument, name)).collect()
}

fn fingering_called(instrument: &Instrument, name: &str) -> Result<usize, Failure> {
    let all = &instrument.fingerings;
    match take_of(name, all) {
        TakeOf::Fingering(index) if !instrument.playable(&all[index]) => {
            Err(Failure::Usage(format!("{name} opens a hole that is only planned: not playable yet")))
        }
        TakeOf::Fingering(index) => Ok(index),
        TakeOf::Room | TakeOf::Unknown => {
            let known: Vec<&str> = all.iter().map(|fingering| fingering.name.as_str()).collect();
            Err(Failure::Usage(format!(
                "{name}: no fingering is called that. The file has: {}",
                known.join(", ")
            )))
        }
    }
}

/// The note that is played again at the end: the one that was asked for; before a card, when everything is
/// recorded, the first one.
fn reference(
    arguments: &RecordArguments,
    instrument: &Instrument,
    names: &[String],
    wanted: &[usize],
    before_card: bool,
) -> Result<Option<usize>, Failure> {
    match arguments.reference.as_deref() {
        Some("none") => Ok(None),
        Some(name) => Ok(Some(fingering_called(instrument, name)?)),
        None => Ok(wanted.first().copied().filter(|_| before_card && names.is_empty() && wanted.len() > 2)),
    }
}

/// A kept take.
struct Kept {
    name: String,
    file: String,
    measured: Measurement,
}

/// What is said of each note that was played more than once: how far it moved from first to last.
fn moved(kept: &[Kept]) -> Vec<String> {
    let mut told = Vec::new();
    for (index, first) in kept.iter().enumerate() {
        let is_same = |take: &&Kept| take.name == first.name;
        let is_first = !kept.iter().take(index).any(|take| take.name == first.name);
        let last = kept.iter().skip(index + 1).rfind(is_same);
        let pitches = (first.measured.pitch_hz, last.and_then(|last| last.measured.pitch_hz));
        let (Some(first_hz), Some(last_hz), true) = (pitches.0, pitches.1, is_first) else { continue };
        let cents = cents_between(last_hz, first_hz);
        let verdict = if cents.abs() > MOVED_CENTS {
            "air, reed or player have moved all notes meanwhile. Warm up, and record again"
        } else {
            "steady enough"
        };
        told.push(format!("{} played again: {cents:+.1} cents from the first take: {verdict}.", first.name));
    }
    told
}

struct Recorder<'a> {
    arguments: &'a RecordArguments,
    quiet: bool,
    played: &'a Played,
    store: TakeStore<'a>,
    room: Option<RoomSound>,
    line: LiveLine,
}

impl Recorder<'_> {
    /// The silent room, what a test wants done, the notes, and the test undone.
    fn session(
        &mut self,
        source: &mut Source<'_>,
        wanted: &[usize],
    ) -> Result<(Vec<Kept>, Vec<String>), Failure> {
        self.silence(source)?;
        if !begin_test(self.played, source, self.quiet)? {
            return Ok((Vec::new(), self.names(wanted)));
        }
        let recorded = self.record_all(source, wanted);
        end_test(self.played, self.quiet);
        recorded
    }

    /// Records the silent room first, as `room.wav`.
    fn silence(&mut self, source: &mut Source<'_>) -> Result<(), Failure> {
        let when_not_told = if source.is_card() && !self.store.has_room() { SILENCE_S } else { 0.0 };
        let seconds = self.arguments.silence.unwrap_or(when_not_told);
        if seconds <= 0.0 {
            return Ok(());
        }
        let prompt = format!("First the silent room, {seconds} s: play nothing. Enter begins, s skips it: ");
        if source.ask(&prompt)? != Key::Go {
            return Ok(());
        }
        let Some(part) = self.capture(source, TakeOf::Room, seconds)? else { return Ok(()) };
        let offered = part.finish()?;
        let measured = offered.measured(&Settings::default(), None)?;
        let room = offered.room_sound()?;
        self.store.keep_room(offered)?;
        let hum = measured.troubles.iter().find(|trouble| trouble.code == TroubleCode::Hum);
        if let Some(hum) = hum.filter(|_| !self.quiet) {
            warn(&format!("room.wav: {}.", hum.text));
        }
        self.room = Some(room);
        Ok(())
    }

    /// The takes that were kept, and the names that got none.
    fn record_all(
        &mut self,
        source: &mut Source<'_>,
        wanted: &[usize],
    ) -> Result<(Vec<Kept>, Vec<String>), Failure> {
        let mut kept = Vec::new();
        for (done, &fingering) in wanted.iter().enumerate() {
            loop {
                match source.ask(&self.prompt(fingering))? {
                    Key::Go | Key::Again => {}
                    Key::Skip => break,
                    Key::Stop => return Ok((kept, self.names(&wanted[done..]))),
                }
                let part = self.capture(source, TakeOf::Fingering(fingering), self.arguments.seconds)?;
                let Some(part) = part else { return Ok((kept, self.names(&wanted[done..]))) };
                if let Some(taken) = self.offer(source, fingering, part)? {
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

    fn names(&self, fingerings: &[usize]) -> Vec<String> {
        fingerings.iter().map(|&f| self.played.instrument.fingerings[f].name.clone()).collect()
    }

    fn prompt(&self, fingering: usize) -> String {
        let instrument = &self.played.instrument;
        let fingering = &instrument.fingerings[fingering];
        let open: Vec<&str> =
            fingering.open.iter().map(|&hole| instrument.holes[hole].name.as_str()).collect();
        let open =
            if open.is_empty() { "all closed".to_string() } else { format!("open: {}", open.join(", ")) };
        format!(
            "{} ({open}). Enter, then hold the note for {} s; s skips it, q stops: ",
            fingering.name, self.arguments.seconds
        )
    }

    /// Records, and shows level and pitch meanwhile. `None` where nothing came any more.
    fn capture(
        &mut self,
        source: &mut Source<'_>,
        of: TakeOf,
        seconds: f64,
    ) -> Result<Option<Part>, Failure> {
        let rate_hz = source.rate_hz();
        let frames = (seconds * f64::from(rate_hz)).round() as usize;
        let piece = ((PIECE_S * f64::from(rate_hz)) as usize).max(1);
        let mut watch = self.line.is_seen().then(|| (Watch::new(f64::from(rate_hz)), Loudest::default()));
        let mut part: Option<Part> = None;
        source.start()?;
        loop {
            let done = part.as_ref().map_or(0, Part::frames);
            let block = if done < frames { source.next(piece.min(frames - done))? } else { None };
            let Some(block) = block else { break };
            let part = match &mut part {
                Some(part) => part,
                None => {
                    part.insert(self.store.begin(&self.played.instrument, of, rate_hz, block.channels)?)
                }
            };
            part.put(&block)?;
            if let Some((watch, loudest)) = &mut watch {
                for look in watch.hear(&loudest.of(&block)) {
                    let level = live::level(look.level_dbfs, look.peak);
                    let index = match of {
                        TakeOf::Fingering(index) => Some(index),
                        TakeOf::Room | TakeOf::Unknown => None,
                    };
                    let note =
                        look.note.map(|note| self.played.line(note.hz, index, note.undertone.as_ref()));
                    let left_s = seconds - look.at_s;
                    self.line.show(&format!(
                        "{left_s:.0} s · {level} · {}",
                        note.unwrap_or_else(|| "no note".into())
                    ));
                }
            }
        }
        source.stop();
        self.line.clear();
        Ok(part)
    }

    /// Measures the take, tells it, and keeps it if the maker wants.
    fn offer(&mut self, source: &mut Source<'_>, index: usize, part: Part) -> Result<Option<Kept>, Failure> {
        let offered = part.finish()?;
        let expected_s = self.arguments.seconds;
        let name = &self.played.instrument.fingerings[index].name;
        if offered.seconds < 0.99 * expected_s && !self.quiet {
            warn(&format!("{name}: the sound ends after {:.1} of {expected_s} s", offered.seconds));
        }
        let predicted_hz = self.played.predicted.get(index).and_then(|note| note.predicted_hz);
        let settings = Settings { expect_hz: predicted_hz, ..Settings::default() };
        let measured = offered.measured(&settings, self.room.as_ref())?;
        let file = offered.told();
        let target_hz = self.played.instrument.target_hz(&self.played.instrument.fingerings[index]);
        let told = report::text(&file, &measured, target_hz, predicted_hz);
        if source.can_answer() {
            say(&told);
            if source.ask("Enter keeps it, a records it again: ")? == Key::Again {
                offered.discard()?;
                return Ok(None);
            }
        }
        self.store.keep(offered, name, &measured)?;
        // Told as a result only once it is safe.
        let was_seen = source.can_answer();
        if self.arguments.json {
            if !was_seen {
                say(&told);
            }
        } else if !(was_seen && std::io::stdout().is_terminal()) {
            put(&told)?;
        }
        Ok(Some(Kept { name: name.clone(), file, measured }))
    }
}
