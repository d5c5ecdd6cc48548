//! The known word that was meant by an unknown one, and when two names are one.
//!
//! Must not know what the words mean.

/// A name as it is compared: case doesn't matter, `♯` is `#`, `♭` is `b`, `−` is `-`.
///
/// Character by character, so that the beginning of a name folds to the beginning of its fold.
pub(crate) fn folded(name: &str) -> String {
    name.chars()
        .flat_map(char::to_lowercase)
        .map(|c| match c {
            '♯' => '#',
            '♭' => 'b',
            '−' => '-',
            other => other,
        })
        .collect()
}

/// The known word nearest to `word`, when it is near enough to be what was meant.
pub(crate) fn nearest<'k>(word: &str, known: impl IntoIterator<Item = &'k str>) -> Option<&'k str> {
    const LONGEST: usize = 80;
    let word: Vec<char> = folded(word).chars().take(LONGEST).collect();
    let allowed = (word.len() / 3).clamp(1, 3);
    known
        .into_iter()
        .map(|candidate| {
            let letters: Vec<char> = folded(candidate).chars().take(LONGEST).collect();
            (edits_between(&word, &letters), candidate)
        })
        .filter(|(edits, candidate)| *edits <= allowed && *edits < candidate.chars().count())
        .min_by_key(|(edits, _)| *edits)
        .map(|(_, candidate)| candidate)
}

/// Letters to add, drop, replace or swap with their neighbour to turn one word into the other:
/// the optimal string alignment distance (from memory).
fn edits_between(a: &[char], b: &[char]) -> usize {
    let mut two_back: Vec<usize> = Vec::new();
    let mut back: Vec<usize> = (0..=b.len()).collect();
    for (i, letter) in a.iter().enumerate() {
        let mut row = vec![i + 1];
        for (j, other) in b.iter().enumerate() {
            let replaced = back[j] + usize::from(letter != other);
            let mut edits = replaced.min(back[j + 1] + 1).min(row[j] + 1);
            if i > 0 && j > 0 && *letter == b[j - 1] && a[i - 1] == *other {
                edits = edits.min(two_back[j - 1] + 1);
            }
            row.push(edits);
        }
        two_back = std::mem::replace(&mut back, row);
    }
    back[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_of_the_finger_finds_the_word_that_was_meant() {
        let known = ["at_mm", "diameter_mm", "chimney_mm", "pad_lift_mm"];
        for (slip, meant) in [
            ("diamter_mm", "diameter_mm"),
            ("chimeny_mm", "chimney_mm"),
            ("AT_MM", "at_mm"),
            ("a_mm", "at_mm"),
        ] {
            assert_eq!(nearest(slip, known), Some(meant), "{slip}");
        }
    }

    #[test]
    fn a_word_that_is_like_none_suggests_none() {
        assert_eq!(nearest("colour", ["at_mm", "diameter_mm"]), None);
        assert_eq!(nearest("", ["h1"]), None);
        assert_eq!(nearest("x", ["a", "b"]), None);
    }

    #[test]
    fn swapped_neighbours_are_one_edit() {
        let chars = |text: &str| text.chars().collect::<Vec<_>>();
        assert_eq!(edits_between(&chars("pots"), &chars("post")), 1);
        assert_eq!(edits_between(&chars(""), &chars("post")), 4);
        assert_eq!(edits_between(&chars("h1"), &chars("h1")), 0);
    }

    #[test]
    fn sharps_and_case_make_no_difference_between_names() {
        assert_eq!(folded("F♯2 Lang"), folded("f#2 lang"));
        assert_eq!(folded("B♭−1"), folded("Bb-1"));
    }
}
