//! Reads single values out of one table, and notes every one that is missing, of another kind or
//! out of its limits.
//!
//! A value that could not be read becomes a stand-in (NaN, empty text), so that the rest is still
//! read; a stand-in never leaves the room, because its problem does. Must not know the sections.

use std::ops::RangeInclusive;

use super::entries::{Kind, Table, Value};
use super::keys::{Section, advice};
use super::problem::{Problems, Span, plain, quoted};
use super::quantity_text::{Meant, meant};

/// The values that a quantity can have.
pub(crate) struct Limits {
    /// The quantity in the maker's words.
    pub(crate) of: &'static str,
    pub(crate) least: f64,
    pub(crate) most: f64,
    /// Whether `least` itself is impossible.
    pub(crate) above_least: bool,
    pub(crate) unit: &'static str,
}

impl Limits {
    pub(crate) const fn between(of: &'static str, least: f64, most: f64, unit: &'static str) -> Self {
        Limits { of, least, most, above_least: false, unit }
    }

    pub(crate) const fn above(of: &'static str, least: f64, most: f64, unit: &'static str) -> Self {
        Limits { of, least, most, above_least: true, unit }
    }

    pub(crate) fn allow(&self, value: f64) -> bool {
        value <= self.most && (value > self.least || (!self.above_least && value == self.least))
    }

    pub(crate) fn described(&self) -> String {
        let (least, most) = (plain(self.least), plain(self.most));
        let unit = self.spaced_unit();
        if self.above_least {
            format!("{} is more than {least} and at most {most}{unit}", self.of)
        } else {
            format!("{} lies between {least} and {most}{unit}", self.of)
        }
    }

    fn spaced_unit(&self) -> String {
        if self.unit.is_empty() { String::new() } else { format!(" {}", self.unit) }
    }

    /// What to do about `number`, which is out of limits: a volume beyond them is likely one in mm³.
    fn to_do_for(&self, number: f64, key: &str) -> String {
        let ml = number / MM3_PER_ML;
        if self.unit == "ml" && number > self.most && self.allow(ml) {
            let (number, ml) = (plain(number), plain(ml));
            return format!(
                "If it is in mm³: {number} mm³ are {ml} ml, so write {key} = {ml}. If not, weigh the water once more."
            );
        }
        self.to_do()
    }

    fn to_do(&self) -> String {
        match self.unit {
            "" => "Correct the number.".to_string(),
            unit => format!("Check it and write it in {unit}."),
        }
    }
}

/// Cubic millimetres in a millilitre.
const MM3_PER_ML: f64 = 1000.0;

/// Reads one table.
pub(crate) struct Reader<'a, 't> {
    table: &'a Table,
    head: Span,
    section: Section,
    who: String,
    problems: &'a mut Problems<'t>,
}

impl<'a, 't> Reader<'a, 't> {
    /// Starts to read `table`, whose head is at `head`; notes its unknown keys. `who` is what
    /// messages call it.
    pub(crate) fn new(
        table: &'a Table,
        head: Span,
        section: Section,
        who: String,
        problems: &'a mut Problems<'t>,
    ) -> Self {
        for entry in table.entries.iter().filter(|entry| !section.keys.contains(&entry.key.as_str())) {
            problems.add_with(&entry.key_span, || {
                let what = format!("{who}: {} is no key that {} knows", quoted(&entry.key), section.head);
                (what, advice(&entry.key, section))
            });
        }
        Reader { table, head, section, who, problems }
    }

