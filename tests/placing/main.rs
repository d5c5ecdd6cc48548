//! Placing holes: an instrument that is taken apart on the computer is found again, limits are kept, what can't be
//! met is said, and what comes from the bench afterwards is understood.

mod angles;
#[path = "../common/bench.rs"]
mod bench;
#[path = "../book/bittern.rs"]
mod bodies;
mod boxed_keys;
mod carried;
#[path = "../common/mod.rs"]
mod common;
mod compromise;
// The program of the same plans tells more of each.
#[allow(dead_code)]
mod drawn;
mod drawn_plans;
mod drilled;
mod limits;
mod plans;
mod program;
#[path = "../common/reed_takes.rs"]
mod reed_takes;
mod refusals;
mod round_trip;
mod set_apart;
mod vents;
