//! Which note do the lines of a spectrum belong to: candidates, and the choice among octaves,
//! twelfths and undertones.
//!
//! Every note is a comb of lines at whole multiples of its pitch. The comb that explains most,
//! with the fewest empty teeth, holds the note; then teeth that are weak throughout are called
//! undertones and the note is the comb without them. A note with odd partials only, one whose
//! fundamental is missing and one with an undertone below it are thus told apart by the same rule.
//! Must not know the take's samples nor what pitch is hoped for, except through `near`.

use super::peaks::{Peak, Peaks};
use crate::units::{cents_between, shift_by_cents};

/// Lowest and highest pitch looked for, hertz.
pub const LOWEST_HZ: f64 = 9.5;
/// See [`LOWEST_HZ`].
pub const HIGHEST_HZ: f64 = 2100.0;

/// Step of the search, cents.
const STEP_CENTS: f64 = 4.0;
/// A tooth takes a line this close, cents of the line, or [`TOOTH_RESOLUTIONS`] of the spectrum.
const TOOTH_CENTS: f64 = 12.0;
const TOOTH_RESOLUTIONS: f64 = 0.5;
/// At most this many teeth are looked at: with a hundred, the step is a whole tooth's width.
const MOST_TEETH: usize = 48;
/// What a line is worth at most (natural logarithm of power over background): 40 dB. Lines that
/// far below the strongest are worth nothing: they may be anything that rings along.
const MOST_WORTH: f64 = 9.2;
/// What an empty tooth costs: as much as a line 6.5 dB over the background is worth. Odd-partial
/// notes have every second tooth empty and must still pay.
const EMPTY_COST: f64 = 1.5;
/// What any tooth costs, so that lines met by chance gain nothing.
const TOOTH_COST: f64 = 0.5;
/// Partials of one note differ from their neighbours by a few dB; a family of teeth most of which
/// lie this much lower than their neighbours is an undertone's (our own choice).
const UNDERTONE_DB: f64 = -8.0;
/// An expected pitch is no candidate when the partials that only it has are missing: most of them lie
/// under a third of their neighbours in amplitude, and may as well be chance or dying away.
const MISSING_DB: f64 = -10.0;
/// And together the family must be weaker than the note, or it would be the note.
const UNDERTONE_SUM_DB: f64 = -3.0;
/// A tooth is compared with neighbours that stand so far over the background, dB.
const WELL_HEARD_DB: f64 = 10.0;
/// "Most" teeth are this share: an undertone's own few lines may be strong, its other teeth are
/// empty; a note's teeth are all there.
const MOST: f64 = 0.7;

/// A note is heard when its lines are e²⁰ times likelier than noise, each line paying for the e⁸
/// places where noise had a chance to look like one.
const SURE: f64 = 20.0;
const CHANCES: f64 = 8.0;
/// Background is never quite even: it may lie 3 dB higher than thought.
const UNEVEN: f64 = 2.0;

/// A pitch that the lines of the spectrum could mean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Candidate {
    /// Pitch, hertz.
    pub hz: f64,
    /// How much its comb explains, in natural logarithms of likelihood.
    pub worth: f64,
    /// How clearly it is neither an octave nor a twelfth off: 0 to 1.
    pub clearness: f64,
}

/// A comb laid over the lines of a spectrum.
pub struct Comb<'a> {
    peaks: &'a Peaks,
    resolution_hz: f64,
    strongest: f64,
    /// Teeth beyond the highest line count for nothing.
    top_hz: f64,
}

