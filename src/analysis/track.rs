//! Follows a note whose pitch is roughly known: its phase and level through time, from all its
//! partials at once, and from that its mean pitch.
//!
//! Each partial is turned down to rest; what turning is left, over all partials together and each
//! weighted by its number and its height over the noise, is the note's own movement. For a steady
//! tone in noise this is least squares on all partials with free amplitudes. Must not know
//! instruments, nor what pitch is hoped for.

use std::f64::consts::TAU;

use num_complex::Complex64;

use super::band::Band;
use super::movement;
use super::smooth::{Smoothed, smooth};
use super::turning::turned_down;

/// A partial that takes part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Voice {
    /// Its number.
    pub n: usize,
    /// Power of the noise beside it that falls into one resolution of a second-long window.
    pub noise: f64,
}

/// The note through time, in blocks that overlap by half.
#[derive(Debug, Clone)]
pub struct Track {
    /// Middle of the first block, seconds.
    pub first_s: f64,
    /// From one block to the next, seconds.
    pub hop_s: f64,
    /// Pitch that the phases are counted from, hertz.
    pub base_hz: f64,
    /// Phase ahead of the base pitch, cycles.
    pub cycles: Vec<f64>,
    /// Standard deviation that noise alone gives the phase of a block at full level, cycles.
    pub noise_cycles: f64,
    /// Level relative to the mean, as amplitude; below zero when the partials disagree.
    pub gain: Vec<f64>,
    /// The partials that were followed, and for each its complex amplitude in each block as seen by who
    /// turns with the note.
    pub partials: Vec<(usize, Vec<Complex64>)>,
}

/// The mean pitch of a stretch of a [`Track`].
#[derive(Debug, Clone)]
pub struct MeanPitch {
    /// Hertz.
    pub hz: f64,
    /// Standard uncertainty of the mean, cents.
    pub sd_cents: f64,
    /// Standard deviation of the pitch about its mean, cents.
    pub wander_cents: f64,
    /// Smooth phase ahead of the base pitch at each block, cycles.
    pub cycles: Vec<f64>,
    /// Pitch from block to block, hertz.
    pub hz_track: Vec<f64>,
}

/// A block holds six periods: then a companion at 1/2 or 1/3 falls on a zero of the Hann window.
const PERIODS_A_BLOCK: f64 = 6.0;
const SHORTEST_BLOCK_S: f64 = 0.02;
const LONGEST_BLOCK_S: f64 = 0.4;
/// Movement looked for from block to block, each way.
const REACH_CENTS: f64 = 45.0;
/// At first no partial is trusted beyond 30 dB over noise: its tone may change within the note. Then each
/// is trusted as it keeps step with the others.
const TIMBRE: f64 = 1e-3;
/// A block holds the note from this share of its full level on (amplitude).
const HELD_SHARE: f64 = 0.5;
/// Rounds of settling, the first two with the first trust.
const ROUNDS: usize = 4;
/// What the noise beside a partial says about its scatter counts as much as so many blocks of it.
const NOISE_COUNTS: f64 = 4.0;
/// Share of either neighbour in the mean, under a Hann window of two blocks' distances, of straight
/// lines between blocks: `1/4 − 1/π²`.
const BESIDE_SHARE: f64 = 0.25 - std::f64::consts::FRAC_1_PI * std::f64::consts::FRAC_1_PI;
/// Blocks that overlap by half under a Hann window share 1/6 of their noise (correlation of
/// amplitudes). This filter, the middle one first, makes such noise white again and leaves straight
/// lines as they are: `1/√(1 + cos ω / 3)` to the second order, over its own sum.
const WHITENING: [f64; 3] = [7.0 / 6.0, -2.0 / 21.0, 1.0 / 84.0];

