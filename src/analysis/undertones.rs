//! Lines below and between the partials of a note.
//!
//! At simple fractions of the pitch the place is known, so little is needed to be sure that a line is
//! there. Elsewhere below the fourth partial it needs to stand out more. Lines of the mains or the room
//! are not the note's. How the lines stand to the note and to each other is for `standing` to say.
//! Must not know the instrument.

use num_complex::Complex64;

use super::hum::{Hum, could_be_mains};
use super::measurement::{Hidden, HiddenBy, Undertone};
use super::orders::Orders;
use super::peaks::parabola;
use super::room::RoomSound;
use super::standing::{self, Line};

/// Denominators of locked lines: period doubling and tripling, and doubling twice.
const DENOMINATORS: [u32; 3] = [2, 3, 4];
/// Highest order of a locked line.
const TOP_LOCKED: f64 = 3.0;
/// Highest order looked at for free lines.
pub const TOP_ORDER: f64 = 3.5;
/// Power over noise that makes a line at a known place sure: noise alone passes it in e⁻¹² of the bins
/// (exponential law of a bin's power). The noise is itself judged from some dozens of bins, so that in
/// truth about one note in five hundred has a false line, none of them above −40 dB when the noise lies
/// 10 dB or more under the note (600 computed notes; a test repeats it on 300).
const LOCKED_RATIO: f64 = 12.0;
/// The same for a free line, of which there may be some hundreds of places.
const FREE_RATIO: f64 = 20.0;
/// And it must stand alone: so much over the highest of what is beside it, in power (6 dB), for
/// breath noise and rooms are uneven.
const ALONE_RATIO: f64 = 4.0;
/// Noise is judged over so many resolutions on each side: close by for a locked line, widely for
/// a free one.
const LOCKED_REACH: f64 = 16.0;
const FREE_REACH: f64 = 40.0;
/// Weaker lines are not told, dB below the strongest partial.
const DEEPEST_DB: f64 = -50.0;
/// A line may be this far from its fraction and still be meant by it, cents.
const NEAR_CENTS: f64 = 25.0;
/// In a steady note, a line whose halves differ more (amplitude ratio) dies away with the attack or comes and goes.
pub const STEADY_RATIO: f64 = 2.0;
/// While the note builds up, what sounds along dies away; but not faster than this, or it is a knock.
pub const DYING_RATIO: f64 = 8.0;
/// Breath and bow tremble at up to this rate and put lines of their own beside every partial:
/// free lines so near a partial are not told, hertz, and not more than a share of the pitch.
const TREMBLE_HZ: f64 = 12.0;
const TREMBLE_SHARES: [f64; 2] = [0.12, 0.35];
/// Fractions of which it is said when nothing can be told there.
const TOLD_FRACTIONS: [(u32, u32); 3] = [(1, 2), (1, 3), (2, 3)];
/// A line's place is known to this share of a resolution over the square root of its power over the
/// noise: `√6 / 2π` for the best there is (D. C. Rife & R. R. Boorstyn, IEEE Trans. Inf. Theory 20 (1974)
/// 591); the Hann window's wider lobe takes back what its wider noise band seems to give.
const PLACE_SHARE: f64 = 0.39;
/// And never better than this share: tone and loudness of a note are not quite steady (our choice).
const PLACE_LEAST: f64 = 0.02;
/// A line that follows the note and one that stands still must look so different before they are told
/// apart, and what is heard must be so much nearer to one (square of the correlation; our choice).
const SAME_LIKENESS: f64 = 0.8;
const TELLING_LIKENESS: f64 = 0.1;
/// Resolutions that the window's main lobe reaches to each side, and that are kept clear of
/// strong lines.
const LOBE: f64 = 2.0;

/// Where and with what the search goes on.
pub struct Search<'a> {
    /// The note's spectrum over orders.
    pub orders: &'a Orders,
    /// Its pitch, hertz.
    pub hz: f64,
    /// Amplitude of its strongest partial.
    pub strongest: f64,
    /// Hum that was taken out.
    pub hum: &'a Hum,
    /// What the room sounds like.
    pub room: &'a RoomSound,
    /// Most by which the halves of a line may differ, amplitude ratio.
    pub most_change: f64,
}

