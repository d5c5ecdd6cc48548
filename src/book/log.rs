//! `log.csv`: one row a take, measurements as they were, never conclusions. Rows are only ever added.
//!
//! Must not know what a row means for the instrument.

use std::path::{Path, PathBuf};

use super::csv;
use super::disk::{append, write_whole};
use super::error::BookError;
use crate::analysis::measurement::Measurement;

/// Name of the log in a book's folder.
pub const LOG: &str = "log.csv";
/// Where the end of a line goes that a power cut tore off.
pub const TORN: &str = "log-torn.txt";

/// The columns, in their order.
pub const COLUMNS: [&str; 11] = [
    "prototype",
    "step",
    "fingering",
    "file",
    "hz",
    "sd_cents",
    "level",
    "undertone",
    "troubles",
    "room_c",
    "when",
];

/// One measured take.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Row {
    /// Prototype, `P2`.
    pub prototype: String,
    /// Folder of the step, `01-drilled`.
    pub step: String,
    /// Name of the fingering.
    pub fingering: String,
    /// The recording, from the book's folder on, with `/`.
    pub file: String,
    /// Pitch, hertz; `None` when no note was found.
    pub hz: Option<f64>,
    /// Standard uncertainty of the take's mean pitch, cents.
    pub sd_cents: Option<f64>,
    /// Level of the steady part, dB of full scale.
    pub level_dbfs: Option<f64>,
    /// Undertones, strongest first: `1/3 -18.2; 2/3 -27.0` (ratio or hertz, dB to the strongest partial).
    pub undertone: String,
    /// Codes of the recording's troubles, with spaces between.
    pub troubles: String,
    /// Room temperature of the step, °C.
    pub room_c: Option<f64>,
    /// When it was measured, UTC: `2026-11-25T14:03:00Z`.
    pub when: String,
}

impl Row {
    /// Takes over what was measured.
    #[must_use]
    pub fn with(mut self, measured: &Measurement) -> Row {
        self.hz = measured.pitch_hz;
        self.sd_cents = measured.sd_cents;
        self.level_dbfs = measured.level_dbfs;
        let undertone = |u: &crate::analysis::measurement::Undertone| {
            let place =
                u.ratio.map_or_else(|| format!("{:.2} Hz", u.hz), |(over, under)| format!("{over}/{under}"));
            format!("{place} {:.1}", u.db)
        };
        self.undertone = measured.undertones.iter().map(undertone).collect::<Vec<_>>().join("; ");
        let codes: Vec<&str> = measured.troubles.iter().map(|trouble| trouble.code.as_str()).collect();
        self.troubles = codes.join(" ");
        self
    }

    /// Whether both rows say the same was measured in the same file.
    #[must_use]
    pub fn says_the_same(&self, other: &Row) -> bool {
        self.line_with("", None) == other.line_with("", None)
    }

    fn line(&self) -> String {
        self.line_with(&self.when, self.room_c)
    }

    fn line_with(&self, when: &str, room_c: Option<f64>) -> String {
        let number =
            |value: Option<f64>, digits: usize| value.map_or_else(String::new, |v| format!("{v:.digits$}"));
        csv::line(&[
            self.prototype.as_str(),
            &self.step,
            &self.fingering,
            &self.file,
            &number(self.hz, 4),
            &number(self.sd_cents, 3),
            &number(self.level_dbfs, 1),
            &self.undertone,
            &self.troubles,
            &number(room_c, 1),
            when,
        ])
    }

    fn read(line: &str) -> Option<Row> {
        let fields: [String; COLUMNS.len()] = csv::fields(line)?.try_into().ok()?;
        let [prototype, step, fingering, file, hz, sd, level, undertone, troubles, room, when] = fields;
        let number = |text: &str| -> Option<Option<f64>> {
            if text.is_empty() {
                return Some(None);
            }
            text.parse().ok().filter(|value: &f64| value.is_finite()).map(Some)
        };
        let (hz, sd_cents, level_dbfs, room_c) =
            (number(&hz)?, number(&sd)?, number(&level)?, number(&room)?);
        Some(Row {
            prototype,
            step,
            fingering,
            file,
            hz,
            sd_cents,
            level_dbfs,
            undertone,
            troubles,
            room_c,
            when,
        })
    }
}

