//! One aim over all notes of both registers: how far each may stay from its target, how much it matters, and what all
//! of them share.
//!
//! Must not know causes, cuts, files or the terminal.

use crate::diagnosis::beliefs::work::UNHEARD_CENTS;
use crate::diagnosis::beliefs::{BEGIN_CUTTING_FROM, MINUTES_FROM_THE_EDGE};
use crate::instrument::model::Instrument;

/// Where one note stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Standing {
    /// Cents above its target.
    pub cents: f64,
    /// Standard uncertainty, cents.
    pub sd_cents: f64,
}

/// Where all notes stand and where they should.
#[derive(Debug, Clone, PartialEq)]
pub struct Aim {
    /// One entry a fingering; `None` where nothing was measured.
    pub notes: Vec<Option<Standing>>,
    /// How much each fingering counts.
    weights: Vec<f64>,
    /// A note this near to where it should be is good enough, cents.
    pub within_cents: f64,
    /// What the first register's notes share above their targets, cents: their weighted median.
    pub shared_cents: f64,
    /// The part of it that is not the holes' to mend; holes are judged without it.
    pub not_of_holes_cents: f64,
}

impl Aim {
    /// Sets up the aim; `predicted_cents` is what the geometry alone makes of each fingering, above its target. Where that
    /// makes all notes flat, the holes are small on purpose and are opened; whatever else all notes share is set at the
    /// mouthpiece.
    #[must_use]
    pub fn new(
        instrument: &Instrument,
        notes: Vec<Option<Standing>>,
        predicted_cents: &[Option<f64>],
    ) -> Aim {
        let goal = instrument.goal;
        let weights = instrument.fingerings.iter().map(|fingering| {
            let register = if fingering.register > 1 { goal.second_register_weight } else { 1.0 };
            fingering.weight * register
        });
        let mut aim = Aim {
            notes,
            weights: weights.collect(),
            within_cents: goal.within_cents,
            shared_cents: 0.0,
            not_of_holes_cents: 0.0,
        };
        let first_register = |f: &usize| instrument.fingerings[*f].register == 1;
        let heard: Vec<usize> =
            (0..aim.notes.len()).filter(first_register).filter(|&f| aim.notes[f].is_some()).collect();
        let median = |cents: &dyn Fn(usize) -> Option<f64>| {
            let known = heard.iter().filter_map(|&f| Some((cents(f)?, aim.weights[f])));
            weighted_median(known.collect())
        };
        let shared = median(&|f| Some(aim.notes[f]?.cents));
        let by_geometry = median(&|f| predicted_cents.get(f).copied().flatten());
        aim.shared_cents = shared;
        let small_on_purpose = shared < 0.0 && by_geometry < -aim.within_cents;
        aim.not_of_holes_cents = if small_on_purpose { shared - shared.max(by_geometry) } else { shared };
        aim
    }

    /// The same aim, were the notes to stand elsewhere.
    #[must_use]
    pub fn with_notes(&self, notes: Vec<Option<Standing>>) -> Aim {
        Aim { notes, ..self.clone() }
    }

    /// How far a note is from where it should be, without what all notes share, cents.
    #[must_use]
    pub fn off_cents(&self, fingering: usize) -> Option<f64> {
        Some(self.notes.get(fingering).copied().flatten()?.cents - self.not_of_holes_cents)
    }

    /// Whether a note is farther off than what is good enough, at least this surely (0 to 1).
    #[must_use]
    pub fn is_off(&self, fingering: usize, surely: f64) -> bool {
        let (Some(off), Some(Some(note))) = (self.off_cents(fingering), self.notes.get(fingering)) else {
            return false;
        };
        chance_beyond(off.abs(), note.sd_cents, self.within_cents) >= surely
    }

    /// Whether a note is so far off that drill or wax is fetched for it.
    #[must_use]
    pub fn is_far_off(&self, fingering: usize) -> bool {
        self.off_cents(fingering).is_some_and(|off| off.abs() > BEGIN_CUTTING_FROM * self.within_cents)
    }

