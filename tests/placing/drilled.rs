//! From the plan to the bench and back: placed, drilled with the usual errors and one slip, played, checked.

use borescribe::instrument::file::load;
use borescribe::instrument::model::Instrument;
use borescribe::instrument::prediction::predict;

use crate::bench::Bench;
use crate::bodies::second_body;
use crate::reed_takes::reed_tone;

/// What the bench does to every hole, mm: places within half a millimetre, sizes within a tenth, one after another.
const PLACE_ERRORS_MM: [f64; 9] = [0.3, -0.4, 0.1, 0.4, -0.2, -0.3, 0.2, -0.1, 0.3];
const SIZE_ERRORS_MM: [f64; 9] = [0.05, 0.1, -0.05, 0.0, 0.08, -0.1, 0.05, 0.1, 0.0];

/// Plans a body, drills it with the errors above and `slip`, plays every note and checks. The first finding.
fn found_after(slip: impl Fn(&mut Instrument)) -> (String, String) {
    let text = second_body().text().replace("chimney_mm = 6.0\n", "chimney_mm = 6.0\ndrilled = false\n");
    let bench = Bench::with(&text);
    bench.json(&["place", "instrument.toml", "--json", "--out", "plan.toml", "-q"]);
    // The maker drills as planned, and says so.
    let plan = std::fs::read_to_string(bench.path("plan.toml")).unwrap();
    std::fs::write(bench.path("instrument.toml"), plan.replace("drilled = false", "drilled = true")).unwrap();
    let mut body = load(&bench.path("instrument.toml")).unwrap();
    for (i, hole) in body.holes.iter_mut().enumerate() {
        hole.at_mm += PLACE_ERRORS_MM[i];
        hole.diameter_mm += SIZE_ERRORS_MM[i];
    }
    slip(&mut body);
    for note in predict(&body) {
        let name = &body.fingerings[note.fingering].name;
        bench.wav(&format!("takes/{name}.wav"), &reed_tone(note.predicted_hz.unwrap(), 3.0));
    }
    let result = bench.json(&["check", "instrument.toml", "takes", "--json"]);
    let first = &result["findings"][0];
    (
        first["cause"].as_str().unwrap().to_string(),
        format!(
            "{} {}",
            first["where"].as_str().unwrap_or("-"),
            first["amount"]["acts"].as_str().unwrap_or("-")
        ),
    )
}

#[test]
fn a_hole_drilled_too_big_is_found() {
    let found = found_after(|body| body.holes[4].diameter_mm += 2.0);
    assert_eq!(found, ("hole".to_string(), "h5 too big".to_string()));
}

#[test]
fn a_hole_marked_too_low_is_found_as_one_that_acts_too_small() {
    let found = found_after(|body| body.holes[3].at_mm += 7.0);
    assert_eq!(found, ("hole".to_string(), "h4 too small".to_string()));
}

#[test]
fn a_body_drilled_with_the_usual_errors_is_healthy() {
    let (cause, what) = found_after(|_| {});
    // A vent that is small by plan may be named for its undertones; nothing of pitch is blamed.
    assert!(["healthy", "vent"].contains(&cause.as_str()), "{cause} {what}");
}
