//! When a recording was made, as far as its own heading tells.
//!
//! Sources: EBU Tech 3285 (chunk `bext`), Microsoft's RIFF `ICRD` and `IDIT`, ISO/IEC 14496-12 (`mvhd`), all from
//! memory. Must not know what the time is wanted for.

use std::io::{Seek, SeekFrom};

use super::chunks::{Chunks, Sizes, big_endian};
use super::mp4;
use super::riff::is_wav;
use super::source::bytes_at;
use super::spool::Spool;

/// Seconds from the beginning of 1904, where an MP4 counts from, to 1970.
const FROM_1904_TO_1970_S: i64 = 2_082_844_800;
const MONTHS: [&str; 12] =
    ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];

/// The moment at which a recording was begun or finished, whichever its recorder wrote. Moments of one clock can be
/// compared; those of different clocks can't, since nobody knows where the recorder was.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Made {
    /// Seconds since 1970 by the recorder's own clock on the wall.
    OnTheWall(i64),
    /// Seconds since 1970, UTC.
    Universal(i64),
}

/// When a recording was made; `None` when its heading says nothing of it, or no more than the day.
///
/// # Errors
/// What the system says when it can't be read.
pub fn made(spool: &Spool) -> std::io::Result<Option<Made>> {
    let mut bytes = spool.bytes()?;
    let length = bytes.seek(SeekFrom::End(0))?;
    let head = bytes_at(&mut bytes, 0, 12)?;
    if mp4::is_mp4(&head) {
        let index = mp4::index(&mut bytes)?.unwrap_or_default();
        return Ok(mp4::movie_header(&index).and_then(of_movie));
    }
    if !is_wav(&head) {
        return Ok(None);
    }
    let chunks = Chunks::of(&mut bytes, 12, length, Sizes::Riff)?;
    for chunk in &chunks.found {
        let found = match &chunk.id {
            b"bext" => of_broadcast(&chunks.contents(&mut bytes, *chunk)?),
            b"IDIT" => of_text(&chunks.contents(&mut bytes, *chunk)?),
            b"LIST" => of_list(&chunks.contents(&mut bytes, *chunk)?),
            _ => None,
        };
        if found.is_some() {
            return Ok(found.map(Made::OnTheWall));
        }
    }
    Ok(None)
}

/// Version, three bytes of flags, then the time in 32 bits, or in 64 from version 1 on; 0 means none.
fn of_movie(header: &[u8]) -> Option<Made> {
    let time = if header.first()? == &0 { header.get(4..8)? } else { header.get(4..12)? };
    let seconds = i64::try_from(big_endian(time)).ok().filter(|seconds| *seconds > FROM_1904_TO_1970_S)?;
    Some(Made::Universal(seconds - FROM_1904_TO_1970_S))
}

/// Behind a description of 256 bytes and two names of 32: the day in ten letters, the time in eight.
fn of_broadcast(body: &[u8]) -> Option<i64> {
    of_text(&[body.get(320..330)?, b" ", body.get(330..338)?].concat())
}

/// Texts in a list of kind `INFO`, each in a chunk of its own.
fn of_list(body: &[u8]) -> Option<i64> {
    let mut rest = body.strip_prefix(b"INFO")?;
    while let Some((head, behind)) = rest.split_at_checked(8) {
        let (id, size) = head.split_at(4);
        let size = usize::try_from(u32::from_le_bytes(size.try_into().ok()?)).ok()?;
        let text = behind.get(..size.min(behind.len()))?;
        if id == b"ICRD" || id == b"IDIT" {
            return of_text(text);
        }
        rest = behind.get(size + size % 2..)?;
    }
    None
}

/// `2026-11-05 14:03:22` with any marks between, or `Thu Nov 05 14:03:22 2026`.
fn of_text(text: &[u8]) -> Option<i64> {
    let text = String::from_utf8_lossy(text).to_ascii_lowercase();
    let numbers: Vec<i64> = text
        .split(|c: char| !c.is_ascii_digit())
        .filter(|digits| (1..=4).contains(&digits.len()))
        .filter_map(|digits| digits.parse().ok())
        .collect();
    let month = MONTHS.iter().position(|name| text.contains(name)).map(|index| index as i64 + 1);
    match (month, &numbers[..]) {
        (Some(month), &[day, hour, minute, second, year]) => {
            seconds([year, month, day, hour, minute, second])
        }
        (None, &[year, month, day, hour, minute, second, ..]) => {
            seconds([year, month, day, hour, minute, second])
        }
        _ => None,
    }
}

/// Seconds since 1970 of a day and time; `None` for what no calendar has. Days are counted in years that begin in
/// March, so that a leap day ends one (the common algorithm, from memory).
fn seconds([year, month, day, hour, minute, second]: [i64; 6]) -> Option<i64> {
    let is_right = (1971..3000).contains(&year)
        && (1..=12).contains(&month)
        && (1..=31).contains(&day)
        && (0..24).contains(&hour)
        && (0..60).contains(&minute)
        && (0..=60).contains(&second);
    let march_year = if month <= 2 { year - 1 } else { year };
    let march_month = (month + 9) % 12;
    let leap_days = march_year / 4 - march_year / 100 + march_year / 400;
    let days = 365 * march_year + leap_days + (153 * march_month + 2) / 5 + day - 1 - 719_468;
    is_right.then_some(((days * 24 + hour) * 60 + minute) * 60 + second)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_and_times_are_read_as_recorders_write_them() {
        // 2000-02-29T12:34:56 by any calendar.
        for text in ["2000-02-29 12:34:56", "2000:02:29T12-34-56\0", "Tue Feb 29 12:34:56 2000\n"] {
            assert_eq!(of_text(text.as_bytes()), Some(951_827_696), "{text}");
        }
        for text in ["2000-02-29", "2000", "", "0000-00-00 00:00:00", "2000-13-01 00:00:00", "yesterday"] {
            assert_eq!(of_text(text.as_bytes()), None, "{text}");
        }
    }

    #[test]
    fn a_movie_counts_from_1904_and_nought_is_no_time() {
        let header = [&[0, 0, 0, 0][..], &(951_827_696_u32 + 2_082_844_800).to_be_bytes()].concat();
        assert_eq!(of_movie(&header), Some(Made::Universal(951_827_696)));
        assert_eq!(of_movie(&[0; 8]), None);
    }
}
