//! Bench tests of leaks: one that shows it, one that shows nothing, film over several posts at once.

use serde_json::Value;

use crate::workshop::{Workshop, assert_no_cut, weight, words};

/// Asserts that a check asks for a test that closes places, and for nothing that can't be undone.
#[track_caller]
fn assert_asks_to_close(check: &Value) {
    let next = &check["next"];
    let changes = words(&next["tests"][0]["changes"]);
    assert!(!changes.is_empty(), "{next}");
    assert!(changes.iter().all(|change| change.starts_with("leak.") && change.ends_with("=0")), "{next}");
    assert!(["press", "seal"].contains(&next["do"].as_str().unwrap()), "{next}");
    assert_eq!((&next["done"], &next["changes"]), (&false.into(), &serde_json::json!([])), "{next}");
    assert_no_cut(check);
}

/// What leaks at any of these places weighs together.
fn weight_of_any(check: &Value, places: &[&str]) -> f64 {
    places.iter().map(|place| weight(check, "leak", place)).sum()
}

#[test]
fn tests_that_are_played_as_asked_end_in_sealing_the_post_that_leaks() {
    for seed in 1..=6 {
        let mut workshop = Workshop::sound(seed).leaking("p3", 0.6);
        workshop.play_all(1);
        let checks = workshop.dialogue(4);
        assert_asks_to_close(&checks[0]);
        checks.iter().for_each(assert_no_cut);
        let last = checks.last().unwrap();
        let (finding, next) = (&last["findings"][0], &last["next"]);
        assert_eq!(
            (&finding["cause"], &finding["where"]),
            (&"leak".into(), &"p3".into()),
            "seed {seed}: {}",
            last["findings"]
        );
        assert!(finding["weight"].as_f64().unwrap() > 0.9, "seed {seed}: {finding}");
        assert_eq!(next["tests"], serde_json::json!([]), "seed {seed}");
        assert_eq!(
            (&next["do"], &next["where"], &next["changes"], &next["done"]),
            (&"seal".into(), &"p3".into(), &serde_json::json!(["leak.p3=0"]), &false.into()),
            "seed {seed}"
        );
    }
}

#[test]
fn film_round_the_post_that_leaks_shows_it() {
    for seed in 1..=6 {
        let mut workshop = Workshop::sound(seed).leaking("p3", 0.6);
        workshop.play_all(1);
        workshop.test(&["leak.p3=0"], &["C2", "D2", "E2"], 1);
        let check = workshop.check();
        assert!(weight(&check, "leak", "p3") > 0.9, "seed {seed}: {}", check["findings"]);
        assert_eq!(
            check["next"]["changes"],
            serde_json::json!(["leak.p3=0"]),
            "seed {seed}: {}",
            check["next"]
        );
        assert_no_cut(&check);
        assert!(workshop.check_text().contains("P3 leaks"), "{}", workshop.check_text());
    }
}

#[test]
fn takes_of_a_test_are_not_mixed_with_the_ordinary_ones() {
    let mut workshop = Workshop::sound(4).leaking("p3", 0.6);
    workshop.play_all(1);
    let before = workshop.check();
    workshop.test(&["leak.p3=0"], &["C2", "D2"], 2);
    let after = workshop.check();
    assert_eq!(after["fit"]["rms_before_cents"], before["fit"]["rms_before_cents"]);
    let notes = |check: &Value| check["fingerings"].as_array().unwrap().clone();
    for (before, after) in notes(&before).iter().zip(&notes(&after)) {
        for key in ["measured_hz", "cents_from_target", "predicted_hz", "takes"] {
            assert_eq!(after[key], before[key], "{key} of {}", before["name"]);
        }
        // Two takes under one condition tell how far the player scatters; what the film did is no scatter.
        let sd_cents = |note: &Value| note["sd_cents"].as_f64().unwrap();
        assert!(sd_cents(after) <= sd_cents(before), "{after} {before}");
    }
    assert!(weight(&after, "leak", "p3") > weight(&before, "leak", "p3"), "{}", after["findings"]);
}

#[test]
fn a_place_under_whose_press_nothing_changes_is_cleared_and_not_asked_for_again() {
    for seed in 1..=3 {
        let mut workshop = Workshop::sound(seed).leaking("p3", 0.8);
        workshop.play_all(1);
        let before = workshop.check();
        assert!(weight(&before, "leak", "v") > 0.5, "seed {seed}: {}", before["findings"]);
        workshop.test(&["leak.v=0"], &["C2", "D2", "E2"], 2);
        let after = workshop.check();
        assert!(weight(&after, "leak", "v") < 0.1, "seed {seed}: {}", after["findings"]);
        assert_no_cut(&after);
        for test in after["next"]["tests"].as_array().unwrap() {
            assert_ne!(test["changes"], serde_json::json!(["leak.v=0"]), "seed {seed}: {test}");
        }
        assert_ne!(after["next"]["where"], "v", "seed {seed}: {}", after["next"]);
        assert!(weight(&after, "leak", "p3") > weight(&before, "leak", "p3"), "seed {seed}");
    }
}

#[test]
fn film_over_several_posts_at_once_shows_whether_one_of_them_leaks() {
    const FILMED: [&str; 3] = ["p3", "p4", "p5"];
    let film = FILMED.map(|post| format!("leak.{post}=0"));
    let film = film.each_ref().map(String::as_str);
    for seed in 1..=3 {
        for (leaking, is_under_the_film) in [("p4", true), ("p2", false)] {
            let mut workshop = Workshop::sound(seed).leaking(leaking, 0.6);
            workshop.play_all(1);
            workshop.test(&film, &["C2", "D2", "E2"], 2);
            let check = workshop.check();
            let filmed = weight_of_any(&check, &FILMED);
            let told = format!("seed {seed}, {leaking}: {filmed}, {}", check["findings"]);
            assert!(if is_under_the_film { filmed > 0.9 } else { filmed < 0.1 }, "{told}");
            assert_no_cut(&check);
            // What the film was round is parted further, or what it was not round is tested.
            for test in check["next"]["tests"].as_array().unwrap() {
                assert_ne!(words(&test["changes"]), film, "{told}: {test}");
            }
            let last = workshop.dialogue(4).pop().unwrap();
            assert_eq!(last["next"]["changes"], serde_json::json!([format!("leak.{leaking}=0")]), "{told}");
        }
    }
}

#[test]
fn a_place_that_the_maker_found_tight_is_in_no_test_that_is_asked_for() {
    for seed in 1..=6 {
        let mut workshop = Workshop::sound(seed).leaking("p3", 0.6);
        workshop.play_all(1);
        for found in ["tight", "unchanged"] {
            let check = workshop.check_with(&["--found", &format!("v:{found}")]);
            for test in check["next"]["tests"].as_array().unwrap() {
                assert!(!words(&test["changes"]).contains(&"leak.v=0"), "seed {seed}, {found}: {test}");
            }
        }
    }
}
