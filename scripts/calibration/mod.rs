//! Simulated bench sessions with known faults, to compare what findings say with what is so.
//!
//! Instruments, faults, players and the errors of the prediction are drawn; the takes are computed pitches, no audio.
//! Faults come from the program's own prior, so that a weight of 30 % should be right three times in ten. The forward
//! model is not the assumed one: see [`truth::World`]. Shared by the program `calibration` and a test.

pub mod body;
pub mod chance;
pub mod session;
pub mod tally;
pub mod truth;
