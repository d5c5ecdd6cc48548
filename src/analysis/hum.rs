//! Mains hum: lines at whole multiples of 50 or 60 Hz that stand still while notes come and go.
//! Found first and taken out of the signal, so that no note is mistaken for it.
//!
//! Must not know the note.

use std::f64::consts::TAU;

use num_complex::Complex64;

use super::band::Band;
use super::level::Level;
use super::peaks::parabola;
use super::spectrum::{fast_length, hann, transform};

/// Mains frequencies of the world, hertz.
const MAINS_HZ: [f64; 2] = [50.0, 60.0];
/// Grids keep within ± 0.2 % in ordinary service (common practice, no source); a phone's clock
/// adds far less.
const TOLERANCE: f64 = 0.002;
/// Multiples looked at.
const MOST_LINES: usize = 8;
/// A line must stand out so far from what is beside it (15 dB).
const OUT_RATIO: f64 = 31.6;
/// Beside: within so many hertz.
const BESIDE_HZ: f64 = 9.0;
/// What is so much louder at one time than at another comes and goes (10 dB; our choice).
const COMES_AND_GOES: f64 = 10.0;
/// The very end of a recording: a whole period of the mains, seconds.
const ENDS_S: f64 = 0.02;
/// What is left of a line lies so near to its place, hertz: about what the spectrum of a note resolves.
const BESIDE_MAINS_HZ: f64 = 1.2;
/// Longer recordings are treated piece by piece: mains wander by a few hundredths of a hertz
/// within minutes.
const PIECE_S: f64 = 8.0;

/// Hum found in a recording.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Hum {
    /// Its lines, rising.
    pub lines: Vec<HumLine>,
}

/// True when a line at `hz`, known to `within_hz`, could be the mains' even though too little of
/// the rest of the hum is heard to be found.
#[must_use]
pub fn could_be_mains(hz: f64, within_hz: f64) -> bool {
    MAINS_HZ.iter().any(|mains| {
        let multiple = (hz / mains).round();
        let place_hz = multiple * mains;
        (1.0..=MOST_LINES as f64).contains(&multiple)
            && (hz - place_hz).abs() <= within_hz.max(TOLERANCE * place_hz)
    })
}

/// The mains that a line of hum belongs to, hertz.
#[must_use]
pub fn mains_hz(line_hz: f64) -> f64 {
    let off = |mains: f64| (line_hz / mains - (line_hz / mains).round()).abs();
    let [fifty, sixty] = MAINS_HZ;
    if off(fifty) <= off(sixty) { fifty } else { sixty }
}

/// One line of hum.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HumLine {
    /// Frequency, hertz.
    pub hz: f64,
    /// Square of its amplitude, mean over the recording.
    pub power: f64,
}

impl Hum {
    /// Finds hum and takes it out of `band`.
    pub fn take_out(band: &mut Band) -> Hum {
        let comes_and_goes = comes_and_goes(band);
        let rate_hz = band.rate_hz;
        let piece = ((PIECE_S * rate_hz) as usize).max(1);
        let pieces = (band.samples.len() / piece).max(1);
        let mut hum = Hum::default();
        for index in 0..pieces {
            let end = if index + 1 == pieces { band.samples.len() } else { (index + 1) * piece };
            let Some(samples) = band.samples.get_mut(index * piece..end) else { continue };
            let lines = lines_of(samples, rate_hz);
            // Hum is steady: what carries most of the sound and comes and goes is a note.
            let total = samples.iter().map(|s| s * s).sum::<f64>() / samples.len().max(1) as f64;
            let mine: f64 = lines.iter().map(|l| l.1.norm_sqr() / 2.0).sum();
            if comes_and_goes && mine > 0.5 * total {
                continue;
            }
            for (hz, amplitude) in lines {
                subtract(samples, hz / rate_hz, amplitude);
                hum.add(HumLine { hz, power: amplitude.norm_sqr() / pieces as f64 });
            }
        }
        hum.lines.sort_by(|a, b| a.hz.total_cmp(&b.hz));
        hum
    }

    fn add(&mut self, line: HumLine) {
        match self.lines.iter_mut().find(|l| (l.hz - line.hz).abs() < TOLERANCE * line.hz) {
            Some(known) => known.power += line.power,
            None => self.lines.push(line),
        }
    }

