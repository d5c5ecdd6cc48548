//! What sounds now: looks at the last moments of an endless sound again and again.
//!
//! Blind like every measurement: it names a pitch, never a fingering. Must not know where the sound comes from.

use super::measure::{Settings, measure};
use super::measurement::Undertone;
use crate::audio::take::{Origin, Take};

/// From one look to the next, seconds.
const EVERY_S: f64 = 0.15;
/// How far back a look goes, seconds: short, so that a new note is seen soon …
const WINDOW_S: f64 = 0.6;
/// … and how far for notes whose periods are long.
const LOW_WINDOW_S: f64 = 1.5;
/// A short look names a note surely when it holds so many of its periods (our choice).
const LEAST_PERIODS: f64 = 18.0;
/// Quieter than this nothing is looked for, dB of full scale (our choice: below the noise of most inputs).
const LEAST_DBFS: f64 = -66.0;
/// Cut off at full scale: this share of it is reached.
const CLIPPED: f64 = 0.999;

/// One look.
#[derive(Debug, Clone, PartialEq)]
pub struct Look {
    /// The end of the stretch that was looked at, seconds from the beginning of the sound.
    pub at_s: f64,
    /// RMS since the look before, dB of full scale.
    pub level_dbfs: f64,
    /// Largest sample since the look before, full scale 1.
    pub peak: f64,
    /// The note that sounds.
    pub note: Option<LookNote>,
}

/// The note of one look.
#[derive(Debug, Clone, PartialEq)]
pub struct LookNote {
    /// Pitch, hertz.
    pub hz: f64,
    /// Where its steady part begins, seconds from the beginning of the sound.
    pub from_s: f64,
    /// The strongest undertone.
    pub undertone: Option<Undertone>,
}

impl Look {
    /// Whether the sound reached full scale.
    #[must_use]
    pub fn is_clipped(&self) -> bool {
        self.peak >= CLIPPED
    }
}

/// Looks at a sound while it comes.
#[derive(Debug)]
pub struct Watch {
    rate_hz: f64,
    recent: Vec<f64>,
    /// Samples that have come in all, and at the last look.
    seen: usize,
    looked: usize,
    /// The note before had long periods.
    was_low: bool,
}

impl Watch {
    /// For a sound of `rate_hz` samples a second.
    #[must_use]
    pub fn new(rate_hz: f64) -> Watch {
        Watch { rate_hz, recent: Vec::new(), seen: 0, looked: 0, was_low: false }
    }

    /// Takes in more of the sound (one channel, full scale ±1); the looks that fell due.
    pub fn hear(&mut self, samples: &[f64]) -> Vec<Look> {
        let every = ((EVERY_S * self.rate_hz) as usize).max(1);
        let keep = (LOW_WINDOW_S * self.rate_hz) as usize;
        let mut looks = Vec::new();
        let mut rest = samples;
        while !rest.is_empty() {
            let (part, after) = rest.split_at(rest.len().min(self.looked + every - self.seen));
            self.recent.extend_from_slice(part);
            self.seen += part.len();
            rest = after;
            if self.seen == self.looked + every {
                looks.push(self.look(every));
                self.looked = self.seen;
                let surplus = self.recent.len().saturating_sub(keep);
                self.recent.drain(..surplus);
            }
        }
        looks
    }

    fn look(&mut self, since: usize) -> Look {
        let new = self.recent.get(self.recent.len().saturating_sub(since)..).unwrap_or_default();
        let power = new.iter().map(|s| s * s).sum::<f64>() / new.len().max(1) as f64;
        let level_dbfs = 10.0 * power.max(1e-20).log10();
        let peak = new.iter().fold(0.0_f64, |peak, s| peak.max(s.abs()));
        let note = (level_dbfs > LEAST_DBFS).then(|| self.note()).flatten();
        Look { at_s: self.seen as f64 / self.rate_hz, level_dbfs, peak, note }
    }

    /// The note of the last moments; for a low one, of some more.
    fn note(&mut self) -> Option<LookNote> {
        let short = if self.was_low { None } else { self.note_within(WINDOW_S) };
        if short.as_ref().is_some_and(|note| note.hz * WINDOW_S >= LEAST_PERIODS) {
            return short;
        }
        let long = self.note_within(LOW_WINDOW_S);
        self.was_low = long.as_ref().is_some_and(|note| note.hz * WINDOW_S < LEAST_PERIODS);
        if self.was_low { long } else { short.or_else(|| self.note_within(WINDOW_S)) }
    }

    fn note_within(&self, window_s: f64) -> Option<LookNote> {
        let from = self.recent.len().saturating_sub((window_s * self.rate_hz) as usize);
        let samples = self.recent.get(from..)?.to_vec();
        let begins_s = (self.seen - samples.len()) as f64 / self.rate_hz;
        let take = Take { samples, rate_hz: self.rate_hz, begins_s: 0.0, origin: Origin::default() };
        let measured = measure(&take, &Settings::default(), None);
        // What has ended before the window's last third sounds no more.
        let (steady_from, steady_to) = measured.steady_s?;
        if steady_to < take.seconds() * 2.0 / 3.0 {
            return None;
        }
        Some(LookNote {
            hz: measured.pitch_hz?,
            from_s: begins_s + steady_from,
            undertone: measured.undertones.into_iter().next(),
        })
    }
}
