//! The time of day, as the book writes it, and what is left to chance.

use std::time::{SystemTime, UNIX_EPOCH};

/// Now, UTC: `2026-11-25T14:03:00Z`. A clock that stands before 1970 gives 1970.
#[must_use]
pub fn now() -> String {
    written(SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |since| since.as_secs()))
}

/// Seconds since 1970 as a date and time. Days to a date of the Gregorian calendar in eras of 400 years, years
/// begun in March so that a leap day ends one (the common algorithm, from memory; the test holds it to known days).
fn written(seconds: u64) -> String {
    let (days, second) = (seconds / 86_400, seconds % 86_400);
    let days = days + 719_468;
    let (era, day_of_era) = (days / 146_097, days % 146_097);
    let year_of_era = (day_of_era - day_of_era / 1460 + day_of_era / 36_524 - day_of_era / 146_096) / 365;
    let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let march_month = (5 * day_of_year + 2) / 153;
    let day = day_of_year - (153 * march_month + 2) / 5 + 1;
    let month = if march_month < 10 { march_month + 3 } else { march_month - 9 };
    let year = era * 400 + year_of_era + u64::from(month <= 2);
    let (hour, minute, second) = (second / 3600, second / 60 % 60, second % 60);
    format!("{year:04}-{month:02}-{day:02}T{hour:02}:{minute:02}:{second:02}Z")
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn known_moments_are_written_as_everybody_writes_them() {
        for (seconds, text) in [
            (0, "1970-01-01T00:00:00Z"),
            (951_827_696, "2000-02-29T12:34:56Z"),
            (1_000_000_000, "2001-09-09T01:46:40Z"),
            (4_102_444_799, "2099-12-31T23:59:59Z"),
            (4_107_542_400, "2100-03-01T00:00:00Z"),
        ] {
            assert_eq!(written(seconds), text);
        }
    }
}