/// What a log holds.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Reading {
    /// Good rows, in their order.
    pub rows: Vec<Row>,
    /// Lines, from 1, that are no rows.
    pub bad_lines: Vec<usize>,
    /// Whether the last line was cut off in the middle.
    pub torn: bool,
}

/// The log of one book.
#[derive(Debug, Clone)]
pub struct Log {
    path: PathBuf,
}

impl Log {
    /// The log in the book's folder `root`.
    #[must_use]
    pub fn of(root: &Path) -> Log {
        Log { path: root.join(LOG) }
    }

    /// Where it is.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Makes an empty log.
    ///
    /// # Errors
    /// [`BookError::Disk`].
    pub fn create(&self) -> Result<(), BookError> {
        write_whole(&self.path, csv::line(&COLUMNS).as_bytes())
    }

    /// Reads all rows; changes nothing. No file is an empty log.
    ///
    /// # Errors
    /// [`BookError`] for a file that can't be read or is no log.
    pub fn read(&self) -> Result<Reading, BookError> {
        let text = self.text()?;
        if text.is_empty() {
            return Ok(Reading::default());
        }
        let mut lines = text.lines().enumerate();
        let header = lines.next().map_or("", |(_, line)| line);
        self.must_be_header(header)?;
        let mut reading = Reading { torn: torn_from(&text).is_some(), ..Reading::default() };
        let count = text.lines().count();
        for (index, line) in lines.filter(|(_, line)| !line.trim().is_empty()) {
            match Row::read(line) {
                _ if reading.torn && index + 1 == count => {}
                Some(row) => reading.rows.push(row),
                None => reading.bad_lines.push(index + 1),
            }
        }
        Ok(reading)
    }

