//! Instruments at and between the limits of every key: a finite answer, or an error.

use borescribe::instrument::file::parse;
use proptest::prelude::*;

use crate::finite::assert_finite;
use crate::odd_files::{Dice, file};

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

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
