//! The time of day, as the book writes it, and what is left to chance.

use std::time::{SystemTime, UNIX_EPOCH};

use crate::book::moment::written;

/// Now, UTC: `2026-11-25T14:03:00Z`. A clock that stands before 1970 gives 1970.
#[must_use]
pub fn now() -> String {
    written(SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |since| since.as_secs()))
}

/// Mixes a list: every order is as likely (R. Durstenfeld, Comm. ACM 7 (1964) 420). Chance comes from the clock,
/// drawn out by splitmix64 (S. Vigna; both from memory).
pub fn shuffle<T>(list: &mut [T]) {
    let mut state = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |since| since.as_nanos() as u64);
    for last in (1..list.len()).rev() {
        state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = (state ^ (state >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^= z >> 31;
        list.swap(last, (z % (last as u64 + 1)) as usize);
    }
}
