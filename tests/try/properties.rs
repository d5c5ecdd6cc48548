//! What must hold for any change.

use borescribe::instrument::alter::Altered;
use borescribe::instrument::change::parse;
use borescribe::instrument::file;
use borescribe::instrument::model::Instrument;
use borescribe::instrument::prediction::predict;
use borescribe::instrument::trial::{Trial, try_changes};
use proptest::prelude::*;

use super::TUBE;

fn tube() -> Instrument {
    file::parse(TUBE).unwrap()
}

fn tried(changes: &[String]) -> Trial {
    let instrument = tube();
    let changes: Vec<_> = changes.iter().map(|text| parse(&instrument, text).unwrap()).collect();
    try_changes(&instrument, &changes).unwrap()
}

fn after_hz(trial: &Trial) -> Vec<f64> {
    trial.notes.iter().map(|note| note.wanted.after_hz.unwrap()).collect()
}

fn close(a: &[f64], b: &[f64]) -> bool {
    a.len() == b.len() && a.iter().zip(b).all(|(a, b)| (a / b - 1.0).abs() < 1e-7)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]

    #[test]
    fn following_a_note_ends_where_a_fresh_search_finds_it(
        h1 in 8.0..13.0f64, h2 in 9.0..14.0f64, lift in 3.0..6.0f64, end in -20.0..40.0f64, top in -20.0..20.0f64,
        celsius in 12.0..32.0f64,
    ) {
        let trial = tried(&[
            format!("h1.diameter={h1}"), format!("h2.diameter={h2}"), format!("h2.lift={lift}"),
            format!("end.trim={end}"), format!("top.trim={top}"), format!("air.temperature={celsius}"),
        ]);
        let fresh = predict(&trial.after.instrument);
        let fresh: Vec<f64> = trial.notes.iter().map(|note| fresh[note.fingering].predicted_hz.unwrap()).collect();
        prop_assert!(close(&after_hz(&trial), &fresh));
    }

    #[test]
    fn a_change_in_two_parts_is_the_same_as_at_once(part in 0.1..2.0f64, rest in 0.1..2.0f64) {
        let both = (part * 1e6).round() / 1e6 + (rest * 1e6).round() / 1e6;
        for (what, sign) in [("h2.diameter", "+="), ("h2.at", "-="), ("end.trim", "="), ("top.trim", "=")] {
            let parts = tried(&[format!("{what}{sign}{part:.6}"), format!("{what}{sign}{rest:.6}")]);
            let once = tried(&[format!("{what}{sign}{both:.6}")]);
            prop_assert!(close(&after_hz(&parts), &after_hz(&once)), "{what}");
        }
    }

    #[test]
    fn trimming_the_top_keeps_every_distance_from_the_open_end(mm in -100.0..150.0f64) {
        let before = tube();
        let change = parse(&before, &format!("top.trim={mm}")).unwrap();
        let start = Altered::unchanged(&before);
        let after = start.after(&start.settle(&change).unwrap(), 1.0).instrument;
        prop_assert!(after.bore[0].at_mm == 0.0);
        for (was, is) in before.holes.iter().zip(&after.holes) {
            let from_end = |tube: &Instrument, at_mm: f64| tube.length_mm() - at_mm;
            prop_assert!((from_end(&before, was.at_mm) - from_end(&after, is.at_mm)).abs() < 1e-9);
        }
    }

    #[test]
    fn pulling_the_mouthpiece_out_is_the_opposite_of_trimming_the_top(mm in -150.0..100.0f64) {
        let tube = tube();
        let after = |text: String| {
            let start = Altered::unchanged(&tube);
            start.after(&start.settle(&parse(&tube, &text).unwrap()).unwrap(), 1.0)
        };
        prop_assert_eq!(after(format!("mouthpiece.out={mm}")), after(format!("top.trim={}", -mm)));
    }

    #[test]
    fn a_longer_tube_is_never_sharper(end in 0.0..200.0f64) {
        let trial = tried(&[format!("end.trim={}", -end)]);
        let whole = &trial.notes[0].wanted;
        prop_assert!(whole.after_hz.unwrap() <= whole.before_hz.unwrap());
    }

    #[test]
    fn no_text_makes_the_reader_stumble(text in ".{0,60}", number in "[-+0-9.eE,−]{0,12}") {
        let instrument = tube();
        let _ = parse(&instrument, &text);
        for start in
            ["h2.diameter=", "h2.pad=", "end.trim-=", "leak.post 4=", "top.trim=", "mouthpiece.out="]
        {
            if let Ok(change) = parse(&instrument, &format!("{start}{number}")) {
                let _ = try_changes(&instrument, &[change]);
            }
        }
    }
}
