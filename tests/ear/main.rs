//! What the ear must get right on notes whose pitch is known because they are computed here.

use std::f64::consts::TAU;

use borescribe::analysis::measure::{Settings, measure};
use borescribe::analysis::measurement::{HiddenBy, Measurement, TroubleCode, UndertoneKind};
use borescribe::audio::take::{Origin, Take};
use proptest::prelude::*;

mod bound;
mod building_up;
mod registers;
mod troubles;

const RATE_HZ: f64 = 48_000.0;

/// Scatter that repeats on every machine: a linear congruential generator, summed to a bell.
struct Noise(u64);

impl Noise {
    fn next(&mut self) -> f64 {
        (0..12)
            .map(|_| {
                self.0 =
                    self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                (self.0 >> 11) as f64 / (1_u64 << 53) as f64
            })
            .sum::<f64>()
            - 6.0
    }
}

/// A note with a quarter second of silence around it, partials of given amplitudes (orders may be
/// fractions), and faint noise.
fn take(hz: f64, seconds: f64, partials: &[(f64, f64)], noise: f64) -> Take {
    let mut scatter = Noise(7);
    let total = seconds + 0.5;
    let samples = (0..(total * RATE_HZ) as usize)
        .map(|i| {
            let t = i as f64 / RATE_HZ - 0.25;
            let shape = (t.min(seconds - t) / 0.05).clamp(0.0, 1.0);
            let tone: f64 = partials
                .iter()
                .map(|(order, amplitude)| amplitude * (TAU * hz * order * t + order * order).sin())
                .sum();
            0.1 * shape * tone + noise * scatter.next()
        })
        .collect();
    Take { samples, rate_hz: RATE_HZ, begins_s: 0.0, origin: Origin { peak: 0.3, ..Origin::default() } }
}

fn odd(hz: f64, fall: f64) -> Vec<(f64, f64)> {
    (0..20).map(|i| f64::from(2 * i + 1)).filter(|n| n * hz < 4000.0).map(|n| (n, n.powf(-fall))).collect()
}

fn full(hz: f64, fall: f64) -> Vec<(f64, f64)> {
    (1..40).map(f64::from).filter(|n| n * hz < 4000.0).map(|n| (n, n.powf(-fall))).collect()
}

fn blind(take: &Take) -> Measurement {
    measure(take, &Settings::default(), None)
}

fn cents_off(found: &Measurement, hz: f64) -> f64 {
    1200.0 * (found.pitch_hz.unwrap() / hz).log2()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn clean_notes_of_odd_partials_are_right_within_a_cent(log_hz in 12f64.ln()..1500f64.ln(), fall in 0.6..2.0) {
        let hz = log_hz.exp();
        let found = blind(&take(hz, 2.0, &odd(hz, fall), 1e-5));
        prop_assert!(found.pitch_hz.is_some_and(|p| (1200.0 * (p / hz).log2()).abs() < 1.0), "{} {:?}", hz, found);
    }

    #[test]
    fn clean_notes_of_all_partials_are_right_within_a_cent(log_hz in 12f64.ln()..1500f64.ln(), fall in 0.6..2.0) {
        let hz = log_hz.exp();
        let found = blind(&take(hz, 2.0, &full(hz, fall), 1e-5));
        prop_assert!(found.pitch_hz.is_some_and(|p| (1200.0 * (p / hz).log2()).abs() < 1.0), "{} {:?}", hz, found);
    }

    #[test]
    fn a_missing_fundamental_changes_nothing(log_hz in 12f64.ln()..400f64.ln(), first in 2usize..5) {
        let hz = log_hz.exp();
        let partials: Vec<_> = full(hz, 1.0).into_iter().skip(first).collect();
        let found = blind(&take(hz, 2.0, &partials, 1e-5));
        prop_assert!(found.pitch_hz.is_some_and(|p| (1200.0 * (p / hz).log2()).abs() < 1.0), "{} {:?}", hz, found);
    }

    #[test]
    fn no_undertone_is_invented_on_clean_notes(log_hz in 14f64.ln()..400f64.ln(), odd_only: bool) {
        let hz = log_hz.exp();
        let partials = if odd_only { odd(hz, 1.0) } else { full(hz, 1.0) };
        let found = blind(&take(hz, 2.5, &partials, 3e-4));
        prop_assert!(found.undertones.is_empty(), "{} {:?}", hz, found.undertones);
    }
}

