//! The parsed text as a tree of entries that know their places.
//!
//! Must not know how the text is written (that is `file`) nor what the keys mean (`sections`).

use super::problem::Span;

/// One value of the file and where it stands.
#[derive(Debug, Clone)]
pub(crate) struct Value {
    pub(crate) span: Span,
    pub(crate) kind: Kind,
}

/// What a value is.
#[derive(Debug, Clone)]
pub(crate) enum Kind {
    Text(String),
    Number { value: f64, whole: bool },
    Flag(bool),
    List(Vec<Value>),
    Table(Table),
    Date,
}

/// Keys and values, in the order of the file.
#[derive(Debug, Clone, Default)]
pub(crate) struct Table {
    pub(crate) entries: Vec<Entry>,
}

/// A key with its value.
#[derive(Debug, Clone)]
pub(crate) struct Entry {
    pub(crate) key: String,
    pub(crate) key_span: Span,
    pub(crate) value: Value,
}

impl Table {
    pub(crate) fn get(&self, key: &str) -> Option<&Value> {
        self.entries.iter().find(|entry| entry.key == key).map(|entry| &entry.value)
    }

    /// Where `key` of the `index`-th entry of the list `section` stands: its value, or the entry's
    /// head when the key is not given.
    pub(crate) fn place_in_list(&self, section: &str, index: usize, key: &str) -> Span {
        let entry = match self.get(section).map(|value| &value.kind) {
            Some(Kind::List(entries)) => entries.get(index),
            Some(Kind::Table(_)) => self.get(section),
            _ => None,
        };
        entry.map_or(0..0, |entry| entry.place_of(key))
    }

    /// Where `key` of the table `section` stands: its value, or the table's head.
    pub(crate) fn place_in_table(&self, section: &str, key: &str) -> Span {
        self.get(section).map_or(0..0, |table| table.place_of(key))
    }
}

impl Value {
    fn place_of(&self, key: &str) -> Span {
        match &self.kind {
            Kind::Table(table) => table.get(key).map_or_else(|| self.span.clone(), |v| v.span.clone()),
            _ => self.span.clone(),
        }
    }

    /// What the value is, in plain words.
    pub(crate) fn described(&self) -> &'static str {
        match &self.kind {
            Kind::Text(_) => "text in quotes",
            Kind::Number { .. } => "a number",
            Kind::Flag(_) => "true or false",
            Kind::List(_) => "a list in square brackets",
            Kind::Table(_) => "a table",
            Kind::Date => "a date or time",
        }
    }
}
