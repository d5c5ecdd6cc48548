//! What must hold for any instrument.

mod columns;
mod resonances;
