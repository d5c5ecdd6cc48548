//! How loud a long recording is through time, found while it streams by.
//!
//! Must not know pitch, nor what is a note.

use super::capture::Block;
use super::take::LOUDNESS_CELL_S;

/// Sound far above this says nothing about notes: neighbouring samples are averaged down to about twice
/// this rate, hertz.
const AVERAGED_HZ: f64 = 12_000.0;
/// A constant offset is forgotten in so many seconds: it is no sound.
const OFFSET_S: f64 = 2.0;

/// Mean square of each cell, of the loudest channel in it.
#[derive(Debug, Clone, Default)]
pub struct Loudness {
    power: Vec<f64>,
    channels: Vec<Channel>,
    frames: u64,
    /// Frames in the average that is being made, and averages in the cell.
    in_average: usize,
    in_cell: usize,
}

#[derive(Debug, Clone, Default)]
struct Channel {
    sum: f64,
    offset: Option<f64>,
    squares: f64,
}

impl Loudness {
    /// Takes in more of the sound.
    pub fn hear(&mut self, block: &Block) {
        let rate_hz = f64::from(block.rate_hz);
        let average = ((rate_hz / AVERAGED_HZ).round() as usize).max(1);
        let forgotten = average as f64 / (OFFSET_S * rate_hz);
        self.channels.resize(block.channels, Channel::default());
        for frame in block.samples.chunks_exact(block.channels.max(1)) {
            self.channels.iter_mut().zip(frame).for_each(|(channel, sample)| channel.sum += sample);
            self.frames += 1;
            self.in_average += 1;
            if self.in_average == average {
                for channel in &mut self.channels {
                    channel.end_average(average, forgotten);
                }
                self.in_average = 0;
                self.in_cell += 1;
            }
            if self.frames as f64 >= (self.power.len() + 1) as f64 * LOUDNESS_CELL_S * rate_hz
                && self.in_cell > 0
            {
                self.end_cell();
            }
        }
    }

    fn end_cell(&mut self) {
        let loudest = self.channels.iter().fold(0.0, |most, channel| f64::max(most, channel.squares));
        self.power.push(loudest / self.in_cell as f64);
        self.channels.iter_mut().for_each(|channel| channel.squares = 0.0);
        self.in_cell = 0;
    }

    /// Mean square of each cell of [`LOUDNESS_CELL_S`] from the start on.
    #[must_use]
    pub fn power(&self) -> &[f64] {
        &self.power
    }
}

impl Channel {
    fn end_average(&mut self, count: usize, forgotten: f64) {
        let value = self.sum / count as f64;
        let offset = self.offset.get_or_insert(value);
        let swing = value - *offset;
        *offset += forgotten * swing;
        self.squares += swing * swing;
        self.sum = 0.0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tone_on_a_constant_offset_has_its_own_mean_square_in_blocks_of_any_size() {
        for (rate_hz, size) in [(48_000, 1000), (44_100, 7), (8_000, 8_000)] {
            let mut loudness = Loudness::default();
            let step = std::f64::consts::TAU * 100.0 / f64::from(rate_hz);
            let samples: Vec<f64> =
                (0..6 * rate_hz).flat_map(|i| [0.3, 0.4 + 0.1 * (step * f64::from(i)).sin()]).collect();
            for part in samples.chunks(2 * size) {
                loudness.hear(&Block { samples: part.to_vec(), channels: 2, rate_hz, gaps: 0 });
            }
            assert_eq!(loudness.power().len(), 600);
            let late = &loudness.power()[400..];
            assert!(late.iter().all(|power| (power - 0.005).abs() < 1e-4), "{rate_hz}: {late:?}");
        }
    }
}