    /// Moves a torn last line aside, into [`TORN`]; the caller holds the book's lock. True when there was one.
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
        if torn_from(&text).is_none() {
            // Somebody's editor left out the last line's end; the row is whole.
            append(&self.path, "\n")?;
            return Ok(false);
        }
        let tail = String::from_utf8_lossy(bytes.get(from..).unwrap_or_default()).replace('\0', "");
        append(&self.path.with_file_name(TORN), &format!("{tail}\n"))?;
        let at = BookError::disk(&self.path);
        let file = std::fs::OpenOptions::new().write(true).open(&self.path).map_err(&at)?;
        file.set_len(from as u64).and_then(|()| file.sync_all()).map_err(&at)?;
        Ok(true)
    }

    /// Adds rows, on the disk when this returns; the caller holds the book's lock and has repaired the log.
    ///
    /// # Errors
    /// [`BookError`]; then no row of these was added.
    pub fn append(&self, rows: &[Row]) -> Result<(), BookError> {
        if rows.is_empty() {
            return Ok(());
        }
        let text = self.text()?;
        match text.lines().next() {
            Some(header) => self.must_be_header(header)?,
            None => self.create()?,
        }
        append(&self.path, &rows.iter().map(Row::line).collect::<String>())
    }

    fn must_be_header(&self, line: &str) -> Result<(), BookError> {
        let plain = line.trim_start_matches('\u{feff}');
        if csv::fields(plain).is_some_and(|fields| fields == COLUMNS) {
            return Ok(());
        }
        let semicolons = plain.contains(';');
        Err(BookError::Damaged {
            path: self.path.clone(),
            line: Some(1),
            what: if semicolons {
                "the columns are parted by semicolons: a spreadsheet saved it that way".to_string()
            } else {
                format!("the first line should be {}", COLUMNS.join(","))
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

/// The torn last line of a log's text. A last line without an end that is a whole row, its time included, is
/// none.
fn torn_from(text: &str) -> Option<&str> {
    let last = text.rsplit('\n').next().filter(|last| !last.is_empty())?;
    let whole = Row::read(last).is_some_and(|row| row.when.len() == "2026-11-25T14:03:00Z".len());
    (!whole && csv::fields(last).is_none_or(|fields| fields != COLUMNS)).then_some(last)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(file: &str) -> Row {
        Row {
            prototype: "P1".into(),
            step: "01-start".into(),
            fingering: "F♯2, lang".into(),
            file: file.into(),
            hz: Some(92.4986),
            sd_cents: Some(0.05),
            undertone: "1/3 -18.2; 31.20 Hz -30.0".into(),
            when: "2026-11-25T14:03:00Z".into(),
            ..Row::default()
        }
    }

    fn log() -> (tempfile::TempDir, Log) {
        let folder = tempfile::tempdir().unwrap();
        let log = Log::of(folder.path());
        log.create().unwrap();
        (folder, log)
    }

    #[test]
    fn rows_read_back_as_they_were_written() {
        let (_folder, log) = log();
        log.append(&[row("a"), row("b")]).unwrap();
        log.append(&[row("c")]).unwrap();
        let reading = log.read().unwrap();
        assert_eq!(reading.rows, [row("a"), row("b"), row("c")]);
        assert!(reading.bad_lines.is_empty() && !reading.torn);
    }

    #[test]
    fn wherever_the_last_line_is_torn_no_other_row_is_lost_and_the_rest_is_kept_aside() {
        let (folder, log) = log();
        log.append(&[row("a"), row("b")]).unwrap();
        let whole = std::fs::read(log.path()).unwrap();
        let start = whole[..whole.len() - 1].iter().rposition(|&b| b == b'\n').unwrap() + 1;
        for end in start + 1..whole.len() - 1 {
            std::fs::write(log.path(), &whole[..end]).unwrap();
            assert_eq!(log.read().unwrap().rows, [row("a")], "cut at {end}");
            assert!(log.repair().unwrap(), "cut at {end}");
            log.append(&[row("c")]).unwrap();
            assert_eq!(log.read().unwrap(), Reading { rows: vec![row("a"), row("c")], ..Reading::default() });
        }
        let torn = std::fs::read_to_string(folder.path().join(TORN)).unwrap();
        assert_eq!(torn.lines().count(), whole.len() - 2 - start);
    }

    #[test]
    fn a_whole_row_without_an_end_stays() {
        let (_folder, log) = log();
        log.append(&[row("a")]).unwrap();
        let whole = std::fs::read(log.path()).unwrap();
        std::fs::write(log.path(), &whole[..whole.len() - 1]).unwrap();
        assert!(!log.repair().unwrap());
        assert_eq!(std::fs::read(log.path()).unwrap(), whole);
    }

    #[test]
    fn a_row_that_somebody_spoilt_costs_only_itself() {
        let (_folder, log) = log();
        log.append(&[row("a"), row("b")]).unwrap();
        let text = std::fs::read_to_string(log.path()).unwrap().replacen("92.4986", "92,4986", 1);
        std::fs::write(log.path(), format!("\u{feff}{}", text.replace('\n', "\r\n"))).unwrap();
        let reading = log.read().unwrap();
        assert_eq!((reading.rows, reading.bad_lines), (vec![row("b")], vec![2]));
    }

    #[test]
    fn a_log_that_a_spreadsheet_saved_with_semicolons_is_refused_with_a_reason() {
        let (_folder, log) = log();
        let text = std::fs::read_to_string(log.path()).unwrap().replace(',', ";");
        std::fs::write(log.path(), text).unwrap();
        for told in [log.read().unwrap_err().to_string(), log.append(&[row("a")]).unwrap_err().to_string()] {
            assert!(told.contains("semicolons") && told.contains("log.csv:1"), "{told}");
        }
    }
}
