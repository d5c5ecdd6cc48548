//! The bench book through the real program: a maker's whole story, what is kept and how, and that nothing is
//! ever lost.

#[path = "../cli/bench.rs"]
#[allow(dead_code)]
mod bench;
mod bittern;
mod disk;
mod files;
mod kept_notes;
mod killed;
mod learned;
mod listening;
#[path = "../common/log_text.rs"]
mod log_text;
mod logs;
mod maker;
mod story;
mod terminal;
