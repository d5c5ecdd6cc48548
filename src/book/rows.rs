//! A file of rows that only grows: one line a take, whole or not there, with a torn last line put right.
//!
//! Shared by the log, the rows of test takes, and the lists of takes that were copied or set aside. Must not know what a
//! row means.

use std::borrow::Cow;
use std::marker::PhantomData;
use std::path::{Path, PathBuf};

use super::disk::{append, write_whole};
use super::error::BookError;
use super::table::{self, Layout};

/// One row of such a file.
pub trait Record: Sized {
    /// Name of the file.
    const FILE: &'static str;
    /// Where the end of a line goes that a power cut tore off.
    const TORN: &'static str;
    /// The columns, in their order.
    const COLUMNS: &'static [&'static str];
    /// Places of the columns that hold numbers.
    const NUMBERS: &'static [usize];

    /// The fields, one for each column.
    fn fields(&self) -> Vec<String>;

    /// The row that these fields make; `None` when they make none.
    fn read(fields: Vec<String>) -> Option<Self>;

    /// When it was written, UTC: `2026-11-25T14:03:00Z`.
    fn when(&self) -> &str;
}

/// A row about a recording.
pub trait OfTake: Record {
    /// The recording that it is about, from the book's folder on, with `/`.
    fn file(&self) -> &str;

    /// Whether both rows say the same was measured in the same file; time and room do not count.
    fn says_the_same(&self, other: &Self) -> bool;
}

/// What a file of rows holds.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Reading<R> {
    /// Good rows, in their order.
    pub rows: Vec<R>,
    /// Lines, from 1, that are no rows.
    pub bad_lines: Vec<usize>,
    /// Whether the last line was cut off in the middle.
    pub torn: bool,
}

/// A file of rows in one folder.
#[derive(Debug, Clone)]
pub struct Rows<R> {
    path: PathBuf,
    of: PhantomData<R>,
}

impl<R: Record> Rows<R> {
    /// The file in the folder `root`.
    #[must_use]
    pub fn of(root: &Path) -> Rows<R> {
        Rows { path: root.join(R::FILE), of: PhantomData }
    }

    /// Where it is.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Makes an empty file.
    ///
    /// # Errors
    /// [`BookError::Disk`].
    pub fn create(&self) -> Result<(), BookError> {
        write_whole(&self.path, table::line(R::COLUMNS).as_bytes())
    }

    /// Reads all rows; changes nothing. No file has no rows.
    ///
    /// # Errors
    /// [`BookError`] for a file that can't be read or has other columns.
    pub fn read(&self) -> Result<Reading<R>, BookError> {
        let bytes = self.bytes()?;
        let lines = lines_of(&bytes);
        let Some(heading) = lines.first() else {
            return Ok(Reading { rows: Vec::new(), bad_lines: Vec::new(), torn: false });
        };
        let layout = self.layout(heading)?;
        let mut reading =
            Reading { rows: Vec::new(), bad_lines: Vec::new(), torn: torn_from::<R>(&bytes).is_some() };
        let count = lines.len() - usize::from(reading.torn);
        let mut at = 1;
        while let Some(rest) = lines.get(at..count).filter(|rest| !rest.is_empty()) {
            match table::first_row(rest, |text| row_of(&layout, text)) {
                // A spreadsheet leaves rows of nothing but commas.
                _ if rest.first().is_some_and(|line| is_blank(line)) => {}
                Some((row, taken)) => {
                    reading.rows.push(row);
                    at += taken;
                    continue;
                }
                None => reading.bad_lines.push(at + 1),
            }
            at += 1;
        }
        Ok(reading)
    }

    /// Whether the last line has no end.
    #[must_use]
    pub fn needs_repair(&self) -> bool {
        let bytes = self.bytes().unwrap_or_default();
        !bytes.is_empty() && !bytes.ends_with(b"\n")
    }

    /// Moves a torn last line aside, into [`Record::TORN`]; the caller holds the book's lock. True when there was one.
    /// A file with other columns is left alone.
    ///
    /// # Errors
    /// [`BookError`] when the disk refuses.
    pub fn repair(&self) -> Result<bool, BookError> {
        let bytes = self.bytes()?;
        let is_ours = lines_of(&bytes).first().is_some_and(|heading| self.layout(heading).is_ok());
        if !is_ours || bytes.ends_with(b"\n") {
            return Ok(false);
        }
        let Some(from) = torn_from::<R>(&bytes) else {
            // Somebody's editor left out the last line's end; the row is whole.
            append(&self.path, b"\n")?;
            return Ok(false);
        };
        let mut tail: Vec<u8> = bytes.get(from..).unwrap_or_default().to_vec();
        tail.retain(|&byte| byte != 0);
        tail.push(b'\n');
        append(&self.path.with_file_name(R::TORN), &tail)?;
        let at = BookError::disk(&self.path);
        let file = std::fs::OpenOptions::new().write(true).open(&self.path).map_err(&at)?;
        file.set_len(from as u64).and_then(|()| file.sync_all()).map_err(&at)?;
        Ok(true)
    }

