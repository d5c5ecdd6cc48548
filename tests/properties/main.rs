//! What must hold for every air column that can be built, tried on random ones.

mod air_jet;
mod columns;
#[path = "../common/mod.rs"]
mod common;
mod energy;
mod matrices;
mod notes;
mod random;
mod resonances;
mod sensitivities;
mod valid;
