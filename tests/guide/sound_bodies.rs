//! Bodies that have nothing wrong with them: they are left alone, and the advice is to stop.

use std::f64::consts::TAU;

use borescribe::instrument::file::parse;
use borescribe::instrument::prediction::predict;

use crate::bench::Bench;
use crate::reed_takes::{RATE_HZ, reed_tone};
use crate::workshop::{Workshop, assert_no_cut, bittern, note, with};

#[test]
fn a_sound_body_is_done_on_each_of_five_evenings() {
    for evening in 1..=5 {
        let mut workshop = Workshop::sound(evening);
        workshop.play_all(1);
        let check = workshop.check();
        let next = &check["next"];
        assert_no_cut(&check);
        assert_eq!(
            (&next["done"], &next["do"], &next["tests"], &next["changes"]),
            (&true.into(), &"nothing".into(), &serde_json::json!([]), &serde_json::json!([])),
            "evening {evening}: {next} {}",
            check["findings"]
        );
        assert_eq!(check["findings"][0]["cause"], "healthy", "evening {evening}: {}", check["findings"]);
        // The same takes say the same again.
        assert_eq!(workshop.check(), check);
        assert!(workshop.check_text().contains("Stop here"), "{}", workshop.check_text());
    }
}

/// A body that was worked on until it was done: no hole is quite as its file says, and no note just on its target.
fn finished(evening: u64) -> Workshop {
    let mut truth = bittern();
    for (mm, off_mm) in [(10.0, 0.1), (12.0, -0.1), (13.0, 0.1), (15.0, -0.1), (17.0, 0.1)] {
        let measure = |mm: f64| format!("diameter_mm = {mm:.1}\nchimney_mm = 6.0");
        truth = with(&truth, &measure(mm), &measure(mm + off_mm));
    }
    Workshop::new(&bittern(), &truth, evening)
}

#[test]
fn fresh_takes_of_a_finished_body_say_stop_again_nineteen_times_in_twenty() {
    let mut others = Vec::new();
    for evening in 1..=20 {
        let mut workshop = finished(evening);
        workshop.play_all(1);
        let check = workshop.check();
        assert_no_cut(&check);
        if check["next"]["done"] != true {
            others.push(format!("evening {evening}: {} {}", check["next"], check["findings"]));
        }
    }
    assert!(others.len() <= 1, "{others:#?}");
}

#[test]
fn what_was_seen_and_has_to_be_looked_at_is_no_reason_to_stop() {
    let mut workshop = Workshop::sound(4);
    workshop.play_all(1);
    for name in ["E2", "G2", "B2"] {
        let hz = workshop.sounds(name, &[]).hz;
        workshop.lose(name);
        // A line at half of the note, 20 dB below it.
        let undertone = |(i, sample): (usize, &f64)| {
            let low = (TAU * 0.5 * hz * i as f64 / f64::from(RATE_HZ) + 1.0).sin();
            if sample.abs() > 0.0 { sample + 0.05 * low } else { *sample }
        };
        let samples: Vec<f64> = reed_tone(hz, 1.5).iter().enumerate().map(undertone).collect();
        workshop.put("takes", name, &samples);
    }
    let check = workshop.check();
    assert_eq!(check["findings"][0]["cause"], "undertone", "{}", check["findings"]);
    let next = &check["next"];
    assert_no_cut(&check);
    assert_eq!((&next["do"], &next["done"]), (&"nothing".into(), &false.into()), "{next}");
    assert!(!next["text"].as_str().unwrap().contains("Stop here"), "{next}");
}

#[test]
fn a_collar_on_a_sound_body_fits_and_leaves_the_ordinary_pitch_as_it_is() {
    for seed in 1..=3 {
        let mut workshop = Workshop::sound(seed);
        workshop.play_all(1);
        let before = workshop.check();
        workshop.test(&["end.trim=-4"], &["C2", "D2", "E2"], 2);
        let after = workshop.check();
        assert_eq!(after["findings"][0]["cause"], "healthy", "seed {seed}: {}", after["findings"]);
        assert_eq!(after["next"]["done"], true, "seed {seed}: {}", after["next"]);
        assert_no_cut(&after);
        for name in ["C2", "D2", "E2"] {
            for key in ["measured_hz", "predicted_hz", "takes"] {
                assert_eq!(note(&after, name)[key], note(&before, name)[key], "seed {seed}: {name} {key}");
            }
        }
    }
}

