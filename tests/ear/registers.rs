//! A note of another register than the expected one is told as what it is.

use std::f64::consts::TAU;

use crate::{RATE_HZ, cents_off, full, odd, take};
use borescribe::analysis::measure::{Settings, measure};
use borescribe::analysis::measurement::Measurement;
use borescribe::audio::take::Take;

fn expecting(take: &Take, hz: f64) -> Measurement {
    measure(take, &Settings { expect_hz: Some(hz), ..Settings::default() }, None)
}

/// Mains hum of 50.02 Hz and its multiples, amplitudes against the note's.
fn with_hum(mut take: Take, amplitudes: &[f64]) -> Take {
    for (i, sample) in take.samples.iter_mut().enumerate() {
        let t = i as f64 / RATE_HZ;
        let hum = amplitudes.iter().zip(1..).map(|(a, n)| a * (TAU * 50.02 * f64::from(n) * t).sin());
        *sample += 0.1 * hum.sum::<f64>();
    }
    take
}

#[test]
fn a_note_that_fell_is_not_read_as_its_third_partial_near_which_the_wanted_note_lies() {
    let hz = 96.35;
    for partials in [odd(hz, 1.0), full(hz, 1.0)] {
        let found = expecting(&take(hz, 2.0, &partials, 1e-4), 262.2);
        assert!(cents_off(&found, hz).abs() < 0.1, "{:?}", found.pitch_hz);
        assert_eq!((found.expectation_met, found.unasked), (Some(false), None));
        assert_eq!(found.undertones, [], "its own partials are no undertones");
    }
}

#[test]
fn a_note_that_speaks_over_a_strong_undertone_stays_the_wanted_one_and_the_other_reading_is_told() {
    let hz = 289.2;
    let mut partials = full(hz, 1.0);
    partials.extend([(0.5, 0.9), (1.5, 0.1), (2.5, 0.1)]);
    let found = expecting(&take(hz, 2.0, &partials, 1e-4), hz);
    assert!(cents_off(&found, hz).abs() < 0.1, "{:?}", found.pitch_hz);
    let unasked = found.unasked.unwrap();
    assert!((unasked.hz - hz / 2.0).abs() < 0.1, "{unasked:?}");
    assert!((-6.0..0.0).contains(&unasked.left_out_db), "{unasked:?}");
}

#[test]
fn a_note_that_jumped_in_mains_hum_is_not_read_as_a_fifth_or_seventh_of_its_pitch() {
    for (times, below_hz) in [(5.0, 49.3), (5.0, 33.1), (7.0, 49.3), (5.0, 57.0)] {
        let hz = times * below_hz;
        let jumped =
            with_hum(take(hz, 2.0, &full(hz, 1.0), 1e-4), &[0.5, 0.3, 0.3, 0.1, 0.2, 0.05, 0.1, 0.03]);
        for expected_hz in [below_hz, below_hz * 1.03] {
            let found = expecting(&jumped, expected_hz);
            assert!(cents_off(&found, hz).abs() < 1.0, "{expected_hz}: {:?}", found.pitch_hz);
            assert_eq!(found.expectation_met, Some(false));
        }
    }
}

#[test]
fn a_low_note_through_a_phone_that_keeps_its_upper_partials_stays_what_it_is() {
    let hz = 31.2;
    // A small microphone: partials under 150 Hz are lost, the fifth is strongest.
    let through_phone = |partials: Vec<(f64, f64)>| -> Vec<(f64, f64)> {
        let kept = partials.into_iter().filter(|(n, _)| n * hz > 150.0);
        kept.map(|(n, amplitude)| (n, if n == 5.0 { 5.0 * amplitude } else { amplitude })).collect()
    };
    for partials in [full(hz, 1.0), odd(hz, 1.0)] {
        let found = expecting(&take(hz, 2.0, &through_phone(partials), 1e-4), 31.8);
        assert!(cents_off(&found, hz).abs() < 0.1, "{:?}", found.pitch_hz);
        assert_eq!(found.expectation_met, Some(true));
    }
}
