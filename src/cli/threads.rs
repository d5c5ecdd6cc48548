//! How many threads the program computes with.
//!
//! Must not know what is computed.

use std::num::NonZero;
use std::thread::available_parallelism;

use rayon::ThreadPoolBuilder;

use super::failure::Failure;

/// What a maker (or a test) asks for a number of threads by; rayon's own name for it.
const ASKED_BY: &str = "RAYON_NUM_THREADS";
/// More than this many threads a processor only wait for each other.
const MOST_PER_PROCESSOR: usize = 2;
/// And no command has work for more at a time; each also holds a take while it measures one.
const MOST: usize = 64;

/// Starts the threads: as many as the machine has processors, or as many as the environment asks for within what is
/// any use. What is asked for that is no number, or 0, counts as nothing asked.
///
/// # Errors
/// [`Failure::Threads`] when the system starts none.
pub fn start() -> Result<(), Failure> {
    let processors = available_parallelism().map_or(1, NonZero::get);
    let asked = std::env::var(ASKED_BY).ok();
    ThreadPoolBuilder::new()
        .num_threads(threads(asked.as_deref(), processors))
        .build_global()
        .map_err(|source| Failure::Threads { source })
}

/// How many threads are started on this number of processors.
fn threads(asked: Option<&str>, processors: usize) -> usize {
    let asked = asked.and_then(counted).filter(|&threads| threads > 0);
    asked.unwrap_or(processors).min(MOST_PER_PROCESSOR * processors).min(MOST)
}

/// A number, however long.
fn counted(written: &str) -> Option<usize> {
    let written = written.trim();
    let is_number = !written.is_empty() && written.bytes().all(|byte| byte.is_ascii_digit());
    is_number.then(|| written.parse().unwrap_or(usize::MAX))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn threads_are_as_asked_within_what_is_any_use() {
        for (asked, processors, started) in [
            (None, 8, 8),
            (None, 200, 64),
            (Some("1"), 8, 1),
            (Some(" 3 "), 2, 3),
            (Some("99999"), 2, 4),
            (Some("99999999999999999999999"), 2, 4),
            (Some("99999"), 100, 64),
            (Some("0"), 2, 2),
            (Some("-4"), 2, 2),
            (Some("many"), 2, 2),
            (Some(""), 2, 2),
        ] {
            assert_eq!(threads(asked, processors), started, "{asked:?} on {processors}");
        }
    }
}
