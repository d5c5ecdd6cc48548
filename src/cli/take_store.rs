//! Where takes are kept: never overwritten, never half written under their own name, in a book with a row of
//! the log.

use std::path::{Path, PathBuf};

use super::bench_book::{BookStep, writing};
use super::failure::Failure;
use super::output::warn;
use super::played::Played;
use super::recording;
use super::takes::free_name;
use crate::analysis::measure::{Settings, measure};
use crate::analysis::measurement::Measurement;
use crate::analysis::room::RoomSound;
use crate::audio::capture::{Block, Loudest};
use crate::audio::decode::{AudioError, Decoding};
use crate::audio::encode::{Depth, WavFile};
use crate::book::disk::{make_folder, move_to_free_name, unfinished};
use crate::book::error::BookError;
use crate::book::test::TestFolder;
use crate::instrument::model::Instrument;
use crate::instrument::take_names::TakeOf;

/// The recording of the silent room.
const ROOM: &str = "room.wav";

/// A folder of takes.
pub struct TakeStore<'a> {
    folder: PathBuf,
    /// The step of a book that the takes belong to.
    step: Option<&'a BookStep>,
    /// The bench test of that step.
    test: Option<&'a TestFolder>,
}

impl<'a> TakeStore<'a> {
    /// Where the takes of `played` go: into its book or, when that is `None`, into the folder `into` of the maker's
    /// choice. Makes the folder where it is not there yet.
    ///
    /// # Errors
    /// [`Failure::Book`] when it can't be made.
    pub fn open(played: &'a Played, into: Option<&Path>) -> Result<TakeStore<'a>, Failure> {
        let folder = into.map_or_else(|| played.takes.clone(), Path::to_path_buf);
        make_folder(&folder)?;
        let step = played.step.as_deref().filter(|_| into.is_none());
        let test = played.test.as_ref().and_then(|test| test.folder.as_ref()).filter(|_| into.is_none());
        Ok(TakeStore { folder, step, test })
    }

    /// Begins a take of the fingering `of`, or of the silent room.
    ///
    /// # Errors
    /// [`Failure::Writing`] when the file can't be made.
    pub fn begin(
        &self,
        instrument: &Instrument,
        of: TakeOf,
        rate_hz: u32,
        channels: usize,
    ) -> Result<Part, Failure> {
        let file = free_name(instrument, of, "wav", |file| self.is_taken(file));
        let path = self.folder.join(file);
        let aside = unfinished(&path)?;
        let wav = WavFile::create(&aside, rate_hz, channels, Depth::Bits24)?;
        Ok(Part {
            wav,
            path,
            aside,
            rate_hz,
            channels,
            unsynced: 0,
            gaps: 0,
            frames: 0,
            loudest: Loudest::default(),
        })
    }

    /// Whether the silent room has been recorded.
    #[must_use]
    pub fn has_room(&self) -> bool {
        self.is_taken(ROOM) || self.step.is_some_and(|step| step.step.ordinary().is_taken(ROOM))
    }

    /// The sound of the silent room, when it was recorded before; for a bench test also with the step's own takes.
    #[must_use]
    pub fn room(&self) -> Option<RoomSound> {
        let of_step = self.step.map(|step| step.step.takes());
        let folders = std::iter::once(&self.folder).chain(&of_step);
        folders.into_iter().find_map(|folder| recording::room_sound(&folder.join(ROOM)).ok())
    }

    fn is_taken(&self, file: &str) -> bool {
        match (self.step, self.test) {
            (_, Some(test)) => test.takes().is_taken(file),
            (Some(step), None) => step.step.ordinary().is_taken(file),
            (None, None) => self.folder.join(file).symlink_metadata().is_ok(),
        }
    }

    /// Keeps a take: in a book the geometry is frozen with the first one, and the log gets its row.
    ///
    /// # Errors
    /// [`Failure`] when its name has been taken meanwhile or the disk refuses; the take stays beside its name. A
    /// row that can't be written is only warned of: the next check adds it.
    pub fn keep(&self, offered: Offered, fingering: &str, measured: &Measurement) -> Result<(), Failure> {
        let Some(step) = self.step else { return Ok(move_to_free_name(&offered.aside, &offered.path)?) };
        let file = offered.path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        {
            let _lock = writing(&step.book)?;
            step.freeze()?;
            move_to_free_name(&offered.aside, &offered.path)?;
        }
        let logged = match self.test {
            Some(test) => step.keep_rows(Vec::new(), vec![step.test_row(test, fingering, &file, measured)]),
            None => step.keep_rows(vec![step.row(fingering, &file, measured)], Vec::new()),
        };
        if let Err(failure) = logged {
            warn(&format!("{file} is kept, but not in the log; the next check adds it.\n{failure}"));
        }
        Ok(())
    }

    /// Keeps the silence of the room.
    ///
    /// # Errors
    /// [`Failure::Book`] when the disk refuses.
    pub fn keep_room(&self, offered: Offered) -> Result<(), Failure> {
        Ok(move_to_free_name(&offered.aside, &offered.path)?)
    }
}

/// A take while it is recorded: what has come is on the disk about a second later, as a whole WAV.
pub struct Part {
    wav: WavFile,
    path: PathBuf,
    aside: PathBuf,
    rate_hz: u32,
    channels: usize,
    /// Frames since the last sync.
    unsynced: usize,
    gaps: usize,
    frames: usize,
    loudest: Loudest,
}

impl Part {
    /// Adds sound.
    ///
    /// # Errors
    /// [`Failure::Writing`] when the disk refuses; what was there before stays.
    pub fn put(&mut self, block: &Block) -> Result<(), Failure> {
        self.wav.put(&block.samples)?;
        self.loudest.hear(block);
        self.frames += block.frames();
        self.gaps += block.gaps;
        self.unsynced += block.frames();
        if self.unsynced >= self.rate_hz as usize {
            self.wav.sync()?;
            self.unsynced = 0;
        }
        Ok(())
    }

