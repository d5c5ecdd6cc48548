//! The command `listen`: hands-free. The note that sounds is named, and one that is held steady is kept.

use std::io::IsTerminal;
use std::process::ExitCode;

use super::book_args::ListenArguments;
use super::failure::Failure;
use super::live_line::LiveLine;
use super::live_source::{Source, list_devices};
use super::output::{put, say};
use super::played::{Played, Playing};
use super::take_store::{Part, TakeStore};
use super::test_takes::{begin_test, end_test};
use crate::analysis::held::{Change, Follower, HeldNote};
use crate::analysis::live::{Look, Watch};
use crate::analysis::measure::Settings;
use crate::analysis::measurement::Measurement;
use crate::analysis::room::RoomSound;
use crate::audio::capture::{Block, Loudest};
use crate::instrument::take_names::TakeOf;
use crate::report::{live, measure as measure_report, record as report};

/// Sound is taken in pieces of this length, seconds.
const PIECE_S: f64 = 0.05;
/// Sound that is kept back, so that a take can begin before its note was sure, seconds.
const BACK_S: f64 = 4.0;
/// A note that has been steady for so long is written down as it goes on, seconds.
const WRITTEN_FROM_S: f64 = 0.8;
/// A take gets no longer than this, seconds.
const LONGEST_S: f64 = 20.0;
/// How long a note can be asked to be held, seconds.
const HOLDS: std::ops::RangeInclusive<f64> = 1.0..=LONGEST_S;

/// Listens until the sound ends or the program is stopped.
///
/// # Errors
/// [`Failure`] for files and options that are wrong, for a card that can't be used and for a disk that can't be
/// written. Takes kept before that stay.
pub fn run(arguments: &ListenArguments, quiet: bool) -> Result<ExitCode, Failure> {
    if arguments.sound.devices {
        list_devices(arguments.json)?;
        return Ok(ExitCode::SUCCESS);
    }
    if !HOLDS.contains(&arguments.hold) {
        return Err(Failure::Usage(format!(
            "--hold {}: choose from 1 to {LONGEST_S} seconds",
            arguments.hold
        )));
    }
    let playing = Playing {
        said: &arguments.notes.as_note(),
        test: arguments.test.as_deref(),
        keeps: !arguments.only_listen && arguments.into.is_none(),
    };
    let played = Played::open(&arguments.instrument, &playing)?;
    let mut stdin = std::io::stdin().lock();
    let mut source = Source::choose(&arguments.sound, &mut stdin)?;
    let store =
        if arguments.only_listen { None } else { Some(TakeStore::open(&played, arguments.into.as_deref())?) };
    if !begin_test(&played, &mut source, quiet)? {
        return Ok(ExitCode::SUCCESS);
    }
    let mut listener = Listener {
        room: store.as_ref().and_then(|store| store.room(quiet)),
        arguments,
        played: &played,
        store,
        line: LiveLine::new(quiet),
        follower: Follower::default(),
        back: Back::default(),
        writing: None,
        kept: Vec::new(),
    };
    if source.is_card() && !quiet {
        say("Listening. Play, and hold each note; Ctrl-C ends it, and what was kept is safe.\n");
    }
    source.start()?;
    let ended = listener.listen(&mut source);
    listener.end()?;
    end_test(&played, quiet);
    ended?;
    if arguments.json {
        put(&format!("{}\n", measure_report::json(&listener.kept, played.instrument.a4_hz)))?;
    }
    Ok(ExitCode::SUCCESS)
}

/// The last seconds of sound, as they came.
#[derive(Default)]
struct Back {
    blocks: Vec<Block>,
    /// Frames that came before the first of these blocks.
    gone: usize,
}

impl Back {
    fn put(&mut self, block: Block) {
        self.blocks.push(block);
        let kept: usize = self.blocks.iter().map(Block::frames).sum();
        let first = self.blocks.first();
        let (frames, rate_hz) = first.map_or((0, 0), |block| (block.frames(), block.rate_hz));
        if kept as f64 > BACK_S * f64::from(rate_hz) {
            self.gone += frames;
            self.blocks.remove(0);
        }
    }

    /// What came since `from_s`, as one block.
    fn since(&self, from_s: f64) -> Option<Block> {
        let first = self.blocks.first()?;
        let from = (from_s * f64::from(first.rate_hz)) as usize;
        let surplus = from.saturating_sub(self.gone) * first.channels;
        let samples = self.blocks.iter().flat_map(|block| &block.samples).skip(surplus).copied().collect();
        Some(Block { samples, channels: first.channels, rate_hz: first.rate_hz, gaps: 0 })
    }
}