    /// Text that must be there; `None` after a problem.
    pub(crate) fn text(&mut self, key: &str, example: &str) -> Option<&'a str> {
        if self.table.get(key).is_none() {
            self.missing(key, &format!("{key} = \"{example}\""));
        }
        self.text_if_given(key, example)
    }

    pub(crate) fn text_if_given(&mut self, key: &str, example: &str) -> Option<&'a str> {
        let value = self.table.get(key)?;
        match &value.kind {
            Kind::Text(text) => Some(text),
            _ => {
                self.wrong_kind(
                    value,
                    key,
                    "text in quotes",
                    format!("Write it like {key} = \"{example}\"."),
                );
                None
            }
        }
    }

    /// A number that must be there; NaN after a problem.
    pub(crate) fn number(&mut self, key: &str, limits: &Limits) -> f64 {
        match self.table.get(key) {
            Some(value) => self.number_of(value, key, limits),
            None => {
                self.missing(key, &format!("{key} = …"));
                f64::NAN
            }
        }
    }

    pub(crate) fn number_or(&mut self, key: &str, default: f64, limits: &Limits) -> f64 {
        self.number_if_given(key, limits).unwrap_or(default)
    }

    pub(crate) fn number_if_given(&mut self, key: &str, limits: &Limits) -> Option<f64> {
        let value = self.table.get(key)?;
        Some(self.number_of(value, key, limits))
    }

    pub(crate) fn whole_or(
        &mut self,
        key: &str,
        default: i32,
        of: &str,
        allowed: RangeInclusive<i32>,
    ) -> i32 {
        let Some(value) = self.table.get(key) else { return default };
        let (least, most) = (*allowed.start(), *allowed.end());
        let Kind::Number { value: number, whole: true } = value.kind else {
            let example = format!("Write it like {key} = {}.", default.clamp(least, most));
            self.wrong_kind(value, key, "a whole number", example);
            return default;
        };
        if number < f64::from(least) || number > f64::from(most) {
            let what =
                format!("{}: {key} is {}; {of} lies between {least} and {most}", self.who, plain(number));
            self.problems.add(&value.span, what, "Correct the number.");
            return default;
        }
        number as i32
    }

    pub(crate) fn flag_or(&mut self, key: &str, default: bool) -> bool {
        match self.table.get(key) {
            None => default,
            Some(Value { kind: Kind::Flag(flag), .. }) => *flag,
            Some(value) => {
                let to_do = format!("Write {key} = true or {key} = false, without quotes.");
                self.wrong_kind(value, key, "true or false", to_do);
                default
            }
        }
    }

    /// A list that may be left out; empty after a problem.
    pub(crate) fn list(&mut self, key: &str, example: &str) -> &'a [Value] {
        match self.table.get(key) {
            None => &[],
            Some(Value { kind: Kind::List(items), .. }) => items,
            Some(value) => {
                let to_do = format!("Write it like {key} = {example}.");
                self.wrong_kind(value, key, "a list in square brackets", to_do);
                &[]
            }
        }
    }

    /// The value of `key` as it stands.
    pub(crate) fn given(&self, key: &str) -> Option<&'a Value> {
        self.table.get(key)
    }

    /// A number that `value` holds; NaN after a problem.
    pub(crate) fn number_of(&mut self, value: &Value, key: &str, limits: &Limits) -> f64 {
        let Kind::Number { value: number, .. } = value.kind else {
            let to_do = match &value.kind {
                Kind::Text(text) => match meant(text, limits.unit) {
                    Some(Meant::Number(number)) => format!("Write it without quotes and unit: {number}."),
                    Some(Meant::Converted(written, number)) => {
                        format!("{written} is {number} {}: write {key} = {number}.", limits.unit)
                    }
                    None => format!("Write a plain number{}.", in_unit(limits.unit)),
                },
                Kind::List(_) => {
                    "Write one number without brackets; a decimal point, not a comma.".to_string()
                }
                _ => format!("Write a plain number{}.", in_unit(limits.unit)),
            };
            self.wrong_kind(value, key, "a number", to_do);
            return f64::NAN;
        };
        if !number.is_finite() {
            self.problem(&value.span, format!("{key} is no number that can be measured"), limits.to_do());
            return f64::NAN;
        }
        if !limits.allow(number) {
            let what = format!("{key} is {}{}; {}", plain(number), limits.spaced_unit(), limits.described());
            self.problem(&value.span, what, limits.to_do_for(number, key));
            return f64::NAN;
        }
        number
    }

    /// Notes a problem of this table at `span`.
    pub(crate) fn problem(&mut self, span: &Span, what: impl AsRef<str>, to_do: impl Into<String>) {
        self.problems.add(span, format!("{}: {}", self.who, what.as_ref()), to_do);
    }

    /// Notes a value that is of another kind than it must be.
    pub(crate) fn wrong_kind(&mut self, value: &Value, key: &str, wanted: &str, to_do: String) {
        self.problem(&value.span, format!("{key} must be {wanted}, but it is {}", value.described()), to_do);
    }

    fn missing(&mut self, key: &str, example: &str) {
        let head = self.head.clone();
        self.problem(
            &head,
            format!("{key} is missing"),
            format!("Add {example} under {}.", self.section.head),
        );
    }
}

fn in_unit(unit: &str) -> String {
    if unit.is_empty() { String::new() } else { format!(" in {unit}") }
}
