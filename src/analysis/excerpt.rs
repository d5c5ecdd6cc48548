//! Which part of a long recording a measurement of one note looks at.
//!
//! Must not know pitch: loudness alone decides.

use super::level::Level;
use super::measurement::{Trouble, TroubleCode};

/// Kept on both sides of what sounds, seconds: the silence that tells of room and recorder.
const SILENCE_S: f64 = 3.0;
/// No breath lasts longer, seconds: of a long recording no more is looked at in one piece.
pub(super) const LONGEST_S: f64 = 60.0;

/// The part of a long recording in which most sound is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Excerpt {
    /// Where it begins, seconds from the start of the recording.
    pub from_s: f64,
    /// Where it ends.
    pub to_s: f64,
    /// Other stretches that sound, and are not in it.
    others: usize,
}

impl Excerpt {
    /// From the mean square in each cell of [`crate::audio::take::LOUDNESS_CELL_S`]. `None` when all is silent.
    #[must_use]
    pub fn of_cells(cells: &[f64]) -> Option<Excerpt> {
        let level = Level::of_cells(cells);
        let (begins_s, ends_s) = level.loudest()?;
        let from_s = (begins_s - SILENCE_S).max(0.0);
        let to_s = ends_s.min(begins_s + LONGEST_S) + SILENCE_S;
        let others = level.sounding().iter().filter(|(from, to)| *to < from_s || *from > to_s).count();
        Some(Excerpt { from_s, to_s, others })
    }

    /// What there is to say when more sounds than was looked at.
    #[must_use]
    pub fn trouble(&self) -> Option<Trouble> {
        let Excerpt { from_s, to_s, others } = self;
        let stretches = if *others == 1 { "stretch" } else { "stretches" };
        let text = format!(
            "this is a long recording, and {others} more {stretches} of it sound. Looked at was {from_s:.0} to {to_s:.0} s, where most sound is. Save one note a file, or give its part with --from and --to; a recording of many fingerings goes to check --one-take"
        );
        (*others > 0).then_some(Trouble { code: TroubleCode::SeveralNotes, text })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_one_note_of_two_hours_is_found_with_the_silence_around_it() {
        let mut cells = vec![1e-9; 720_000];
        cells[500_000..500_600].fill(0.01);
        let found = Excerpt::of_cells(&cells).unwrap();
        assert!((found.from_s - 4997.0).abs() < 0.2 && (found.to_s - 5009.0).abs() < 0.2, "{found:?}");
        assert_eq!(found.trouble(), None);
        cells[100_000..100_300].fill(0.01);
        let trouble = Excerpt::of_cells(&cells).unwrap().trouble().unwrap();
        assert!(trouble.text.contains("1 more stretch of it"), "{}", trouble.text);
    }

    #[test]
    fn a_sound_without_end_is_looked_at_for_a_minute() {
        let found = Excerpt::of_cells(&vec![0.01; 720_000]).unwrap();
        assert!(found.to_s - found.from_s < 70.0, "{found:?}");
    }
}
