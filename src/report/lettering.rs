//! How wide words are in a drawing, in letters of mean width: an estimate, since every machine has its own sans serif.
//!
//! Must not know what is drawn.

use crate::report::layout::shortened;

/// The words, shortened where they are wider than `most` mean letters.
pub(super) fn fitted(words: &str, most: f64) -> String {
    let fits = |count: &usize| letters(&shortened(words, *count)) <= most;
    let longest = (1..=words.chars().count()).rev().find(fits).unwrap_or(1);
    shortened(words, longest)
}

/// Width of the words in mean letters; signs of the Far East are square.
pub(super) fn letters(words: &str) -> f64 {
    let width = |c: char| match c {
        'i' | 'j' | 'l' | 'f' | 't' | 'I' | ' ' | '.' | ',' | ':' | '\'' | '|' => 0.6,
        'm' | 'w' | 'M' | 'W' | '@' | '%' => 1.8,
        c if c.is_uppercase() => 1.3,
        '\u{2e80}'.. => 2.0,
        _ => 1.0,
    };
    words.chars().map(width).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn broad_names_are_cut_sooner_than_narrow_ones_and_short_ones_stay_whole() {
        assert_eq!(fitted("h1, vent", 16.0), "h1, vent");
        assert_eq!(fitted(&"W".repeat(40), 10.0), "WWWWW…");
        assert_eq!(fitted(&"i".repeat(40), 10.0).chars().count(), 16);
        assert_eq!(fitted("", 10.0), "");
    }
}
