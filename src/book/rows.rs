//! A file of rows that only grows: one line a take, whole or not there, with a torn last line put right.
//!
//! Shared by the log and by the list of test takes. Must not know what a row means.

use std::marker::PhantomData;
use std::path::{Path, PathBuf};

use super::csv;
use super::disk::{append, write_whole};
use super::error::BookError;

/// One row of such a file.
pub trait Record: Sized {
    /// Name of the file in a book's folder.
    const FILE: &'static str;
    /// Where the end of a line goes that a power cut tore off.
    const TORN: &'static str;
    /// The columns, in their order; the last one is the time.
    const COLUMNS: &'static [&'static str];

    /// The fields, one for each column.
    fn fields(&self) -> Vec<String>;

    /// The row that these fields make; `None` when they make none.
    fn read(fields: Vec<String>) -> Option<Self>;

    /// When it was measured, UTC: `2026-11-25T14:03:00Z`.
    fn when(&self) -> &str;

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

/// A file of rows in one book.
#[derive(Debug, Clone)]
pub struct Rows<R> {
    path: PathBuf,
    of: PhantomData<R>,
}

impl<R: Record> Rows<R> {
    /// The file in the book's folder `root`.
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
        write_whole(&self.path, csv::line(R::COLUMNS).as_bytes())
    }

    /// Reads all rows; changes nothing. No file has no rows.
    ///
    /// # Errors
    /// [`BookError`] for a file that can't be read or has other columns.
    pub fn read(&self) -> Result<Reading<R>, BookError> {
        let text = self.text()?;
        if text.is_empty() {
            return Ok(Reading { rows: Vec::new(), bad_lines: Vec::new(), torn: false });
        }
        let mut lines = text.lines().enumerate();
        let header = lines.next().map_or("", |(_, line)| line);
        self.must_be_header(header)?;
        let torn = torn_from::<R>(&text).is_some();
        let mut reading = Reading { rows: Vec::new(), bad_lines: Vec::new(), torn };
        let count = text.lines().count();
        for (index, line) in lines.filter(|(_, line)| !line.trim().is_empty()) {
            match row_of(line) {
                _ if reading.torn && index + 1 == count => {}
                Some(row) => reading.rows.push(row),
                None => reading.bad_lines.push(index + 1),
            }
        }
        Ok(reading)
    }

    /// Moves a torn last line aside, into [`Record::TORN`]; the caller holds the book's lock. True when there was one.
    ///
    /// # Errors
    /// [`BookError`] when the disk refuses.
    pub fn repair(&self) -> Result<bool, BookError> {
        let bytes = self.bytes()?;
        let text = String::from_utf8_lossy(&bytes);
        if text.is_empty() || text.ends_with('\n') {
            return Ok(false);
        }
        let from = bytes.iter().rposition(|&byte| byte == b'\n').map_or(0, |at| at + 1);
        if torn_from::<R>(&text).is_none() {
            // Somebody's editor left out the last line's end; the row is whole.
            append(&self.path, "\n")?;
            return Ok(false);
        }
        let tail = String::from_utf8_lossy(bytes.get(from..).unwrap_or_default()).replace('\0', "");
        append(&self.path.with_file_name(R::TORN), &format!("{tail}\n"))?;
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
        let text = self.text()?;
        match text.lines().next() {
            Some(header) => self.must_be_header(header)?,
            None => self.create()?,
        }
        append(&self.path, &rows.iter().map(|row| csv::line(&row.fields())).collect::<String>())
    }

    fn must_be_header(&self, line: &str) -> Result<(), BookError> {
        let plain = line.trim_start_matches('\u{feff}');
        if csv::fields(plain).is_some_and(|fields| fields == R::COLUMNS) {
            return Ok(());
        }
        let semicolons = plain.contains(';');
        Err(BookError::Damaged {
            path: self.path.clone(),
            line: Some(1),
            what: if semicolons {
                "the columns are parted by semicolons: a spreadsheet saved it that way".to_string()
            } else {
                format!("the first line should be {}", R::COLUMNS.join(","))
            },
            to_do: "Save it as comma-separated values with a decimal point, or put the old file back. \
                    Nothing was changed."
                .to_string(),
        })
    }

    fn text(&self) -> Result<String, BookError> {
        Ok(String::from_utf8_lossy(&self.bytes()?).into_owned())
    }

    fn bytes(&self) -> Result<Vec<u8>, BookError> {
        match std::fs::read(&self.path) {
            Ok(bytes) => Ok(bytes),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(Vec::new()),
            Err(source) => Err(BookError::Disk { path: self.path.clone(), source }),
        }
    }
}

fn row_of<R: Record>(line: &str) -> Option<R> {
    R::read(csv::fields(line)?)
}

/// The torn last line of the text. A last line without an end that is a whole row, its time included, is
/// none.
fn torn_from<R: Record>(text: &str) -> Option<&str> {
    let last = text.rsplit('\n').next().filter(|last| !last.is_empty())?;
    let whole = row_of::<R>(last).is_some_and(|row| row.when().len() == "2026-11-25T14:03:00Z".len());
    (!whole && csv::fields(last).is_none_or(|fields| fields != R::COLUMNS)).then_some(last)
}
