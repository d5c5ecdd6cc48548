//! Moments as the book writes them, UTC: `2026-11-25T14:03:00Z`.
//!
//! Must not know the clock, nor what happened then.

/// Days from the first of March of the year 0 to the first of January 1970.
const DAYS_TO_1970: u64 = 719_468;
const SECONDS_A_DAY: u64 = 86_400;

/// Seconds since 1970 as a date and time. Days to a date of the Gregorian calendar in eras of 400 years, years
/// begun in March so that a leap day ends one (the common algorithm, from memory; the test holds it to known days).
#[must_use]
pub fn written(seconds: u64) -> String {
    let (days, second) = (seconds / SECONDS_A_DAY, seconds % SECONDS_A_DAY);
    let days = days + DAYS_TO_1970;
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

/// Seconds since 1970 of a moment as [`written`] writes it; `None` for anything else, such as what a spreadsheet makes
/// of it.
#[must_use]
pub fn seconds(text: &str) -> Option<u64> {
    let number = |from: usize, to: usize| text.get(from..to)?.parse::<u64>().ok();
    let (year, month, day) = (number(0, 4)?, number(5, 7)?, number(8, 10)?);
    let (hour, minute, second) = (number(11, 13)?, number(14, 16)?, number(17, 19)?);
    // The same eras and months as above, the other way round.
    let year = if month <= 2 { year.checked_sub(1)? } else { year };
    let march_month = (month + 9) % 12;
    let days =
        year * 365 + year / 4 - year / 100 + year / 400 + (153 * march_month + 2) / 5 + day.checked_sub(1)?;
    let seconds = days.checked_sub(DAYS_TO_1970)? * SECONDS_A_DAY + hour * 3600 + minute * 60 + second;
    (written(seconds) == text).then_some(seconds)
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
            assert_eq!(super::seconds(text), Some(seconds));
        }
    }

    #[test]
    fn what_is_no_moment_is_none() {
        for text in
            ["", "25.11.2026 14:03", "2026-02-30T00:00:00Z", "2026-11-25T14:03:00", "2026-13-01T00:00:00Z"]
        {
            assert_eq!(seconds(text), None, "{text}");
        }
        assert_eq!(seconds("1969-12-31T23:59:59Z"), None);
        assert_eq!(seconds("0000-01-01T00:00:00Z"), None);
    }
}
