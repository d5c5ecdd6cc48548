//! Any bytes as a recording: read as far as they go, or refused. The first byte chooses the ending.
#![no_main]

use borescribe::audio::decode::read_bytes;
use libfuzzer_sys::fuzz_target;

const ENDINGS: [&str; 8] = ["wav", "flac", "mp3", "m4a", "ogg", "aiff", "caf", ""];

fuzz_target!(|bytes: &[u8]| {
    let Some((first, rest)) = bytes.split_first() else { return };
    let ending = ENDINGS[usize::from(*first) % ENDINGS.len()];
    match read_bytes(rest.to_vec(), ending) {
        Ok(take) => {
            assert!(!take.samples.is_empty());
            assert!(take.samples.iter().all(|sample| sample.is_finite()));
            assert!(take.rate_hz >= 1_000.0);
        }
        Err(error) => assert!(!error.to_string().is_empty()),
    }
});
