//! Troubles of a recording are told when they are there, and not when they are not.

use std::f64::consts::TAU;

use borescribe::analysis::measurement::{Measurement, TroubleCode};
use borescribe::audio::take::{Origin, Take};

use crate::{Noise, RATE_HZ, blind, odd, take};

fn has(found: &Measurement, code: TroubleCode) -> bool {
    found.troubles.iter().any(|trouble| trouble.code == code)
}

/// A note of `hz` from 1 s to 4 s in a room: `tail_s` is the time in which it dies away by 60 dB, `gain` what
/// the recorder does to the room's noise at each time.
fn in_room(hz: f64, tail_s: f64, seed: u64, gain: impl Fn(f64) -> f64) -> Take {
    let mut scatter = Noise(seed);
    let partials = odd(hz, 1.0);
    let samples = (0..(7.0 * RATE_HZ) as usize)
        .map(|i| {
            let t = i as f64 / RATE_HZ;
            // 60 dB are a thousandth of the amplitude.
            let dies = if t > 4.0 { 1000f64.powf(-(t - 4.0) / tail_s) } else { 1.0 };
            let shape = ((t - 1.0) / 0.05).clamp(0.0, 1.0) * dies;
            let tone: f64 = partials.iter().map(|(n, a)| a * (TAU * n * hz * t).sin()).sum();
            0.1 * shape * tone + 1e-4 * gain(t) * scatter.next()
        })
        .collect();
    Take { samples, rate_hz: RATE_HZ, begins_s: 0.0, origin: Origin { peak: 0.2, ..Origin::default() } }
}

const PITCHES_HZ: [f64; 6] = [25.0, 41.0, 73.0, 130.0, 220.0, 440.0];

#[test]
fn a_recorder_that_turns_itself_down_is_told_by_the_background_after_the_note() {
    for (seed, hz) in (1..).zip(PITCHES_HZ) {
        // Ten and fourteen dB down while the note sounds, back within one or two seconds.
        for (down_db, back_s) in [(10.0, 1.0), (14.0, 2.0)] {
            let pumped = in_room(hz, 0.3, seed, |t| {
                let left = if t < 1.0 { 0.0 } else { (1.0 - (t - 4.3) / back_s).clamp(0.0, 1.0) };
                10f64.powf(-down_db * left / 20.0)
            });
            assert!(has(&blind(&pumped), TroubleCode::Pumping), "{hz} Hz, {down_db} dB");
        }
    }
}

#[test]
fn an_even_background_is_no_pumping_and_neither_is_a_gust_before_the_note() {
    for (seed, hz) in (1..).zip(PITCHES_HZ) {
        assert!(!has(&blind(&in_room(hz, 0.3, seed, |_| 1.0)), TroubleCode::Pumping), "{hz} Hz");
        // Rustling for a third of a second while the player takes a breath.
        let rustled = in_room(hz, 0.3, seed, |t| if (0.3..0.6).contains(&t) { 5.0 } else { 1.0 });
        assert!(!has(&blind(&rustled), TroubleCode::Pumping), "{hz} Hz, rustled");
        // Two dB of change are the room's own.
        let drifting = in_room(hz, 0.3, seed, |t| 10f64.powf(-2.0 * t / 7.0 / 20.0));
        assert!(!has(&blind(&drifting), TroubleCode::Pumping), "{hz} Hz, drifting");
    }
}

#[test]
fn a_room_that_rings_on_is_told_from_one_second_on() {
    for (seed, hz) in (1..).zip(PITCHES_HZ) {
        for (tail_s, is_told) in [(0.2, false), (0.5, false), (0.8, false), (1.3, true), (2.0, true)] {
            let rings_on = in_room(hz, tail_s, seed, |_| 1.0);
            let mut stopped = rings_on.clone();
            // The recorder is stopped 0.6 s after the note.
            stopped.samples.truncate((4.6 * RATE_HZ) as usize);
            for room in [rings_on, stopped] {
                let found = blind(&room);
                assert_eq!(
                    has(&found, TroubleCode::Reverb),
                    is_told,
                    "{hz} Hz, {tail_s} s: {:?}",
                    found.troubles
                );
            }
        }
    }
}

