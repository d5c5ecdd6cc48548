//! Lines that stand out of a spectrum's background.
//!
//! Must not know which note they belong to.

use super::spectrum::MeanSpectrum;

/// A line of a spectrum.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Peak {
    /// Frequency, hertz, between bins by a parabola through the levels.
    pub hz: f64,
    /// Power at the peak.
    pub power: f64,
    /// Power over the background.
    pub over_background: f64,
}

/// The lines of one spectrum, with the background that they stand out of.
#[derive(Debug, Clone)]
pub struct Peaks {
    /// Rising in frequency.
    pub peaks: Vec<Peak>,
    /// Power of the background at each bin.
    pub background: Vec<f64>,
    /// For each bin, the peak that is nearest.
    nearest: Vec<u32>,
    bin_hz: f64,
}

/// A line counts from this power over the background (8 dB): in a spectrum averaged over two
/// independent frames noise passes it in about one bin of three hundred (gamma law).
const LEAST_RATIO: f64 = 6.3;

/// Nothing counts that lies this far below the strongest line (80 dB): there the window's own
/// side lobes and rounding are.
const DEPTH: f64 = 1e-8;

/// Reach to each side over which the background is taken, hertz, and as a share of the frequency.
/// Wide enough to hold several gaps between partials of a 12 Hz note.
const BACKGROUND_HZ: f64 = 45.0;
const BACKGROUND_SHARE: f64 = 0.12;

/// The background is read off the quarter of the bins that are lowest: partials of a low note fill
/// up to half of them.
const QUANTILE: f64 = 0.25;

impl Peaks {
    /// Finds the lines of `spectrum` from `from_hz` to `to_hz`.
    #[must_use]
    pub fn of(spectrum: &MeanSpectrum, from_hz: f64, to_hz: f64) -> Peaks {
        let power = &spectrum.power;
        let background = background(spectrum);
        let lobe = spectrum.resolution_hz / spectrum.bin_hz;
        let first = ((from_hz / spectrum.bin_hz) as usize).max(1);
        let last = ((to_hz / spectrum.bin_hz) as usize).min(power.len().saturating_sub(2));
        let mut peaks: Vec<Peak> = Vec::new();
        for i in first..=last {
            let (Some(&a), Some(&b), Some(&c), Some(&floor)) =
                (power.get(i - 1), power.get(i), power.get(i + 1), background.get(i))
            else {
                continue;
            };
            if b > a && b >= c && b > LEAST_RATIO * floor {
                let shift = parabola(a.ln(), b.ln(), c.ln());
                peaks.push(Peak {
                    hz: (i as f64 + shift) * spectrum.bin_hz,
                    power: b,
                    over_background: b / floor,
                });
            }
        }
        let all = peaks.clone();
        peaks.retain(|p| !is_side_lobe(p, &all, spectrum.bin_hz * lobe));
        let nearest = nearest_peak(&peaks, power.len(), spectrum.bin_hz);
        Peaks { peaks, background, nearest, bin_hz: spectrum.bin_hz }
    }

    /// The line nearest to `hz`, if it lies within `tolerance_hz`.
    #[must_use]
    pub fn near(&self, hz: f64, tolerance_hz: f64) -> Option<&Peak> {
        let index = *self.nearest.get((hz / self.bin_hz).round() as usize)? as usize;
        self.peaks.get(index).filter(|p| (p.hz - hz).abs() <= tolerance_hz)
    }

    /// Power of the background at `hz`.
    #[must_use]
    pub fn background_at(&self, hz: f64) -> f64 {
        let last = self.background.len().saturating_sub(1);
        self.background
            .get(((hz / self.bin_hz).round() as usize).min(last))
            .copied()
            .unwrap_or(f64::MIN_POSITIVE)
    }

    /// Mean square of the noise between the lines from one frequency to another: a bin of a Hann
    /// spectrum in which a sine of amplitude `a` shows `a²` holds the noise of three resolutions, halved.
    #[must_use]
    pub fn noise_power(&self, spectrum: &MeanSpectrum, from_hz: f64, to_hz: f64) -> f64 {
        let bin = |hz: f64| ((hz / self.bin_hz) as usize).min(self.background.len());
        let sum: f64 = self.background.get(bin(from_hz)..bin(to_hz)).unwrap_or_default().iter().sum();
        sum * self.bin_hz / (3.0 * spectrum.resolution_hz)
    }

    /// Frequency of the highest line, hertz.
    #[must_use]
    pub fn top_hz(&self) -> f64 {
        self.peaks.last().map_or(0.0, |p| p.hz)
    }

