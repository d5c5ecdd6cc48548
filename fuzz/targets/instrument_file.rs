//! Any text as an instrument file: refused with problems, or read; and what is read gives finite answers.
#![no_main]

#[path = "../../tests/common/finite.rs"]
mod finite;

use borescribe::instrument::file::parse;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    match parse(text) {
        Ok(instrument) => finite::assert_finite(&instrument),
        Err(problems) => {
            assert!(!problems.is_empty());
            for problem in problems {
                assert!(problem.line >= 1 && problem.column >= 1);
                let _ = problem.to_string();
            }
        }
    }
});
