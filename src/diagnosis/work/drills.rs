//! Which tool takes a hole from one size to another.
//!
//! Must not know why.

use crate::diagnosis::beliefs::work::{HOME_STEP_MM, LEAST_FILED_MM};
use crate::diagnosis::words::trimmed;

/// A tool and the size that it leaves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Tool {
    /// A drill of this diameter, mm.
    Drill(f64),
    /// A drill of the first diameter, then a round file or reamer to the second, mm.
    DrillAndFile(f64, f64),
    /// No drill fits between: a round file or reamer to this diameter, mm.
    File(f64),
}

impl Tool {
    /// Size that it leaves, mm.
    #[must_use]
    pub fn mm(self) -> f64 {
        match self {
            Tool::Drill(mm) | Tool::DrillAndFile(_, mm) | Tool::File(mm) => mm,
        }
    }

    /// What to take from the drawer.
    #[must_use]
    pub fn name(self) -> String {
        match self {
            Tool::Drill(mm) => format!("{} mm drill", trimmed(mm)),
            Tool::DrillAndFile(mm, _) => format!("{} mm drill, then a round file", trimmed(mm)),
            Tool::File(_) => "round file or reamer".to_string(),
        }
    }
}

/// The largest drill above `from_mm` and not above `to_mm`, and a file for what it leaves, in tenths of a millimetre; a file
/// alone when there is none. `drills_mm` empty: half millimetres.
#[must_use]
pub fn drill_between(drills_mm: &[f64], from_mm: f64, to_mm: f64) -> Tool {
    let fits = |mm: &f64| *mm > from_mm + 0.05 && *mm <= to_mm + 1e-9;
    let largest = if drills_mm.is_empty() {
        Some((to_mm / HOME_STEP_MM).floor() * HOME_STEP_MM).filter(fits)
    } else {
        drills_mm.iter().copied().filter(fits).max_by(f64::total_cmp)
    };
    let filed_mm = (to_mm * 10.0 + 1e-6).floor() / 10.0;
    match largest {
        Some(mm) if filed_mm - mm < LEAST_FILED_MM => Tool::Drill(mm),
        Some(mm) => Tool::DrillAndFile(mm, filed_mm),
        None => Tool::File(filed_mm),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_largest_drill_that_does_not_overshoot_is_taken_and_a_file_for_what_it_leaves() {
        assert_eq!(drill_between(&[], 14.0, 15.1), Tool::Drill(15.0));
        assert_eq!(drill_between(&[], 14.0, 15.2), Tool::DrillAndFile(15.0, 15.2));
        assert_eq!(drill_between(&[13.0, 14.5, 16.0], 14.0, 15.2), Tool::DrillAndFile(14.5, 15.2));
    }

    #[test]
    fn a_file_is_named_when_no_drill_fits() {
        assert_eq!(drill_between(&[13.0, 16.0], 14.0, 14.47), Tool::File(14.4));
        assert_eq!(drill_between(&[], 14.0, 14.3), Tool::File(14.3));
    }
}
