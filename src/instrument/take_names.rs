//! Which fingering a take belongs to, by the name of its file.
//!
//! Must not know files, folders or sound; it sees names only.

use super::model::Fingering;
use super::spelling::folded;

/// What the recordings of the silent room are called.
const ROOM: &str = "room";

/// What may stand between a fingering's name and the rest of a take's name.
const SEPARATORS: [char; 3] = ['-', '_', ' '];

/// What a take is a recording of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TakeOf {
    /// Index of the fingering in the file's order.
    Fingering(usize),
    /// The silence of the room.
    Room,
    /// The name says nothing that the instrument file knows.
    Unknown,
}

/// Reads what a take belongs to from its file name without the extension, its stem.
///
/// A stem is a fingering's name, then nothing or anything after `-`, `_` or a space. Of several
/// names that fit, the longest wins: `Bb-1` is the note B♭−1 when there is such a fingering, and the
/// take 1 of `Bb` when not. Case makes no difference, nor `♯` for `#`, `♭` for `b`, `−` for `-`.
#[must_use]
pub fn take_of(stem: &str, fingerings: &[Fingering]) -> TakeOf {
    let stem = folded(stem.trim());
    let belongs_to = |name: &str| {
        stem.strip_prefix(name).is_some_and(|rest| rest.is_empty() || rest.starts_with(SEPARATORS))
    };
    let longest = fingerings
        .iter()
        .enumerate()
        .map(|(index, fingering)| (folded(fingering.name.trim()), index))
        .filter(|(name, _)| !name.is_empty() && belongs_to(name))
        .max_by_key(|(name, index)| (name.len(), std::cmp::Reverse(*index)));
    match longest {
        Some((_, index)) => TakeOf::Fingering(index),
        None if belongs_to(ROOM) => TakeOf::Room,
        None => TakeOf::Unknown,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Note;
    use proptest::prelude::*;

    fn fingerings(names: &[&str]) -> Vec<Fingering> {
        let note = Note { midi: 38 };
        names
            .iter()
            .map(|name| Fingering {
                name: (*name).into(),
                note,
                open: vec![],
                register: 1,
                cents: 0.0,
                weight: 1.0,
                leave: false,
            })
            .collect()
    }

    #[test]
    fn a_take_belongs_to_the_fingering_that_its_stem_names() {
        let known = fingerings(&["D2", "D2 fork", "F#2", "B♭1"]);
        for (stem, index) in [
            ("D2", 0),
            ("d2", 0),
            ("D2-2", 0),
            ("D2_second try", 0),
            ("D2 again", 0),
            ("D2 fork", 1),
            ("D2 fork-3", 1),
            ("D2 forks", 0),
            ("F♯2", 2),
            ("f#2-1", 2),
            ("Bb1", 3),
            ("bB1_x", 3),
        ] {
            assert_eq!(take_of(stem, &known), TakeOf::Fingering(index), "{stem}");
        }
    }

    #[test]
    fn a_dash_and_digit_belong_to_the_note_only_if_that_fingering_exists() {
        assert_eq!(take_of("Bb-1", &fingerings(&["Bb", "Bb-1"])), TakeOf::Fingering(1));
        assert_eq!(take_of("B♭−1-2", &fingerings(&["Bb", "Bb-1"])), TakeOf::Fingering(1));
        assert_eq!(take_of("Bb-1", &fingerings(&["Bb"])), TakeOf::Fingering(0));
        assert_eq!(take_of("Bb-12", &fingerings(&["Bb-1"])), TakeOf::Unknown);
    }

    #[test]
    fn the_silence_of_the_room_is_known_by_its_name() {
        let known = fingerings(&["D2"]);
        for stem in ["room", "Room", "room-2", "room_evening", "room 3"] {
            assert_eq!(take_of(stem, &known), TakeOf::Room, "{stem}");
        }
        assert_eq!(take_of("roomy", &known), TakeOf::Unknown);
    }

    #[test]
    fn names_that_only_begin_alike_are_not_mixed_up() {
        let known = fingerings(&["D2", "D20"]);
        for (stem, take) in [
            ("D21", TakeOf::Unknown),
            ("D20", TakeOf::Fingering(1)),
            ("E2", TakeOf::Unknown),
            ("", TakeOf::Unknown),
            ("-2", TakeOf::Unknown),
            ("D", TakeOf::Unknown),
        ] {
            assert_eq!(take_of(stem, &known), take, "{stem}");
        }
    }

    proptest! {
        #[test]
        fn any_name_with_any_ending_after_a_separator_is_its_own_take(
            name in "[A-G](#|b)?[0-9]",
            separator in "[-_ ]",
            // Digits would make another name longer only after a separator, so they may come too.
            ending in "[a-z0-9 ]{0,8}",
        ) {
            let known = fingerings(&["Z9", &name]);
            let stem = format!("{}{separator}{ending}", name.to_lowercase());
            prop_assert_eq!(take_of(&stem, &known), TakeOf::Fingering(1));
        }

        #[test]
        fn the_order_of_the_fingerings_never_changes_whose_take_it_is(
            stem in "[A-Ga-g](#|♯|b|♭)?-?[0-9]([-_ ][a-z0-9]{0,4})?",
        ) {
            let names = ["A-1", "A", "Bb-1", "Bb", "D2", "D2-2", "F#2", "F#"];
            let known = fingerings(&names);
            let turned: Vec<Fingering> = known.iter().rev().cloned().collect();
            let backward = match take_of(&stem, &turned) {
                TakeOf::Fingering(index) => TakeOf::Fingering(names.len() - 1 - index),
                other => other,
            };
            prop_assert_eq!(take_of(&stem, &known), backward);
        }

        #[test]
        fn no_name_whatever_stops_the_reading(stem in any::<String>(), name in any::<String>()) {
            // Folded alike, a name is its own take; an empty one names nothing.
            let own = take_of(&name, &fingerings(&[&name]));
            prop_assert_eq!(own == TakeOf::Fingering(0), !name.trim().is_empty());
            prop_assert_ne!(take_of(&stem, &fingerings(&[&name])), TakeOf::Fingering(1));
        }
    }
}
