//! Loudness through time, and the stretches where something sounds.
//!
//! Must not know pitch.

use super::band::Band;
use crate::audio::take::LOUDNESS_CELL_S;

/// One cell of the level curve, seconds.
pub const CELL_S: f64 = LOUDNESS_CELL_S;
/// Power is averaged over this long: longer than one period of the lowest note.
const AVERAGED_S: f64 = 0.12;
/// What is reached for so long is loud, seconds.
const LOUD_S: f64 = 1.0;
/// A stretch sounds while it is at most this far below the loudest (dB), or above the middle
/// between loudest and background when they are closer.
const SOUNDING_DB: f64 = 15.0;
/// Shorter stretches are knocks.
const SHORTEST_S: f64 = 0.15;

/// Power of a signal in cells of [`CELL_S`], averaged over neighbours.
#[derive(Debug, Clone)]
pub struct Level {
    /// Mean square of each cell.
    pub power: Vec<f64>,
    /// Loudest (95th percentile of the cells; in a long recording what is reached for one second).
    pub loud: f64,
    /// Background (5th percentile of the cells).
    pub quiet: f64,
}

impl Level {
    /// Of a band.
    #[must_use]
    pub fn of(band: &Band) -> Level {
        let edge = |cell: usize| (cell as f64 * CELL_S * band.rate_hz).round() as usize;
        let cells = (band.samples.len() as f64 / (CELL_S * band.rate_hz)).ceil() as usize;
        let mean_square = |cell: usize| {
            let end = edge(cell + 1).min(band.samples.len());
            let samples = band.samples.get(edge(cell)..end).unwrap_or_default();
            samples.iter().map(|s| s * s).sum::<f64>() / samples.len().max(1) as f64
        };
        Level::of_cells(&(0..cells).map(mean_square).collect::<Vec<f64>>())
    }

    /// Of the mean square in each cell of [`CELL_S`].
    #[must_use]
    pub fn of_cells(raw: &[f64]) -> Level {
        let reach = (AVERAGED_S / CELL_S / 2.0) as usize;
        let mut sums = vec![0.0];
        for p in raw {
            sums.push(sums.last().copied().unwrap_or(0.0) + p);
        }
        let power: Vec<f64> = (0..raw.len())
            .map(|i| {
                let (a, b) = (i.saturating_sub(reach), (i + reach + 1).min(raw.len()));
                let sum = sums.get(b).copied().unwrap_or(0.0) - sums.get(a).copied().unwrap_or(0.0);
                (sum / (b - a).max(1) as f64).max(0.0)
            })
            .collect();
        let mut sorted = power.clone();
        sorted.sort_by(f64::total_cmp);
        let count = sorted.len() as f64;
        let share = |q: f64| sorted.get((q * count) as usize).copied().unwrap_or(0.0);
        // In a long recording one short note may be all that is loud.
        let loud = 0.95_f64.max(1.0 - LOUD_S / (count * CELL_S));
        Level { loud: share(loud), quiet: share(0.05), power }
    }

    /// The stretches that sound, in order, as (from, to) in seconds.
    #[must_use]
    pub fn sounding(&self) -> Vec<(f64, f64)> {
        let mut least = self.loud * 10f64.powf(-SOUNDING_DB / 10.0);
        if self.loud > 4.0 * self.quiet {
            // Never below the middle between loud and background in decibels.
            least = least.max((self.loud * self.quiet).sqrt());
        }
        let mut found = Vec::new();
        let mut start: Option<usize> = None;
        for (i, &p) in self.power.iter().chain(std::iter::once(&-1.0)).enumerate() {
            match (start, p >= least && p > 0.0) {
                (None, true) => start = Some(i),
                (Some(from), false) => {
                    found.push((from as f64 * CELL_S, i as f64 * CELL_S));
                    start = None;
                }
                _ => {}
            }
        }
        let long: Vec<(f64, f64)> = found.iter().copied().filter(|(a, b)| b - a >= SHORTEST_S).collect();
        if long.is_empty() { found } else { long }
    }

    /// The stretch in which most sound is.
    #[must_use]
    pub fn loudest(&self) -> Option<(f64, f64)> {
        let stretches = self.sounding().into_iter();
        stretches.max_by(|a, b| self.energy(a.0, a.1).total_cmp(&self.energy(b.0, b.1)))
    }

    /// The part of a stretch from where the level first comes within 6 dB of its loudest to where
    /// it last is: what sounds while a note builds up or dies is left out.
    #[must_use]
    pub fn full(&self, (from_s, to_s): (f64, f64)) -> (f64, f64) {
        let (a, b) = ((from_s / CELL_S).round() as usize, (to_s / CELL_S).round() as usize);
        let cells = self.power.get(a..b.min(self.power.len())).unwrap_or_default();
        let least = cells.iter().fold(0.0_f64, |m, &p| m.max(p)) / 4.0;
        let first = cells.iter().position(|&p| p >= least).unwrap_or(0);
        let last = cells.iter().rposition(|&p| p >= least).unwrap_or(cells.len());
        (from_s + first as f64 * CELL_S, from_s + (last + 1) as f64 * CELL_S)
    }

    /// What lies before and after a stretch and is 20 dB below the loudest, with a margin for the
    /// note's beginning and end.
    #[must_use]
    pub fn silences(&self, (from_s, to_s): (f64, f64)) -> ((f64, f64), (f64, f64)) {
        let quiet = |p: &f64| *p < 0.01 * self.loud;
        let (a, b) = ((from_s / CELL_S).round() as usize, (to_s / CELL_S).round() as usize);
        let margin = (AVERAGED_S / CELL_S / 2.0) as usize;
        let before = self.power.iter().take(a).take_while(|p| quiet(p)).count().saturating_sub(margin);
        let skipped = self.power.iter().skip(b).take_while(|p| !quiet(p)).count();
        let tail = self.power.iter().skip(b + skipped).take_while(|p| quiet(p)).count();
        let start = (b + skipped + margin) as f64 * CELL_S;
        let end = (b + skipped + tail) as f64 * CELL_S;
        ((0.0, before as f64 * CELL_S), (start, end.max(start)))
    }

    /// Energy between two times.
    #[must_use]
    pub fn energy(&self, from_s: f64, to_s: f64) -> f64 {
        let (a, b) = ((from_s / CELL_S) as usize, (to_s / CELL_S) as usize);
        self.power.get(a..b.min(self.power.len())).unwrap_or_default().iter().sum::<f64>() * CELL_S
    }
}
