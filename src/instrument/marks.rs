//! Example numbers that still wait for a real measurement: lines whose remark says `EXAMPLE`.
//!
//! Must not know the keys on those lines.

use super::problem::{Problems, Span};

/// The word that marks an example number in its line's remark.
pub const EXAMPLE: &str = "EXAMPLE";

/// Notes every example mark of the text, with what to measure.
pub(crate) fn report(text: &str, problems: &mut Problems<'_>) {
    for mark in marks(text) {
        let measure = if mark.measure.is_empty() {
            "Measure it and write your own number.".to_string()
        } else {
            format!("To do: {}.", mark.measure.trim_end_matches('.'))
        };
        problems.add_example(
            &mark.span,
            "this is an example, not a measurement of yours",
            format!("{measure} Then delete the remark with {EXAMPLE}."),
        );
    }
}

struct Mark<'t> {
    span: Span,
    measure: &'t str,
}

fn marks(text: &str) -> Vec<Mark<'_>> {
    let mut found = Vec::new();
    let mut open_quote = None;
    let mut line_start = 0;
    for line in text.split_inclusive('\n') {
        let remark = remark_of(line, &mut open_quote);
        // A line that is nothing but a remark is switched off; its mark waits until it is used.
        if let Some(at) = remark
            && line.get(..at).is_some_and(|code| !code.trim().is_empty())
            && let Some((word_at, measure)) = example_in(line.get(at..).unwrap_or(""))
        {
            let start = line_start + at + word_at;
            found.push(Mark { span: start..start + EXAMPLE.len(), measure });
        }
        line_start += line.len();
    }
    found
}

/// Where [`EXAMPLE`] stands as a word in a remark, and what follows it.
fn example_in(remark: &str) -> Option<(usize, &str)> {
    let is_word = |before: Option<char>, after: Option<char>| {
        !before.is_some_and(char::is_alphanumeric) && !after.is_some_and(char::is_alphanumeric)
    };
    remark.match_indices(EXAMPLE).find_map(|(at, _)| {
        let (before, rest) = (remark.get(..at)?, remark.get(at + EXAMPLE.len()..)?);
        is_word(before.chars().next_back(), rest.chars().next())
            .then(|| (at, rest.trim_start_matches([':', ' ']).trim()))
    })
}

/// Where the remark of a line begins. `open_quote` is the triple quote that the text before the
/// line left open, and after it.
fn remark_of(line: &str, open_quote: &mut Option<&'static str>) -> Option<usize> {
    let mut at = 0;
    while let Some(rest) = line.get(at..).filter(|rest| !rest.is_empty()) {
        if let Some(quote) = *open_quote {
            if rest.starts_with('\\') && quote.starts_with('"') {
                at += 1 + rest.chars().nth(1).map_or(0, char::len_utf8);
            } else if rest.starts_with(quote) {
                at += quote.len();
                *open_quote = None;
            } else {
                at += rest.chars().next().map_or(1, char::len_utf8);
            }
            continue;
        }
        if rest.starts_with('#') {
            return Some(at);
        }
        let opened = ["\"\"\"", "'''", "\"", "'"].into_iter().find(|quote| rest.starts_with(quote));
        at += opened.map_or_else(|| rest.chars().next().map_or(1, char::len_utf8), str::len);
        *open_quote = opened;
    }
    // Only triple quotes go on in the next line.
    *open_quote = open_quote.filter(|quote| quote.len() == 3);
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    fn measures(text: &str) -> Vec<&str> {
        marks(text).into_iter().map(|mark| mark.measure).collect()
    }

    #[test]
    fn a_mark_is_found_with_what_to_measure() {
        assert_eq!(measures("at_mm = 5.0 # EXAMPLE: measure the tube\nx = 1"), ["measure the tube"]);
        assert_eq!(measures("at_mm = 5.0 # EXAMPLE"), [""]);
    }

    #[test]
    fn a_line_that_is_switched_off_has_no_mark() {
        assert_eq!(measures("#at_mm = 5.0 # EXAMPLE: measure\n  # EXAMPLE\n"), [""; 0]);
    }

    #[test]
    fn the_word_inside_quotes_or_inside_another_word_is_no_mark() {
        for text in [
            "name = \"a # EXAMPLE\"",
            "name = 'a # EXAMPLE'",
            "name = \"a \\\" # EXAMPLE\"",
            "name = \"\"\"\nx # EXAMPLE\n\"\"\"",
            "x = 1 # EXAMPLES of this",
            "x = 1 # for example",
        ] {
            assert_eq!(measures(text), [""; 0], "{text}");
        }
        assert_eq!(measures("name = \"a # b\" # EXAMPLE: real"), ["real"]);
        assert_eq!(measures("a = '''\n''' # EXAMPLE: after"), ["after"]);
    }
}
