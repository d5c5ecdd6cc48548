//! Lines below and between the partials of a note.
//!
//! Two kinds are looked for. Locked lines stand at simple fractions of the pitch and follow it;
//! the place is known, so little is needed to be sure. Free lines may stand anywhere below the
//! fourth partial and need to stand out more. Lines of the mains or the room are not the note's.
//! Must not know the instrument.

use super::hum::{Hum, could_be_mains};
use super::measurement::{Undertone, UndertoneKind};
use super::orders::Orders;
use super::peaks::parabola;
use super::room::RoomSound;

/// Denominators of locked lines: period doubling and tripling, and doubling twice.
const DENOMINATORS: [u32; 3] = [2, 3, 4];
/// A free line above the note counts from this level on, dB below the strongest partial: once in some
/// hundred clean notes the search between partials finds a fainter one that is not there.
const FAINTEST_ABOVE_DB: f64 = -30.0;
/// Highest order of a locked line.
const TOP_LOCKED: f64 = 3.0;
/// Highest order looked at for free lines.
pub const TOP_ORDER: f64 = 3.5;
/// Power over noise that makes a locked line sure: noise alone passes it in e⁻¹² of the bins,
/// once in ten thousand notes with their dozen places (exponential law of a bin's power).
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
/// Nearer than this it is locked: players' pitch is not steadier.
const LOCKED_CENTS: f64 = 3.0;
/// A line whose halves differ more (amplitude ratio) dies away with the attack or comes and goes.
const STEADY_RATIO: f64 = 2.0;
/// Breath and bow tremble at up to this rate and put lines of their own beside every partial:
/// free lines so near a partial are not told, hertz, and not more than a share of the pitch.
const TREMBLE_HZ: f64 = 12.0;
const TREMBLE_SHARES: [f64; 2] = [0.12, 0.35];
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
}

/// A line that stands out.
#[derive(Debug, Clone, Copy)]
struct Line {
    order: f64,
    amplitude: f64,
}

