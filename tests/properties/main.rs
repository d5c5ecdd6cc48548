//! What must hold for any instrument.

mod air_jet;
mod random;
#[path = "../common/mod.rs"]
mod common;
mod resonances;
mod sensitivities;
