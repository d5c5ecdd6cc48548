//! Text that a page or a drawing may hold: nothing in it can act, and a name that runs from right to left
//! doesn't turn the words round it.
//!
//! Must not know what the text says, nor how a page is written.

/// Control characters, signs that turn the direction of what follows them, and what is no character stand
/// as "�". Line breaks stay.
#[must_use]
pub fn printable(text: &str) -> String {
    text.chars().map(|c| if acts(c) { '\u{fffd}' } else { c }).collect()
}

fn acts(c: char) -> bool {
    let turns =
        matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    turns || (c.is_control() && c != '\n') || matches!(c, '\u{fffe}' | '\u{ffff}')
}

/// Printable text with each right-to-left part between U+2068 and U+2069, for places that know no markup.
#[must_use]
pub fn isolated(text: &str) -> String {
    let text = printable(text);
    let mut out = String::with_capacity(text.len());
    for (part, right_to_left) in parts(&text) {
        if right_to_left {
            out.push_str(&format!("\u{2068}{part}\u{2069}"));
        } else {
            out.push_str(part);
        }
    }
    out
}

/// The text in parts, each with whether it runs from right to left. Such a part begins and ends with a word
/// that holds a letter of such a script, without the signs round it that belong to the sentence.
#[must_use]
pub fn parts(text: &str) -> Vec<(&str, bool)> {
    let mut spans: Vec<(usize, usize)> = Vec::new();
    let mut joins = false;
    for (start, word) in words(text) {
        let core = word.trim_matches(sentence_sign);
        if !core.chars().any(is_right_to_left) {
            joins = false;
            continue;
        }
        let from = start + (word.len() - word.trim_start_matches(sentence_sign).len());
        let to = from + core.len();
        match spans.last_mut().filter(|_| joins && from == start) {
            Some(last) => last.1 = to,
            None => spans.push((from, to)),
        }
        joins = to == start + word.len();
    }
    let mut parts = Vec::new();
    let mut at = 0;
    for (from, to) in spans {
        parts.extend([(text.get(at..from), false), (text.get(from..to), true)]);
        at = to;
    }
    parts.push((text.get(at..), false));
    parts
        .into_iter()
        .filter_map(|(part, turned)| Some((part.filter(|part| !part.is_empty())?, turned)))
        .collect()
}

/// A sign at a word's edge that belongs to the sentence, not to a name.
fn sentence_sign(c: char) -> bool {
    !c.is_alphanumeric() && !matches!(c, '-' | '_' | '#')
}

/// The words with where they start.
fn words(text: &str) -> impl Iterator<Item = (usize, &str)> {
    let mut start = 0;
    text.split_inclusive(char::is_whitespace).filter_map(move |piece| {
        let from = start;
        start += piece.len();
        let word = piece.trim_end();
        (!word.is_empty()).then_some((from, word))
    })
}

/// Blocks whose letters run from right to left (Hebrew, Arabic and their neighbours): the ranges that
/// Unicode's DerivedBidiClass.txt gives to R and AL, from memory.
fn is_right_to_left(c: char) -> bool {
    matches!(c, '\u{590}'..='\u{8ff}' | '\u{fb1d}'..='\u{fdff}' | '\u{fe70}'..='\u{fefe}'
        | '\u{10800}'..='\u{10fff}' | '\u{1e800}'..='\u{1efff}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_from_right_to_left_is_set_apart_from_the_sentence() {
        let sentence = "Hole \u{5d7}\u{5d5}\u{5e8}5 acts 1.8 mm too big.";
        let told = parts(sentence);
        assert_eq!(
            told,
            [("Hole ", false), ("\u{5d7}\u{5d5}\u{5e8}5", true), (" acts 1.8 mm too big.", false)]
        );
        // Two words of one name stay one, two names in a list stay two.
        let names = "\u{5d7} \u{5d5}, \u{5e8}.";
        assert_eq!(parts(names), [("\u{5d7} \u{5d5}", true), (", ", false), ("\u{5e8}", true), (".", false)]);
        assert_eq!(isolated("(\u{5d7})"), "(\u{2068}\u{5d7}\u{2069})");
    }

    #[test]
    fn no_sign_of_direction_from_a_file_is_left() {
        assert_eq!(printable("a\u{202e}b\u{2067}c\u{200f}d\u{0}"), "a�b�c�d�");
        assert_eq!(parts("plain h5, F#4 ♭"), [("plain h5, F#4 ♭", false)]);
    }
}