    /// Power of the strongest line; 0 when there is none.
    #[must_use]
    pub fn strongest(&self) -> f64 {
        self.peaks.iter().fold(0.0, |m, p| m.max(p.power))
    }
}

/// Where the top of a parabola through three evenly spaced values lies, in steps from the middle.
#[must_use]
pub fn parabola(left: f64, middle: f64, right: f64) -> f64 {
    let bend = left - 2.0 * middle + right;
    if bend < 0.0 { (0.5 * (left - right) / bend).clamp(-0.5, 0.5) } else { 0.0 }
}

/// True for the side lobes of a Hann window: −31 dB at 2.5 resolutions from the line, falling by
/// 18 dB an octave (F. J. Harris, Proc. IEEE 66 (1978) 51), with 5 dB to spare for a line that moves.
fn is_side_lobe(peak: &Peak, all: &[Peak], resolution_hz: f64) -> bool {
    let reach_hz = 12.0 * resolution_hz;
    let start = all.partition_point(|other| other.hz < peak.hz - reach_hz);
    all.iter().skip(start).take_while(|other| other.hz < peak.hz + reach_hz).any(|other| {
        let distance = (other.hz - peak.hz).abs() / resolution_hz;
        distance > 0.1 && peak.power < other.power * 10f64.powf(-2.6) * (2.5 / distance.max(1.0)).powi(6)
    })
}

fn nearest_peak(peaks: &[Peak], bins: usize, bin_hz: f64) -> Vec<u32> {
    let mut index = 0;
    (0..bins)
        .map(|bin| {
            let hz = bin as f64 * bin_hz;
            while let (Some(here), Some(next)) = (peaks.get(index), peaks.get(index + 1)) {
                if (next.hz - hz).abs() > (here.hz - hz).abs() {
                    break;
                }
                index += 1;
            }
            index as u32
        })
        .collect()
}

/// The background's mean power at each bin: the lowest quarter of the bins below it and of those
/// above it, whichever is louder, so that the foot of a slope is not mistaken for a floor.
fn background(spectrum: &MeanSpectrum) -> Vec<f64> {
    let power = &spectrum.power;
    let top = power.iter().fold(0.0_f64, |a, &b| a.max(b));
    let least = (top * DEPTH).max(f64::MIN_POSITIVE);
    let factor = 1.0 / quantile_over_mean(spectrum.independent_frames);
    let mut sorted: Vec<f64> = Vec::new();
    let mut quarter = |from_hz: f64, to_hz: f64| -> f64 {
        let start = (from_hz.max(0.0) / spectrum.bin_hz) as usize;
        let end = ((to_hz / spectrum.bin_hz) as usize + 1).min(power.len());
        sorted.clear();
        // Every second bin: twice padded, neighbours say the same.
        sorted.extend(power.get(start..end).unwrap_or_default().iter().step_by(2));
        let rank = ((sorted.len() as f64 * QUANTILE) as usize).min(sorted.len().saturating_sub(1));
        if sorted.is_empty() { 0.0 } else { *sorted.select_nth_unstable_by(rank, f64::total_cmp).1 }
    };
    // Every quarter of the reach is enough; straight lines between.
    let mut knots: Vec<(f64, f64)> = Vec::new();
    let mut centre_hz = 0.0;
    while centre_hz <= spectrum.top_hz() {
        let reach_hz = BACKGROUND_HZ.max(BACKGROUND_SHARE * centre_hz);
        let below = if centre_hz >= 0.5 * reach_hz { quarter(centre_hz - reach_hz, centre_hz) } else { 0.0 };
        let above = quarter(centre_hz, centre_hz + reach_hz);
        knots.push((centre_hz, (below.max(above) * factor).max(least)));
        centre_hz += reach_hz / 4.0;
    }
    let mut segment = 0;
    (0..power.len())
        .map(|bin| {
            let hz = bin as f64 * spectrum.bin_hz;
            while knots.get(segment + 1).is_some_and(|k| k.0 < hz) {
                segment += 1;
            }
            match (knots.get(segment), knots.get(segment + 1)) {
                (Some(a), Some(b)) => a.1 + (b.1 - a.1) * ((hz - a.0) / (b.0 - a.0)).clamp(0.0, 1.0),
                (Some(a), None) => a.1,
                _ => least,
            }
        })
        .collect()
}

/// The lower quartile of a mean of `frames` exponential variables, over its mean: E. B. Wilson &
/// M. M. Hilferty, PNAS 17 (1931) 684.
fn quantile_over_mean(frames: f64) -> f64 {
    let spread = 1.0 / (9.0 * frames);
    (1.0 - spread - 0.6745 * spread.sqrt()).powi(3).max(0.05)
}
