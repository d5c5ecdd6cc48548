//! The bench book through the real program: a maker's whole story, what is kept and how, and that nothing is
//! ever lost.

mod at_once;
mod attack;
mod bench_tests;
mod bittern;
mod blank_tube;
mod disk;
mod evenings;
mod files;
mod finds;
mod half_done;
mod kept_notes;
mod killed;
mod learned;
mod listening;
#[path = "../common/log_text.rs"]
mod log_text;
mod logs;
mod maker;
#[path = "../common/note_text.rs"]
mod note_text;
mod notes;
#[path = "../common/reed_pipe.rs"]
mod reed_pipe;
#[path = "../common/reed_takes.rs"]
mod reed_takes;
mod story;
mod terminal;
mod way;
mod whole_way;
