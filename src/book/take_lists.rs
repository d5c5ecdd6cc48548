//! The lists beside takes: why one was set aside, and where one was copied from.
//!
//! They are for people and spreadsheets to read, so that no text in them is run as a formula. Must not know where takes
//! lie.

use super::rows::Record;
use super::table::inert;

/// Where the reasons of takes that were set aside are written.
pub const SET_ASIDE: &str = "set-aside.csv";
/// Where the old names of takes that were copied into the book are written.
pub const COPIED: &str = "copied.csv";

/// Why a take was set aside.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct AsideRow {
    pub file: String,
    pub why: String,
    pub when: String,
}

impl Record for AsideRow {
    const FILE: &'static str = SET_ASIDE;
    const TORN: &'static str = "set-aside-torn.txt";
    const COLUMNS: &'static [&'static str] = &["file", "why", "when"];
    const NUMBERS: &'static [usize] = &[];

    fn fields(&self) -> Vec<String> {
        vec![inert(&self.file), inert(&self.why), self.when.clone()]
    }

    fn read(fields: Vec<String>) -> Option<AsideRow> {
        let [file, why, when] = fields.try_into().ok()?;
        Some(AsideRow { file, why, when })
    }

    fn when(&self) -> &str {
        &self.when
    }
}

/// Where a take came from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct CopiedRow {
    pub file: String,
    pub from: String,
    pub when: String,
}

impl Record for CopiedRow {
    const FILE: &'static str = COPIED;
    const TORN: &'static str = "copied-torn.txt";
    const COLUMNS: &'static [&'static str] = &["file", "from", "when"];
    const NUMBERS: &'static [usize] = &[];

    fn fields(&self) -> Vec<String> {
        vec![inert(&self.file), inert(&self.from), self.when.clone()]
    }

    fn read(fields: Vec<String>) -> Option<CopiedRow> {
        let [file, from, when] = fields.try_into().ok()?;
        Some(CopiedRow { file, from, when })
    }

    fn when(&self) -> &str {
        &self.when
    }
}