impl Track {
    /// Follows the note of about `hz` through `band` from `from_s` to `to_s`. `None` when the
    /// stretch holds fewer than four blocks or no voice.
    #[must_use]
    pub fn follow(band: &Band, from_s: f64, to_s: f64, hz: f64, voices: &[Voice]) -> Option<Track> {
        let samples = band.part(from_s, to_s);
        let block_s = (PERIODS_A_BLOCK / hz).clamp(SHORTEST_BLOCK_S, LONGEST_BLOCK_S.max(4.0 / hz));
        // Short stretches get shorter blocks, but never fewer than three periods.
        let block_s = block_s.min((to_s - from_s) / 4.0).max(3.0 / hz);
        let half = (block_s * band.rate_hz / 2.0).round() as usize;
        let blocks = (samples.len() / half.max(1)).saturating_sub(1);
        if blocks < 4 || voices.is_empty() || half < 4 {
            return None;
        }
        let hop_s = half as f64 / band.rate_hz;
        let start_s = (from_s.max(0.0) * band.rate_hz).round() / band.rate_hz;
        let mut track = Track {
            first_s: start_s + hop_s,
            hop_s,
            base_hz: hz,
            cycles: vec![0.0; blocks],
            noise_cycles: 0.0,
            gain: vec![1.0; blocks],
            partials: Vec::new(),
        };
        let resting =
            turned_down(samples, &track.sample_cycles(samples.len(), half, band.rate_hz), voices, half);
        track.cycles = advances(&resting, voices, hz * hop_s, blocks);
        let resting =
            turned_down(samples, &track.sample_cycles(samples.len(), half, band.rate_hz), voices, half);
        let late = track.settle(&resting, voices, hop_s);
        track.partials = voices
            .iter()
            .zip(&resting)
            .map(|(voice, rest)| (voice.n, turned_back(rest, voice.n, &late)))
            .collect();
        Some(track)
    }

    /// Phase at each sample, cycles: straight lines between the blocks' middles.
    fn sample_cycles(&self, samples: usize, half: usize, rate_hz: f64) -> Vec<f64> {
        let step = self.base_hz / rate_hz;
        (0..samples)
            .map(|i| {
                let place = (i as f64 / half as f64 - 1.0).clamp(0.0, (self.cycles.len() - 1) as f64);
                let left = (place as usize).min(self.cycles.len().saturating_sub(2));
                let (a, b) = (self.cycles.get(left), self.cycles.get(left + 1));
                let (a, b) = (a.copied().unwrap_or(0.0), b.copied().unwrap_or(0.0));
                step * (i as f64 - half as f64) + a + (b - a) * (i as f64 / half as f64 - 1.0 - left as f64)
            })
            .collect()
    }

    /// Improves the phases against each partial's mean over the note, and finds the levels. Gives back how
    /// late each block was, cycles.
    fn settle(&mut self, resting: &[Vec<Complex64>], voices: &[Voice], hop_s: f64) -> Vec<f64> {
        let blocks = self.cycles.len();
        let mut late = vec![0.0; blocks];
        let mut trust: Vec<f64> = Vec::new();
        for round in 0..ROUNDS {
            let turned: Vec<Vec<Complex64>> =
                resting.iter().zip(voices).map(|(rest, voice)| turned_back(rest, voice.n, &late)).collect();
            let held = held(&self.gain);
            let means: Vec<Complex64> = turned
                .iter()
                .map(|t| held.iter().filter_map(|b| t.get(*b)).sum::<Complex64>() / held.len() as f64)
                .collect();
            trust = match round {
                0 | 1 => voices.iter().zip(&means).map(|(v, mean)| first_trust(v, *mean, hop_s)).collect(),
                _ => shown_trust(&turned, &held, &means, voices, &trust, hop_s),
            };
            let known: f64 = voices.iter().zip(&means).zip(&trust).map(says).sum();
            self.noise_cycles = known.max(f64::MIN_POSITIVE).sqrt().recip() / TAU;
            for (b, (slot, gain)) in late.iter_mut().zip(self.gain.iter_mut()).enumerate() {
                let (mut up, mut down, mut level, mut full) = (0.0, 0.0, 0.0, 0.0);
                for (((voice, mean), turned), weight) in voices.iter().zip(&means).zip(&turned).zip(&trust) {
                    let product = turned.get(b).copied().unwrap_or_default() * mean.conj();
                    let n = voice.n as f64;
                    up += weight * n * product.im;
                    down += weight * n * n * mean.norm_sqr();
                    level += weight * product.re;
                    full += weight * mean.norm_sqr();
                }
                *gain = level / full;
                let heard = gain.max(0.2);
                *slot += (up / (down * heard) / TAU).clamp(-0.05, 0.05);
            }
        }
        // What a block was late against is the mean of the turning over the block, not its middle:
        // else the scatter of the first estimate would stay in.
        let reference = std::mem::take(&mut self.cycles);
        let at = |b: usize| reference.get(b).copied().unwrap_or(0.0);
        let last = blocks.saturating_sub(1);
        let mean = |b: usize| -> f64 {
            let (before, after) = match b {
                0 => (2.0 * at(0) - at(1), at(1)),
                _ if b == last => (at(b - 1), 2.0 * at(b) - at(b - 1)),
                _ => (at(b - 1), at(b + 1)),
            };
            at(b) + BESIDE_SHARE * (before - 2.0 * at(b) + after)
        };
        self.cycles = late.iter().enumerate().map(|(b, late)| mean(b) + late).collect();
        late
    }

