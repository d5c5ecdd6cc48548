//! Columns blown by an air jet.

use borescribe::acoustics::column::{Column, Top};
use borescribe::acoustics::radiation::OpenEnd;
use borescribe::acoustics::resonance::resonances;
use borescribe::air::Air;
use borescribe::instrument::change;
use borescribe::instrument::column::embouchure_mm;
use borescribe::instrument::file::parse;
use borescribe::instrument::forecast::forecast;
use borescribe::instrument::model::Drive;
use borescribe::instrument::prediction::predict;
use borescribe::instrument::save::changed_text;
use borescribe::instrument::trial::try_changes;
use borescribe::report::predict::text;
use borescribe::units::cents_between;

use crate::common::bittern;

const RADIUS: f64 = 10e-3;
const LENGTH: f64 = 0.6;
const END: f64 = 5e-3;

fn open_tube(air: Air) -> Column {
    let mut column = Column {
        pieces: Vec::new(),
        end_radius: RADIUS,
        end: OpenEnd::Unflanged,
        air,
        loss_factor: 1.0,
        top_radius: RADIUS,
        top: Top::AirJet { end_length: END },
    };
    column.push_bore(RADIUS, RADIUS, LENGTH, None);
    column
}

/// An open tube sounds at whole multiples of c/(2 L), both end corrections counted (textbook acoustics); air
/// without viscosity or heat conduction.
#[test]
fn a_tube_open_at_both_ends_sounds_the_whole_harmonic_series() {
    let air = Air { viscosity: 1e-20, ..Air::keefe(20.0) };
    let found = resonances(&open_tube(air), 4, 2000.0);
    assert_eq!(found.len(), 4);
    let lowest_hz = air.speed / (2.0 * (LENGTH + END + 0.6133 * RADIUS));
    for (resonance, number) in found.iter().zip([1.0, 2.0, 3.0, 4.0]) {
        let off = cents_between(resonance.hz, number * lowest_hz);
        assert!(off.abs() < 1.0, "{number}: {off}");
    }
}

/// Next to a minimum of the impedance, not to a peak.
#[test]
fn an_air_jet_sounds_where_the_impedance_is_small() {
    let column = open_tube(Air::keefe(20.0));
    for resonance in resonances(&column, 3, 2000.0) {
        assert!(resonance.magnitude > 5.0 && resonance.q > 5.0, "{resonance:?}");
        assert!(column.driven_load(resonance.hz).norm() < 0.2);
    }
}

#[test]
fn an_air_jet_instrument_sounds_an_octave_above_the_reed_on_the_same_tube() {
    let reed = bittern();
    let mut jet = reed.clone();
    jet.drive = Drive::AirJet;
    jet.mouthpiece = None;
    let notes = predict(&jet);
    assert_eq!(notes.len(), jet.fingerings.len());
    for note in &notes {
        assert!(note.predicted_hz.is_some_and(|hz| hz.is_finite() && hz > 0.0));
    }
    // Same tube with top lengths of (31 + 2) ml of bore and of the embouchure: a quarter and a half wave.
    let mouthpiece_mm = 33e3 / (0.25 * std::f64::consts::PI * 24.0 * 24.0);
    let end_mm = 0.68 * 12.0;
    let expected = 2.0 * (1217.0 + mouthpiece_mm + end_mm) / (1217.0 + embouchure_mm(&jet) + end_mm);
    let ratio = notes[0].predicted_hz.unwrap() / predict(&reed)[0].predicted_hz.unwrap();
    // Closed holes and wall losses act a little differently on the two.
    assert!(cents_between(ratio, expected).abs() < 25.0, "{ratio} against {expected}");
}