    /// The line within `tolerance_hz` of `hz`, if there is one.
    #[must_use]
    pub fn near(&self, hz: f64, tolerance_hz: f64) -> Option<&HumLine> {
        self.lines.iter().find(|l| (l.hz - hz).abs() <= tolerance_hz)
    }

    /// True when a line at `hz` may be left of the hum that was found: a multiple of its mains, whatever its
    /// number.
    #[must_use]
    pub fn may_hold(&self, hz: f64) -> bool {
        self.lines.first().is_some_and(|line| {
            let mains = mains_hz(line.hz);
            let place_hz = (hz / mains).round() * mains;
            (hz - place_hz).abs() <= BESIDE_MAINS_HZ.max(TOLERANCE * place_hz)
        })
    }

    /// True when every line is a partial of a note of `hz`, nearer than `seconds` of sound can part them.
    #[must_use]
    pub fn is_of_note(&self, hz: f64, seconds: f64) -> bool {
        let within_hz = 0.5 / seconds.min(PIECE_S);
        !self.lines.is_empty()
            && self.lines.iter().all(|line| {
                let number = (line.hz / hz).round();
                number >= 1.0 && (line.hz / number - hz).abs() <= within_hz
            })
    }

    /// Mean square of the whole hum.
    #[must_use]
    pub fn mean_square(&self) -> f64 {
        self.lines.iter().map(|l| l.power / 2.0).sum()
    }
}

/// True when the sound is far louder at its loudest than at its quietest, or than at the recording's very ends:
/// hum neither begins nor ends with a recording.
fn comes_and_goes(band: &Band) -> bool {
    let level = Level::of(band);
    let end = (ENDS_S * band.rate_hz) as usize;
    let quiet = |samples: Option<&[f64]>| {
        let samples = samples.unwrap_or_default();
        let power = samples.iter().map(|s| s * s).sum::<f64>() / samples.len().max(1) as f64;
        level.loud > COMES_AND_GOES * power
    };
    let samples = &band.samples;
    let ends_quietly = quiet(samples.get(..end)) && quiet(samples.get(samples.len().saturating_sub(end)..));
    level.loud > COMES_AND_GOES * level.quiet || ends_quietly
}

/// Hum lines of one piece as (hertz, complex amplitude at its first sample).
fn lines_of(samples: &[f64], rate_hz: f64) -> Vec<(f64, Complex64)> {
    let piece = Band { samples: samples.to_vec(), rate_hz };
    let slow = Band::of(&piece.samples, rate_hz, MAINS_HZ[1] * MOST_LINES as f64 + 20.0);
    let seconds = slow.samples.len() as f64 / slow.rate_hz;
    if seconds < 0.5 {
        return Vec::new();
    }
    let length = fast_length(4 * slow.samples.len());
    let window = hann(slow.samples.len());
    let power: Vec<f64> = transform(&slow.samples, &window, length).iter().map(|c| c.norm_sqr()).collect();
    let bin_hz = slow.rate_hz / length as f64;
    let found = MAINS_HZ.map(|mains| mains_lines(&power, bin_hz, seconds, mains));
    let strength = |lines: &[(usize, f64, f64)]| lines.iter().map(|l| l.2).sum::<f64>();
    let [fifty, sixty] = &found;
    let lines = if strength(fifty) >= strength(sixty) { fifty } else { sixty };
    // Hum has its mains frequency or the double, and never stands alone.
    if lines.len() < 2 || !lines.iter().any(|l| l.0 <= 2) {
        return Vec::new();
    }
    let exact_hz = |hz: f64| sharpened(&slow.samples, &window, hz / slow.rate_hz) * slow.rate_hz;
    let lines: Vec<(usize, f64, f64)> = lines.iter().map(|l| (l.0, exact_hz(l.1), l.2)).collect();
    // One mains frequency from all lines: the higher the multiple and the stronger, the better.
    let weight = |l: &(usize, f64, f64)| (l.0 * l.0) as f64 * l.2;
    let mains = lines.iter().map(|l| weight(l) * l.1 / l.0 as f64).sum::<f64>()
        / lines.iter().map(weight).sum::<f64>();
    lines
        .iter()
        .map(|l| {
            let hz = mains * l.0 as f64;
            (hz, amplitude(&slow.samples, &window, hz / slow.rate_hz))
        })
        .collect()
}

