//! One recording in memory: samples of one channel, their rate, where they came from and what was lost.
//!
//! Must not know instruments, fingerings or how samples are analysed.

/// One recording, one channel of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Take {
    /// Samples, full scale ±1.
    pub samples: Vec<f64>,
    /// Samples per second.
    pub rate_hz: f64,
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
    /// Length in seconds.
    #[must_use]
    pub fn seconds(&self) -> f64 {
        if self.rate_hz > 0.0 { self.samples.len() as f64 / self.rate_hz } else { 0.0 }
    }
}
