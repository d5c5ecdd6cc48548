//! Odd but mostly valid instrument files: what is valid gives finite answers.
#![no_main]

#[path = "../../tests/common/finite.rs"]
mod finite;
#[path = "../../tests/common/odd_files.rs"]
mod odd_files;

use borescribe::instrument::file::parse;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    match parse(&odd_files::file(&mut odd_files::Dice(bytes))) {
        Ok(instrument) => finite::assert_finite(&instrument),
        Err(problems) => assert!(!problems.is_empty()),
    }
});
