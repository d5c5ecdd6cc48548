//! Laying out plain text in a terminal's width.
//!
//! Must not know what the text says.

use std::borrow::Cow;
use std::path::Path;

/// Width that every screen keeps to.
pub const COLUMNS: usize = 80;

/// A name or other text from outside for a terminal: what would move the cursor, change colours or turn the
/// direction of writing is shown as `\u{fffd}`. Line ends too, so that a file's name can't pass for a line of ours.
#[must_use]
pub fn visible(text: &str) -> Cow<'_, str> {
    let moves = |c: char| {
        c.is_control()
            || matches!(c, '\u{2028}' | '\u{2029}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
    };
    if !text.contains(moves) {
        return Cow::Borrowed(text);
    }
    Cow::Owned(text.chars().map(|c| if moves(c) { '\u{fffd}' } else { c }).collect())
}

/// The same for where a file lies.
#[must_use]
pub fn visible_path(path: &Path) -> String {
    visible(&path.to_string_lossy()).into_owned()
}

/// Breaks `text` at spaces so that no line passes [`COLUMNS`]; the first line starts with `first`, the
/// others with as many spaces.
#[must_use]
pub fn paragraph(first: &str, text: &str) -> String {
    hanging(first, text, first.chars().count())
}

/// The same with later lines indented by `indent` spaces, however long `first` is.
#[must_use]
pub fn hanging(first: &str, text: &str, indent: usize) -> String {
    broken(first, text, indent, COLUMNS)
}

/// The text in lines of at most `width` characters, broken at spaces that allow it; a longer word is shortened.
#[must_use]
pub fn lines(text: &str, width: usize) -> Vec<String> {
    broken("", text, 0, width).lines().map(|line| shortened(line, width)).collect()
}

fn broken(first: &str, text: &str, indent: usize, width: usize) -> String {
    let mut out = String::from(first);
    let mut column = first.chars().count();
    let mut at_start = true;
    let ends_word = |c: char| c.is_whitespace() && c != '\u{a0}';
    for word in text.split(ends_word).filter(|word| !word.is_empty()) {
        let length = word.chars().count();
        if !at_start && column + 1 + length > width {
            out.push('\n');
            out.extend(std::iter::repeat_n(' ', indent));
            column = indent;
            at_start = true;
        }
        if !at_start {
            out.push(' ');
            column += 1;
        }
        out.push_str(&visible(word));
        column += length;
        at_start = false;
    }
    out.push('\n');
    out
}

/// Pads to `width` characters on the right.
#[must_use]
pub fn left(text: &str, width: usize) -> String {
    let missing = width.saturating_sub(text.chars().count());
    format!("{text}{}", " ".repeat(missing))
}

/// Pads to `width` characters on the left.
#[must_use]
pub fn right(text: &str, width: usize) -> String {
    let missing = width.saturating_sub(text.chars().count());
    format!("{}{text}", " ".repeat(missing))
}

/// At most `width` characters of `text`; an ellipsis stands for what is left out.
#[must_use]
pub fn shortened(text: &str, width: usize) -> String {
    if text.chars().count() <= width {
        return text.to_string();
    }
    let kept: String = text.chars().take(width.saturating_sub(1)).collect();
    format!("{kept}…")
}

/// `+12.3`, `-4.0`, or a dash when unknown.
#[must_use]
pub fn signed(value: Option<f64>) -> String {
    value.map_or_else(|| "–".to_string(), |v| format!("{v:+.1}").replace("-0.0", "+0.0"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_line_passes_the_screen_and_no_word_is_lost() {
        let text = "press the pad of h3 hard and play the affected notes again ".repeat(8);
        let out = paragraph("  Next: ", &text);
        assert!(out.lines().all(|line| line.chars().count() <= COLUMNS));
        assert_eq!(out.split_whitespace().count(), text.split_whitespace().count() + 1);
    }

    #[test]
    fn a_line_ends_neither_at_a_space_that_holds_together_nor_beyond_its_width() {
        assert_eq!(lines("G3.wav: 197\u{a0}Hz (G3\u{a0}+10)", 16), ["G3.wav: 197\u{a0}Hz", "(G3\u{a0}+10)"]);
        assert_eq!(lines("a word of_no_end_at_all", 8), ["a word", "of_no_e…"]);
    }

    #[test]
    fn a_long_head_leaves_the_later_lines_where_they_belong() {
        let out = hanging("  98 % hole h5: ", &"measure it before you change anything ".repeat(4), 7);
        assert!(out.lines().all(|line| line.chars().count() <= COLUMNS));
        let indents = out.lines().skip(1).map(|line| line.len() - line.trim_start().len());
        assert!(indents.eq([7, 7]), "{out}");
    }
}