const WREN: &str = r#"
        format = 1
        [instrument]
        name = "Wren"
        prototype = "P1"
        drive = "air-jet"
        [[bore]]
        at_mm = 0.0
        diameter_mm = 19.0
        [[bore]]
        at_mm = 580.0
        diameter_mm = 19.0
        [[hole]]
        name = "h1"
        at_mm = 470.0
        diameter_mm = 9.0
        chimney_mm = 3.0
        [[fingering]]
        name = "C4"
        open = []
        [[fingering]]
        name = "D4"
        open = ["h1"]
        [[fingering]]
        name = "D5"
        open = ["h1"]
        register = 2
    "#;

/// The file's key and the calibration through `try` do the same as the guess moved by hand.
#[test]
fn the_embouchure_of_the_file_is_used_and_can_be_tried() {
    let guessed = parse(WREN).unwrap();
    let mm = embouchure_mm(&guessed) + 6.0;
    let known = parse(&WREN.replace(
        "[[bore]]\n        at_mm = 0.0",
        &format!("[mouthpiece]\nembouchure_mm = {mm}\n[[bore]]\nat_mm = 0.0"),
    ))
    .unwrap();
    assert_eq!(known.embouchure_mm, Some(mm));
    let before = predict(&guessed);
    let after = predict(&known);
    let change = change::parse(&guessed, "mouthpiece.embouchure+=6").unwrap();
    let trial = try_changes(&guessed, &[change]).unwrap();
    for ((before, after), tried) in before.iter().zip(&after).zip(&trial.notes) {
        let (before_hz, after_hz) = (before.predicted_hz.unwrap(), after.predicted_hz.unwrap());
        assert!(cents_between(after_hz, before_hz) < -8.0);
        assert!(cents_between(tried.wanted.after_hz.unwrap(), after_hz).abs() < 1e-3);
    }
    for wrong in ["mouthpiece.chamber=3", "mouthpiece.reed=1"] {
        assert!(try_changes(&guessed, &[change::parse(&guessed, wrong).unwrap()]).is_err());
    }
    let saved = changed_text(WREN, &guessed, &trial.steps).unwrap();
    assert!((parse(&saved).unwrap().embouchure_mm.unwrap() - mm).abs() < 1e-6);
    let reed = bittern();
    assert!(try_changes(&reed, &[change::parse(&reed, "mouthpiece.embouchure=40").unwrap()]).is_err());
}

#[test]
fn predict_says_that_the_embouchure_is_a_guess_and_how_to_calibrate_it() {
    let guessed = parse(WREN).unwrap();
    let told = text(&guessed, &forecast(&guessed));
    assert!(told.contains("first guess") && told.contains("Calibrate it"), "{told}");
    let mut known = guessed.clone();
    known.embouchure_mm = Some(40.0);
    let told = text(&known, &forecast(&known));
    assert!(told.contains("counts as 40.0 mm of this bore: as the file says"), "{told}");
}

#[test]
fn an_air_jet_file_is_predicted() {
    let instrument = parse(WREN).unwrap();
    let hz: Vec<f64> = predict(&instrument).iter().map(|note| note.predicted_hz.unwrap()).collect();
    // About half a wave of 580 mm and two end corrections; the hole shortens it; the second register is an octave.
    assert!((250.0..300.0).contains(&hz[0]), "{hz:?}");
    assert!((100.0..300.0).contains(&cents_between(hz[1], hz[0])), "{hz:?}");
    assert!((cents_between(hz[2], hz[1]) - 1200.0).abs() < 60.0, "{hz:?}");
}

#[test]
fn a_learnt_embouchure_correction_lengthens_the_tube() {
    let mut jet = bittern();
    jet.drive = Drive::AirJet;
    jet.mouthpiece = None;
    let guessed = predict(&jet)[0].predicted_hz.unwrap();
    jet.embouchure_mm = Some(embouchure_mm(&jet) + 10.0);
    let learnt = predict(&jet)[0].predicted_hz.unwrap();
    let expected = -1731.234 * 10.0 / (1217.0 + embouchure_mm(&jet) + 8.0);
    assert!((cents_between(learnt, guessed) - expected).abs() < 1.0);
}
