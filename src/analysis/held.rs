//! From looks to notes: when one begins, how long it is held, when it ends.
//!
//! Must not know fingerings; it sees pitches only.

use super::live::{Look, LookNote};
use crate::units::cents_between;

/// Two looks within this are one note: less than half of the quarter tone that would be another fingering.
const SAME_CENTS: f64 = 25.0;
/// A steady note stays this near its own beginning.
const STEADY_CENTS: f64 = 15.0;
/// So many looks without it, and a note has ended: one may fall on a waver.
const MISSES: usize = 2;
/// What is kept before a note's first steady moment, seconds: its start.
const BEFORE_S: f64 = 0.3;

/// A note while it sounds.
#[derive(Debug, Clone, PartialEq)]
pub struct HeldNote {
    /// Its pitch at the last look, hertz.
    pub hz: f64,
    /// Pitch when it was first called steady, hertz.
    pub first_hz: f64,
    /// Where it begins, seconds from the beginning of the sound, its start included.
    pub from_s: f64,
    /// The last look that heard it.
    pub to_s: f64,
    /// How long it has been held steady, seconds.
    pub steady_s: f64,
    misses: usize,
}

/// What a look changed.
#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    /// A note is sure: two looks agree.
    Begun(HeldNote),
    /// It goes on.
    Goes(HeldNote),
    /// It has ended.
    Ended(HeldNote),
}

/// Follows notes from look to look.
#[derive(Debug, Default)]
pub struct Follower {
    candidate: Option<LookNote>,
    note: Option<HeldNote>,
}

impl Follower {
    /// Takes in a look; what it changed, in order.
    pub fn see(&mut self, look: &Look) -> Vec<Change> {
        let mut changes = Vec::new();
        if let Some(note) = &mut self.note {
            match &look.note {
                Some(heard) if is_same(heard.hz, note.hz) => {
                    let is_steady = cents_between(heard.hz, note.first_hz).abs() <= STEADY_CENTS;
                    if is_steady {
                        note.steady_s += look.at_s - note.to_s;
                    } else {
                        // It has settled elsewhere: the wait begins anew from there.
                        note.first_hz = heard.hz;
                        note.steady_s = 0.0;
                    }
                    (note.hz, note.to_s, note.misses) = (heard.hz, look.at_s, 0);
                    self.candidate = None;
                    return vec![Change::Goes(note.clone())];
                }
                _ => note.misses += 1,
            }
        }
        let agreed = match (&look.note, &self.candidate) {
            (Some(heard), Some(before)) if is_same(heard.hz, before.hz) => Some((heard.hz, before.from_s)),
            _ => None,
        };
        if agreed.is_some() || self.note.as_ref().is_some_and(|note| note.misses >= MISSES) {
            changes.extend(self.note.take().map(Change::Ended));
        }
        self.candidate.clone_from(&look.note);
        if let Some((hz, from_s)) = agreed {
            let note = HeldNote {
                hz,
                first_hz: hz,
                from_s: (from_s - BEFORE_S).max(0.0),
                to_s: look.at_s,
                steady_s: (look.at_s - from_s).max(0.0),
                misses: 0,
            };
            self.candidate = None;
            self.note = Some(note.clone());
            changes.push(Change::Begun(note));
        }
        changes
    }

    /// The sound has ended, and with it the note.
    pub fn end(&mut self) -> Option<Change> {
        self.candidate = None;
        self.note.take().map(Change::Ended)
    }
}

fn is_same(hz: f64, other_hz: f64) -> bool {
    cents_between(hz, other_hz).abs() <= SAME_CENTS
}

#[cfg(test)]
mod tests {
    use super::*;

    fn look(at_s: f64, hz: Option<f64>) -> Look {
        let note = hz.map(|hz| LookNote { hz, from_s: at_s - 0.3, undertone: None });
        Look { at_s, level_dbfs: -20.0, peak: 0.2, note }
    }

    fn follow(pitches: &[Option<f64>]) -> Vec<Change> {
        let mut follower = Follower::default();
        let looks = pitches.iter().enumerate().map(|(i, hz)| look(1.0 + 0.1 * i as f64, *hz));
        let mut changes: Vec<Change> = looks.flat_map(|look| follower.see(&look)).collect();
        changes.extend(follower.end());
        changes.retain(|change| !matches!(change, Change::Goes(_)));
        changes
    }

    #[test]
    fn one_odd_look_neither_makes_a_note_nor_ends_one() {
        let a = Some(100.0);
        let changes = follow(&[None, a, a, a, Some(150.0), a, a, None, a, a]);
        let [Change::Begun(begun), Change::Ended(ended)] = changes.as_slice() else { panic!("{changes:?}") };
        assert!((begun.from_s - 0.5).abs() < 1e-9 && (begun.to_s - 1.2).abs() < 1e-9);
        assert!((ended.to_s - 1.9).abs() < 1e-9);
    }

    #[test]
    fn a_note_without_a_gap_before_it_is_another_note() {
        let (a, b) = (Some(100.0), Some(106.0));
        let changes = follow(&[a, a, a, b, b, b]);
        let pitches: Vec<f64> = changes
            .iter()
            .map(|change| match change {
                Change::Begun(note) | Change::Goes(note) | Change::Ended(note) => note.hz,
            })
            .collect();
        assert_eq!(pitches, [100.0, 100.0, 106.0, 106.0]);
    }

    #[test]
    fn a_note_that_slides_is_never_held_steady() {
        let pitches: Vec<Option<f64>> = (0..40).map(|i| Some(100.0 * (1.0 + 0.006 * f64::from(i)))).collect();
        let changes = follow(&pitches);
        let Some(Change::Ended(note)) = changes.last() else { panic!("{changes:?}") };
        assert!(note.steady_s < 0.5, "{}", note.steady_s);
    }
}