impl<'a> Comb<'a> {
    /// For the lines of a spectrum that resolves `resolution_hz`.
    #[must_use]
    pub fn new(peaks: &'a Peaks, resolution_hz: f64) -> Comb<'a> {
        let mut comb = Comb { peaks, resolution_hz, strongest: peaks.strongest(), top_hz: 0.0 };
        let counts = |p: &&Peak| comb.peak_worth(p) > EMPTY_COST;
        let top_hz = peaks.peaks.iter().filter(counts).map(|p| p.hz).fold(0.0, f64::max);
        comb.top_hz = top_hz + resolution_hz;
        comb
    }

    fn peak_worth(&self, peak: &Peak) -> f64 {
        let down = (peak.power / self.strongest).ln() + MOST_WORTH;
        peak.over_background.ln().min(MOST_WORTH).min(down).max(0.0)
    }

    /// The note heard, chosen by the lines alone. `None` when no comb explains anything.
    #[must_use]
    pub fn best(&self) -> Option<Candidate> {
        let raw = self.strongest_comb(LOWEST_HZ, HIGHEST_HZ)?;
        Some(self.without_undertones(raw))
    }

    /// The best comb within ± `cents` of `hz`; `None` when what would tell it from the note an octave
    /// or a twelfth higher is missing.
    #[must_use]
    pub fn near(&self, hz: f64, cents: f64) -> Option<Candidate> {
        let found = self.strongest_comb(shift_by_cents(hz, -cents), shift_by_cents(hz, cents))?;
        let hz = self.refined(found.hz);
        let is_there = [2, 3].into_iter().all(|factor| self.weakness(hz, factor) > MISSING_DB);
        is_there.then_some(Candidate { hz, ..found })
    }

    /// What share of the lines' strength (square root of power) belongs to the note `hz`.
    #[must_use]
    pub fn explained(&self, hz: f64) -> f64 {
        let (mut all, mut mine) = (0.0, 0.0);
        for peak in &self.peaks.peaks {
            let strength = peak.power.sqrt();
            all += strength;
            let tooth = (peak.hz / hz).round().max(1.0) * hz;
            if (peak.hz - tooth).abs() <= self.tolerance_hz(tooth, hz) {
                mine += strength;
            }
        }
        if all > 0.0 { mine / all } else { 0.0 }
    }

    /// Power of the lines that the comb of `other_hz` has and that of `kept_hz` has not, over that of all lines
    /// of the latter, dB.
    #[must_use]
    pub fn left_out_db(&self, kept_hz: f64, other_hz: f64) -> f64 {
        let is_of = |peak: &Peak, hz: f64| {
            let tooth = (peak.hz / hz).round().max(1.0) * hz;
            (peak.hz - tooth).abs() <= self.tolerance_hz(tooth, hz)
        };
        let (mut kept, mut left_out) = (f64::MIN_POSITIVE, f64::MIN_POSITIVE);
        for peak in &self.peaks.peaks {
            if is_of(peak, kept_hz) {
                kept += peak.power;
            } else if is_of(peak, other_hz) {
                left_out += peak.power;
            }
        }
        10.0 * (left_out / kept).log10()
    }

    /// Well heard lines of the comb of `hz` that are no multiples of `factor`, hertz.
    #[must_use]
    pub fn own_lines(&self, hz: f64, factor: usize) -> Vec<f64> {
        let least = 10f64.powf(WELL_HEARD_DB / 10.0);
        (1..=self.teeth(hz))
            .filter(|n| !n.is_multiple_of(factor))
            .filter_map(|n| self.peaks.near(n as f64 * hz, self.tolerance_hz(n as f64 * hz, hz)))
            .filter(|peak| peak.over_background > least)
            .map(|peak| peak.hz)
            .collect()
    }

    /// True when the comb's lines stand out of the noise beyond doubt: the log likelihood ratio of
    /// bins that are means of `frames` exponential variables, `m (r − 1 − ln r)`, over all lines.
    #[must_use]
    pub fn is_heard(&self, hz: f64, frames: f64) -> bool {
        let evidence: f64 = (1..=self.teeth(hz))
            .filter_map(|n| {
                let tooth_hz = n as f64 * hz;
                self.peaks.near(tooth_hz, self.tolerance_hz(tooth_hz, hz))
            })
            .map(|peak| {
                let ratio = peak.over_background / UNEVEN;
                (frames * (ratio - 1.0 - ratio.ln()) - CHANCES).max(0.0)
            })
            .sum();
        evidence > SURE
    }

    fn strongest_comb(&self, from_hz: f64, to_hz: f64) -> Option<Candidate> {
        let mut best: Option<Candidate> = None;
        let steps = (cents_between(to_hz, from_hz) / STEP_CENTS) as usize;
        for step in 0..=steps {
            let hz = shift_by_cents(from_hz, step as f64 * STEP_CENTS);
            let worth = self.worth(hz);
            if worth > best.map_or(f64::NEG_INFINITY, |b| b.worth) {
                best = Some(Candidate { hz, worth, clearness: 1.0 });
            }
        }
        best
    }

    fn tolerance_hz(&self, tooth_hz: f64, hz: f64) -> f64 {
        let cents = tooth_hz * TOOTH_CENTS * std::f64::consts::LN_2 / 1200.0;
        cents.max(TOOTH_RESOLUTIONS * self.resolution_hz).min(0.2 * hz)
    }

    fn teeth(&self, hz: f64) -> usize {
        ((self.top_hz / hz + 0.2) as usize).clamp(1, MOST_TEETH)
    }

    /// What the comb explains, up to the tooth where it is most: beyond its own partials a note
    /// owes nothing.
    fn worth(&self, hz: f64) -> f64 {
        let (mut sum, mut most) = (0.0, f64::NEG_INFINITY);
        for n in 1..=self.teeth(hz) {
            let tooth_hz = n as f64 * hz;
            let tolerance_hz = self.tolerance_hz(tooth_hz, hz);
            sum += match self.peaks.near(tooth_hz, tolerance_hz) {
                Some(peak) => {
                    let off = (peak.hz - tooth_hz) / tolerance_hz;
                    self.peak_worth(peak) * (1.0 - 0.5 * off * off) - TOOTH_COST
                }
                None => -EMPTY_COST,
            };
            most = f64::max(most, sum);
        }
        most
    }

    /// The pitch that fits the comb's own lines best: least squares over `n f`, each line
    /// weighted by its strength over the background (bounded).
    fn refined(&self, hz: f64) -> f64 {
        let mut pitch = hz;
        for _ in 0..2 {
            let (mut up, mut down) = (0.0, 0.0);
            for n in 1..=self.teeth(pitch) {
                let tooth_hz = n as f64 * pitch;
                if let Some(peak) = self.peaks.near(tooth_hz, self.tolerance_hz(tooth_hz, pitch)) {
                    let weight = self.peak_worth(peak);
                    up += weight * n as f64 * peak.hz;
                    down += weight * (n * n) as f64;
                }
            }
            if down > 0.0 {
                pitch = up / down;
            }
        }
        pitch
    }

    /// Level of each tooth and of the background below it in dB, as far up as the comb is heard; a
    /// tooth without a line has the background's level.
    fn levels(&self, hz: f64) -> Vec<(f64, f64)> {
        let mut levels: Vec<(f64, f64)> = Vec::new();
        let mut heard = 0;
        for n in 1..=MOST_TEETH.min((self.peaks.top_hz() / hz) as usize) {
            let tooth_hz = n as f64 * hz;
            let background = self.peaks.background_at(tooth_hz);
            let peak = self.peaks.near(tooth_hz, self.tolerance_hz(tooth_hz, hz));
            if peak.is_some() {
                heard = n;
            }
            let power = peak.map_or(background, |p| p.power);
            levels.push((10.0 * power.log10(), 10.0 * background.log10()));
        }
        levels.truncate(heard);
        levels
    }

    /// Goes up from a comb to the note, as long as the teeth left out are weak enough to be
    /// undertones.
    fn without_undertones(&self, raw: Candidate) -> Candidate {
        let mut hz = self.refined(raw.hz);
        let mut clearness: f64 = 1.0;
        'up: loop {
            for factor in [2, 3] {
                let weakness = self.weakness(hz, factor);
                if weakness < UNDERTONE_DB && hz * factor as f64 <= HIGHEST_HZ {
                    clearness = clearness.min(((UNDERTONE_DB - weakness) / 8.0).clamp(0.1, 1.0));
                    hz = self.refined(hz * factor as f64);
                    continue 'up;
                }
                clearness = clearness.min(((weakness - UNDERTONE_DB) / 8.0).clamp(0.1, 1.0));
            }
            return Candidate { hz, worth: raw.worth, clearness };
        }
    }

