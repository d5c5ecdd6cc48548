//! `log.csv`: one row a take, measurements as they were, never conclusions. Rows are only ever added.
//!
//! Must not know what a row means for the instrument.

use super::moment::seconds;
use super::rows::{self, OfTake, Record, Rows};
use super::table;
use crate::analysis::measurement::Measurement;

/// Name of the log in a book's folder.
pub const LOG: &str = "log.csv";
/// Where the end of a line goes that a power cut tore off.
pub const TORN: &str = "log-torn.txt";

/// The log of one book.
pub type Log = Rows<Row>;
/// What a log holds.
pub type Reading = rows::Reading<Row>;

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

/// Places of those with numbers.
pub(super) const NUMBERS: [usize; 4] = [4, 5, 6, 9];

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

    /// What it says besides when it was measured and in which room.
    fn measured(&self) -> [String; COLUMNS.len()] {
        let timeless = Row { when: String::new(), room_c: None, ..self.clone() };
        timeless.texts()
    }

    /// Seconds since 1970 when it was measured; `None` where that can't be read.
    #[must_use]
    pub fn measured_at_s(&self) -> Option<u64> {
        seconds(&self.when)
    }

    fn texts(&self) -> [String; COLUMNS.len()] {
        let number =
            |value: Option<f64>, digits: usize| value.map_or_else(String::new, |v| format!("{v:.digits$}"));
        [
            self.prototype.clone(),
            self.step.clone(),
            self.fingering.clone(),
            self.file.clone(),
            number(self.hz, 4),
            number(self.sd_cents, 3),
            number(self.level_dbfs, 1),
            self.undertone.clone(),
            self.troubles.clone(),
            number(self.room_c, 1),
            self.when.clone(),
        ]
    }
}

impl Record for Row {
    const FILE: &'static str = LOG;
    const TORN: &'static str = TORN;
    const COLUMNS: &'static [&'static str] = &COLUMNS;
    const NUMBERS: &'static [usize] = &NUMBERS;

    fn fields(&self) -> Vec<String> {
        self.texts().to_vec()
    }

    fn read(fields: Vec<String>) -> Option<Row> {
        let fields: [String; COLUMNS.len()] = fields.try_into().ok()?;
        let [prototype, step, fingering, file, hz, sd, level, undertone, troubles, room, when] = fields;
        let number = |text: &str, is_possible: fn(f64) -> bool| -> Option<Option<f64>> {
            if text.trim().is_empty() {
                return Some(None);
            }
            table::number(text).filter(|value| is_possible(*value)).map(Some)
        };
        let hz = number(&hz, |hz| hz > 0.0)?;
        let sd_cents = number(&sd, |cents| cents >= 0.0)?;
        let (level_dbfs, room_c) = (number(&level, |_| true)?, number(&room, |_| true)?);
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

    fn when(&self) -> &str {
        &self.when
    }
}

impl OfTake for Row {
    fn file(&self) -> &str {
        &self.file
    }

    fn says_the_same(&self, other: &Row) -> bool {
        self.measured() == other.measured()
    }
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
        let torn = std::fs::read(folder.path().join(TORN)).unwrap();
        assert_eq!(torn.split(|&byte| byte == b'\n').count() - 1, whole.len() - 2 - start);
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
    fn what_a_spreadsheet_saved_is_read_and_added_to_in_its_own_way() {
        let (_folder, log) = log();
        // German: semicolons, decimal commas, Windows' line ends, a column of the maker's own, and a row of nothing.
        let row_of = |file: &str| {
            format!(
                "P1;01-start;\"F♯2, lang\";{file};92,4986;0,05;;\"1/3 -18.2; 31.20 Hz -30.0\";;;2026-11-25T14:03:00Z;\
                 \"dull\r\nand slow\"\r\n"
            )
        };
        let text = format!("{};mine\r\n{}{};;;;;;;;;;;\r\n", COLUMNS.join(";"), row_of("a"), row_of("b"));
        std::fs::write(log.path(), text).unwrap();
        assert_eq!(log.read().unwrap(), Reading { rows: vec![row("a"), row("b")], ..Reading::default() });
        log.append(&[row("c")]).unwrap();
        assert_eq!(log.read().unwrap().rows, [row("a"), row("b"), row("c")]);
        let last = std::fs::read_to_string(log.path()).unwrap().lines().last().unwrap().to_string();
        assert!(last.contains(";c;92,4986;0,050;;"), "{last}");
    }

    #[test]
    fn a_pitch_that_can_not_be_is_no_row() {
        let (_folder, log) = log();
        log.append(&[row("a"), row("b")]).unwrap();
        let text = std::fs::read_to_string(log.path()).unwrap().replacen(",92.4986", ",-92.4986", 1);
        std::fs::write(log.path(), text).unwrap();
        let reading = log.read().unwrap();
        assert_eq!((reading.rows, reading.bad_lines), (vec![row("b")], vec![2]));
    }

    #[test]
    fn a_log_with_other_columns_is_refused_with_a_reason_and_left_alone() {
        let (folder, log) = log();
        for text in ["pitch,file\n92.4,a", "\u{0}\u{0}", "prototype,step\nP1,01-sta"] {
            std::fs::write(log.path(), text).unwrap();
            assert!(!log.repair().unwrap(), "{text:?}");
            for told in
                [log.read().unwrap_err().to_string(), log.append(&[row("a")]).unwrap_err().to_string()]
            {
                assert!(told.contains("log.csv:1") && told.contains("Nothing was changed"), "{told}");
            }
            assert_eq!(std::fs::read_to_string(log.path()).unwrap(), text);
        }
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }
}
