//! Plans drawn by chance are placed as promised; `scripts/many_plans.rs` draws larger ones, and more of them.

use std::path::Path;
use std::time::Duration;

use crate::drawn::body::Most;
use crate::drawn::plan::Plan;
use crate::drawn::promises::hold;

#[test]
fn what_place_promises_is_kept_for_plans_drawn_by_chance() {
    let program = Path::new(env!("CARGO_BIN_EXE_borescribe"));
    let mut troubles = Vec::new();
    for seed in 1000..1016 {
        let plan = Plan::drawn(seed, Most { holes: 10, fingerings: 20 });
        let folder = tempfile::TempDir::new().unwrap();
        let outcome = hold(program, folder.path(), &plan, Duration::from_secs(120));
        let what = outcome.refused.into_iter().chain(outcome.broken);
        troubles.extend(what.map(|what| format!("seed {seed}, place {}: {what}", plan.options.join(" "))));
    }
    assert!(troubles.is_empty(), "{}", troubles.join("\n"));
}