    /// Frames so far.
    #[must_use]
    pub fn frames(&self) -> usize {
        self.frames
    }

    /// Ends the take, which then waits to be kept: one channel, the one with the most sound.
    ///
    /// # Errors
    /// [`Failure`] when the disk refuses.
    pub fn finish(self) -> Result<Offered, Failure> {
        self.wav.finish()?;
        if self.channels > 1 {
            let one = unfinished(&self.path)?;
            let channel = self.loudest.channel();
            let mut wav = WavFile::create(&one, self.rate_hz, 1, Depth::Bits24)?;
            let unreadable = recording_at(&self.aside);
            let mut decoding = recording::opened(&self.aside)
                .and_then(|spool| Decoding::open(&spool))
                .map_err(&unreadable)?;
            while let Some(block) = decoding.next().map_err(&unreadable)? {
                wav.put(&block.channel(channel))?;
            }
            wav.finish()?;
            std::fs::rename(&one, &self.aside).map_err(at(&self.aside))?;
        }
        let seconds = self.frames as f64 / f64::from(self.rate_hz);
        Ok(Offered { path: self.path, aside: self.aside, seconds, gaps: self.gaps })
    }

    /// Drops it: it was no note worth keeping.
    ///
    /// # Errors
    /// [`Failure::File`] when the disk refuses.
    pub fn discard(self) -> Result<(), Failure> {
        drop(self.wav);
        std::fs::remove_file(&self.aside).map_err(at(&self.aside))
    }
}

/// A take that is written but not yet kept.
#[must_use]
pub struct Offered {
    path: PathBuf,
    aside: PathBuf,
    /// Its length, seconds.
    pub seconds: f64,
    /// Stretches that the system lost.
    gaps: usize,
}

impl Offered {
    /// Measures it, from the disk: what is kept is what was measured.
    ///
    /// # Errors
    /// [`Failure::Recording`] when it can't be read any more.
    pub fn measured(&self, settings: &Settings, room: Option<&RoomSound>) -> Result<Measurement, Failure> {
        let (mut take, trouble) =
            recording::note(&self.aside, settings).map_err(recording_at(&self.aside))?;
        if self.gaps > 0 {
            take.origin.damage = Some(format!("the system lost sound {} times", self.gaps));
        }
        let mut measurement = measure(&take, settings, room);
        measurement.troubles.extend(trouble);
        Ok(measurement)
    }

    /// The sound of the room, when it is a take of its silence.
    ///
    /// # Errors
    /// [`Failure::Recording`] when it can't be read any more.
    pub fn room_sound(&self) -> Result<RoomSound, Failure> {
        recording::room_sound(&self.aside).map_err(recording_at(&self.aside))
    }

    /// The name that it will have, as short as it can be said from here.
    #[must_use]
    pub fn told(&self) -> String {
        self.path.strip_prefix(".").unwrap_or(&self.path).display().to_string()
    }

    /// Deletes it: the maker plays it again.
    ///
    /// # Errors
    /// [`Failure::File`] when the disk refuses.
    pub fn discard(self) -> Result<(), Failure> {
        std::fs::remove_file(&self.aside).map_err(at(&self.aside))
    }
}

/// A take just written that can't be read: the disk's doing, and told as such.
fn recording_at(path: &Path) -> impl Fn(AudioError) -> Failure {
    let path = path.to_path_buf();
    move |source| match source {
        AudioError::Open(error) => Failure::Book(BookError::disk(&path)(error)),
        source => Failure::Recording { path: path.clone(), source },
    }
}

fn at(path: &Path) -> impl Fn(std::io::Error) -> Failure {
    let path = path.to_path_buf();
    move |source| Failure::File { path: path.clone(), source }
}