#[test]
fn an_undertone_is_found_at_its_level_and_does_not_drag_the_pitch_down() {
    for (order, ratio) in [(0.5, (1, 2)), (1.0 / 3.0, (1, 3)), (2.0 / 3.0, (2, 3))] {
        for level_db in [-12.0, -24.0, -36.0] {
            let mut partials = odd(93.1, 1.0);
            partials.push((order, 10f64.powf(level_db / 20.0)));
            let found = blind(&take(93.1, 3.0, &partials, 1e-4));
            assert!(cents_off(&found, 93.1).abs() < 0.1, "{ratio:?} {level_db}: {:?}", found.pitch_hz);
            let undertone = found.undertones.iter().find(|u| u.ratio == Some(ratio)).unwrap();
            assert!((undertone.db - level_db).abs() < 0.5, "{ratio:?} {level_db}: {undertone:?}");
        }
    }
}

/// The threshold promises fewer than one false line in two hundred notes. So 300 notes in noise of all
/// strengths from 10 to 60 dB under them have at most one.
#[test]
fn noise_is_hardly_ever_taken_for_an_undertone() {
    let false_alarms: usize = (0..300_u64)
        .map(|trial| {
            let hz = 30.0 * 1.012_f64.powi(trial as i32);
            let mut noisy = take(hz, 1.5, &if trial % 2 == 0 { odd(hz, 1.0) } else { full(hz, 1.0) }, 0.0);
            let noise = 0.07 * 10f64.powf(-(10.0 + (trial % 6) as f64 * 10.0) / 20.0);
            let mut scatter = Noise(9000 + trial);
            noisy.samples.iter_mut().for_each(|s| *s += noise * scatter.next());
            blind(&noisy).undertones.len()
        })
        .sum();
    assert!(false_alarms <= 1, "{false_alarms}");
}

#[test]
fn a_note_that_jumped_up_a_twelfth_is_not_read_as_the_one_below_that_was_expected() {
    let jumped = take(173.0, 2.0, &full(173.0, 1.0), 1e-4);
    for below in [173.0 / 3.0, 173.0 / 2.0] {
        let found = measure(&jumped, &Settings { expect_hz: Some(below), ..Settings::default() }, None);
        assert!(cents_off(&found, 173.0).abs() < 0.1, "{below}: {:?}", found.pitch_hz);
        assert_eq!((found.expectation_met, found.expectation_decided), (Some(false), false));
    }
}

#[test]
fn a_note_that_only_its_upper_partials_show_is_found_where_it_was_expected() {
    let hz = 57.7;
    let partials: Vec<_> = odd(hz, 1.0).into_iter().skip(2).collect();
    let cut = take(hz, 2.0, &partials, 1e-4);
    let found = measure(&cut, &Settings { expect_hz: Some(58.5), ..Settings::default() }, None);
    assert!(cents_off(&found, hz).abs() < 0.1, "{:?}", found.pitch_hz);
    assert_eq!(found.expectation_met, Some(true));
}

