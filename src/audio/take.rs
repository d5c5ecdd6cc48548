//! One recording, or a part of it, in memory: samples of one channel, their rate, where they came from and what was lost.
//!
//! Must not know instruments, fingerings or how samples are analysed.

/// Loudness through time is told in cells of so many seconds.
pub const LOUDNESS_CELL_S: f64 = 0.01;

/// One recording, one channel of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Take {
    /// Samples, full scale ±1.
    pub samples: Vec<f64>,
    /// Samples per second.
    pub rate_hz: f64,
    /// Where the samples begin in the recording, seconds: not at its start when only a part is held.
    pub begins_s: f64,
    /// What the file held.
    pub origin: Origin,
}

/// Where the samples of a [`Take`] came from.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Origin {
    /// Short name of the coding, for instance `pcm_s16le`, `flac`, `aac`.
    pub codec: String,
    /// True when the coding throws sound away (MP3, AAC, Vorbis …).
    pub lossy: bool,
    /// Channels in the file.
    pub channels: usize,
    /// Bits of one sample in the file; `None` when the coding has none.
    pub bits_per_sample: Option<u32>,
    /// The file ends early or has damaged stretches: what was lost, in a sentence.
    pub damage: Option<String>,
    /// Largest absolute sample of any channel, full scale 1.
    pub peak: f64,
}

impl Origin {
    /// The smallest difference that the file can hold near full scale, full scale 1; 0 when unknown.
    ///
    /// Telephone codings (A-law, µ-law) have 16 steps in their loudest half: ITU-T G.711, from memory.
    #[must_use]
    pub fn step(&self) -> f64 {
        if self.codec.contains("law") {
            return 1.0 / 32.0;
        }
        self.bits_per_sample.map_or(0.0, |bits| 2f64.powi(1 - bits.min(64) as i32))
    }
}

impl Take {
    /// Where the samples end in the recording, seconds.
    #[must_use]
    pub fn ends_s(&self) -> f64 {
        self.begins_s + self.seconds()
    }

    /// The samples between two times of the recording, seconds, as far as they are held.
    #[must_use]
    pub fn part(&self, from_s: f64, to_s: f64) -> &[f64] {
        let index = |s: f64| (((s - self.begins_s) * self.rate_hz).max(0.0) as usize).min(self.samples.len());
        self.samples.get(index(from_s)..index(to_s)).unwrap_or_default()
    }

    /// Length in seconds.
    #[must_use]
    pub fn seconds(&self) -> f64 {
        if self.rate_hz > 0.0 { self.samples.len() as f64 / self.rate_hz } else { 0.0 }
    }
}
