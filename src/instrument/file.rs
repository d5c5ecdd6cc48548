//! Reads the maker's instrument file.
//!
//! The only file that knows TOML: it turns the text into entries with places; `sections` gives
//! them meaning and `check` refuses geometry that can't be right. Must not know air columns.

use std::fs::File;
use std::io::{ErrorKind, Read};
use std::path::Path;

use toml::Spanned;
use toml::de::{DeInteger, DeTable, DeValue};

use super::entries::{Entry, Kind, Table, Value};
use super::model::Instrument;
use super::problem::{FileError, Problem, Problems};
use super::syntax::{self, Refusal};
use super::{check, check_names, marks, sections};

/// The format that this program writes, and the newest that it reads.
pub const FORMAT: u32 = 1;

/// The most that is read of a file, megabytes; a large instrument takes some ten kilobytes.
const LIMIT_MEGABYTES: u64 = 4;

/// Reads and checks the instrument file at `path`.
///
/// # Errors
/// A [`FileError`] when the file can't be read, or with everything that is wrong in it.
pub fn load(path: &Path) -> Result<Instrument, FileError> {
    let text = read_text(path)?;
    if text.trim_start_matches('\u{feff}').trim().is_empty() {
        return Err(FileError::Empty { path: path.to_path_buf() });
    }
    parse(&text).map_err(|mut problems| {
        for problem in &mut problems {
            problem.file = path.display().to_string();
        }
        FileError::Wrong { path: path.to_path_buf(), problems }
    })
}

/// Reads and checks the text of an instrument file.
///
/// # Errors
/// Every [`Problem`] of the text, in its order. Text that is no TOML has only the problems of its
/// writing; a format newer than [`FORMAT`] only that one.
pub fn parse(text: &str) -> Result<Instrument, Vec<Problem>> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut problems = Problems::new(text);
    let (document, errors) = DeTable::parse_recoverable(text);
    let root = table_of(document.into_inner(), 0);

    if sections::is_newer_format(&root, &mut problems) {
        return Err(problems.sorted());
    }
    if !errors.is_empty() {
        let refusals: Vec<Refusal<'_>> = errors
            .iter()
            .map(|error| Refusal { message: error.message(), span: error.span().unwrap_or(0..0) })
            .collect();
        syntax::report(text, &refusals, &mut problems);
        return Err(problems.sorted());
    }

    marks::report(text, &mut problems);
    let instrument = sections::read(&root, &mut problems);
    check_names::check(&instrument, &root, &mut problems);
    check::check(&instrument, &root, &mut problems);
    if problems.is_empty() { Ok(instrument) } else { Err(problems.sorted()) }
}

/// The whole text of an instrument file.
pub(crate) fn read_text(path: &Path) -> Result<String, FileError> {
    let owned = || path.to_path_buf();
    let unreadable = |source: std::io::Error| match source.kind() {
        ErrorKind::NotFound => FileError::Missing { path: owned() },
        ErrorKind::IsADirectory => FileError::Folder { path: owned() },
        _ => FileError::Unreadable { path: owned(), source },
    };
    // Asked before opening: some systems refuse to open a folder with an unclear error.
    if path.is_dir() {
        return Err(FileError::Folder { path: owned() });
    }
    let file = File::open(path).map_err(unreadable)?;
    let limit_bytes = LIMIT_MEGABYTES * 1024 * 1024;
    let mut bytes = Vec::new();
    file.take(limit_bytes + 1).read_to_end(&mut bytes).map_err(unreadable)?;
    if bytes.len() as u64 > limit_bytes {
        return Err(FileError::TooLarge { path: owned(), limit_megabytes: LIMIT_MEGABYTES });
    }
    String::from_utf8(bytes).map_err(|error| {
        let good_length = error.utf8_error().valid_up_to();
        let good = String::from_utf8_lossy(error.as_bytes().get(..good_length).unwrap_or_default());
        let line = good.matches('\n').count() + 1;
        let column = good.rsplit('\n').next().map_or(0, |last| last.chars().count()) + 1;
        FileError::NotText { path: owned(), line, column }
    })
}

/// A key of such a file with its value.
#[derive(Debug, Clone, PartialEq)]
pub struct PlainEntry {
    /// The key.
    pub key: String,
    /// Its value.
    pub value: Plain,
    /// Its line, from 1.
    pub line: usize,
}

