//! Tables as comma-separated values (RFC 4180), and as a spreadsheet leaves them: with semicolons or tabs, decimal
//! commas, quotes, columns moved or added, in the letters of Windows.
//!
//! Must not know what the columns mean.

use std::borrow::Cow;

use csv::{QuoteStyle, ReaderBuilder, Terminator, WriterBuilder};

/// What parts the fields in the tables that this program makes.
const COMMA: u8 = b',';
/// What spreadsheets put in its place.
const PARTED_BY: [u8; 3] = [COMMA, b';', b'\t'];
/// A cell with more line breaks than this is none: somewhere a quote is missing.
const MOST_LINES_A_ROW: usize = 50;

/// How a table is written: by what its fields are parted, and where each of our columns stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Layout {
    parted_by: u8,
    /// The place of each of our columns, in our order.
    places: Vec<usize>,
    /// How many columns there are, those of the maker's own too.
    width: usize,
    /// Whether numbers are written with a comma.
    decimal_comma: bool,
}

impl Layout {
    /// The layout that this heading tells; `None` when one of `columns` is not among its names.
    #[must_use]
    pub fn of(heading: &str, columns: &[&str]) -> Option<Layout> {
        PARTED_BY.into_iter().find_map(|parted_by| {
            let names: Vec<String> =
                fields(heading, parted_by)?.iter().map(|name| name.trim().to_lowercase()).collect();
            let places: Option<Vec<usize>> =
                columns.iter().map(|column| names.iter().position(|name| name == column)).collect();
            Some(Layout { parted_by, places: places?, width: names.len(), decimal_comma: false })
        })
    }

    /// The same with a decimal comma, where the numbers of the table have one. With semicolons and no number yet it is
    /// one too: that is why they are there.
    #[must_use]
    pub fn with_numbers_like<'a>(self, mut numbers: impl Iterator<Item = &'a str>) -> Layout {
        let first = numbers.find_map(|number| number.chars().find(|sign| [',', '.'].contains(sign)));
        let decimal_comma = first.map_or(self.parted_by == b';', |sign| sign == ',');
        Layout { decimal_comma, ..self }
    }

    /// The fields of our columns in a row, in our order; `None` when it has too few or too many.
    #[must_use]
    pub fn row(&self, text: &str) -> Option<Vec<String>> {
        let all = fields(text, self.parted_by)?;
        let has_more = all.iter().skip(self.width).any(|field| !field.trim().is_empty());
        if has_more {
            return None;
        }
        self.places.iter().map(|&place| all.get(place).cloned()).collect()
    }

    /// One row with its end; `numbers` are the places of numbers among the fields. Columns of the maker's own stay
    /// empty.
    #[must_use]
    pub fn line(&self, our_fields: &[String], numbers: &[usize]) -> String {
        let mut all = vec![String::new(); self.width];
        for (index, (&place, field)) in self.places.iter().zip(our_fields).enumerate() {
            let is_number = self.decimal_comma && numbers.contains(&index);
            if let Some(slot) = all.get_mut(place) {
                *slot = if is_number { field.replace('.', ",") } else { field.clone() };
            }
        }
        written(&all, self.parted_by)
    }
}

/// Writes one line with its end. Line breaks inside a field become spaces, so that a row is always a line.
#[must_use]
pub fn line<S: AsRef<str>>(fields: &[S]) -> String {
    written(fields, COMMA)
}

fn written<S: AsRef<str>>(fields: &[S], parted_by: u8) -> String {
    let mut writer = WriterBuilder::new()
        .delimiter(parted_by)
        .terminator(Terminator::Any(b'\n'))
        .quote_style(QuoteStyle::Necessary)
        .from_writer(Vec::new());
    // Into memory nothing can fail.
    let _ = writer.write_record(fields.iter().map(|field| flat(field.as_ref())));
    String::from_utf8(writer.into_inner().unwrap_or_default()).unwrap_or_default()
}

/// A text as a field of one line: control characters and byte order marks become spaces.
#[must_use]
pub fn flat(text: &str) -> String {
    let is_none = |c: char| c.is_control() || c == '\u{feff}';
    text.chars().map(|c| if is_none(c) { ' ' } else { c }).collect()
}

/// A text field that a spreadsheet must not take for a formula. The log keeps names as they are, so that they are found
/// again; what is only read by people goes through this.
#[must_use]
pub fn inert(text: &str) -> String {
    if text.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']) {
        format!("'{text}")
    } else {
        text.to_string()
    }
}

/// A number with a decimal point or comma; `None` when it is none, or not finite.
#[must_use]
pub fn number(text: &str) -> Option<f64> {
    let text = text.trim();
    let with_point = if text.contains('.') { Cow::Borrowed(text) } else { text.replacen(',', ".", 1).into() };
    with_point.parse().ok().filter(|value: &f64| value.is_finite())
}

/// The fields of one row; `None` for a text that is not just one.
fn fields(text: &str, parted_by: u8) -> Option<Vec<String>> {
    if has_open_quote(text) {
        return None;
    }
    let mut reader = ReaderBuilder::new()
        .delimiter(parted_by)
        .has_headers(false)
        .flexible(true)
        .buffer_capacity(text.len().max(1))
        .from_reader(text.as_bytes());
    let mut rows = reader.records();
    let row = rows.next()?.ok()?;
    rows.next().is_none().then(|| row.iter().map(str::to_string).collect())
}

