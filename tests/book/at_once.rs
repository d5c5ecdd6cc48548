//! Many commands on one book at the same moment: each waits, or says why it can't; nothing is lost, and nothing counts
//! twice. `scripts/attack.rs` does the same for longer.

use crate::attack::{Evening, unharmed};
use crate::maker::Maker;

#[test]
fn twelve_checks_at_once_of_a_step_that_is_not_frozen_all_do_their_work() {
    let mut evening = Evening::new(Maker::new(), 1);
    unharmed(&evening.twelve_checks(), 1);
    unharmed(&evening.twelve_checks(), 1);
}

#[test]
fn twelve_commands_of_several_kinds_at_once_lose_nothing_and_disturb_no_other() {
    for seed in 1..3 {
        let mut evening = Evening::new(Maker::new(), seed);
        unharmed(&evening.twelve_mixed(), seed);
        unharmed(&evening.close(), seed);
    }
}