/// A value of a small file of keys: the notes of a bench step, the version of a book.
#[derive(Debug, Clone, PartialEq)]
pub enum Plain {
    /// Text in quotes.
    Text(String),
    /// A number.
    Number(f64),
    /// A list of texts.
    Texts(Vec<String>),
    /// Anything else that TOML can hold.
    Other,
}

/// Reads a small file of keys, in its order; tables in it count as [`Plain::Other`].
///
/// # Errors
/// What is wrong in the first line that can't be read.
pub fn plain_entries(text: &str) -> Result<Vec<PlainEntry>, Box<Problem>> {
    let root = root_of(text)?;
    let plain = text.strip_prefix('\u{feff}').unwrap_or(text);
    let lines = Problems::new(plain);
    let entry = |entry: Entry| PlainEntry {
        line: lines.line_of(entry.key_span.start),
        key: entry.key,
        value: plain_value(entry.value.kind),
    };
    Ok(root.entries.into_iter().map(entry).collect())
}

/// The prototype that an instrument file names, also while example numbers are left in it; `None` when the
/// text can't be read that far.
#[must_use]
pub fn prototype_of(text: &str) -> Option<String> {
    let root = root_of(text).ok()?;
    let Kind::Table(heading) = &root.get("instrument")?.kind else { return None };
    match heading.get("prototype").map(|value| &value.kind) {
        Some(Kind::Text(name)) => Some(name.clone()),
        Some(_) => None,
        None => Some("P1".to_string()),
    }
}

fn root_of(text: &str) -> Result<Table, Box<Problem>> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let (document, errors) = DeTable::parse_recoverable(text);
    let Some(error) = errors.first() else { return Ok(table_of(document.into_inner(), 0)) };
    let mut problems = Problems::new(text);
    syntax::report(
        text,
        &[Refusal { message: error.message(), span: error.span().unwrap_or(0..0) }],
        &mut problems,
    );
    if problems.is_empty() {
        problems.add(&(0..0), error.message(), "Correct the file.");
    }
    Err(Box::new(problems.sorted().remove(0)))
}

fn plain_value(kind: Kind) -> Plain {
    match kind {
        Kind::Text(text) => Plain::Text(text),
        Kind::Number { value, .. } => Plain::Number(value),
        Kind::List(values) => {
            let text = |value: Value| match value.kind {
                Kind::Text(text) => Some(text),
                _ => None,
            };
            values.into_iter().map(text).collect::<Option<Vec<String>>>().map_or(Plain::Other, Plain::Texts)
        }
        Kind::Flag(_) | Kind::Table(_) | Kind::Date => Plain::Other,
    }
}

/// Tables deeper than this mean nothing in the file; below it their content is dropped.
const DEEPEST: usize = 8;

fn table_of(table: DeTable<'_>, depth: usize) -> Table {
    if depth > DEEPEST {
        return Table::default();
    }
    let mut entries: Vec<Entry> = table
        .into_iter()
        .map(|(key, value)| Entry {
            key_span: key.span(),
            key: key.into_inner().into_owned(),
            value: value_of(value, depth + 1),
        })
        .collect();
    entries.sort_by_key(|entry| entry.key_span.start);
    Table { entries }
}

fn value_of(value: Spanned<DeValue<'_>>, depth: usize) -> Value {
    let span = value.span();
    let kind = match value.into_inner() {
        DeValue::String(text) => Kind::Text(text.into_owned()),
        DeValue::Integer(number) => Kind::Number { value: whole_number(&number), whole: true },
        DeValue::Float(number) => {
            Kind::Number { value: number.as_str().parse().unwrap_or(f64::NAN), whole: false }
        }
        DeValue::Boolean(flag) => Kind::Flag(flag),
        DeValue::Datetime(_) => Kind::Date,
        DeValue::Array(_) if depth > DEEPEST => Kind::List(Vec::new()),
        DeValue::Array(list) => Kind::List(list.into_iter().map(|item| value_of(item, depth + 1)).collect()),
        DeValue::Table(table) => Kind::Table(table_of(table, depth + 1)),
    };
    Value { span, kind }
}

/// Beyond 64 bits the decimal digits still give the right size, so that limits can refuse it.
fn whole_number(number: &DeInteger<'_>) -> f64 {
    match i64::from_str_radix(number.as_str(), number.radix()) {
        Ok(value) => value as f64,
        Err(_) => number.as_str().parse().unwrap_or(f64::INFINITY),
    }
}