impl Search<'_> {
    /// All undertones, strongest first.
    #[must_use]
    pub fn run(&self) -> Vec<Undertone> {
        let mut found: Vec<Undertone> = self.locked();
        let free = self.free(&found);
        found.extend(free);
        found.sort_by(|a, b| b.db.total_cmp(&a.db));
        found
    }

    fn resolution(&self) -> f64 {
        1.0 / self.orders.periods
    }

    fn locked(&self) -> Vec<Undertone> {
        let mut found = Vec::new();
        for denominator in DENOMINATORS {
            let apart = 1.0 / f64::from(denominator);
            // The line's lobe must clear the partials'.
            if apart < 2.0 * LOBE * self.resolution() {
                continue;
            }
            for numerator in 1..(TOP_LOCKED * f64::from(denominator)) as u32 {
                let lowest_terms = gcd(numerator, denominator) == 1;
                let order = f64::from(numerator) / f64::from(denominator);
                if lowest_terms && let Some(line) = self.line_near(order, apart) {
                    found.extend(self.judge(line, Some((numerator, denominator))));
                }
            }
        }
        found
    }

    /// The line at or near a fraction, if it stands out.
    fn line_near(&self, order: f64, apart: f64) -> Option<Line> {
        let reach =
            (order * ((NEAR_CENTS / 1200.0).exp2() - 1.0)).clamp(0.5 * self.resolution(), apart / 3.0);
        let line = self.top_of(order, reach)?;
        let noise = self.noise_power(line.order, apart);
        let line = self.without_hum(line);
        (line.amplitude.powi(2) > LOCKED_RATIO * noise).then_some(line)
    }

    /// The highest point within `reach` of `order`, with its amplitude.
    fn top_of(&self, order: f64, reach: f64) -> Option<Line> {
        let step = self.orders.step();
        let steps = (reach / step).round() as i64;
        let level = |i: i64| self.orders.at(order + i as f64 * step).norm();
        let best = (-steps..=steps).max_by(|&a, &b| level(a).total_cmp(&level(b)))?;
        let (l, m, r) = (level(best - 1), level(best), level(best + 1));
        if m < l || m < r {
            // Still rising at the edge: the foot of something else, unless the place itself
            // is as good.
            return Some(Line { order, amplitude: level(0) });
        }
        let shift = parabola(l.max(1e-300).ln(), m.max(1e-300).ln(), r.max(1e-300).ln());
        Some(Line { order: order + (best as f64 + shift) * step, amplitude: m })
    }

    /// Mean noise power of a bin beside a line, from the middle of the bins around.
    fn noise_power(&self, order: f64, apart: f64) -> f64 {
        let powers = self.powers_beside(order, apart, LOCKED_REACH);
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
    fn without_hum(&self, line: Line) -> Line {
        let reach_hz = 4.0 * self.resolution() * self.hz;
        let Some(hum) = self.hum.near(line.order * self.hz, reach_hz) else { return line };
        let hum_order = hum.hz / self.hz;
        if (hum_order - line.order).abs() < 0.5 * self.resolution() {
            // One and the same for all that this recording can tell.
            return Line { amplitude: 0.0, ..line };
        }
        let of_hum = self.orders.response(hum.hz);
        let of_line = self.orders.response_locked(line.order);
        let (a, b) = (of_line(line.order), of_hum(line.order));
        let (c, d) = (of_line(hum_order), of_hum(hum_order));
        let determinant = a * d - b * c;
        if determinant.norm() < 0.05 {
            return line;
        }
        let (here, there) = (self.orders.at(line.order), self.orders.at(hum_order));
        Line { amplitude: ((here * d - there * b) / determinant).norm(), ..line }
    }

    /// Keeps a line that is the note's own and loud enough, and says how it stands to the note.
    fn judge(&self, line: Line, fraction: Option<(u32, u32)>) -> Option<Undertone> {
        let db = 20.0 * (line.amplitude / self.strongest).log10();
        let hz = line.order * self.hz;
        if db < DEEPEST_DB || self.room.holds(hz, self.resolution() * self.hz, line.amplitude) {
            return None;
        }
        let [early, late] = self.orders.halves(line.order);
        if early.max(late) > STEADY_RATIO * early.min(late) {
            return None;
        }
        let (ratio, kind) = match fraction {
            Some((over, under)) => {
                let exact = f64::from(over) / f64::from(under);
                let off_cents = 1200.0 * (line.order / exact).log2().abs();
                // A line's place is known to about a quarter of the resolution.
                let unsure_cents = 1731.0 * 0.25 * self.resolution() / exact;
                if off_cents > LOCKED_CENTS + unsure_cents {
                    (None, UndertoneKind::Free)
                } else if unsure_cents > 2.0 * LOCKED_CENTS {
                    (Some((over, under)), UndertoneKind::Unclear)
                } else {
                    (Some((over, under)), UndertoneKind::Locked)
                }
            }
            None => (None, UndertoneKind::Free),
        };
        Some(Undertone { hz, ratio, db, kind })
    }

    fn free(&self, known: &[Undertone]) -> Vec<Undertone> {
        let step = self.orders.step();
        let clear = (LOBE + 1.0) * self.resolution();
        let mut found: Vec<Undertone> = Vec::new();
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
            let taken = |u: &Undertone| (u.hz / self.hz - order).abs() < clear;
            let hum = self.hum.near(order * self.hz, clear * self.hz).is_some()
                || could_be_mains(order * self.hz, 0.5 * self.resolution() * self.hz);
            if hum || known.iter().any(taken) || found.iter().any(taken) {
                continue;
            }
            let beside = self.powers_beside(order, 0.5_f64.min(from_partial + 0.2), FREE_REACH);
            let noise = beside.get(beside.len() / 2).map_or(f64::INFINITY, |m| m / std::f64::consts::LN_2);
            let next = beside.last().copied().unwrap_or(f64::INFINITY);
            if m * m > FREE_RATIO * noise && m * m > ALONE_RATIO * next {
                found.extend(self.judge(Line { order, amplitude: m }, None));
            }
        }
        found.retain(|line| line.hz < self.hz || line.db >= FAINTEST_ABOVE_DB);
        found
    }
}

fn gcd(a: u32, b: u32) -> u32 {
    if b == 0 { a } else { gcd(b, a % b) }
}