fn has_open_quote(text: &str) -> bool {
    text.matches('"').count() % 2 == 1
}

/// A line of a file, in the letters it was saved in: UTF-8, or those of Windows.
#[must_use]
pub fn text_of(line: &[u8]) -> Cow<'_, str> {
    match std::str::from_utf8(line) {
        Ok(text) => text.into(),
        Err(_) => encoding_rs::WINDOWS_1252.decode_without_bom_handling(line).0,
    }
}

/// The text of a row that begins with the first of `lines`, and how many of them it takes: more than one where a
/// spreadsheet left line breaks in a cell. `read` says whether a text is a good row.
#[must_use]
pub fn first_row<T>(lines: &[Cow<'_, str>], read: impl Fn(&str) -> Option<T>) -> Option<(T, usize)> {
    let mut text = String::new();
    for (index, line) in lines.iter().take(MOST_LINES_A_ROW).enumerate() {
        text.push_str(line);
        if !has_open_quote(&text) {
            return read(&text).map(|row| (row, index + 1));
        }
        text.push('\n');
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const COLUMNS: [&str; 3] = ["name", "hz", "when"];

    fn texts(fields: &[&str]) -> Vec<String> {
        fields.iter().map(ToString::to_string).collect()
    }

    #[test]
    fn text_that_a_spreadsheet_would_run_is_made_inert() {
        for text in ["=1+1", "+2", "-2", "@SUM(A1)", "\tx"] {
            assert_eq!(inert(text), format!("'{text}"));
        }
        assert_eq!(inert("C#2"), "C#2");
    }

    #[test]
    fn a_line_cut_off_in_a_quote_is_no_line() {
        assert_eq!(fields("a,\"b", COMMA), None);
        assert_eq!(fields("a,\"b \"\"x\"\"\",", COMMA), Some(texts(&["a", "b \"x\"", ""])));
    }

    #[test]
    fn columns_are_found_by_their_names_wherever_a_spreadsheet_left_them() {
        for (heading, row) in [
            ("name,hz,when", "C#2,69.0,now"),
            ("\"name\";\"hz\";\"when\"", "C#2;\"69.0\";now"),
            ("when\tname\thz", "now\tC#2\t69.0"),
            ("mine,name,Hz,when,", "dull,C#2,69.0,now,"),
            ("name,hz,when", "C#2,69.0,now,,,"),
        ] {
            let layout = Layout::of(heading, &COLUMNS).unwrap();
            assert_eq!(layout.row(row).unwrap(), texts(&["C#2", "69.0", "now"]), "{heading}");
        }
        assert_eq!(Layout::of("name,pitch,when", &COLUMNS), None);
        let layout = Layout::of("name,hz,when", &COLUMNS).unwrap();
        assert_eq!(layout.row("C#2,69,0,now"), None);
        assert_eq!(layout.row("C#2,69"), None);
    }

    #[test]
    fn a_row_is_added_the_way_the_table_is_written() {
        let row = texts(&["C#2", "69.5", "now"]);
        let layout = Layout::of("when;mine;name;hz", &COLUMNS).unwrap();
        assert_eq!(layout.clone().with_numbers_like([].into_iter()).line(&row, &[1]), "now;;C#2;69,5\n");
        assert_eq!(layout.with_numbers_like(["", "7.5"].into_iter()).line(&row, &[1]), "now;;C#2;69.5\n");
    }

    #[test]
    fn a_number_may_have_a_point_or_a_comma() {
        assert_eq!((number("69.5"), number(" -69,5 "), number("7")), (Some(69.5), Some(-69.5), Some(7.0)));
        assert_eq!((number("1.234,5"), number("inf"), number("")), (None, None, None));
    }

    #[test]
    fn a_missing_quote_costs_no_row_but_its_own() {
        let lines: Vec<Cow<'_, str>> = ["\"a", "b\",1", "\"open,2", "c,3"].map(Cow::Borrowed).to_vec();
        let two = |text: &str| fields(text, COMMA).filter(|fields| fields.len() == 2);
        assert_eq!(first_row(&lines, two), Some((texts(&["a\nb", "1"]), 2)));
        assert_eq!(first_row(&lines[2..], two), None);
        assert_eq!(first_row(&lines[3..], two), Some((texts(&["c", "3"]), 1)));
    }

    #[test]
    fn letters_of_windows_are_read() {
        assert_eq!(text_of(b"\xc9 ouvrier"), "É ouvrier");
        assert_eq!(text_of("É ♭".as_bytes()), "É ♭");
    }

    proptest! {
        #[test]
        fn every_row_reads_back_as_it_was(row in proptest::collection::vec("[^\\p{Cc}\u{feff}]*", 1..12)) {
            let written = line(&row);
            prop_assert_eq!(written.matches('\n').count(), 1);
            prop_assert_eq!(fields(written.trim_end_matches('\n'), COMMA), Some(row));
        }

        #[test]
        fn no_text_whatever_stops_the_reading(text in any::<String>()) {
            let _ = fields(&text, COMMA);
            let _ = Layout::of(&text, &COLUMNS).map(|layout| layout.row(&text));
        }
    }
}