    /// Middle of block `index`, seconds.
    #[must_use]
    pub fn at_s(&self, index: usize) -> f64 {
        self.first_s + index as f64 * self.hop_s
    }

    /// Variance of the pitch from block to block beyond what noise gives it, also of a movement too fast for a
    /// smooth curve. 0 when it may be noise.
    fn moving_variance_hz2(&self, cycles: &[f64], hz: f64) -> f64 {
        let off: Vec<f64> =
            cycles.windows(2).map(|w| self.base_hz + (w[1] - w[0]) / self.hop_s - hz).collect();
        // Two phases whose noise hangs together by a sixth.
        let noise = 2.0 * (1.0 - 1.0 / 6.0) * (self.noise_cycles / self.hop_s).powi(2);
        movement::variance_hz2(&off, noise)
    }

    /// Mean pitch over blocks `from..=to`. `None` with fewer than four blocks.
    #[must_use]
    pub fn mean_pitch(&self, from: usize, to: usize) -> Option<MeanPitch> {
        let cycles = self.cycles.get(from..=to)?;
        let weights: Vec<f64> = self.gain.get(from..=to)?.iter().map(|g| g.max(0.05).powi(2)).collect();
        let Smoothed { values, mean_slope, slope_sd } = smooth(&whitened(cycles), &weights)?;
        let hz = self.base_hz + mean_slope / self.hop_s;
        let hz_track: Vec<f64> =
            values.windows(2).map(|w| self.base_hz + (w[1] - w[0]) / self.hop_s).collect();
        let to_cents = 1200.0 / std::f64::consts::LN_2 / hz;
        let spread = hz_track.iter().map(|h| (h - hz) * (h - hz)).sum::<f64>() / hz_track.len() as f64;
        let spread = spread.max(self.moving_variance_hz2(cycles, hz));
        Some(MeanPitch {
            hz,
            sd_cents: slope_sd / self.hop_s * to_cents,
            wander_cents: spread.sqrt() * to_cents,
            cycles: values,
            hz_track,
        })
    }
}

/// The blocks in which, and in whose neighbours, the note is at its level: where it begins and ends the
/// phases before and after it are chance. All of them, when that leaves too few.
fn held(gain: &[f64]) -> Vec<usize> {
    let mut sorted = gain.to_vec();
    sorted.sort_by(f64::total_cmp);
    let least = HELD_SHARE * sorted.get(sorted.len() * 9 / 10).copied().unwrap_or(0.0);
    let inside = gain.windows(3).zip(1..).filter(|(three, _)| three.iter().all(|g| *g >= least));
    let held: Vec<usize> = inside.map(|(_, b)| b).collect();
    if held.len() < 4 { (0..gain.len()).collect() } else { held }
}

/// A partial's amplitudes, turned back by how late the note was, cycles.
fn turned_back(rest: &[Complex64], n: usize, late: &[f64]) -> Vec<Complex64> {
    rest.iter().zip(late).map(|(c, late)| c * Complex64::from_polar(1.0, -TAU * n as f64 * late)).collect()
}

/// Variance of the noise in the part of an amplitude that turns it.
fn turning_noise(voice: &Voice, hop_s: f64) -> f64 {
    voice.noise / hop_s / 4.0
}

fn first_trust(voice: &Voice, mean: Complex64, hop_s: f64) -> f64 {
    1.0 / (turning_noise(voice, hop_s) + TIMBRE / 4.0 * mean.norm_sqr() + f64::MIN_POSITIVE)
}

