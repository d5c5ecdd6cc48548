//! The bench book through the real program: a maker's whole story, what is kept and how, and that nothing is
//! ever lost.

#[path = "../cli/bench.rs"]
#[allow(dead_code)]
mod bench;
mod bittern;
mod disk;
mod files;
mod killed;
mod learned;
mod listening;
mod maker;
mod story;
