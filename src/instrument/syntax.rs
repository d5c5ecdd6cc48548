//! Text that is no TOML, explained to someone who has never heard of TOML.
//!
//! Must not know what the keys mean.

use super::problem::{Problems, Span};

/// Reports the first thing that could not be read, and every number with a decimal comma.
pub(crate) fn report(text: &str, message: &str, span: Option<Span>, problems: &mut Problems<'_>) {
    let commas = decimal_commas(text);
    for comma in &commas {
        problems.add(
            &comma.span,
            format!("{} has a decimal comma", comma.written),
            format!("Use a point: {}.", comma.written.replace(',', ".")),
        );
    }
    let place = span.unwrap_or(0..0);
    let line = problems.line_of(place.start.min(text.len()));
    let explained = commas.iter().any(|comma| problems.line_of(comma.span.start) == line);
    if !explained {
        let (what, to_do) = explain(message);
        problems.add(&place, what, to_do);
    }
}

struct DecimalComma<'t> {
    span: Span,
    written: &'t str,
}

/// Numbers like `812,5` that stand alone after an equals sign.
fn decimal_commas(text: &str) -> Vec<DecimalComma<'_>> {
    let mut found = Vec::new();
    let mut line_start = 0;
    for line in text.split_inclusive('\n') {
        if let Some((key, rest)) = line.split_once('=')
            && !key.contains(['#', '"', '\''])
        {
            let written = rest.split('#').next().unwrap_or("").trim();
            let digits = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
            let unsigned = written.trim_start_matches(['-', '+']);
            if unsigned.split_once(',').is_some_and(|(whole, part)| digits(whole) && digits(part)) {
                let lead = rest.len() - rest.trim_start().len();
                let start = line_start + key.len() + 1 + lead;
                found.push(DecimalComma { span: start..start + written.len(), written });
            }
        }
        line_start += line.len();
    }
    found
}

/// The parser's message in the maker's words, and what to do.
fn explain(message: &str) -> (String, &'static str) {
    let starts = |beginning: &str| message.starts_with(beginning);
    let (what, to_do): (&str, &'static str) = if starts("duplicate key") {
        (
            "this name is given twice in the same place",
            "Keep one of the two. Points of the bore, holes and fingerings each start with their own line \
             in double brackets, like [[hole]].",
        )
    } else if starts("string values must be quoted") {
        ("text needs quotes around it", "Write it like name = \"h1\"; true and false go without quotes.")
    } else if starts("invalid basic string") || starts("invalid literal string") || starts("missing opening")
    {
        (
            "the quotes are not closed, or a backslash stands between them",
            "Close the text with the same quote in the same line; write a backslash twice.",
        )
    } else if starts("unclosed array table") {
        ("the double bracket is not closed", "Close it on the same line, like [[hole]].")
    } else if starts("unclosed table") {
        ("the bracket is not closed", "Close it on the same line, like [air].")
    } else if starts("unclosed array") {
        ("the list is not closed", "Close it with ], like open = [\"h1\", \"h2\"].")
    } else if starts("missing comma between array") {
        ("a comma is missing in the list", "Put a comma between the entries, like open = [\"h1\", \"h2\"].")
    } else if starts("extra comma") {
        ("there is a comma too many", "Delete one of the commas.")
    } else if starts("key with no value") || starts("missing assignment") {
        ("this line has no equals sign", "Write key = value, or put # before a remark.")
    } else if starts("missing value") {
        ("nothing stands after the equals sign", "Write the measured value there, or delete the line.")
    } else if starts("unexpected leading zero") {
        ("the number starts with a zero", "Write it without leading zeros.")
    } else if starts("unexpected key or value") {
        (
            "there is more on this line than one value",
            "Keep one value on the line: a number without its unit, and # before a remark.",
        )
    } else if starts("recursion limit") || starts("cannot recurse") {
        ("the lists or tables are nested too deeply", "Write the file like the one that `new` makes.")
    } else if starts("invalid value") || starts("redundant") || starts("`_`") {
        (
            "this is no number, no text in quotes, and neither true nor false",
            "Write a plain number without a unit, or put quotes around text.",
        )
    } else {
        return (
            format!("this can't be read ({message})"),
            "Write one key = value in a line, and # before a remark.",
        );
    };
    (what.to_string(), to_do)
}
