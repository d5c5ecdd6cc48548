//! Plans drawn by chance, and what `place` promises of each: for these tests and for `scripts/many_plans.rs`.

pub mod body;
#[path = "../../book/attack/dice.rs"]
pub mod dice;
pub mod plan;
pub mod promises;
pub mod run;
