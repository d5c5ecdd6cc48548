//! One recording in memory: mono samples, their rate, where they came from and what was lost.
//!
//! Must not know instruments, fingerings or how samples are analysed.

/// One recording, mixed to one channel.
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
    /// Full scale of the file's samples was reached at this value (1 for most; lower when the
    /// file itself is 8 bit and so on). `None` when unknown.
    pub bits_per_sample: Option<u32>,
    /// The file ends early or has damaged stretches: what was lost, in a sentence.
    pub damage: Option<String>,
    /// Largest absolute sample of any channel before mixing, full scale 1. For finding flat tops.
    pub peak: f64,
}

impl Take {
    /// Length in seconds.
    #[must_use]
    pub fn seconds(&self) -> f64 {
        if self.rate_hz > 0.0 { self.samples.len() as f64 / self.rate_hz } else { 0.0 }
    }
}