#[test]
fn a_line_locked_to_a_wandering_note_follows_it_and_one_of_the_room_does_not() {
    let (hz, seconds) = (90.0, 4.0);
    let phase = |t: f64| hz * t + 0.9 * (TAU * 0.4 * t).sin();
    let with = |extra: &dyn Fn(f64) -> f64| -> Measurement {
        let mut wandering = take(hz, seconds, &[], 1e-4);
        for (i, sample) in wandering.samples.iter_mut().enumerate() {
            let t = i as f64 / RATE_HZ - 0.25;
            let shape = (t.min(seconds - t) / 0.05).clamp(0.0, 1.0);
            let tone: f64 =
                (0..8).map(|k| f64::from(2 * k + 1)).map(|n| (TAU * n * phase(t)).sin() / n).sum();
            *sample += 0.1 * shape * (tone + 0.05 * extra(t));
        }
        blind(&wandering)
    };
    let locked = with(&|t| (TAU * 1.5 * phase(t)).sin());
    let follower = locked.undertones.first().unwrap();
    assert_eq!((follower.ratio, follower.follows), (Some((3, 2)), Some(true)), "{follower:?}");
    let still = with(&|t| (TAU * 1.5 * hz * t).sin());
    assert!(still.undertones.iter().all(|u| u.kind != UndertoneKind::Locked), "{:?}", still.undertones);
}

#[test]
fn what_hum_or_shortness_hides_is_said() {
    // Mains hum on half of the note.
    let hz = 100.1;
    let mut hummed = take(hz, 3.0, &odd(hz, 1.0), 1e-4);
    for (i, sample) in hummed.samples.iter_mut().enumerate() {
        let t = i as f64 / RATE_HZ;
        let hum = [(50.05, 0.1), (150.15, 0.05), (250.25, 0.02)];
        *sample += hum.iter().map(|(f, a)| 0.1 * a * (TAU * f * t).sin()).sum::<f64>();
    }
    let found = blind(&hummed);
    let half = found.hidden.iter().find(|hidden| hidden.ratio == (1, 2)).unwrap();
    assert_eq!(half.by, HiddenBy::Hum);
    let short = blind(&take(30.0, 0.4, &full(30.0, 1.0), 1e-4));
    assert!(short.hidden.iter().any(|hidden| hidden.by == HiddenBy::TooShort), "{:?}", short.hidden);
    assert_eq!(blind(&take(93.1, 3.0, &odd(93.1, 1.0), 1e-4)).hidden, []);
}

#[test]
fn the_tone_is_told_as_it_was_made() {
    let partials = [(1.0, 1.0), (2.0, 0.1), (3.0, 0.5)];
    let seconds = 3.0;
    let mut note = take(220.0, seconds, &[], 1e-4);
    for (i, sample) in note.samples.iter_mut().enumerate() {
        let t = i as f64 / RATE_HZ - 0.25;
        let shape = (t.min(seconds - t) / 0.2).clamp(0.0, 1.0);
        // Vibrato of ±10 cents at 5 a second: a phase of 220 Hz × 0.00579 / (2π × 5).
        let phase =
            220.0 * t + 220.0 * ((10.0_f64 / 1200.0).exp2() - 1.0) / (TAU * 5.0) * (TAU * 5.0 * t).sin();
        let tone: f64 = partials.iter().map(|(n, a)| a * (TAU * n * phase).sin()).sum();
        *sample += 0.1 * shape * tone;
    }
    let found = blind(&note);
    let tone = found.tone.unwrap();
    let vibrato = tone.vibrato.unwrap();
    assert!((vibrato.hz - 5.0).abs() < 0.1 && (vibrato.depth - 10.0).abs() < 0.5, "{vibrato:?}");
    assert!((tone.odd_over_even_db.unwrap() - 10.0 * 125f64.log10()).abs() < 0.2, "{tone:?}");
    // (1 + 0.1 × 2 + 0.5 × 3) / 1.6 of the note.
    assert!((tone.centroid_hz.unwrap() / 220.0 - 2.7 / 1.6).abs() < 0.02, "{tone:?}");
    // From a tenth to nine tenths of an even rise of 0.2 s.
    assert!((tone.attack_s.unwrap() - 0.16).abs() < 0.04, "{tone:?}");
    assert!(tone.inharmonicity_cents.unwrap() < 0.05, "{tone:?}");
    assert_eq!(tone.beating, None);
    assert!(tone.hiss.iter().all(|octave| octave.tone_over_noise_db > 30.0), "{:?}", tone.hiss);
}

