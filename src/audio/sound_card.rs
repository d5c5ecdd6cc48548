//! The sound card: alone knows the crate that reaches it.
//!
//! Its twin `no_sound_card.rs` stands in where the program is built without it. Must not know
//! instruments, prompts or where takes are kept.

use std::sync::atomic::{AtomicBool, AtomicU64, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{BufferSize, Device, ErrorKind, FromSample, SampleFormat, SizedSample, Stream, StreamConfig};

use super::capture::{Block, CaptureError, Input, chosen};

/// Frames that the card hands over at a time. Some devices choose a single frame when not asked.
const PERIOD_FRAMES: u32 = 1024;
/// How often the recorder looks whether more is there.
const LOOK_EVERY: Duration = Duration::from_millis(5);
/// So many looks without a new sample, and the card counts as dead: three seconds.
const LOOKS_IN_VAIN: usize = 600;
/// Sound that waits to be fetched, seconds. A disk that hangs for longer than this costs a gap.
const STORE_S: usize = 20;

/// The inputs of this machine.
///
/// # Errors
/// [`CaptureError`] when the system can't list them.
pub fn inputs() -> Result<Vec<Input>, CaptureError> {
    let host = cpal::default_host();
    let default = host.default_input_device().and_then(|device| device.id().ok());
    Ok(devices()?
        .iter()
        .map(|device| Input {
            name: device.description().map_or_else(|_| "unnamed".to_string(), |d| d.name().to_string()),
            is_default: default.is_some() && device.id().ok() == default,
        })
        .collect())
}

fn devices() -> Result<Vec<Device>, CaptureError> {
    Ok(cpal::default_host().input_devices().map_err(refused)?.collect())
}

/// An input, ready to be listened to.
pub struct SoundCard {
    device: Device,
    config: StreamConfig,
    format: SampleFormat,
}

impl SoundCard {
    /// Opens the input that `wanted` names, by number or part of its name, or the one that the system's sound
    /// settings name, with the rate and channels set there.
    ///
    /// # Errors
    /// [`CaptureError`] when there is none, or it can't be used.
    pub fn open(wanted: Option<&str>) -> Result<SoundCard, CaptureError> {
        let device = match wanted {
            None => cpal::default_host().default_input_device(),
            Some(wanted) => {
                let index = chosen(&inputs()?, wanted)?;
                devices()?.into_iter().nth(index)
            }
        };
        let device = device.ok_or(CaptureError::NoDevice)?;
        // ALSA always has a device called default; only its settings tell whether it is there.
        let settings = device.default_input_config().map_err(refused)?;
        let format = settings.sample_format();
        let config = StreamConfig { buffer_size: BufferSize::Fixed(PERIOD_FRAMES), ..settings.config() };
        Ok(SoundCard { device, config, format })
    }

    /// Samples per second.
    #[must_use]
    pub fn rate_hz(&self) -> u32 {
        self.config.sample_rate
    }

    /// Begins to listen.
    ///
    /// # Errors
    /// [`CaptureError`] when the card can't be started.
    pub fn listen(&self) -> Result<Listening, CaptureError> {
        let channels = usize::from(self.config.channels.max(1));
        let store = Arc::new(Store::new(STORE_S * self.config.sample_rate as usize * channels));
        let stream = self.start(&store, self.config).or_else(|_| {
            self.start(&store, StreamConfig { buffer_size: BufferSize::Default, ..self.config })
        })?;
        stream.play().map_err(refused)?;
        Ok(Listening { store, channels, rate_hz: self.config.sample_rate, _stream: stream })
    }

    fn start(&self, store: &Arc<Store>, config: StreamConfig) -> Result<Stream, CaptureError> {
        match self.format {
            SampleFormat::F32 => self.start_as::<f32>(store, config),
            SampleFormat::F64 => self.start_as::<f64>(store, config),
            SampleFormat::I16 => self.start_as::<i16>(store, config),
            SampleFormat::I24 => self.start_as::<cpal::I24>(store, config),
            SampleFormat::I32 => self.start_as::<i32>(store, config),
            SampleFormat::U8 => self.start_as::<u8>(store, config),
            SampleFormat::U16 => self.start_as::<u16>(store, config),
            other => Err(CaptureError::Refused(format!("its samples are of a kind not read here ({other})"))),
        }
    }

    fn start_as<T>(&self, store: &Arc<Store>, config: StreamConfig) -> Result<Stream, CaptureError>
    where
        T: SizedSample + Send + 'static,
        f64: FromSample<T>,
    {
        let (samples, errors) = (Arc::clone(store), Arc::clone(store));
        let stream = self.device.build_input_stream(
            config,
            move |data: &[T], _: &_| data.iter().for_each(|&sample| samples.put(f64::from_sample_(sample))),
            move |error| errors.note(&error),
            None,
        );
        stream.map_err(refused)
    }
}

/// A card that is being listened to, until it is dropped.
pub struct Listening {
    store: Arc<Store>,
    channels: usize,
    rate_hz: u32,
    _stream: Stream,
}

impl Listening {
    /// Waits for sound and takes out up to `frames` of it.
    ///
    /// # Errors
    /// [`CaptureError::Stopped`] when the card has gone or gives nothing for three seconds.
    pub fn read(&mut self, frames: usize) -> Result<Block, CaptureError> {
        let mut in_vain = 0;
        loop {
            let there = self.store.waiting() / self.channels;
            if there > 0 {
                let samples = self.store.fetch(there.min(frames) * self.channels);
                let gaps = self.store.gaps.swap(0, Ordering::Relaxed);
                return Ok(Block { samples, channels: self.channels, rate_hz: self.rate_hz, gaps });
            }
            if let Some(reason) = self.store.broken.lock().unwrap_or_else(PoisonError::into_inner).take() {
                return Err(CaptureError::Stopped(reason));
            }
            in_vain += 1;
            if in_vain > LOOKS_IN_VAIN {
                return Err(CaptureError::Stopped("no sound arrives".to_string()));
            }
            std::thread::sleep(LOOK_EVERY);
        }
    }
}

impl Listening {
    /// Gives up a card that has failed. Ending it properly would wait for its own thread, which may hang in a dead
    /// device.
    pub fn abandon(self) {
        std::mem::forget(self);
    }
}

impl Drop for Listening {
    fn drop(&mut self) {
        // Or the card's thread might wait for room in the store while the stream waits for the thread.
        self.store.closed.store(true, Ordering::Release);
    }
}

/// Where the card's own thread lays samples down, in a ring: made at full length beforehand, so that this
/// thread never asks for memory. It waits only when the ring is full, where sound would be lost anyway.
struct Store {
    bits: Vec<AtomicU64>,
    put: AtomicUsize,
    fetched: AtomicUsize,
    gaps: AtomicUsize,
    closed: AtomicBool,
    broken: Mutex<Option<String>>,
}

impl Store {
    fn new(length: usize) -> Store {
        Store {
            bits: (0..length.max(1)).map(|_| AtomicU64::new(0)).collect(),
            put: AtomicUsize::new(0),
            fetched: AtomicUsize::new(0),
            gaps: AtomicUsize::new(0),
            closed: AtomicBool::new(false),
            broken: Mutex::new(None),
        }
    }

    /// One thread only puts, so nothing is put twice in one place.
    fn put(&self, sample: f64) {
        let at = self.put.load(Ordering::Relaxed);
        while at - self.fetched.load(Ordering::Acquire) >= self.bits.len() {
            if self.closed.load(Ordering::Acquire) {
                return;
            }
            std::thread::sleep(LOOK_EVERY);
        }
        if let Some(place) = self.bits.get(at % self.bits.len()) {
            let sample = if sample.is_finite() { sample } else { 0.0 };
            place.store(sample.to_bits(), Ordering::Relaxed);
            self.put.store(at + 1, Ordering::Release);
        }
    }

    fn waiting(&self) -> usize {
        self.put.load(Ordering::Acquire) - self.fetched.load(Ordering::Relaxed)
    }

    /// One thread only fetches. `count` samples are waiting.
    fn fetch(&self, count: usize) -> Vec<f64> {
        let from = self.fetched.load(Ordering::Relaxed);
        let place = |i: usize| self.bits.get((from + i) % self.bits.len());
        let samples =
            (0..count).filter_map(place).map(|bits| f64::from_bits(bits.load(Ordering::Relaxed))).collect();
        self.fetched.store(from + count, Ordering::Release);
        samples
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