/// Multiples of one mains frequency that stand out, as (multiple, hertz, ratio to what is beside).
fn mains_lines(power: &[f64], bin_hz: f64, seconds: f64, mains_hz: f64) -> Vec<(usize, f64, f64)> {
    let mut lines: Vec<(usize, f64, f64)> = Vec::new();
    for multiple in 1..=MOST_LINES {
        let place_hz = mains_hz * multiple as f64;
        let reach = ((TOLERANCE * place_hz / bin_hz) as usize).max((0.3 / seconds / bin_hz) as usize);
        let centre = (place_hz / bin_hz).round() as usize;
        let best = (centre.saturating_sub(reach)..=centre + reach)
            .max_by(|&a, &b| power.get(a).unwrap_or(&0.0).total_cmp(power.get(b).unwrap_or(&0.0)));
        let Some(best) = best else { continue };
        let (Some(&l), Some(&m), Some(&r)) =
            (power.get(best.saturating_sub(1)), power.get(best), power.get(best + 1))
        else {
            continue;
        };
        if m < l || m < r {
            continue;
        }
        let wide = (BESIDE_HZ / bin_hz) as usize;
        let mut beside: Vec<f64> =
            power.get(best.saturating_sub(wide)..(best + wide).min(power.len())).unwrap_or_default().to_vec();
        let rank = beside.len() * 2 / 5;
        if beside.is_empty() {
            continue;
        }
        let floor = *beside.select_nth_unstable_by(rank, f64::total_cmp).1;
        if m > OUT_RATIO * floor {
            let hz = (best as f64 + parabola(l.ln(), m.ln(), r.ln())) * bin_hz;
            lines.push((multiple, hz, m / floor.max(f64::MIN_POSITIVE)));
        }
    }
    agreeing(lines, seconds)
}

/// The largest set of lines that are multiples of one frequency within what the length resolves.
fn agreeing(lines: Vec<(usize, f64, f64)>, seconds: f64) -> Vec<(usize, f64, f64)> {
    let with = |reference: &(usize, f64, f64)| -> Vec<(usize, f64, f64)> {
        let base = reference.1 / reference.0 as f64;
        let agrees = |l: &&(usize, f64, f64)| {
            (l.1 - base * l.0 as f64).abs() < 0.15 / seconds * (1.0 + l.0 as f64 / reference.0 as f64)
        };
        lines.iter().filter(agrees).copied().collect()
    };
    lines.iter().map(with).max_by_key(Vec::len).unwrap_or_default()
}

/// The frequency (cycles a sample) near a given one where the windowed transform is largest: the
/// top of a parabola through three exact values, twice.
fn sharpened(samples: &[f64], window: &[f64], cycles_a_sample: f64) -> f64 {
    let mut at = cycles_a_sample;
    for step in [0.2 / samples.len() as f64, 0.05 / samples.len() as f64] {
        let level = |place: f64| amplitude(samples, window, place).norm().max(1e-300).ln();
        at += parabola(level(at - step), level(at), level(at + step)) * step;
    }
    at
}

/// Complex amplitude `a` of `Re(a e^{2πi f n})` by a windowed transform at one frequency.
fn amplitude(samples: &[f64], window: &[f64], cycles_a_sample: f64) -> Complex64 {
    let step = Complex64::from_polar(1.0, -TAU * cycles_a_sample);
    let (mut turn, mut sum, mut weight) = (Complex64::ONE, Complex64::ZERO, 0.0);
    for (sample, w) in samples.iter().zip(window) {
        sum += turn * (sample * w);
        weight += w;
        turn *= step;
    }
    sum * (2.0 / weight.max(f64::MIN_POSITIVE))
}

fn subtract(samples: &mut [f64], cycles_a_sample: f64, amplitude: Complex64) {
    let step = Complex64::from_polar(1.0, TAU * cycles_a_sample);
    let mut value = amplitude;
    for sample in samples {
        *sample -= value.re;
        value *= step;
    }
}
