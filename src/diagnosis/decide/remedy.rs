//! What the maker could do about a fault, and what it costs under each explanation.
//!
//! Must not know takes, words or files.

use crate::diagnosis::beliefs::{
    CUT_MINUTES, MEASURE_MINUTES, RUIN_CHANCE, RUINED_MINUTES, SEAL_MINUTES, TEST_OVERHEAD_MINUTES,
};
use crate::diagnosis::causes::catalogue::Cause;
use crate::instrument::column::LeakPlace;

/// One fault of an explanation: the cause, the move of every fingering that was tried, cents, and what missing it costs,
/// minutes.
pub(in crate::diagnosis) type Fault = (Cause, Vec<f64>, f64);

/// What the maker could do about a fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Remedy {
    /// Nothing: the instrument is taken as sound.
    Leave,
    /// Seal this place for good.
    Seal(LeakPlace),
    /// Cut or fill this hole, or see to its pad.
    Hole(usize),
    /// See to what moves all notes: air, mouthpiece, length.
    Whole,
    /// See to the bore.
    Bore,
}

impl Remedy {
    /// What a cause asks for.
    #[must_use]
    pub fn of(cause: Cause) -> Remedy {
        match cause {
            Cause::Leak(place) => Remedy::Seal(place),
            Cause::Hole(hole) | Cause::StuckShut(hole) | Cause::VentSize(hole) | Cause::VentPlace(hole) => {
                Remedy::Hole(hole)
            }
            Cause::Air | Cause::Top | Cause::End => Remedy::Whole,
            Cause::Taper | Cause::BorePlace(_) => Remedy::Bore,
        }
    }

    fn minutes(self) -> f64 {
        match self {
            Remedy::Leave => 0.0,
            Remedy::Seal(_) => SEAL_MINUTES,
            Remedy::Hole(_) => CUT_MINUTES + RUIN_CHANCE * RUINED_MINUTES,
            Remedy::Whole | Remedy::Bore => MEASURE_MINUTES + TEST_OVERHEAD_MINUTES,
        }
    }
}

/// The leak that moves a note most.
pub(in crate::diagnosis) fn largest_leak(faults: &[Fault]) -> Option<LeakPlace> {
    let most = |moves: &[f64]| moves.iter().map(|cents| cents.abs()).fold(0.0, f64::max);
    let leaks = faults.iter().filter_map(|(cause, moves, _)| match cause {
        Cause::Leak(place) => Some((*place, most(moves))),
        _ => None,
    });
    leaks.max_by(|a, b| a.1.total_cmp(&b.1)).map(|(place, _)| place)
}

/// What a remedy costs when these faults are at work: its own work, and what it leaves.
pub(in crate::diagnosis) fn cost(remedy: Remedy, faults: &[Fault]) -> f64 {
    let missed = faults.iter().filter(|fault| Remedy::of(fault.0) != remedy).map(|fault| fault.2);
    remedy.minutes() + missed.sum::<f64>()
}
