//! Notes in another register than wanted: they did not speak as wanted, and no hole is blamed.

use std::f64::consts::TAU;

use borescribe::instrument::column::playing_hz;
use borescribe::instrument::file::parse;
use serde_json::Value;

use crate::reed_takes::{RATE_HZ, reed_tone};
use crate::workshop::{Workshop, assert_no_cut, bittern, note};

/// What a fingering sounds in another register than its own, hertz.
fn in_register(name: &str, register: usize) -> f64 {
    let instrument = parse(&bittern()).unwrap();
    let fingering = instrument.fingerings.iter().find(|fingering| fingering.name == name).unwrap();
    playing_hz(&instrument, &fingering.open, register, &[]).unwrap()
}

#[track_caller]
fn assert_blames_no_hole(check: &Value) {
    assert_no_cut(check);
    for finding in check["findings"].as_array().unwrap() {
        let is_blamed = ["hole", "bore", "end"].contains(&finding["cause"].as_str().unwrap())
            && finding["weight"].as_f64().unwrap() > 0.2;
        assert!(!is_blamed, "{finding}");
    }
}

/// A sound body on which `name` was played so often and came out in another register each time.
fn with_takes_in_another_register(name: &str, register: usize, takes: usize) -> Workshop {
    let mut workshop = Workshop::sound(6);
    workshop.play_all(1);
    workshop.lose(name);
    for take in 0..takes {
        let hz = in_register(name, register) * (take as f64 * 1.5 / 1200.0).exp2();
        workshop.put("takes", name, &reed_tone(hz, 1.5));
    }
    workshop
}

fn asks_for(check: &Value, name: &str) -> bool {
    let tests = check["next"]["tests"].as_array().unwrap();
    tests.iter().any(|test| test["play"].as_array().is_some_and(|play| play.contains(&name.into())))
}

#[test]
fn an_upper_note_that_fell_is_asked_for_again_and_blames_no_hole() {
    for name in ["G3", "D4", "A4"] {
        let check = with_takes_in_another_register(name, 1, 1).check();
        assert_blames_no_hole(&check);
        assert_eq!(note(&check, name)["sounded_register"], 1, "{}", note(&check, name));
        let test = &check["next"]["tests"][0];
        assert_eq!(
            (&test["changes"], &test["play"]),
            (&serde_json::json!([]), &serde_json::json!([name])),
            "{}",
            check["next"]
        );
        assert_eq!((&check["next"]["do"], &check["next"]["done"]), (&"re-record".into(), &false.into()));
    }
}

#[test]
fn an_upper_note_that_fell_three_times_is_a_fact_that_is_told_and_not_asked_for_again() {
    for name in ["G3", "D4", "A4"] {
        let workshop = with_takes_in_another_register(name, 1, 3);
        let check = workshop.check();
        assert_blames_no_hole(&check);
        assert_eq!(note(&check, name)["sounded_register"], 1);
        assert!(!asks_for(&check, name), "{}", check["next"]);
        assert_ne!(check["next"]["do"], "re-record", "{}", check["next"]);
        let told = check["next"]["text"].as_str().unwrap();
        assert!(told.contains(&format!("{name} did not speak as wanted")), "{told}");
    }
}

/// A take in a room with mains hum of 50 Hz, this far under the note.
fn with_hum(mut samples: Vec<f64>, under_db: f64) -> Vec<f64> {
    let sounding = samples.iter().filter(|sample| sample.abs() > 0.01).count() as f64;
    let rms = (samples.iter().map(|sample| sample * sample).sum::<f64>() / sounding).sqrt();
    let peak = rms * std::f64::consts::SQRT_2 * 10_f64.powf(-under_db / 20.0);
    for (index, sample) in samples.iter_mut().enumerate() {
        *sample += peak * (TAU * 50.0 * index as f64 / f64::from(RATE_HZ)).sin();
    }
    samples
}

#[test]
fn a_lowest_note_that_jumped_to_its_seventeenth_in_hum_is_known_as_that() {
    for under_db in [20.0, 26.0] {
        for lifted_cents in [-3.0, 0.0, 3.0_f64] {
            let mut workshop = Workshop::sound(6);
            workshop.play_all(1);
            workshop.lose("C2");
            let hz = in_register("C2", 3) * (lifted_cents / 1200.0).exp2();
            workshop.put("takes", "C2", &with_hum(reed_tone(hz, 2.0), under_db));
            let check = workshop.check();
            let told = format!("{under_db} dB, {lifted_cents} cents: {}", note(&check, "C2"));
            assert_eq!(note(&check, "C2")["sounded_register"], 3, "{told}");
            assert_blames_no_hole(&check);
            assert!(asks_for(&check, "C2"), "{told}: {}", check["next"]);
        }
    }
}