#[test]
fn partials_off_the_multiples_and_a_beating_level_are_told() {
    // The third partial five cents sharp: as on a plucked string.
    let found =
        blind(&take(110.0, 3.0, &[(1.0, 1.0), (2.0, 0.5), (3.0 * (5.0_f64 / 1200.0).exp2(), 0.5)], 1e-4));
    let third = found.partials.iter().find(|p| p.n == 3).unwrap();
    let second = found.partials.iter().find(|p| p.n == 2).unwrap();
    let apart = 1200.0 * (third.hz / second.hz / 1.5).log2();
    assert!((apart - 5.0).abs() < 0.3, "{apart}");
    assert!(found.tone.unwrap().inharmonicity_cents.unwrap() > 1.0);

    let mut beating = take(110.0, 3.0, &odd(110.0, 1.0), 1e-4);
    for (i, sample) in beating.samples.iter_mut().enumerate() {
        *sample *= 1.0 + 0.2 * (TAU * 3.0 * i as f64 / RATE_HZ).sin();
    }
    let beats = blind(&beating).tone.unwrap().beating.unwrap();
    // ±20 % is +1.6 and −1.9 dB.
    assert!((beats.hz - 3.0).abs() < 0.1 && (beats.depth - 1.75).abs() < 0.2, "{beats:?}");
}

#[test]
fn hum_is_told_and_is_neither_the_note_nor_an_undertone() {
    let hz = 73.0;
    let partials = odd(hz, 1.0);
    let hum = [(50.0, 0.5), (100.0, 0.2), (150.0, 0.1)];
    let mut with_hum = take(hz, 3.0, &partials, 1e-4);
    for (i, sample) in with_hum.samples.iter_mut().enumerate() {
        let t = i as f64 / RATE_HZ;
        *sample += hum.iter().map(|(f, a)| 0.1 * a * (TAU * 1.0004 * f * t).sin()).sum::<f64>();
    }
    let found = blind(&with_hum);
    assert!(cents_off(&found, hz).abs() < 0.1);
    assert!(found.undertones.is_empty(), "{:?}", found.undertones);
    assert!(found.troubles.iter().any(|t| t.code == TroubleCode::Hum));
}

#[test]
fn a_note_on_a_multiple_of_the_mains_keeps_its_partials_and_its_undertone_its_level() {
    for hz in [119.9, 100.05, 50.03] {
        let mut partials = full(hz, 1.0);
        partials.push((0.5, 10f64.powf(-20.0 / 20.0)));
        let found = blind(&take(hz, 3.0, &partials, 1e-4));
        assert!(cents_off(&found, hz).abs() < 0.1, "{hz}: {:?}", found.pitch_hz);
        let partial = |n: usize| found.partials.iter().find(|p| p.n == n).unwrap().db;
        assert!((partial(2) - partial(1) + 6.02).abs() < 0.3, "{hz}: {:?}", found.partials);
        // Half of 100 is the mains itself: there is no telling.
        if hz != 100.05 {
            let undertone = found.undertones.iter().find(|u| u.ratio == Some((1, 2))).unwrap();
            assert!((undertone.db + 20.0).abs() < 0.5, "{hz}: {undertone:?}");
        }
    }
}

#[test]
fn hum_alone_and_noise_alone_are_silence() {
    let mut hum = take(50.0, 2.0, &[], 1e-4);
    for (i, sample) in hum.samples.iter_mut().enumerate() {
        let t = i as f64 / RATE_HZ;
        *sample += [(50.0, 0.1), (100.0, 0.05)].iter().map(|(f, a)| a * (TAU * f * t).sin()).sum::<f64>();
    }
    for take in [hum, take(50.0, 2.0, &[], 0.05)] {
        let found = blind(&take);
        assert_eq!(found.pitch_hz, None);
        assert!(found.troubles.iter().any(|t| t.code == TroubleCode::Silent));
    }
}

