//! Placing holes: an instrument that is taken apart on the computer is found again, limits are kept, and what
//! can't be met is said.

#[path = "../common/mod.rs"]
mod common;
mod round_trip;