    /// How much the notes miss, each by its weight, when all are moved by `moves_cents`: squared cents from the targets
    /// themselves.
    #[must_use]
    pub fn missed(&self, moves_cents: &[f64]) -> f64 {
        let notes = self.notes.iter().zip(&self.weights).zip(moves_cents);
        notes
            .filter_map(|((note, weight), moved)| Some(weight * (note.as_ref()?.cents + moved).powi(2)))
            .sum()
    }

    /// What it is worth, minutes, to move each fingering by these cents; `None` when a note that is good enough would no
    /// longer be.
    #[must_use]
    pub fn worth_minutes(&self, moves_cents: &[f64]) -> Option<f64> {
        let mut worth = 0.0;
        for (f, moved) in moves_cents.iter().enumerate() {
            let Some(off) = self.off_cents(f) else { continue };
            let is_good = |off: f64| off.abs() <= self.within_cents;
            let counts = self.weights[f] > 0.0;
            if counts && is_good(off) && !is_good(off + moved) && moved.abs() > UNHEARD_CENTS {
                return None;
            }
            worth += self.weights[f] * (off * off - (off + moved).powi(2));
        }
        Some(MINUTES_FROM_THE_EDGE * worth / self.within_cents.powi(2))
    }

    /// After a change that moves each fingering by these cents.
    pub fn move_by(&mut self, moves_cents: &[f64]) {
        for (note, moved) in self.notes.iter_mut().zip(moves_cents) {
            if let Some(note) = note {
                note.cents += moved;
            }
        }
    }
}

/// The chance that a normal variable of this mean (≥ 0) and deviation lies beyond `limit` on the mean's side.
fn chance_beyond(mean: f64, sd: f64, limit: f64) -> f64 {
    // The logistic curve of 1.702 z is within 0.01 of the normal distribution (D. J. Haley 1952, from memory).
    1.0 / (1.0 + (-1.702 * (mean - limit) / sd.max(1e-6)).exp())
}

/// Half of the weight lies below it, half above; 0 of nothing.
fn weighted_median(mut values: Vec<(f64, f64)>) -> f64 {
    values.sort_by(|a, b| a.0.total_cmp(&b.0));
    let total: f64 = values.iter().map(|value| value.1).sum();
    let mut below = 0.0;
    for (i, &(value, weight)) in values.iter().enumerate() {
        below += weight;
        if below > 0.5 * total {
            return value;
        }
        if below == 0.5 * total {
            return values.get(i + 1).map_or(value, |next| 0.5 * (value + next.0));
        }
    }
    0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn aim(cents: &[f64]) -> Aim {
        let notes = cents.iter().map(|&cents| Some(Standing { cents, sd_cents: 1.0 }));
        Aim {
            notes: notes.collect(),
            weights: vec![1.0; cents.len()],
            within_cents: 5.0,
            shared_cents: 0.0,
            not_of_holes_cents: 0.0,
        }
    }

    #[test]
    fn a_note_that_is_good_enough_is_not_moved_out_of_it_for_another_note() {
        assert_eq!(aim(&[-20.0, 0.0]).worth_minutes(&[10.0, 10.0]), None);
        assert!(aim(&[-20.0, 0.0]).worth_minutes(&[10.0, 4.0]).unwrap() > 0.0);
    }

    #[test]
    fn one_note_far_off_does_not_move_what_all_notes_share() {
        let values = [-30.0, 1.0, 2.0, 2.0, 3.0].map(|cents| (cents, 1.0));
        assert_eq!(weighted_median(values.to_vec()), 2.0);
    }

    #[test]
    fn a_note_is_surely_off_only_beyond_its_uncertainty() {
        assert!(!aim(&[6.0]).is_off(0, 0.9));
        assert!(aim(&[7.0]).is_off(0, 0.9));
    }
}
