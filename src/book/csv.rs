//! One line of comma-separated values, written and read: RFC 4180, with no line break inside a field.
//!
//! Must not know what the fields mean.

/// Writes one line with its end. Line breaks inside a field become spaces, so that a row is always a line.
#[must_use]
pub fn line<S: AsRef<str>>(fields: &[S]) -> String {
    let quoted: Vec<String> = fields.iter().map(|field| quoted(field.as_ref())).collect();
    format!("{}\n", quoted.join(","))
}

fn quoted(field: &str) -> String {
    let flat: String = field.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    let needs_quotes = flat.contains([',', '"']) || flat.starts_with(' ') || flat.ends_with(' ');
    if needs_quotes { format!("\"{}\"", flat.replace('"', "\"\"")) } else { flat }
}

/// A text field that a spreadsheet must not take for a formula. For export only: the log keeps names as they are.
#[must_use]
pub fn inert(text: &str) -> String {
    if text.starts_with(['=', '+', '-', '@']) { format!("'{text}") } else { text.to_string() }
}

/// The fields of one line; `None` when a quote is not closed or stands where none can.
#[must_use]
pub fn fields(line: &str) -> Option<Vec<String>> {
    let line = line.strip_suffix('\r').unwrap_or(line);
    let mut found = Vec::new();
    let mut rest = line;
    loop {
        let (field, after) = match rest.strip_prefix('"') {
            Some(quoted) => quoted_field(quoted)?,
            None => {
                let end = rest.find(',').unwrap_or(rest.len());
                (rest.get(..end)?.to_string(), rest.get(end..)?)
            }
        };
        found.push(field);
        match after.strip_prefix(',') {
            Some(next) => rest = next,
            None if after.is_empty() => return Some(found),
            None => return None,
        }
    }
}

/// The field up to its closing quote, and what follows it.
fn quoted_field(text: &str) -> Option<(String, &str)> {
    let mut field = String::new();
    let mut rest = text;
    loop {
        let at = rest.find('"')?;
        field.push_str(rest.get(..at)?);
        rest = rest.get(at + 1..)?;
        match rest.strip_prefix('"') {
            Some(after) => {
                field.push('"');
                rest = after;
            }
            None => return Some((field, rest)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn text_that_a_spreadsheet_would_run_is_made_inert() {
        for text in ["=1+1", "+2", "-2", "@x"] {
            assert_eq!(inert(text), format!("'{text}"));
        }
        assert_eq!(inert("C#2"), "C#2");
    }

    #[test]
    fn a_line_cut_off_in_a_quote_is_no_line() {
        assert_eq!(fields("a,\"b"), None);
        assert_eq!(fields("a,\"b\"c,d"), None);
        assert_eq!(fields("a,\"b \"\"x\"\"\",\r"), Some(vec!["a".into(), "b \"x\"".into(), String::new()]));
    }

    proptest! {
        #[test]
        fn every_row_reads_back_as_it_was(row in proptest::collection::vec("[^\\p{Cc}]*", 1..12)) {
            let written = line(&row);
            prop_assert_eq!(written.matches('\n').count(), 1);
            prop_assert_eq!(fields(written.trim_end_matches('\n')), Some(row));
        }

        #[test]
        fn no_text_whatever_stops_the_reading(text in any::<String>()) {
            let _ = fields(&text);
        }
    }
}
