//! Where live sound comes from: the sound card, raw samples or a WAV in a pipe, a block at a time.

use std::io::{BufRead, IsTerminal, StdinLock};
use std::path::PathBuf;

use super::book_args::SoundArguments;
use super::failure::Failure;
use super::output::{put, say};
use crate::audio::capture::{Block, CaptureError, RawFormat};
use crate::audio::sound_card::{Listening, SoundCard, inputs};
use crate::audio::wav_head::read_head;

/// A source of sound.
pub enum Source<'a> {
    /// The sound card; the maker presses keys.
    Card {
        /// The card.
        card: SoundCard,
        /// While it is listened to.
        listening: Option<Listening>,
        /// The keyboard.
        keys: &'a mut StdinLock<'static>,
    },
    /// Samples on stdin; how many frames are still to come, when that is known.
    Pipe {
        /// What the samples are.
        format: RawFormat,
        /// Frames still to come, when known.
        left: Option<u64>,
        /// Standard input.
        pipe: &'a mut StdinLock<'static>,
    },
}

/// What the maker answered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Key {
    /// Enter.
    Go,
    /// Once more.
    Again,
    /// Not this one.
    Skip,
    /// No more.
    Stop,
}

impl<'a> Source<'a> {
    /// The source that the options and standard input tell.
    ///
    /// # Errors
    /// [`Failure`] for options that make no sense and for a card or pipe that can't be used.
    pub fn choose(sound: &SoundArguments, stdin: &'a mut StdinLock<'static>) -> Result<Source<'a>, Failure> {
        let failure = |source| Failure::File { path: PathBuf::from("standard input"), source };
        if let Some(raw) = &sound.raw {
            let format = raw.parse().map_err(|error| Failure::Usage(format!("--raw {error}")))?;
            if stdin.is_terminal() {
                return Err(Failure::Usage(
                    "--raw reads samples from standard input: pipe a recorder into it".into(),
                ));
            }
            return Ok(Source::Pipe { format, left: None, pipe: stdin });
        }
        // A pipe may carry a recording, or the Enter keys of a script.
        if !stdin.is_terminal() {
            let beginning = stdin.fill_buf().map_err(failure)?;
            if beginning.starts_with(b"RIFF") {
                let head = read_head(stdin)?;
                return Ok(Source::Pipe { format: head.format, left: head.frames, pipe: stdin });
            }
            if !are_keys(beginning) {
                let what = "what comes through the pipe is no sound that can be followed as it comes";
                return Err(CaptureError::Wav(what.to_string()).into());
            }
        }
        let card = SoundCard::open(sound.device.as_deref())?;
        Ok(Source::Card { card, listening: None, keys: stdin })
    }

    /// Samples per second.
    #[must_use]
    pub fn rate_hz(&self) -> u32 {
        match self {
            Source::Card { card, .. } => card.rate_hz(),
            Source::Pipe { format, .. } => format.rate_hz(),
        }
    }

    /// Whether the maker is there to play when asked.
    #[must_use]
    pub fn is_card(&self) -> bool {
        matches!(self, Source::Card { .. })
    }

    /// Asks, and waits for a key; a pipe can't answer, and goes on.
    ///
    /// # Errors
    /// [`Failure::File`] when the keyboard can't be read.
    pub fn ask(&mut self, prompt: &str) -> Result<Key, Failure> {
        let Source::Card { keys, .. } = self else { return Ok(Key::Go) };
        say(prompt);
        let mut line = String::new();
        let count = keys
            .read_line(&mut line)
            .map_err(|source| Failure::File { path: PathBuf::from("standard input"), source })?;
        Ok(match line.trim().to_ascii_lowercase().as_str() {
            _ if count == 0 => Key::Stop,
            "q" => Key::Stop,
            "s" => Key::Skip,
            "a" => Key::Again,
            _ => Key::Go,
        })
    }

    /// Whether a question would be answered by somebody.
    #[must_use]
    pub fn can_answer(&self) -> bool {
        matches!(self, Source::Card { keys, .. } if keys.is_terminal())
    }

    /// Begins to listen; a pipe always does.
    ///
    /// # Errors
    /// [`Failure::Capture`] when the card can't be started.
    pub fn start(&mut self) -> Result<(), Failure> {
        if let Source::Card { card, listening, .. } = self {
            *listening = Some(card.listen()?);
        }
        Ok(())
    }

    /// Stops listening.
    pub fn stop(&mut self) {
        if let Source::Card { listening, .. } = self {
            *listening = None;
        }
    }

    /// The next sound, up to `frames` of it; `None` where a pipe has ended.
    ///
    /// # Errors
    /// [`Failure::Capture`] when the card stops or the pipe breaks.
    pub fn next(&mut self, frames: usize) -> Result<Option<Block>, Failure> {
        match self {
            Source::Card { listening, .. } => {
                let Some(card) = listening else { return Ok(None) };
                let read = card.read(frames);
                if read.is_err()
                    && let Some(dead) = listening.take()
                {
                    dead.abandon();
                }
                Ok(Some(read?))
            }
            Source::Pipe { format, left, pipe } => {
                let frames = left.map_or(frames, |left| frames.min(usize::try_from(left).unwrap_or(frames)));
                if frames == 0 {
                    return Ok(None);
                }
                let block = format.read(*pipe, frames)?;
                if let (Some(left), Some(block)) = (left, &block) {
                    *left = left.saturating_sub(block.frames() as u64);
                }
                Ok(block)
            }
        }
    }

    /// Seconds of a recording on standard input that nobody took.
    #[must_use]
    pub fn left_over_s(&self) -> f64 {
        match self {
            Source::Pipe { format, left: Some(left), .. } => *left as f64 / f64::from(format.rate_hz()),
            _ => 0.0,
        }
    }
}

/// Whether bytes can be what a keyboard sends; sound has bytes that no key has.
fn are_keys(bytes: &[u8]) -> bool {
    bytes.iter().all(|byte| byte.is_ascii_graphic() || b" \t\r\n".contains(byte) || *byte >= 0x80)
        && (bytes.is_ascii() || std::str::from_utf8(bytes).is_ok())
}

/// Prints the inputs of this machine.
///
/// # Errors
/// [`Failure`] when they can't be listed.
pub fn list_devices(json: bool) -> Result<(), Failure> {
    let inputs = inputs()?;
    if json {
        let list: Vec<_> = (1..)
            .zip(&inputs)
            .map(|(number, input): (usize, _)| {
                serde_json::json!({ "number": number, "name": input.name, "default": input.is_default })
            })
            .collect();
        return put(&format!("{}\n", serde_json::json!({ "devices": list })));
    }
    if inputs.is_empty() {
        return Err(CaptureError::NoDevice.into());
    }
    let line = |(number, input): (usize, &crate::audio::capture::Input)| {
        let chosen = if input.is_default { "  (chosen in the system's settings)" } else { "" };
        format!("{number:3}  {}{chosen}\n", input.name)
    };
    put(&(1..).zip(&inputs).map(line).collect::<String>())
}
