//! Reads the goal of the file: what is good enough, and how much the second register matters.
//!
//! Must not know fingerings.

use super::entries::Table;
use super::keys::GOAL;
use super::model::Goal;
use super::problem::Problems;
use super::reader::{Limits, Reader};
use super::sections::table;

/// Nobody tunes a hole to less than a cent, and half a semitone is another note (our choice).
const WITHIN: Limits = Limits::between("how near to the target is good enough", 1.0, 50.0, "cents");
/// 0 leaves the second register out of the aim (our choice).
const SECOND_REGISTER: Limits = Limits::between("the weight of the second register", 0.0, 10.0, "");

/// Reads `[goal]`; the usual goal for what is not given.
pub(crate) fn read(root: &Table, problems: &mut Problems<'_>) -> Goal {
    let usual = Goal::default();
    let Some((table, head)) = table(root, "goal", GOAL, problems) else { return usual };
    let mut reader = Reader::new(table, head, GOAL, "[goal]".to_string(), problems);
    Goal {
        within_cents: reader.number_or("within_cents", usual.within_cents, &WITHIN),
        second_register_weight: reader.number_or(
            "second_register_weight",
            usual.second_register_weight,
            &SECOND_REGISTER,
        ),
    }
}
