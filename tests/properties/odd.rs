//! Instruments at and between the limits of every key: a finite answer, or an error.

use borescribe::instrument::change;
use borescribe::instrument::file::parse;
use borescribe::instrument::trial::try_changes;
use proptest::prelude::*;

use crate::finite::assert_finite;
use crate::odd_files::{Dice, file};

proptest! {
    #![proptest_config(ProptestConfig { cases: 32, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_valid_file_gives_a_finite_answer(bytes in prop::collection::vec(any::<u8>(), 20..300)) {
        if let Ok(instrument) = parse(&file(&mut Dice(&bytes))) {
            assert_finite(&instrument);
        }
    }
}

#[test]
fn odd_files_are_mostly_valid() {
    let mut seed = 1_u64;
    let mut valid = 0;
    for _ in 0..400 {
        let bytes: Vec<u8> = (0..300)
            .map(|_| {
                seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                (seed >> 56) as u8
            })
            .collect();
        valid += usize::from(parse(&file(&mut Dice(&bytes))).is_ok());
    }
    assert!(valid > 200, "{valid} of 400 are valid");
}

/// A bore of a straw's width, and what hangs on it.
fn straw(reed_ml: &str, hole_mm: &str) -> String {
    format!(
        "format = 1\n[instrument]\nname = \"x\"\nprototype = \"P1\"\ndrive = \"reed\"\n[mouthpiece]\nchamber_ml = 0.1\n\
         reed_ml = {reed_ml}\n[[bore]]\nat_mm = 0.0\ndiameter_mm = 1.0\n[[bore]]\nat_mm = 19999.0\ndiameter_mm = 60.0\n\
         [[hole]]\nname = \"h1\"\nat_mm = 900.0\ndiameter_mm = {hole_mm}\nchimney_mm = 500.0\n\
         [[fingering]]\nname = \"C3\"\nopen = []\n[[fingering]]\nname = \"D3\"\nopen = [\"h1\"]\nregister = 12\n"
    )
}

/// Found by fuzzing: a search as far as the bore's own waves reach took minutes, and a give of many times the tube
/// made its steps as many times finer.
#[test]
fn a_straw_without_resonances_is_answered_in_seconds() {
    for reed_ml in ["0.0", "200.0"] {
        let instrument = parse(&straw(reed_ml, "0.1")).unwrap();
        let begin = std::time::Instant::now();
        assert_finite(&instrument);
        assert!(begin.elapsed().as_secs() < 20, "{:?}", begin.elapsed());
    }
}

/// Found by fuzzing: waves in a hole of a millionth of a millimetre are damped beyond any number.
#[test]
fn holes_and_leaks_of_next_to_no_size_make_no_note_vanish() {
    let problems = parse(&straw("0.0", "1e-6")).unwrap_err();
    assert!(problems[0].to_string().contains("0.1"), "{}", problems[0]);
    let bittern = crate::common::bittern();
    for leak_mm in ["1e-6", "0.0001", "0.01"] {
        let change = change::parse(&bittern, &format!("leak.h3={leak_mm}")).unwrap();
        for note in try_changes(&bittern, &[change]).unwrap().notes {
            let cents = note.wanted.change_cents().unwrap();
            assert!(cents.abs() < 1e-3, "{leak_mm}: {cents}");
        }
    }
}