struct Listener<'a> {
    arguments: &'a ListenArguments,
    played: &'a Played,
    store: Option<TakeStore<'a>>,
    /// The sound of the silent room, when it was recorded before.
    room: Option<RoomSound>,
    line: LiveLine,
    follower: Follower,
    back: Back,
    /// The take that is being written, and its fingering.
    writing: Option<(Part, usize)>,
    kept: Vec<(String, Measurement)>,
}

impl Listener<'_> {
    fn listen(&mut self, source: &mut Source<'_>) -> Result<(), Failure> {
        let rate_hz = f64::from(source.rate_hz());
        let mut watch = Watch::new(rate_hz);
        let mut loudest = Loudest::default();
        let piece = ((PIECE_S * rate_hz) as usize).max(1);
        while let Some(block) = source.next(piece)? {
            let looks = watch.hear(&loudest.of(&block));
            if let Some((part, _)) = &mut self.writing {
                part.put(&block)?;
            }
            self.back.put(block);
            for look in looks {
                self.see(&look)?;
            }
        }
        Ok(())
    }

    fn see(&mut self, look: &Look) -> Result<(), Failure> {
        for change in self.follower.see(look) {
            match change {
                Change::Begun(note) => self.begun(&note, look)?,
                Change::Goes(note) => self.goes(&note)?,
                Change::Ended(note) => self.ended(&note)?,
            }
        }
        if self.line.is_seen() {
            let text = match &look.note {
                Some(note) => {
                    self.played.line(note.hz, self.played.nearest(note.hz), note.undertone.as_ref())
                }
                None => "listening".to_string(),
            };
            self.line.show(&format!("{text} · {}", live::level(look.level_dbfs, look.peak)));
        }
        Ok(())
    }

    /// Where no line is redrawn, each note is told once, with the second at which it was sure.
    fn begun(&mut self, note: &HeldNote, look: &Look) -> Result<(), Failure> {
        if self.line.is_seen() && std::io::stdout().is_terminal() {
            return Ok(());
        }
        let undertone = look.note.as_ref().and_then(|note| note.undertone.as_ref());
        let text = self.played.line(note.hz, self.played.nearest(note.hz), undertone);
        let told = format!("{:8.2} s  {text}\n", look.at_s);
        if self.arguments.json {
            say(&told);
            return Ok(());
        }
        put(&told)
    }

    fn goes(&mut self, note: &HeldNote) -> Result<(), Failure> {
        let Some(store) = &self.store else { return Ok(()) };
        match &self.writing {
            None if note.steady_s >= WRITTEN_FROM_S && note.to_s - note.from_s < LONGEST_S => {
                let (Some(fingering), Some(block)) =
                    (self.played.nearest(note.hz), self.back.since(note.from_s))
                else {
                    return Ok(());
                };
                let of = TakeOf::Fingering(fingering);
                let mut part = store.begin(&self.played.instrument, of, block.rate_hz, block.channels)?;
                part.put(&block)?;
                self.writing = Some((part, fingering));
                Ok(())
            }
            Some(_) if note.to_s - note.from_s >= LONGEST_S => self.ended(note),
            _ => Ok(()),
        }
    }

    /// Keeps the note when it was held long enough.
    fn ended(&mut self, note: &HeldNote) -> Result<(), Failure> {
        let Some((part, index)) = self.writing.take() else { return Ok(()) };
        let Some(store) = self.store.as_ref().filter(|_| note.steady_s >= self.arguments.hold) else {
            return part.discard();
        };
        let offered = part.finish()?;
        let predicted_hz = self.played.predicted.get(index).and_then(|note| note.predicted_hz);
        let settings = Settings { expect_hz: predicted_hz, ..Settings::default() };
        let measured = offered.measured(&settings, self.room.as_ref())?;
        let fingering = &self.played.instrument.fingerings[index];
        let file = offered.told();
        store.keep(offered, &fingering.name, &measured)?;
        self.line.clear();
        let told = report::text(&file, &measured, self.played.instrument.target_hz(fingering), predicted_hz);
        if self.arguments.json {
            say(&told);
        } else {
            put(&told)?;
        }
        self.kept.push((file, measured));
        Ok(())
    }

    fn end(&mut self) -> Result<(), Failure> {
        if let Some(Change::Ended(note)) = self.follower.end() {
            self.ended(&note)?;
        }
        self.line.clear();
        Ok(())
    }
}