/// A note whose pitch is `cents` off at each time, 3 s long.
fn moving(hz: f64, cents: impl Fn(f64) -> f64) -> Measurement {
    let mut note = take(hz, 3.0, &[], 1e-4);
    let mut phase = 0.0;
    for (i, sample) in note.samples.iter_mut().enumerate() {
        let t = i as f64 / RATE_HZ - 0.25;
        phase += hz * (cents(t) / 1200.0).exp2() / RATE_HZ;
        let shape = (t.min(3.0 - t) / 0.05).clamp(0.0, 1.0);
        let tone: f64 = (0..5).map(|k| f64::from(2 * k + 1)).map(|n| (TAU * n * phase).sin() / n).sum();
        *sample += 0.1 * shape * tone;
    }
    blind(&note)
}

#[test]
fn an_even_drift_is_told_with_its_slope_and_its_mean_is_that_of_the_steady_part() {
    for hz in PITCHES_HZ {
        for slope in [-12.0, -3.0, 3.0, 12.0] {
            let found = moving(hz, |t| slope * (t - 1.5));
            let tone = found.tone.as_ref().unwrap();
            assert!((tone.slope_cents_per_s - slope).abs() < 0.02 * slope.abs() + 0.02, "{hz} {tone:?}");
            let (from_s, to_s) = found.steady_s.unwrap();
            let middle = slope * ((from_s + to_s) / 2.0 - 0.25 - 1.5);
            let cents = 1200.0 * (found.pitch_hz.unwrap() / hz).log2();
            assert!((cents - middle).abs() < 0.05, "{hz} {slope}: {cents} {middle}");
            // Twelve cents a second over three seconds spread by 36/√12 = 10; three a second by 2.6.
            assert_eq!(has(&found, TroubleCode::Unsteady), slope.abs() > 10.0, "{hz} {slope}");
            assert_eq!(tone.vibrato, None, "{hz} {slope}");
        }
    }
}

#[test]
fn a_wide_vibrato_is_unsteady_and_a_narrow_one_is_not() {
    for hz in PITCHES_HZ.into_iter().filter(|hz| *hz > 30.0) {
        let swinging = |depth: f64| moving(hz, move |t| depth * (TAU * 5.0 * t).sin());
        // A sine of depth 20 spreads by 14 cents, one of 5 by 3.5.
        let seen = swinging(20.0).wander_cents.unwrap();
        assert!((13.0..16.0).contains(&seen), "{hz} {seen}");
        let wide = swinging(20.0);
        assert!(has(&wide, TroubleCode::Unsteady), "{hz} {:?}", wide.wander_cents);
        assert!(!has(&swinging(5.0), TroubleCode::Unsteady), "{hz}");
        assert!(wide.tone.unwrap().slope_cents_per_s.abs() < 2.0, "{hz}");
    }
}

/// Two sounds without a pause: the first at `share` of the second's level.
fn slurred(first_hz: f64, second_hz: f64, share: f64) -> Measurement {
    let mut both = take(second_hz, 3.0, &[], 1e-4);
    for (i, sample) in both.samples.iter_mut().enumerate() {
        let t = i as f64 / RATE_HZ - 0.25;
        let shape = (t.min(3.0 - t) / 0.05).clamp(0.0, 1.0);
        let (hz, level) = if t < 1.2 { (first_hz, share) } else { (second_hz, 1.0) };
        let tone: f64 = odd(hz, 1.0).iter().map(|(n, a)| a * (TAU * n * hz * t).sin()).sum();
        *sample += 0.1 * shape * level * tone;
    }
    blind(&both)
}

#[test]
fn a_note_that_speaks_only_after_its_own_lower_register_is_one_note() {
    for (hz, under) in [(59.8, 3.0), (178.0, 3.0), (120.0, 2.0)] {
        let slow = slurred(hz / under, hz, 0.3);
        assert!((1200.0 * (slow.pitch_hz.unwrap() / hz).log2()).abs() < 0.1, "{hz}");
        assert!(!has(&slow, TroubleCode::SeveralNotes), "{hz}: {:?}", slow.troubles);
    }
}

