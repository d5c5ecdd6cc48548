//! A number that was written as text, with its unit: inches and their fractions, centimetres, cubic millimetres. Read so
//! that the maker can be told what to write, never taken for it: the keys say their unit.
//!
//! Must not know keys.

use super::problem::plain;

/// What a text says in the unit of its key.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Meant {
    /// This number, in the key's own unit.
    Number(String),
    /// Another unit: the quantity as it should have been written (`18 1/2 in`), and the number in the key's unit.
    Converted(String, String),
}

/// Units that are taken for each unit of a key, and how much of it one is.
const UNITS: [(&str, &[(&str, f64)]); 2] = [
    (
        "mm",
        &[
            ("in", 25.4),
            ("inch", 25.4),
            ("inches", 25.4),
            ("\"", 25.4),
            ("″", 25.4),
            ("”", 25.4),
            ("''", 25.4),
            ("ft", 304.8),
            ("cm", 10.0),
            ("m", 1000.0),
        ],
    ),
    (
        "ml",
        &[
            ("mm³", 1e-3),
            ("mm3", 1e-3),
            ("mm^3", 1e-3),
            ("l", 1000.0),
            ("cl", 10.0),
            ("cm³", 1.0),
            ("cm3", 1.0),
            ("cm^3", 1.0),
            ("cc", 1.0),
            ("g", 1.0),
        ],
    ),
];

/// Fractions that are one character.
const FRACTIONS: [(char, &str); 7] =
    [('½', "1/2"), ('¼', "1/4"), ('¾', "3/4"), ('⅛', "1/8"), ('⅜', "3/8"), ('⅝', "5/8"), ('⅞', "7/8")];

/// What `text` means for a key in `unit`; `None` when that can't be told.
pub(super) fn meant(text: &str, unit: &str) -> Option<Meant> {
    let mut spelled = text.trim().to_string();
    for (character, written) in FRACTIONS {
        spelled = spelled.replace(character, &format!(" {written}"));
    }
    let is_of_number = |c: char| c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+' | '/' | ' ');
    let end = spelled.find(|c: char| !is_of_number(c)).unwrap_or(spelled.len());
    let (number, rest) = (spelled[..end].trim(), spelled[end..].trim().trim_end_matches('.').to_lowercase());
    let value = value(number)?;
    let others = UNITS.iter().find(|(own, _)| *own == unit).map_or(&[][..], |(_, others)| others);
    // A fraction of a length without its unit is one of inches.
    let rest = if rest.is_empty() && number.contains('/') && unit == "mm" { "in".to_string() } else { rest };
    match others.iter().find(|(name, _)| *name == rest) {
        Some((_, times)) => {
            let converted = plain((value * times * 1000.0).round() / 1000.0);
            let joint = if rest.starts_with(char::is_alphabetic) { " " } else { "" };
            Some(Meant::Converted(format!("{}{joint}{rest}", single_spaced(number)), converted))
        }
        // A second number in what follows could be meant as well.
        None if rest.contains(|c: char| c.is_ascii_digit()) || number.contains('/') => None,
        None => Some(Meant::Number(plain(value))),
    }
}

fn single_spaced(number: &str) -> String {
    number.split_whitespace().collect::<Vec<&str>>().join(" ")
}

/// `18`, `18.5`, `18,5`, `1/2`, `18 1/2` or `18-1/2`.
fn value(number: &str) -> Option<f64> {
    let plain_number = |text: &str| text.replace(',', ".").parse::<f64>().ok();
    let Some((before, below)) = number.split_once('/') else { return plain_number(number) };
    let below = plain_number(below.trim()).filter(|below| *below > 0.0)?;
    let before = before.trim();
    match before.rsplit_once([' ', '-']) {
        Some((whole, above)) => Some(plain_number(whole.trim())? + plain_number(above)? / below),
        None => Some(plain_number(before)? / below),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn converted(text: &str, unit: &str) -> Option<(String, String)> {
        match meant(text, unit) {
            Some(Meant::Converted(written, number)) => Some((written, number)),
            _ => None,
        }
    }

    #[test]
    fn inches_and_their_fractions_are_told_in_millimetres() {
        for (text, written, mm) in [
            ("18 1/2 in", "18 1/2 in", "469.9"),
            ("18.5 in", "18.5 in", "469.9"),
            ("18-1/2\"", "18-1/2\"", "469.9"),
            ("18½ inches", "18 1/2 inches", "469.9"),
            ("18 1/2", "18 1/2 in", "469.9"),
            ("3/8 in.", "3/8 in", "9.525"),
            ("46,1 cm", "46,1 cm", "461"),
        ] {
            assert_eq!(converted(text, "mm"), Some((written.into(), mm.into())), "{text}");
        }
        assert_eq!(converted("12500 mm³", "ml"), Some(("12500 mm³".into(), "12.5".into())));
    }

    #[test]
    fn a_number_in_the_keys_own_unit_stays_and_what_can_mean_two_things_means_none() {
        assert_eq!(meant("505,5 mm", "mm"), Some(Meant::Number("505.5".into())));
        assert_eq!(meant("24 °C", "°C"), Some(Meant::Number("24".into())));
        for text in ["505 or 506", "about 5", "1/0 in", "", "18 1/2 furlongs", "1 2 3"] {
            assert_eq!(meant(text, "mm"), None, "{text}");
        }
    }
}