#[test]
fn the_uncertainty_told_covers_the_error_of_noisy_notes_two_times_in_three() {
    let mut inside = 0;
    let trials = 40;
    for trial in 0..trials {
        let hz = 40.0 * 1.05_f64.powi(trial);
        let mut noisy = take(hz, 1.5, &odd(hz, 1.0), 0.0);
        let mut scatter = Noise(1000 + trial as u64);
        noisy.samples.iter_mut().for_each(|s| *s += 0.02 * scatter.next());
        let found = blind(&noisy);
        let error = cents_off(&found, hz).abs();
        assert!(error < 0.3, "{hz} {error}");
        inside += i32::from(error <= found.sd_cents.unwrap());
    }
    let share = f64::from(inside) / f64::from(trials);
    assert!((0.5..0.88).contains(&share), "{share}");
}

#[test]
fn expecting_a_note_settles_the_octave_and_nothing_else() {
    // Half the pitch as strong as the pitch itself: a note or an undertone, who can tell.
    let partials = [(0.5, 0.8), (1.0, 1.0), (2.0, 0.5), (3.0, 0.4), (4.0, 0.3)];
    let both = take(120.0, 2.0, &partials, 1e-5);
    let expecting = |hz: f64| measure(&both, &Settings { expect_hz: Some(hz), ..Settings::default() }, None);
    assert!(cents_off(&expecting(124.0), 120.0).abs() < 0.1);
    assert!(cents_off(&expecting(61.0), 60.0).abs() < 0.1);
    assert_eq!(expecting(300.0).expectation_met, Some(false));
}

#[test]
fn a_second_note_in_the_take_is_told() {
    let mut two = take(110.0, 2.0, &odd(110.0, 1.0), 1e-5);
    two.samples.extend(take(146.8, 1.2, &odd(146.8, 1.0), 1e-5).samples);
    let found = blind(&two);
    assert!(cents_off(&found, 110.0).abs() < 0.1);
    assert!(found.troubles.iter().any(|t| t.code == TroubleCode::SeveralNotes), "{:?}", found.troubles);
}

#[test]
fn a_clean_take_has_no_troubles() {
    let found = blind(&take(61.7, 4.0, &odd(61.7, 1.0), 1e-4));
    assert_eq!(found.troubles, []);
    assert!(found.confidence > 0.5);
}

#[test]
fn windows_that_hold_nothing_are_no_panic() {
    let note = take(100.0, 1.0, &odd(100.0, 1.0), 1e-4);
    for (from, to) in
        [(0.0, 0.0), (5.0, 6.0), (0.5, 0.51), (0.5, 0.53), (f64::NAN, 1.0), (0.0, f64::INFINITY)]
    {
        let settings = Settings { from_s: Some(from), to_s: Some(to), expect_hz: None };
        let found = measure(&note, &settings, None);
        assert!(found.pitch_hz.is_none_or(f64::is_finite));
    }
}

#[test]
fn a_note_on_a_multiple_of_the_mains_is_a_note_without_silence_around_it() {
    let hz = 119.9;
    let partials: Vec<_> =
        (1..9).map(f64::from).map(|n| (n, if n == 1.0 { 1.0 } else { 0.05 / n })).collect();
    let mut close = take(hz, 3.0, &partials, 1e-5);
    let (from, to) = ((0.25 * RATE_HZ) as usize, (3.25 * RATE_HZ) as usize);
    close.samples = close.samples[from..to].to_vec();
    let found = blind(&close);
    assert!(cents_off(&found, hz).abs() < 0.1, "{:?}", found.pitch_hz);
    let (from_s, to_s) = found.steady_s.unwrap();
    assert!(to_s - from_s > 2.5, "{from_s} {to_s}");
    assert!(found.partials.iter().any(|p| p.n == 1 && p.db > -0.1), "{:?}", found.partials);
}