#[test]
fn two_slurred_notes_are_two_whatever_lies_between_them() {
    for (first_hz, second_hz) in [(59.8, 178.0), (110.0, 123.5), (220.0, 146.8)] {
        let two = slurred(first_hz, second_hz, 0.9);
        assert!(has(&two, TroubleCode::SeveralNotes), "{first_hz} {second_hz}: {:?}", two.troubles);
    }
}

#[test]
fn an_octave_up_before_the_note_is_another_note() {
    let mut two = take(220.0, 1.2, &odd(220.0, 1.0), 1e-5);
    two.samples.extend(take(110.0, 2.0, &odd(110.0, 1.0), 1e-5).samples);
    let found = blind(&two);
    assert!((found.pitch_hz.unwrap() - 110.0).abs() < 0.01);
    assert!(has(&found, TroubleCode::SeveralNotes), "{:?}", found.troubles);
}

#[test]
fn vibrato_of_a_very_low_note_is_told_at_its_rate_and_full_size_or_not_at_all() {
    for (hz, told_up_to_hz) in [(16.35, 4.0), (24.5, 6.0), (32.7, 8.0), (41.2, 8.0)] {
        for rate_hz in [3.0, 4.0, 5.0, 6.0, 7.0, 8.0] {
            let found = moving(hz, |t| 15.0 * (TAU * rate_hz * t).sin());
            let wander = found.wander_cents.unwrap();
            let Some(vibrato) = found.tone.unwrap().vibrato else {
                assert!(rate_hz > told_up_to_hz, "{hz} {rate_hz}");
                continue;
            };
            assert!((vibrato.hz - rate_hz).abs() < 0.1, "{hz} {rate_hz} {vibrato:?}");
            // A swing within six periods bends the partials within each block: a seventh too much was measured.
            let sure = if rate_hz > hz / 8.0 { 0.18 } else { 0.06 };
            assert!((vibrato.depth / 15.0 - 1.0).abs() < sure, "{hz} {rate_hz} {vibrato:?}");
            assert!((wander / (15.0 / 2f64.sqrt()) - 1.0).abs() < sure, "{hz} {rate_hz} {wander}");
        }
    }
}

/// A note of all partials that changes at 1.5 s of 3 s; `under` is the level of the lower octave's own partials
/// beside those it shares with the upper one, before and after.
fn with_octave_below(hz: f64, fall: f64, under: [f64; 2]) -> Measurement {
    let mut note = take(hz, 3.0, &[], 1e-4);
    for (i, sample) in note.samples.iter_mut().enumerate() {
        let t = i as f64 / RATE_HZ - 0.25;
        let shape = (t.min(3.0 - t) / 0.05).clamp(0.0, 1.0);
        let share = under[usize::from(t > 1.5)];
        let partial = |k: u32| {
            let n = f64::from(k) / 2.0;
            let level = if k % 2 == 1 { share } else { 1.0 };
            level * n.powf(-fall) * (TAU * n * hz * t + n * n).sin()
        };
        *sample += 0.1 * shape * (1..16).map(partial).sum::<f64>();
    }
    blind(&note)
}

#[test]
fn an_octave_slurred_down_or_up_is_another_note_and_an_undertone_that_comes_in_is_none() {
    for hz in [65.4, 110.0, 220.0] {
        for fall in [0.6, 1.2] {
            for under in [[0.0, 1.0], [1.0, 0.0]] {
                let slurred = with_octave_below(hz, fall, under);
                assert!(
                    has(&slurred, TroubleCode::SeveralNotes),
                    "{hz} {fall} {under:?} {:?}",
                    slurred.pitch_hz
                );
            }
            for level_db in [-30.0, -20.0, -12.0] {
                let share = 10f64.powf(level_db / 20.0);
                let doubled = with_octave_below(hz, fall, [0.0, share]);
                assert!(!has(&doubled, TroubleCode::SeveralNotes), "{hz} {fall} {level_db} dB");
            }
        }
    }
}
