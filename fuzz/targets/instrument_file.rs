//! Any text as an instrument file: read or refused with problems, and what is read can be predicted.
#![no_main]

use borescribe::instrument::file::parse;
use borescribe::instrument::prediction::{predict, warnings};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    match parse(text) {
        // Large instruments only cost time.
        Ok(instrument) if instrument.fingerings.len() < 4 && instrument.holes.len() < 20 => {
            let notes = predict(&instrument);
            assert_eq!(notes.len(), instrument.fingerings.len());
            let _ = warnings(&instrument, &notes);
        }
        Ok(_) => {}
        Err(problems) => {
            assert!(!problems.is_empty());
            for problem in problems {
                assert!(problem.line >= 1 && problem.column >= 1);
                let _ = problem.to_string();
            }
        }
    }
});
