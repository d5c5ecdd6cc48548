//! Which takes were played on one evening: player, reed, room and warmth are the same then, and need not be on another.
//!
//! Must not know what was played, files or books.

use crate::diagnosis::beliefs::EVENING_HOURS;

/// The number of each take's evening, from 0 on, by when it was played (seconds from any beginning). An evening begins
/// with its first take and lasts [`EVENING_HOURS`]. Takes of which nobody knows when count to the first evening.
#[must_use]
pub fn evenings(played_at_s: &[Option<u64>]) -> Vec<usize> {
    let mut known: Vec<u64> = played_at_s.iter().flatten().copied().collect();
    known.sort_unstable();
    let mut begins: Vec<u64> = Vec::new();
    for at_s in known {
        if begins.last().is_none_or(|begin| (at_s - begin) as f64 > EVENING_HOURS * 3600.0) {
            begins.push(at_s);
        }
    }
    let number = |at_s: u64| begins.iter().filter(|begin| **begin <= at_s).count().saturating_sub(1);
    played_at_s.iter().map(|at_s| at_s.map_or(0, number)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at_hours(hours: &[Option<f64>]) -> Vec<usize> {
        let seconds = hours.iter().map(|hours| hours.map(|hours| (hours * 3600.0) as u64));
        evenings(&seconds.collect::<Vec<_>>())
    }

    #[test]
    fn an_evening_lasts_four_hours_from_its_first_take_in_whatever_order_takes_are_told() {
        assert_eq!(at_hours(&[Some(24.0), Some(0.0), Some(4.0), Some(4.1), Some(25.0)]), [2, 0, 0, 1, 2]);
    }

    #[test]
    fn takes_of_unknown_time_are_of_the_first_evening() {
        assert_eq!(at_hours(&[None, Some(50.0), Some(2.0), None]), [0, 1, 0, 0]);
        assert_eq!(at_hours(&[None, None]), [0, 0]);
    }
}