/// What `check` says next of a plain tube with this file when its note is played three times as `hz` has it.
fn next_of_tube(text: &str, hz: f64) -> serde_json::Value {
    let bench = Bench::with(text);
    for take in 1..=3 {
        bench.wav(&format!("takes/C2-{take}.wav"), &reed_tone(hz, 1.5));
    }
    bench.json(&["check", "instrument.toml", "takes", "--json"])["next"].clone()
}

#[test]
fn a_plain_tube_tells_the_length_that_reed_and_mouthpiece_stand_for_and_the_give_that_makes_up_for_it() {
    let text = plain_tube(0.0);
    let hz = |text: &str| predict(&parse(text).unwrap())[0].predicted_hz.unwrap();
    let reed = |ml: &str| with(&text, "reed_ml = 2.0", &format!("reed_ml = {ml}"));
    // 6.8 ml in a bore of 24 mm are 15 mm of it.
    let next = next_of_tube(&text, hz(&reed("8.8")));
    let told = next["text"].as_str().unwrap();
    for words in ["don't agree", "15 mm more of bore", "(it is 2.0 so far)"] {
        assert!(told.contains(words), "{words} is not in {told}");
    }
    let advised = told.split("write reed_ml = ").nth(1).unwrap().split(' ').next().unwrap();
    assert!((advised.parse::<f64>().unwrap() - 8.8).abs() < 0.2, "{told}");
    assert_eq!((&next["done"], &next["do"]), (&false.into(), &"nothing".into()), "{next}");
    let next = next_of_tube(&reed(advised), hz(&reed("8.8")));
    assert!(next["text"].as_str().unwrap().contains("stand for as much bore as it says"), "{next}");
    // What one note can't be trusted for is told, and nothing is to be corrected for it.
    for (cents, words) in [(-7.0_f64, "more of bore than it says, ±"), (7.0, "less of bore than it says, ±")]
    {
        let next = next_of_tube(&text, hz(&text) * (cents / 1200.0).exp2());
        let told = next["text"].as_str().unwrap();
        assert!(told.contains("agrees with the file") && told.contains(words), "{told}");
        assert!(next["done"] == true && !told.contains("reed_ml"), "{next}");
    }
}

/// A plain tube whose one note sounds so many cents above its target.
fn plain_tube(off_cents: f64) -> String {
    let tube = |cents: f64| {
        format!(
            "format = 1\n[instrument]\nname = \"Bittern\"\nprototype = \"P1\"\ndrive = \"reed\"\n[mouthpiece]\n\
             chamber_ml = 31.0\nreed_ml = 2.0\n[[bore]]\nat_mm = 0.0\ndiameter_mm = 24.0\n[[bore]]\nat_mm = 1225.0\n\
             diameter_mm = 24.0\n[[fingering]]\nname = \"C2\"\nopen = []\ncents = {cents:.1}\n"
        )
    };
    let sounds = predict(&parse(&tube(0.0)).unwrap())[0].cents().unwrap();
    tube(sounds - off_cents)
}

#[test]
fn a_plain_tube_that_agrees_with_its_file_is_ready_for_the_drill_wherever_its_target_is() {
    for off_cents in [-40.0, 0.0, 40.0] {
        for played_cents in [-2.0, 2.0_f64] {
            let text = plain_tube(off_cents);
            let hz = predict(&parse(&text).unwrap())[0].predicted_hz.unwrap();
            let bench = Bench::with(&text);
            bench.wav("takes/C2.wav", &reed_tone(hz * (played_cents / 1200.0).exp2(), 2.0));
            let check = bench.json(&["check", "instrument.toml", "takes", "--json"]);
            assert_no_cut(&check);
            assert_eq!(check["next"]["done"], true, "{off_cents}: {}", check["next"]);
            let off = note(&check, "C2")["cents_from_target"].as_f64().unwrap();
            assert!((off - off_cents - played_cents).abs() < 1.0, "{off}");
            let output = bench.run(&["check", "instrument.toml", "takes"]);
            let told = String::from_utf8(output.stdout).unwrap();
            let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
            for words in ["our tube agrees with the file", "Drill"] {
                assert!(told.contains(words), "{off_cents}: {words} is not in\n{told}");
            }
        }
    }
}
