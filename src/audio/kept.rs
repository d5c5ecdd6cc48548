//! The channels of a recording while a part of it is kept, and the choice of one of them.
//!
//! Must not know where the samples come from.

use super::capture::Block;
use super::take::{Origin, Take};

/// What is kept, channel by channel.
#[derive(Debug, Clone, Default)]
pub(super) struct Kept {
    channels: Vec<Vec<f64>>,
    rate_hz: u32,
    /// Where what is kept begins in the recording, seconds.
    begins_s: f64,
}

impl Kept {
    /// Keeps all of a block. Blocks differ neither in rate nor in channels.
    pub fn add(&mut self, block: &Block) {
        self.channels.resize(block.channels, Vec::new());
        self.rate_hz = block.rate_hz;
        for (c, channel) in self.channels.iter_mut().enumerate() {
            channel.extend(block.samples.iter().skip(c).step_by(block.channels));
        }
    }

    /// Keeps what of a block, which begins at `first_s`, lies between two times, seconds.
    pub fn add_between(&mut self, block: &Block, first_s: f64, from_s: f64, to_s: f64) {
        let index = |s: f64| ((s - first_s) * f64::from(block.rate_hz)).round().max(0.0) as usize;
        let (start, end) = (index(from_s), index(to_s).min(block.frames()));
        let Some(samples) = block.samples.get(start * block.channels..end * block.channels) else { return };
        if self.channels.is_empty() && !samples.is_empty() {
            self.begins_s = first_s + start as f64 / f64::from(block.rate_hz);
        }
        self.add(&Block { samples: samples.to_vec(), ..*block });
    }

    pub fn samples_held(&self) -> usize {
        self.channels.iter().map(Vec::len).sum()
    }

    /// One channel for the analysis: the one with the most sound. Mixing would cancel channels of
    /// opposite sign, comb two microphones' treble and hide flat tops; one microphone does none.
    pub fn into_take(self, origin: Origin) -> Take {
        let Kept { channels, rate_hz, begins_s } = self;
        let origin = Origin { peak: peak(&channels), ..origin };
        Take { samples: loudest(channels).unwrap_or_default(), rate_hz: f64::from(rate_hz), begins_s, origin }
    }
}

/// The largest sample of all channels, without its sign.
fn peak(channels: &[Vec<f64>]) -> f64 {
    channels.iter().flatten().fold(0.0_f64, |peak, s| peak.max(s.abs()))
}

/// The channel with the most sound; the first of equals.
fn loudest(channels: Vec<Vec<f64>>) -> Option<Vec<f64>> {
    // The last of equals is what `max_by` keeps.
    channels
        .into_iter()
        .rev()
        .map(|channel| (swing(&channel), channel))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, channel)| channel)
}

/// Mean square about the mean, so that a constant offset counts for nothing.
fn swing(samples: &[f64]) -> f64 {
    let n = samples.len().max(1) as f64;
    let mean = samples.iter().sum::<f64>() / n;
    samples.iter().map(|s| (s - mean) * (s - mean)).sum::<f64>() / n
}
