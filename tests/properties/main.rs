//! What must hold for every air column that can be built, tried on random ones.

mod air_jet;
mod columns;
#[path = "../common/mod.rs"]
mod common;
mod energy;
#[path = "../common/finite.rs"]
mod finite;
mod matrices;
mod notes;
mod odd;
#[path = "../common/odd_files.rs"]
mod odd_files;
mod random;
mod resonances;
mod sensitivities;
mod valid;