    /// Adds rows, on the disk when this returns; the caller holds the book's lock and has repaired the file.
    ///
    /// # Errors
    /// [`BookError`]; then no row of these was added.
    pub fn append(&self, rows: &[R]) -> Result<(), BookError> {
        if rows.is_empty() {
            return Ok(());
        }
        let bytes = self.bytes()?;
        let lines = lines_of(&bytes);
        let own = table::line(R::COLUMNS);
        let layout = match lines.first() {
            Some(heading) => self.layout(heading)?,
            None => {
                self.create()?;
                self.layout(own.trim_end())?
            }
        };
        let numbers = lines.iter().skip(1).filter_map(|line| layout.row(line)).flat_map(|fields| {
            R::NUMBERS.iter().filter_map(|&place| fields.get(place).cloned()).collect::<Vec<_>>()
        });
        let numbers: Vec<String> = numbers.take(MOST_NUMBERS).collect();
        let layout = layout.with_numbers_like(numbers.iter().map(String::as_str));
        let text: String = rows.iter().map(|row| layout.line(&row.fields(), R::NUMBERS)).collect();
        append(&self.path, text.as_bytes())
    }

    fn layout(&self, heading: &str) -> Result<Layout, BookError> {
        Layout::of(heading.trim_start_matches('\u{feff}'), R::COLUMNS).ok_or_else(|| {
            // How the first two bytes of such a file read as letters of Windows.
            let is_wide = heading.starts_with("ÿþ") || heading.starts_with("þÿ");
            BookError::Damaged {
                path: self.path.clone(),
                line: Some(1),
                what: if is_wide {
                    "it was saved as \"Unicode text\" with two bytes a letter".to_string()
                } else {
                    format!("the first line should name the columns {}", R::COLUMNS.join(", "))
                },
                to_do: "Save it as comma-separated values in UTF-8, or put the old file back. Nothing was changed."
                    .to_string(),
            }
        })
    }

    fn bytes(&self) -> Result<Vec<u8>, BookError> {
        match std::fs::read(&self.path) {
            Ok(bytes) => Ok(bytes),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(Vec::new()),
            Err(source) => Err(BookError::Disk { path: self.path.clone(), source }),
        }
    }
}

/// So many numbers are looked at to see whether they have points or commas.
const MOST_NUMBERS: usize = 1000;

/// What `row` will be when it is read again: numbers with fewer digits, names without line breaks.
#[must_use]
pub fn as_written<R: Record>(row: R) -> R {
    R::read(row.fields().iter().map(|field| table::flat(field)).collect()).unwrap_or(row)
}

/// The lines without their ends; none of an empty file.
fn lines_of(bytes: &[u8]) -> Vec<Cow<'_, str>> {
    let bytes = bytes.strip_suffix(b"\n").unwrap_or(bytes);
    if bytes.is_empty() {
        return Vec::new();
    }
    let plain = |line| table::text_of(<[u8]>::strip_suffix(line, b"\r").unwrap_or(line));
    bytes.split(|&byte| byte == b'\n').map(plain).collect()
}

fn is_blank(line: &str) -> bool {
    line.chars().all(|c| c.is_whitespace() || [',', ';', '"'].contains(&c))
}

fn row_of<R: Record>(layout: &Layout, text: &str) -> Option<R> {
    R::read(layout.row(text)?)
}

/// Where the torn last line begins. A last line without an end that is a whole row, its time included, is not torn.
fn torn_from<R: Record>(bytes: &[u8]) -> Option<usize> {
    if bytes.ends_with(b"\n") {
        return None;
    }
    // The heading is written with the file, whole or not at all.
    let from = bytes.iter().rposition(|&byte| byte == b'\n')? + 1;
    let lines = lines_of(bytes);
    let layout = Layout::of(lines.first()?.trim_start_matches('\u{feff}'), R::COLUMNS)?;
    let last = lines.last()?;
    let whole = row_of::<R>(&layout, last).is_some_and(|row| !is_cut_time(row.when()));
    (!whole).then_some(from)
}

/// Whether this is the beginning of a time as this program writes it, and not all of it.
fn is_cut_time(when: &str) -> bool {
    let whole = "0000-00-00T00:00:00Z";
    let is_like = |(one, pattern): (char, char)| {
        if pattern == '0' { one.is_ascii_digit() } else { one == pattern }
    };
    when.len() < whole.len() && when.chars().zip(whole.chars()).all(is_like)
}