impl Search<'_> {
    /// All undertones, strongest first, and the fractions at which none could be told.
    #[must_use]
    pub fn run(&self) -> (Vec<Undertone>, Vec<Hidden>) {
        let mut lines = self.locked();
        let free = self.free(&lines);
        lines.extend(free);
        lines.iter_mut().for_each(|line| line.follows = self.follows(line.order));
        let mut found = standing::of_lines(&lines, self.hz, self.strongest);
        found.sort_by(|a, b| b.db.total_cmp(&a.db));
        (found, self.hidden())
    }

    /// The simplest fractions at which a line of the mains or the room hides whatever may be there, or
    /// whose lobe can't be parted from the partials'.
    fn hidden(&self) -> Vec<Hidden> {
        let faintest = self.strongest * 10f64.powf(DEEPEST_DB / 20.0);
        TOLD_FRACTIONS
            .into_iter()
            .filter_map(|(over, under)| {
                let order = f64::from(over) / f64::from(under);
                let (hz, within_hz) = (order * self.hz, 0.5 * self.resolution() * self.hz);
                let by = if !self.can_part(under) {
                    HiddenBy::TooShort
                } else if self.hum.near(hz, within_hz).is_some_and(|line| line.power.sqrt() > faintest)
                    || (self.may_be_mains(hz) && self.line_near(order, 1.0 / f64::from(under)).is_some())
                {
                    HiddenBy::Hum
                } else if self.room.holds(hz, 2.0 * within_hz, faintest) {
                    HiddenBy::Room
                } else {
                    return None;
                };
                Some(Hidden { ratio: (over, under), hz, by })
            })
            .collect()
    }

    fn resolution(&self) -> f64 {
        1.0 / self.orders.periods
    }

    /// Whether a line at such a fraction has a lobe clear of the partials'.
    fn can_part(&self, denominator: u32) -> bool {
        1.0 / f64::from(denominator) >= 2.0 * LOBE * self.resolution()
    }

    fn locked(&self) -> Vec<Line> {
        let mut found = Vec::new();
        for denominator in DENOMINATORS.into_iter().filter(|d| self.can_part(*d)) {
            for numerator in 1..(TOP_LOCKED * f64::from(denominator)) as u32 {
                let lowest_terms = gcd(numerator, denominator) == 1;
                let order = f64::from(numerator) / f64::from(denominator);
                if lowest_terms && let Some(line) = self.line_near(order, 1.0 / f64::from(denominator)) {
                    found.extend(self.is_own(&line).then_some(line));
                }
            }
        }
        found
    }

    /// The line at or near a fraction, if it stands out.
    fn line_near(&self, order: f64, apart: f64) -> Option<Line> {
        let reach =
            (order * ((NEAR_CENTS / 1200.0).exp2() - 1.0)).clamp(0.5 * self.resolution(), apart / 3.0);
        let (order, amplitude) = self.top_of(order, reach)?;
        // So many places had their chance, and each factor e of them costs one more in the ratio.
        let places = 2.0 * reach / self.resolution();
        let noise = self.noise_power(order, apart, LOCKED_REACH.max(2.0 * places));
        let amplitude = self.without_hum(order, amplitude);
        let least = (LOCKED_RATIO + places.max(1.0).ln()) * noise;
        (amplitude.powi(2) > least).then(|| self.line(order, amplitude, noise))
    }

    fn line(&self, order: f64, amplitude: f64, noise: f64) -> Line {
        let by_noise = PLACE_SHARE * noise.sqrt() / amplitude.max(f64::MIN_POSITIVE);
        let order_sd = self.resolution() * by_noise.hypot(PLACE_LEAST);
        Line { order, order_sd, amplitude, follows: None }
    }

    /// The highest point within `reach` of `order`, with its amplitude.
    fn top_of(&self, order: f64, reach: f64) -> Option<(f64, f64)> {
        let step = self.orders.step();
        let steps = (reach / step).round() as i64;
        let level = |i: i64| self.orders.at(order + i as f64 * step).norm();
        let best = (-steps..=steps).max_by(|&a, &b| level(a).total_cmp(&level(b)))?;
        let (l, m, r) = (level(best - 1), level(best), level(best + 1));
        if m < l || m < r {
            // Still rising at the edge: the foot of something else, unless the place itself
            // is as good.
            return Some((order, level(0)));
        }
        let shift = parabola(l.max(1e-300).ln(), m.max(1e-300).ln(), r.max(1e-300).ln());
        Some((order + (best as f64 + shift) * step, m))
    }

    /// Mean noise power of a bin beside a line, from the middle of the bins around.
    fn noise_power(&self, order: f64, apart: f64, reach: f64) -> f64 {
        let powers = self.powers_beside(order, apart, reach);
        // The median of an exponential law is ln 2 of its mean.
        powers.get(powers.len() / 2).map_or(f64::INFINITY, |m| m / std::f64::consts::LN_2)
    }

    /// Powers of the bins around a place, up to `reach` resolutions away, free of the line itself and
    /// of what is `apart` from it; rising.
    fn powers_beside(&self, order: f64, apart: f64, reach: f64) -> Vec<f64> {
        let clear = (LOBE + 0.5) * self.resolution();
        let far = (apart - clear).min(reach * self.resolution()).max(clear + 2.0 * self.resolution());
        let mut powers: Vec<f64> = Vec::new();
        let mut distance = clear;
        while distance <= far {
            for place in [order - distance, order + distance] {
                if place > self.resolution() {
                    powers.push(self.orders.at(place).norm_sqr());
                }
            }
            distance += 0.5 * self.resolution();
        }
        powers.sort_by(f64::total_cmp);
        powers
    }

    /// Solves for line and hum together when a hum line stands beside: what was taken out as hum
    /// may have taken part of the line with it, or left part of the hum behind.
    fn without_hum(&self, order: f64, amplitude: f64) -> f64 {
        let reach_hz = 4.0 * self.resolution() * self.hz;
        let Some(hum) = self.hum.near(order * self.hz, reach_hz) else { return amplitude };
        let hum_order = hum.hz / self.hz;
        if (hum_order - order).abs() < 0.5 * self.resolution() {
            // One and the same for all that this recording can tell.
            return 0.0;
        }
        let of_hum = self.orders.response(hum.hz);
        let of_line = self.orders.response_locked(order);
        let (a, b) = (of_line(order), of_hum(order));
        let (c, d) = (of_line(hum_order), of_hum(hum_order));
        let determinant = a * d - b * c;
        if determinant.norm() < 0.05 {
            return amplitude;
        }
        let (here, there) = (self.orders.at(order), self.orders.at(hum_order));
        ((here * d - there * b) / determinant).norm()
    }

    /// True for a line that is loud enough, not the room's, and as steady as it should be.
    fn is_own(&self, line: &Line) -> bool {
        let faintest = self.strongest * 10f64.powf(DEEPEST_DB / 20.0);
        let hz = line.order * self.hz;
        if line.amplitude < faintest
            || self.may_be_mains(hz)
            || self.room.holds(hz, self.resolution() * self.hz, line.amplitude)
        {
            return false;
        }
        let [early, late] = self.orders.halves(line.order);
        early.max(late) <= self.most_change * early.min(late)
    }

    /// True where a line may as well be the mains' and no silence is there to ask: a note on a multiple of
    /// the mains frequency keeps the hum from being found.
    fn may_be_mains(&self, hz: f64) -> bool {
        !self.room.known() && could_be_mains(hz, 0.5 * self.resolution() * self.hz)
    }

    /// Whether a line moves with the note's pitch rather than standing still; `None` when the pitch
    /// moves too little to tell.
    fn follows(&self, order: f64) -> Option<bool> {
        let moving = self.orders.response_locked(order);
        let still = self.orders.response(order * self.hz);
        let places: Vec<f64> = (-8..=8).map(|i| order + f64::from(i) * 0.5 * self.resolution()).collect();
        let sampled =
            |f: &dyn Fn(f64) -> Complex64| -> Vec<Complex64> { places.iter().map(|p| f(*p)).collect() };
        let (moving, still) = (sampled(&moving), sampled(&still));
        let heard = sampled(&|place| self.orders.at(place));
        if likeness(&moving, &still) > SAME_LIKENESS {
            return None;
        }
        let (as_moving, as_still) = (likeness(&heard, &moving), likeness(&heard, &still));
        ((as_moving - as_still).abs() > TELLING_LIKENESS).then_some(as_moving > as_still)
    }

    fn free(&self, known: &[Line]) -> Vec<Line> {
        let step = self.orders.step();
        let clear = (LOBE + 1.0) * self.resolution();
        let mut found: Vec<Line> = Vec::new();
        let [least, most] = TREMBLE_SHARES;
        let trembling = clear.max((TREMBLE_HZ / self.hz).clamp(least, most));
        let bins = ((TOP_ORDER - clear) / step) as usize;
        let first = (clear / step) as usize;
        for bin in first..bins {
            let order = bin as f64 * step;
            let level = |i: f64| self.orders.at(order + i * step).norm();
            let (l, m, r) = (level(-1.0), level(0.0), level(1.0));
            let from_partial = (order - order.round().max(1.0)).abs();
            if m < l || m < r || from_partial < trembling {
                continue;
            }
            let taken = |line: &Line| (line.order - order).abs() < clear;
            let hum = self.hum.near(order * self.hz, clear * self.hz).is_some()
                || could_be_mains(order * self.hz, 0.5 * self.resolution() * self.hz);
            if hum || known.iter().any(taken) || found.iter().any(taken) {
                continue;
            }
            let beside = self.powers_beside(order, 0.5_f64.min(from_partial + 0.2), FREE_REACH);
            let noise = beside.get(beside.len() / 2).map_or(f64::INFINITY, |m| m / std::f64::consts::LN_2);
            let next = beside.last().copied().unwrap_or(f64::INFINITY);
            if m * m > FREE_RATIO * noise && m * m > ALONE_RATIO * next {
                let shift = parabola(l.max(1e-300).ln(), m.ln(), r.max(1e-300).ln());
                let line = self.line(order + shift * step, m, noise);
                found.extend(self.is_own(&line).then_some(line));
            }
        }
        found
    }
}

/// Square of the correlation of two sampled spectra, 0 to 1.
fn likeness(a: &[Complex64], b: &[Complex64]) -> f64 {
    let power = |v: &[Complex64]| v.iter().map(|c| c.norm_sqr()).sum::<f64>();
    let shared: Complex64 = a.iter().zip(b).map(|(a, b)| a * b.conj()).sum();
    shared.norm_sqr() / (power(a) * power(b)).max(f64::MIN_POSITIVE)
}

fn gcd(a: u32, b: u32) -> u32 {
    if b == 0 { a } else { gcd(b, a % b) }
}
