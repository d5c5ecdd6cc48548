//! What must hold for every air column that can be built, tried on random ones.

mod columns;
mod energy;
mod matrices;
mod notes;
mod valid;
