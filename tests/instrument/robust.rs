//! No text stops the reading: it gives an instrument or problems, quickly.

use std::time::{Duration, Instant};

use borescribe::instrument::file::parse;
use proptest::prelude::*;

use super::WHOLE;

/// What every answer must keep: a sound instrument, or problems whose places are in the text.
fn assert_sound(text: &str) {
    match parse(text) {
        Ok(instrument) => {
            assert!(instrument.bore.len() >= 2 && instrument.length_mm() > 0.0);
            let numbers = instrument.holes.iter().flat_map(|h| [h.at_mm, h.diameter_mm, h.chimney_mm]);
            assert!(numbers.chain(instrument.workshop.drills_mm.clone()).all(f64::is_finite));
            for fingering in &instrument.fingerings {
                assert!(fingering.open.iter().all(|&hole| hole < instrument.holes.len()));
                assert!((1..=12).contains(&fingering.register));
            }
        }
        Err(problems) => {
            assert!(!problems.is_empty());
            let lines = text.matches('\n').count() + 1;
            for problem in problems {
                assert!((1..=lines).contains(&problem.line) && problem.column >= 1);
                assert!(!problem.what.is_empty() && !problem.to_do.is_empty());
                assert!(!problem.to_string().is_empty());
            }
        }
    }
}

proptest! {
    #[test]
    fn no_text_whatever_stops_the_reading(text in any::<String>()) {
        assert_sound(&text);
    }

    #[test]
    fn no_text_of_the_files_own_signs_stops_the_reading(
        text in "([a-z_]{1,9}( = |\\.)?|[0-9,.e+-]{1,5}|\\[{1,2}[a-z_]{1,9}\\]{0,2}|[\"'#{}\\[\\],=\n ]|nan|inf|true|É♭){0,40}",
    ) {
        assert_sound(&text);
    }

    #[test]
    fn no_slip_in_a_good_file_stops_the_reading(
        at in 0..WHOLE.chars().count(),
        dropped in 0_usize..30,
        added in "([0-9]{1,3}|[\"'#\\[\\]{}=,.\n]|-|nan|1e999|0x10|true|[a-z]{1,6}| |é){0,4}",
    ) {
        let text: String = WHOLE
            .chars()
            .take(at)
            .chain(added.chars())
            .chain(WHOLE.chars().skip(at + dropped))
            .collect();
        assert_sound(&text);
    }

    #[test]
    fn no_exchanged_value_in_a_good_file_stops_the_reading(
        line in 0..WHOLE.lines().count(),
        value in prop::sample::select(vec![
            "-1", "0", "1e300", "-inf", "nan", "9223372036854775808", "0xffffffffffffffffff", "\"9,5 mm\"",
            "[]", "[1, \"a\", [2]]", "{ a = 1 }", "true", "1979-05-27", "\"\"", "\"room\"", "1e-300",
        ]),
    ) {
        let text: Vec<String> = WHOLE
            .lines()
            .enumerate()
            .map(|(index, kept)| match kept.split_once('=') {
                Some((key, _)) if index == line => format!("{key}= {value}"),
                _ => kept.to_string(),
            })
            .collect();
        assert_sound(&text.join("\n"));
    }
}

#[test]
fn a_hostile_file_of_full_size_is_answered_in_seconds() {
    let megabytes = |piece: &str| piece.repeat(4 * 1024 * 1024 / piece.len());
    let numbered: String = (0..150_000).map(|n| format!("[[hole]]\nname = \"h{n}\"\n")).collect();
    let unknown: String = (0..200_000).map(|n| format!("diamter_{n} = 1\n")).collect();
    let texts = [
        megabytes("["),
        format!("a = {}", megabytes("[")),
        format!("a = {}", megabytes("{a=")),
        format!("{}a = 1", megabytes("a.")),
        megabytes("[[bore]]\n"),
        megabytes("x"),
        megabytes("= 1,5\n"),
        megabytes("\"\"\""),
        format!("format = 1\nname = [{}]", megabytes("1,")),
        format!("format = 1\n[[fingering]]\nopen = [{}]", megabytes("\"h1\",")),
        numbered,
        unknown,
    ];
    for text in texts {
        let begin = Instant::now();
        assert_sound(&text);
        let taken = begin.elapsed();
        let head: String = text.chars().take(20).collect();
        assert!(taken < Duration::from_secs(10), "{head:?} took {taken:?}");
    }
}
