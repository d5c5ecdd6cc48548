//! Attacks on the bench book, for the short tests here and for the long run of `scripts/attack.rs`.
//!
//! `task` draws commands, `run` runs or kills them, `kept` knows what may never be lost, `word` what a command must
//! keep of its word, `assault` does one attack after the other and looks at everything. All chance is from seeds.

mod assault;
pub mod dice;
mod evening;
mod kept;
mod run;
pub mod small_disk;
mod task;
pub mod trouble;
mod word;

pub use assault::Event;
pub use evening::Evening;
pub use task::Deed;

/// Fails aloud, with all that an event broke.
#[track_caller]
pub fn unharmed(event: &Event, seed: u64) {
    assert!(event.troubles.is_empty(), "{}, seed {seed}: {:#?}", event.name, event.troubles);
}
