//! Undertones and notes that fall down a register: whose fault they are called.

use borescribe::analysis::measurement::{Undertone, UndertoneKind};
use borescribe::diagnosis::check::{Check, check};
use borescribe::diagnosis::decide::action::Reason;
use borescribe::diagnosis::decide::bench_tests::BenchTest;
use borescribe::diagnosis::findings::ranking::{Finding, Kind};
use borescribe::diagnosis::takes::evidence::FiledTake;
use borescribe::instrument::model::Instrument;
use borescribe::instrument::prediction::predict;

use crate::common::bittern;
use crate::{Player, leading, takes_of};

/// The vent of the second body before it was reamed: by the file's own measures it lets the lower register stay.
fn small_vent() -> Instrument {
    let mut instrument = bittern();
    instrument.holes[8].diameter_mm = 1.2;
    instrument
}

fn takes(instrument: &Instrument) -> Vec<FiledTake> {
    takes_of(instrument, &[], &mut Player::new(11, 1.0), 1)
}

fn fingering(instrument: &Instrument, name: &str) -> usize {
    instrument.fingerings.iter().position(|fingering| fingering.name == name).unwrap()
}

/// The resonance below the note that this fingering should sound, hertz.
fn lower_hz(instrument: &Instrument, name: &str) -> f64 {
    predict(instrument)[fingering(instrument, name)].resonances[0].hz
}

fn free(hz: f64) -> Undertone {
    Undertone {
        hz,
        ratio: None,
        db: -20.0,
        kind: UndertoneKind::Free,
        follows: None,
        family: None,
        mixed_with_hz: None,
    }
}

fn vent_finding(check: &Check) -> Option<&Finding> {
    let of_vent = |finding: &&Finding| {
        finding.cause.is_none()
            && (finding.suspect.kind == Kind::Vent || finding.group.iter().any(|s| s.kind == Kind::Vent))
    };
    check.findings.iter().find(of_vent)
}

#[test]
fn two_notes_that_fall_to_the_register_below_point_to_a_vent_that_the_file_itself_calls_weak() {
    let instrument = small_vent();
    let mut takes = takes(&instrument);
    for name in ["G3", "A3"] {
        takes[fingering(&instrument, name)].measurement.pitch_hz = Some(lower_hz(&instrument, name));
    }
    let result = check(&instrument, &takes);
    assert_eq!(leading(&result), (Kind::Vent, Some("v")), "{:#?}", result.findings);
    assert!(result.findings[0].text.contains("G3, A3"), "{}", result.findings[0].text);
    assert!(result.findings[0].evidence.iter().any(|said| said.contains("G3 fell")));
    // The vent that the file holds for good is not blamed.
    let sound = bittern();
    assert!(vent_finding(&check(&sound, &takes)).is_none());
}

#[test]
fn one_note_that_fell_is_asked_for_again_and_blames_nothing() {
    let instrument = small_vent();
    let mut takes = takes(&instrument);
    takes[fingering(&instrument, "G3")].measurement.pitch_hz = Some(lower_hz(&instrument, "G3"));
    let result = check(&instrument, &takes);
    assert!(vent_finding(&result).is_none(), "{:#?}", result.findings);
    assert_eq!(leading(&result).0, Kind::Healthy);
    // One failure may be a slip: it is asked for again.
    let g3 = instrument.fingerings.iter().position(|fingering| fingering.name == "G3").unwrap();
    assert_eq!(result.next.reason, Reason::PlayAgain(vec![g3]));
    assert!(matches!(
        result.next.tests.first(),
        Some(BenchTest::Play { play, .. }) if play.fingerings == [g3] && play.closed.is_empty()
    ));
}

#[test]
fn a_lower_tone_only_while_notes_build_up_is_no_fault_by_itself() {
    let instrument = small_vent();
    let mut takes = takes(&instrument);
    for name in ["G3", "A3", "B3"] {
        let lower = free(lower_hz(&instrument, name));
        takes[fingering(&instrument, name)].measurement.building_up = vec![lower];
    }
    let result = check(&instrument, &takes);
    assert_eq!(leading(&result).0, Kind::Healthy, "{:#?}", result.findings);
    assert!(vent_finding(&result).is_none());
    // Beside a note that fell they count.
    takes[fingering(&instrument, "C4")].measurement.pitch_hz = Some(lower_hz(&instrument, "C4"));
    let result = check(&instrument, &takes);
    assert_eq!(leading(&result).0, Kind::Vent, "{:#?}", result.findings);
    assert!(result.findings[0].evidence.iter().any(|said| said.contains("slow to speak")));
}

#[test]
fn a_line_where_the_lower_resonance_lies_is_the_vents_and_one_elsewhere_is_not() {
    let instrument = bittern();
    let mut takes = takes(&instrument);
    let at = fingering(&instrument, "G3");
    let lower = lower_hz(&instrument, "G3");
    // With this vent it lies well off a third of the note.
    let note = predict(&instrument)[at].predicted_hz.unwrap();
    assert!((note / lower - 3.0).abs() > 0.2, "{note} {lower}");
    takes[at].measurement.undertones = vec![free(lower)];
    let result = check(&instrument, &takes);
    let finding = vent_finding(&result).unwrap();
    assert_eq!((finding.suspect.kind, finding.suspect.place.as_deref()), (Kind::Undertone, Some("G3")));
    takes[at].measurement.undertones = vec![free(1.2 * lower)];
    assert!(vent_finding(&check(&instrument, &takes)).is_none());
}
