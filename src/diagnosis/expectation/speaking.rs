//! How the notes spoke: which failed, and how much tone stood over the breath. A leak shows here before it
//! shows in the pitch.
//!
//! Must not know causes.

use crate::diagnosis::beliefs::expectation::{
    FAILS_ANYWAY, FAILS_HALF_DB, FAILS_RANGE_DB, HEARD_BADLY_ANYWAY, HEARD_BADLY_HALF_DB, HEARD_BADLY_MOSTLY,
    LEVEL_DB, RISE_DB_PER_OCTAVE, SCATTER_DB, SLOPE_DB_PER_OCTAVE, TONE_GAINS,
};
use crate::diagnosis::expectation::gaussian::Gaussian;

/// A note that was tried at the bench.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TriedNote {
    /// Index into the instrument's fingerings.
    pub fingering: usize,
    /// What it was played under; 0 for the instrument as it is.
    pub condition: usize,
    /// Which resonance is wanted.
    pub register: usize,
    /// Predicted pitch, hertz.
    pub base_hz: f64,
    /// Whether it spoke, and so can be compared.
    pub spoke: bool,
    /// Tone over breath and background, dB; the mean of the takes that count.
    pub tone_over_noise_db: Option<f64>,
    /// Whether the player heard it come out badly: slow, hissy, stuffy or squealing.
    pub heard_badly: bool,
}

/// All notes that were tried, ready to be compared with what a cause would do to them.
pub struct Speaking {
    /// The notes, in the file's order.
    pub notes: Vec<TriedNote>,
    tone: Option<Tone>,
}

/// Tone over breath of the notes that have it.
struct Tone {
    /// Which notes, by their place in the list.
    notes: Vec<usize>,
    db: Vec<f64>,
    healthy: Gaussian,
}

impl Speaking {
    /// Sets up the comparison.
    #[must_use]
    pub fn new(notes: Vec<TriedNote>) -> Speaking {
        let tone = Tone::new(&notes);
        Speaking { notes, tone }
    }

    /// Log of how well it fits that just those notes spoke, and so clearly, when the resonances are
    /// `lower_db` lower (≤ 0, one figure a note) than in the healthy instrument; up to a constant.
    #[must_use]
    pub fn log_chance(&self, lower_db: &[f64]) -> f64 {
        self.log_spoke(lower_db) + self.tone.as_ref().map_or(0.0, |tone| tone.log_density(lower_db))
    }

    /// The same when nothing is wrong.
    #[must_use]
    pub fn log_chance_healthy(&self) -> f64 {
        self.log_chance(&vec![0.0; self.notes.len()])
    }

    fn log_spoke(&self, lower_db: &[f64]) -> f64 {
        self.notes
            .iter()
            .zip(lower_db)
            .map(|(note, lower_db)| {
                let fails = chance_to_fail(*lower_db);
                let heard = if note.heard_badly { heard_badly(*lower_db).ln() } else { 0.0 };
                heard + if note.spoke { (1.0 - fails).ln() } else { fails.ln() }
            })
            .sum()
    }
}

/// How likely a note fails to speak when its resonance is `lower_db` lower (≤ 0) than on the healthy instrument.
#[must_use]
pub fn chance_to_fail(lower_db: f64) -> f64 {
    let rise = 1.0 / (1.0 + ((lower_db - FAILS_HALF_DB) / FAILS_RANGE_DB).exp());
    FAILS_ANYWAY + (1.0 - FAILS_ANYWAY) * rise
}

/// How likely a player says of a note that it is slow, hissy, stuffy or squeals: seldom when nothing is wrong, mostly
/// once its resonance is a few dB lower.
fn heard_badly(lower_db: f64) -> f64 {
    let rise = 1.0 + ((lower_db - HEARD_BADLY_HALF_DB) / FAILS_RANGE_DB).exp();
    HEARD_BADLY_ANYWAY + (HEARD_BADLY_MOSTLY - HEARD_BADLY_ANYWAY) / rise
}

impl Tone {
    fn new(all: &[TriedNote]) -> Option<Tone> {
        let known = |i: &usize| all[*i].spoke && all[*i].tone_over_noise_db.is_some();
        let notes: Vec<usize> = (0..all.len()).filter(known).collect();
        let above_usual =
            |&i: &usize| Some(all[i].tone_over_noise_db? - RISE_DB_PER_OCTAVE * octaves(&all[i]));
        let db: Vec<f64> = notes.iter().filter_map(above_usual).collect();
        let covariance: Vec<Vec<f64>> = notes
            .iter()
            .map(|&a| notes.iter().map(|&b| healthy_covariance(&all[a], &all[b], a == b)).collect())
            .collect();
        Some(Tone { healthy: Gaussian::new(&covariance)?, notes, db })
    }

    fn log_density(&self, lower_db: &[f64]) -> f64 {
        let under = |gain: f64| {
            let left: Vec<f64> =
                self.notes.iter().zip(&self.db).map(|(&note, db)| db - gain * lower_db[note]).collect();
            self.healthy.log_density(&left)
        };
        let logs = TONE_GAINS.map(|(gain, share)| share.ln() + under(gain));
        let largest = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        largest + logs.iter().map(|log| (log - largest).exp()).sum::<f64>().ln()
    }
}

/// Octaves from a fixed pitch: the free level of the register takes up which.
fn octaves(note: &TriedNote) -> f64 {
    (note.base_hz / 100.0).log2()
}

fn healthy_covariance(a: &TriedNote, b: &TriedNote, same: bool) -> f64 {
    let scatter = if same { SCATTER_DB.powi(2) } else { 0.0 };
    if a.register != b.register {
        return scatter;
    }
    scatter + LEVEL_DB.powi(2) + SLOPE_DB_PER_OCTAVE.powi(2) * octaves(a) * octaves(b)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn scale(tone_db: impl Fn(usize) -> f64) -> Speaking {
        let note = |i: usize| TriedNote {
            fingering: i,
            register: 1,
            condition: 0,
            heard_badly: false,
            base_hz: 65.0 * 2.0_f64.powf(i as f64 / 12.0),
            spoke: true,
            tone_over_noise_db: Some(tone_db(i)),
        };
        Speaking::new((0..10).map(note).collect())
    }

    #[test]
    fn low_notes_full_of_breath_speak_for_what_weakens_them_and_clear_ones_against_it() {
        let lower_db: Vec<f64> = (0..10).map(|i| -6.0 + 0.6 * i as f64).collect();
        // The low notes lose 18 dB, as beside a leak that hardly lets them speak.
        let leaking = scale(|i| 38.0 + 3.0 * lower_db[i]);
        assert!(leaking.log_chance(&lower_db) > leaking.log_chance_healthy() + 1.0);
        let clear = scale(|_| 38.0);
        assert!(clear.log_chance(&lower_db) < clear.log_chance_healthy());
    }

    #[test]
    fn how_loud_the_room_is_makes_no_difference() {
        let lower_db: Vec<f64> = (0..10).map(|i| -6.0 + 0.6 * i as f64).collect();
        let gain = |level: f64| {
            let speaking = scale(|i| level + lower_db[i]);
            speaking.log_chance(&lower_db) - speaking.log_chance_healthy()
        };
        assert!((gain(40.0) - gain(25.0)).abs() < 0.3, "{} {}", gain(40.0), gain(25.0));
    }
}
