//! Measuring instead of drilling: a hole that is not as the file says.

use crate::workshop::{Workshop, bittern, weight, with, words};

const H5: &str = "diameter_mm = 14.0\nchimney_mm = 6.0";

#[test]
fn a_hole_that_is_larger_than_the_file_says_is_measured_or_cut_by_so_much_and_not_to_a_size() {
    for seed in 1..=3 {
        let mut workshop =
            Workshop::new(&bittern(), &with(&bittern(), H5, "diameter_mm = 16.0\nchimney_mm = 6.0"), seed);
        workshop.play_all(3);
        let checks = workshop.dialogue(4);
        let mut asks = false;
        for check in &checks {
            for test in check["next"]["tests"].as_array().unwrap() {
                let measures = test["measure"].as_array();
                asks |= measures.is_some_and(|measures| measures.contains(&"h5.diameter".into()));
            }
            for change in words(&check["next"]["changes"]) {
                let relative = change.contains("-=") || change.contains("+=");
                assert!(change.starts_with("h5.") && relative, "seed {seed}: {change}");
                asks = true;
            }
        }
        let last = checks.last().unwrap();
        assert!(asks, "seed {seed}: {} {}", last["findings"], last["next"]);
        assert_eq!(
            (&last["findings"][0]["cause"], &last["findings"][0]["where"]),
            (&"hole".into(), &"h5".into())
        );

        workshop.save_changes(&["h5.diameter=16"], "measured.toml");
        let measured = workshop.check();
        assert_eq!(measured["findings"][0]["cause"], "healthy", "seed {seed}: {}", measured["findings"]);
        for finding in measured["findings"].as_array().unwrap() {
            assert_ne!(finding["cause"], "hole", "seed {seed}: {finding}");
        }
        assert!(weight(&measured, "hole", "h5") < 0.05);
    }
}
