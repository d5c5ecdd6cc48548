//! The real program on real files: exit codes, sentences, JSON.

mod bad_calls;
mod bad_instruments;
mod bad_takes;
mod bench;
mod bounds;
mod docs;
mod explained;
mod first_pages;
mod good_work;
mod left_out;
mod measured_files;
mod new_books;
mod page_colours;
mod page_sizes;
mod pages;
#[path = "../common/bench.rs"]
mod plain_bench;
mod recording;
#[path = "../common/reed_pipe.rs"]
mod reed_pipe;
#[path = "../common/reed_takes.rs"]
mod reed_takes;
mod same_again;
mod sanity;
mod sequences;
