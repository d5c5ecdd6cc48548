//! Text that is no TOML, explained to someone who has never heard of TOML.
//!
//! Must not know what the keys mean.

use super::problem::{Problems, Span};

/// One place that the TOML parser refused, in its own words.
pub(crate) struct Refusal<'e> {
    pub(crate) message: &'e str,
    pub(crate) span: Span,
}

/// Reports the first thing that could not be read, and every number with a decimal comma.
pub(crate) fn report(text: &str, refusals: &[Refusal<'_>], problems: &mut Problems<'_>) {
    let commas = decimal_commas(text);
    for comma in &commas {
        problems.add(
            &comma.span,
            format!("{} has a decimal comma", comma.written),
            format!("Use a point: {}.", comma.written.replace(',', ".")),
        );
    }
    if let Some(bracket) = open_list(text, refusals) {
        problems.add(
            &bracket,
            "the list that begins here is not closed",
            "Close it with ], like open = [\"h1\", \"h2\"].",
        );
        return;
    }
    let Some(first) = refusals.iter().min_by_key(|refusal| refusal.span.start) else { return };
    let line = problems.line_of(first.span.start.min(text.len()));
    let explained = commas.iter().any(|comma| problems.line_of(comma.span.start) == line);
    if !explained {
        let rest = text.get(first.span.start..).unwrap_or("");
        let (what, to_do) = explain(first.message, rest.lines().next().unwrap_or("").trim());
        problems.add(&first.span, what, to_do);
    }
}

/// Where a list begins that is not closed. The parser notices only in a later line, at a place
/// that says nothing to the maker.
fn open_list(text: &str, refusals: &[Refusal<'_>]) -> Option<Span> {
    let noticed = refusals
        .iter()
        .filter(|refusal| {
            refusal.message.starts_with("unexpected `=` in array")
                || refusal.message.starts_with("unclosed array, ")
        })
        .map(|refusal| refusal.span.start)
        .min()?;
    let before = text.get(..noticed)?;
    let mut line_start = before.len();
    for line in before.split_inclusive('\n').rev() {
        line_start -= line.len();
        if let Some((key, list)) = line.split_once('=')
            && list.trim_start().starts_with('[')
            && !list.contains(']')
        {
            let bracket = line_start + key.len() + 1 + (list.len() - list.trim_start().len());
            return Some(bracket..bracket + 1);
        }
    }
    None
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

/// How the parser's messages begin about what looks like a number, true or false, but is none.
const NO_PLAIN_NUMBER: [&str; 14] = [
    "integers with a radix",
    "radix must be",
    "invalid value",
    "invalid float",
    "invalid integer",
    "invalid mantissa",
    "invalid fraction",
    "invalid exponent",
    "invalid boolean",
    "invalid date",
    "redundant",
    "unexpected leading zero",
    "unexpected sign",
    "`_`",
];

/// How its messages begin about text that has no quotes, or only one.
const BROKEN_TEXT: [&str; 4] =
    ["invalid basic string", "invalid literal string", "invalid multi-line", "missing opening"];

/// How its messages begin about what stands in curly brackets.
const CURLY_BRACKETS: [&str; 5] = [
    "missing key for inline",
    "missing value for key",
    "missing comma between key-value",
    "invalid inline table",
    "missing inline table",
];
const CURLY: &str = "Write it like measured_to_mm = { place = 0.3, bore = 0.1 }.";

/// The parser's message in the maker's words, and what to do. `written` is the line from the
/// place on: it tells nothing, and a number with more behind it, from text.
fn explain(message: &str, written: &str) -> (String, &'static str) {
    let starts = |beginning: &str| message.starts_with(beginning);
    let is_nothing = written.is_empty() || written.starts_with('#');
    let (what, to_do): (&str, &'static str) = if starts("duplicate key") {
        (
            "this name is given twice in the same place",
            "Keep one of the two. Points of the bore, holes and fingerings each start with their own line \
             in double brackets, like [[hole]].",
        )
    } else if starts("missing value") || (starts("string values must be quoted") && is_nothing) {
        ("nothing stands after the equals sign", "Write the measured value there, or delete the line.")
    } else if starts("string values must be quoted") && written.starts_with(|c: char| c.is_ascii_digit()) {
        (
            "this is more than a plain number",
            "Write the number alone, like 505.5: no unit, no fraction. A remark goes behind #.",
        )
    } else if starts("string values must be quoted") {
        ("text needs quotes around it", "Write it like name = \"h1\"; true and false go without quotes.")
    } else if starts("missing escaped value") || starts("too few unicode") {
        (
            "a backslash stands between the quotes",
            "Write a backslash twice, and close the text with the same quote in the same line.",
        )
    } else if BROKEN_TEXT.iter().any(|beginning| starts(beginning)) && written.starts_with(['}', ',']) {
        ("something is missing in the curly brackets", CURLY)
    } else if BROKEN_TEXT.iter().any(|beginning| starts(beginning)) {
        (
            "the quotes are not closed, or a backslash stands between them",
            "Close the text with the same quote in the same line; write a backslash twice.",
        )
    } else if starts("unclosed array table") {
        ("the double bracket is not closed", "Close it on the same line, like [[hole]].")
    } else if starts("unclosed table") {
        ("the bracket is not closed", "Close it on the same line, like [air].")
    } else if starts("missing comma between array") {
        ("a comma is missing in the list", "Put a comma between the entries, like open = [\"h1\", \"h2\"].")
    } else if CURLY_BRACKETS.iter().any(|beginning| starts(beginning)) {
        ("what stands in the curly brackets can't be read", CURLY)
    } else if starts("extra `=`") || starts("extra assignment") {
        ("there is an equals sign too many", "Keep one: key = value.")
    } else if starts("carriage return") {
        (
            "this line ends in a way that only very old editors write",
            "Save the file from a text editor with the line ends of Unix or Windows.",
        )
    } else if starts("invalid comment character") {
        ("the remark holds a sign that can't be seen", "Delete the remark and write it again.")
    } else if starts("unquoted keys cannot be empty") && written.starts_with(']') {
        ("nothing stands between the brackets", "Write a name there, like [[hole]] or [air].")
    } else if starts("unquoted keys cannot be empty") {
        (
            "nothing stands before the equals sign",
            "Write the key there, like wall_mm = 4.0, or delete the line.",
        )
    } else if starts("keys cannot be multi-line") {
        ("a key stands in three quotes", "Write it without quotes, like wall_mm = 4.0.")
    } else if starts("extra comma") {
        ("there is a comma too many", "Delete one of the commas.")
    } else if starts("key with no value") || starts("missing assignment") {
        ("this line has no equals sign", "Write key = value, or put # before a remark.")
    } else if starts("invalid unquoted key") {
        (
            "a key holds a sign that no key has",
            "Write the key as it is spelled here, then an equals sign, like wall_mm = 4.0.",
        )
    } else if starts("unclosed inline table") {
        ("the curly bracket is not closed", "Close it with } on the same line.")
    } else if starts("unexpected key or value") {
        (
            "there is more on this line than one value",
            "Keep one value on the line: a number without its unit, and # before a remark.",
        )
    } else if starts("recursion limit") || starts("cannot recurse") {
        ("the lists or tables are nested too deeply", "Write the file like the one that `new` makes.")
    } else if NO_PLAIN_NUMBER.iter().any(|beginning| starts(beginning)) {
        (
            "this is no plain number, no text in quotes, and neither true nor false",
            "Write digits with a point, like 0.5 or 12.0, and no unit; put quotes around text.",
        )
    } else {
        ("this can't be read", "Write one key = value in a line, and # before a remark.")
    };
    (what.to_string(), to_do)
}
