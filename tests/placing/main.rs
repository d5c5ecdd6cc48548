//! Placing holes: an instrument that is taken apart on the computer is found again, limits are kept, what can't be
//! met is said, and what comes from the bench afterwards is understood.

#[path = "../cli/bench.rs"]
#[allow(dead_code)]
mod bench;
#[path = "../book/bittern.rs"]
#[allow(dead_code)]
mod bodies;
mod carried;
#[path = "../common/mod.rs"]
#[allow(dead_code)]
mod common;
mod drilled;
mod limits;
mod program;
mod refusals;
mod round_trip;
