//! The real program on real files: exit codes, sentences, JSON.

mod bad_calls;
mod bad_instruments;
mod bad_takes;
mod bench;
mod docs;
mod explained;
mod first_pages;
mod good_work;
mod measured_files;
mod new_books;
mod page_colours;
mod page_sizes;
mod pages;
mod recording;
mod sequences;
