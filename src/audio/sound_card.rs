//! The sound card: alone knows the crate that reaches it.
//!
//! Its twin `no_sound_card.rs` stands in where the program is built without it. Must not know
//! instruments, prompts or where takes are kept.

use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{BufferSize, Device, ErrorKind, FromSample, SampleFormat, SizedSample, Stream, StreamConfig};

use super::capture::{CaptureError, Recorded};

/// Frames that the card hands over at a time. Some devices choose a single frame when not asked.
const PERIOD_FRAMES: u32 = 1024;
/// How often the recorder looks whether all is there.
const LOOK_EVERY: Duration = Duration::from_millis(5);
/// So many looks without a new sample, and the card counts as dead: three seconds.
const LOOKS_IN_VAIN: usize = 600;

/// The system's chosen input.
pub struct SoundCard {
    device: Device,
    config: StreamConfig,
    format: SampleFormat,
}

impl SoundCard {
    /// Opens the input that the system's sound settings name, with the rate and channels set there.
    ///
    /// # Errors
    /// [`CaptureError`] when there is none, or it can't be used.
    pub fn open() -> Result<SoundCard, CaptureError> {
        let device = cpal::default_host().default_input_device().ok_or(CaptureError::NoDevice)?;
        // ALSA always has a device called default; only its settings tell whether it is there.
        let settings = device.default_input_config().map_err(refused)?;
        let format = settings.sample_format();
        let config = StreamConfig { buffer_size: BufferSize::Fixed(PERIOD_FRAMES), ..settings.config() };
        Ok(SoundCard { device, config, format })
    }

    /// What is recorded from, for the maker: rate and channels.
    #[must_use]
    pub fn describe(&self) -> String {
        let channels = match self.config.channels {
            1 => "one channel".to_string(),
            count => format!("the louder of {count} channels"),
        };
        format!("{} Hz, {channels}", self.config.sample_rate)
    }

    /// Records `seconds` of sound.
    ///
    /// # Errors
    /// [`CaptureError`] when the card can't be started or stops.
    pub fn record(&self, seconds: f64) -> Result<Recorded, CaptureError> {
        let channels = usize::from(self.config.channels.max(1));
        let frames = (seconds * f64::from(self.config.sample_rate)).round() as usize;
        let shelf = Arc::new(Shelf::new(frames * channels));
        let stream = self.start(&shelf, self.config).or_else(|_| {
            self.start(&shelf, StreamConfig { buffer_size: BufferSize::Default, ..self.config })
        })?;
        stream.play().map_err(refused)?;
        shelf.wait_until_full()?;
        drop(stream);
        let mut recorded = Recorded::from_interleaved(&shelf.samples(), channels, self.config.sample_rate);
        recorded.gaps = shelf.gaps.load(Ordering::Relaxed);
        Ok(recorded)
    }

    fn start(&self, shelf: &Arc<Shelf>, config: StreamConfig) -> Result<Stream, CaptureError> {
        match self.format {
            SampleFormat::F32 => self.start_as::<f32>(shelf, config),
            SampleFormat::F64 => self.start_as::<f64>(shelf, config),
            SampleFormat::I16 => self.start_as::<i16>(shelf, config),
            SampleFormat::I24 => self.start_as::<cpal::I24>(shelf, config),
            SampleFormat::I32 => self.start_as::<i32>(shelf, config),
            SampleFormat::U8 => self.start_as::<u8>(shelf, config),
            SampleFormat::U16 => self.start_as::<u16>(shelf, config),
            other => Err(CaptureError::Refused(format!("its samples are of a kind not read here ({other})"))),
        }
    }

    fn start_as<T>(&self, shelf: &Arc<Shelf>, config: StreamConfig) -> Result<Stream, CaptureError>
    where
        T: SizedSample + Send + 'static,
        f64: FromSample<T>,
    {
        let (samples, errors) = (Arc::clone(shelf), Arc::clone(shelf));
        let stream = self.device.build_input_stream(
            config,
            move |data: &[T], _: &_| data.iter().for_each(|&sample| samples.put(f64::from_sample_(sample))),
            move |error| errors.note(&error),
            None,
        );
        stream.map_err(refused)
    }
}

/// Where the card's own thread lays samples down: made at full length beforehand, so that this
/// thread never waits and never asks for memory.
struct Shelf {
    bits: Vec<AtomicU64>,
    filled: AtomicUsize,
    gaps: AtomicUsize,
    broken: Mutex<Option<String>>,
}

impl Shelf {
    fn new(length: usize) -> Shelf {
        Shelf {
            bits: (0..length).map(|_| AtomicU64::new(0)).collect(),
            filled: AtomicUsize::new(0),
            gaps: AtomicUsize::new(0),
            broken: Mutex::new(None),
        }
    }

    /// One thread only puts, so nothing is put twice in one place. What comes after the end is not
    /// wanted.
    fn put(&self, sample: f64) {
        let at = self.filled.load(Ordering::Relaxed);
        if let Some(place) = self.bits.get(at) {
            place.store(sample.to_bits(), Ordering::Relaxed);
            self.filled.store(at + 1, Ordering::Release);
        }
    }

    fn note(&self, error: &cpal::Error) {
        match error.kind() {
            ErrorKind::Xrun => {
                self.gaps.fetch_add(1, Ordering::Relaxed);
            }
            ErrorKind::RealtimeDenied => {}
            _ => *self.broken.lock().unwrap_or_else(PoisonError::into_inner) = Some(error.to_string()),
        }
    }

    fn wait_until_full(&self) -> Result<(), CaptureError> {
        let (mut before, mut in_vain) = (0, 0);
        loop {
            let filled = self.filled.load(Ordering::Acquire);
            if filled == self.bits.len() {
                return Ok(());
            }
            if let Some(reason) = self.broken.lock().unwrap_or_else(PoisonError::into_inner).take() {
                return Err(CaptureError::Stopped(reason));
            }
            in_vain = if filled > before { 0 } else { in_vain + 1 };
            if in_vain > LOOKS_IN_VAIN {
                return Err(CaptureError::Stopped("no sound arrives".to_string()));
            }
            before = filled;
            std::thread::sleep(LOOK_EVERY);
        }
    }

    fn samples(&self) -> Vec<f64> {
        self.bits.iter().map(|bits| f64::from_bits(bits.load(Ordering::Relaxed))).collect()
    }
}

fn refused(error: cpal::Error) -> CaptureError {
    match error.kind() {
        // A card that only plays, or the name of a card that is not there, does not support input.
        ErrorKind::DeviceNotAvailable | ErrorKind::HostUnavailable | ErrorKind::UnsupportedOperation => {
            CaptureError::NoDevice
        }
        _ => CaptureError::Refused(error.to_string()),
    }
}