    /// How far the teeth that are no multiples of `factor` lie below those that are, in dB: the
    /// larger (safer) of what most of them lie below the multiples next to them, where those are
    /// well heard, and of the difference of the sums less what is allowed to them.
    fn weakness(&self, hz: f64, factor: usize) -> f64 {
        let levels = self.levels(hz);
        let is_kept = |n: usize| n.is_multiple_of(factor);
        let sum = |kept: bool| -> f64 {
            let chosen = levels.iter().zip(1..).filter(|&(_, n)| is_kept(n) == kept);
            chosen.map(|(l, _)| 10f64.powf(l.0 / 10.0)).sum()
        };
        let of_sums = 10.0 * (sum(false) / sum(true).max(f64::MIN_POSITIVE)).log10();
        let tooth = |n: usize| n.checked_sub(1).and_then(|i| levels.get(i)).copied();
        // What most teeth of one parity lie over the multiples on either side. Odd teeth are held
        // against odd multiples where there are any: a reed note's even partials may be missing.
        let most = |odd: bool| -> Option<f64> {
            let stride = if odd && factor % 2 == 1 { 2 * factor } else { factor };
            let mut steps: Vec<f64> = (1..=levels.len())
                .filter(|&n| !is_kept(n) && (n % 2 == 1) == odd)
                .filter_map(|n| {
                    let (level, background) = tooth(n)?;
                    // Multiples of the stride, begun at the factor: 2, 4 …; 3, 9 …; 3, 6 ….
                    let above = factor + (n.max(factor) - factor).next_multiple_of(stride);
                    let beside: Vec<f64> = [above.checked_sub(stride).and_then(tooth), tooth(above)]
                        .into_iter()
                        .flatten()
                        .map(|t| t.0)
                        .collect();
                    let mean = beside.iter().sum::<f64>() / beside.len() as f64;
                    (!beside.is_empty() && mean > background + WELL_HEARD_DB).then_some(level - mean)
                })
                .collect();
            steps.sort_by(f64::total_cmp);
            steps.get((steps.len() as f64 * MOST) as usize).copied()
        };
        let weaker = match (most(true), most(false)) {
            (Some(a), Some(b)) => a.max(b),
            (Some(a), None) | (None, Some(a)) => a,
            (None, None) => return 0.0,
        };
        (of_sums - UNDERTONE_SUM_DB + UNDERTONE_DB).max(weaker)
    }
}
