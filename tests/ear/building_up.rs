//! What sounds along while a note builds up slowly.

use std::f64::consts::TAU;

use crate::{Noise, RATE_HZ, blind, odd, take};
use borescribe::audio::take::Take;

/// A note that grows by so many dB a second to its full level and then holds for a second; under it, in the last
/// second before the note is there, a line at `order` with `lower` of its full level.
fn slow(hz: f64, db_a_second: f64, order: f64, lower: f64) -> Take {
    let grows_s = 60.0 / db_a_second;
    let mut slow = take(hz, grows_s + 1.0, &[], 0.0);
    let mut scatter = Noise(23);
    let partials = odd(hz, 1.0);
    for (i, sample) in slow.samples.iter_mut().enumerate() {
        let t = i as f64 / RATE_HZ - 0.25;
        let grown = 10f64.powf(-(grows_s - t).clamp(0.0, grows_s) * db_a_second / 20.0);
        let ends = ((grows_s + 1.0 - t) / 0.05).clamp(0.0, 1.0) * f64::from(u8::from(t > 0.0));
        let tone: f64 = partials.iter().map(|(n, a)| a * (TAU * n * hz * t).sin()).sum();
        let began = ((t - grows_s + 1.0) / 0.2).clamp(0.0, 1.0);
        let under = lower * began * (1.0 - grown) * (TAU * order * hz * t).sin();
        *sample = 0.1 * ends * (grown * tone + under) + 1e-5 * scatter.next();
    }
    slow
}

#[test]
fn a_lower_tone_under_a_note_that_is_slow_to_speak_is_told_apart_from_undertones() {
    for hz in [98.0, 156.0, 220.0, 330.0] {
        let found = blind(&slow(hz, 25.0, 0.43, 0.1));
        let off = found.building_up.iter().any(|u| (u.hz / (0.43 * hz) - 1.0).abs() < 0.01);
        assert!(off, "{hz} Hz: {:?}", found.building_up);
        assert!(found.undertones.is_empty(), "{hz} Hz: {:?}", found.undertones);
    }
}

#[test]
fn a_note_that_grows_slowly_or_speaks_at_once_has_no_lower_tone() {
    for hz in [25.0, 73.0, 98.0, 156.0, 220.0, 330.0] {
        for db_a_second in [25.0, 60.0, 600.0] {
            let found = blind(&slow(hz, db_a_second, 0.43, 0.0));
            assert!(found.building_up.is_empty(), "{hz} Hz, {db_a_second}: {:?}", found.building_up);
        }
    }
}