/// How much a partial says about the common phase: one over its variance, in radians of the note.
fn says(((voice, mean), trust): ((&Voice, &Complex64), &f64)) -> f64 {
    trust * (voice.n * voice.n) as f64 * mean.norm_sqr()
}

/// One over the variance with which each partial turns against the common phase: the noise beside it and
/// what its tone adds. The share that it has itself in the common phase is scatter that can't be seen, so
/// that it counts less (degrees of freedom, as for residuals of any least squares).
fn shown_trust(
    turned: &[Vec<Complex64>],
    held: &[usize],
    means: &[Complex64],
    voices: &[Voice],
    before: &[f64],
    hop_s: f64,
) -> Vec<f64> {
    let all: f64 = voices.iter().zip(means).zip(before).map(says).sum();
    voices
        .iter()
        .zip(means)
        .zip(before)
        .zip(turned)
        .map(|(((voice, mean), trust), turned)| {
            let own_share = says(((voice, mean), trust)) / all;
            let power = mean.norm_sqr() + f64::MIN_POSITIVE;
            let inside = held.iter().filter_map(|b| turned.get(*b));
            let scatter: f64 = inside.map(|c| (c * mean.conj()).im.powi(2) / power).sum();
            let seen = held.len() as f64 * (1.0 - own_share).max(0.0);
            (seen + NOISE_COUNTS) / (scatter + NOISE_COUNTS * turning_noise(voice, hop_s) + f64::MIN_POSITIVE)
        })
        .collect()
}

/// Phases whose noise no longer hangs together from block to block. Beyond the ends the line
/// through an end value goes on as it came.
fn whitened(values: &[f64]) -> Vec<f64> {
    let last = values.len() as i64 - 1;
    let at = |i: i64| -> f64 {
        let inside = |i: i64| usize::try_from(i).ok().and_then(|i| values.get(i)).copied().unwrap_or(0.0);
        match i {
            _ if i < 0 => 2.0 * inside(0) - inside(-i),
            _ if i > last => 2.0 * inside(last) - inside(2 * last - i),
            _ => inside(i),
        }
    };
    let [middle, near, far] = WHITENING;
    (0..=last)
        .map(|i| middle * at(i) + near * (at(i - 1) + at(i + 1)) + far * (at(i - 2) + at(i + 2)))
        .collect()
}

/// Phase at each block ahead of the base pitch: from block to block, the advance that brings all
/// partials into line.
fn advances(resting: &[Vec<Complex64>], voices: &[Voice], periods_a_hop: f64, blocks: usize) -> Vec<f64> {
    let highest = voices.iter().map(|v| v.n).max().unwrap_or(1) as f64;
    let reach = periods_a_hop * ((REACH_CENTS / 1200.0).exp2() - 1.0);
    // A fifth of a cycle of the highest partial, then a parabola.
    let steps = (reach * highest / 0.1).ceil().max(3.0) as i32;
    let step = reach / f64::from(steps);
    // How far each partial is turned at the lowest advance, and from one to the next.
    let turn = |voice: &Voice, advance: f64| Complex64::from_polar(1.0, -TAU * voice.n as f64 * advance);
    let turns: Vec<(Complex64, Complex64)> =
        voices.iter().map(|voice| (turn(voice, -reach), turn(voice, step))).collect();
    let mut scores = vec![0.0; 2 * steps as usize + 1];
    let mut phase = 0.0;
    let mut cycles = vec![0.0];
    for b in 1..blocks {
        scores.fill(0.0);
        for ((rest, voice), (lowest, next)) in resting.iter().zip(voices).zip(&turns) {
            let (Some(now), Some(before)) = (rest.get(b), rest.get(b - 1)) else { continue };
            let mut product = now * before.conj() / (voice.noise + 1e-300) * lowest;
            for score in &mut scores {
                *score += product.re;
                product *= next;
            }
        }
        let best = (0..scores.len()).max_by(|&i, &j| scores[i].total_cmp(&scores[j])).unwrap_or(0);
        let shift =
            match (best.checked_sub(1).and_then(|i| scores.get(i)), scores.get(best), scores.get(best + 1)) {
                (Some(&l), Some(&m), Some(&r)) => super::peaks::parabola(l, m, r),
                _ => 0.0,
            };
        phase += (best as f64 - f64::from(steps) + shift) * step;
        cycles.push(phase);
    }
    cycles
}
