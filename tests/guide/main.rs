//! The way to done through the real program: what a maker hears, tests, measures, cuts and leaves alone when each piece of
//! advice is followed. The takes are real WAV files of what the true instrument sounds, the player's scatter added.

#[path = "../common/bench.rs"]
mod bench;
#[path = "../common/reed_takes.rs"]
mod reed_takes;
mod workshop;

mod leaks;
mod measured;
mod obedient;
mod registers;
mod sound_bodies;
mod wrong_calls;
