//! When a cut is begun, how surely a note must be off for it, and in what air it must be in tune.

use borescribe::diagnosis::check::{Check, check};
use borescribe::diagnosis::decide::action::Do;
use borescribe::diagnosis::expectation::noise::expected_noise;
use borescribe::diagnosis::takes::condition::Bench;
use borescribe::diagnosis::takes::evidence::gather;
use borescribe::diagnosis::weigh::explain::explain;
use borescribe::instrument::model::Instrument;
use borescribe::instrument::prediction::predict;

use crate::common::bittern;
use crate::{Player, takes_of};

/// The check of an instrument just as its file says, three takes a note, when D2 is wanted so much higher than it sounds and
/// all other notes just as they sound.
fn wanting_d2_higher(cents: f64) -> Check {
    let mut instrument = bittern();
    let predicted = predict(&instrument);
    for (fingering, note) in instrument.fingerings.iter_mut().zip(&predicted) {
        fingering.cents += note.cents().unwrap() + if fingering.name == "D2" { cents } else { 0.0 };
    }
    // Its twelfth is as it should be already and would hold it back.
    instrument.goal.second_register_weight = 0.0;
    check(&instrument, &takes_of(&instrument, &[], &mut Player::new(4, 0.5), 3))
}

#[test]
fn an_instrument_that_is_in_tune_within_eight_cents_is_left_alone() {
    for cents in [6.0, 7.0] {
        let result = wanting_d2_higher(cents);
        assert!(result.next.done && result.cuts.is_empty(), "{cents}: {:?}", result.next);
    }
    let result = wanting_d2_higher(11.0);
    assert_eq!(result.next.action, Do::Cut, "{:?}", result.next);
}

#[test]
fn how_well_a_note_is_known_does_not_depend_on_which_cause_explains_what_all_notes_share() {
    let file = bittern();
    let mut truth = file.clone();
    // All notes fall by some 20 cents: the top, the air and the player could all do that.
    for point in &mut truth.bore[1..] {
        point.at_mm += 12.0;
    }
    for hole in &mut truth.holes {
        hole.at_mm += 12.0;
    }
    let takes = takes_of(&truth, &[], &mut Player::new(7, 2.0), 3);
    let predicted = predict(&file);
    let bench = Bench::new(&file, &predicted, &[]);
    let evidence = gather(&bench, &takes);
    let noise = expected_noise(&bench, &evidence);
    let explained = explain(&bench, &evidence, &noise, &[], None);
    assert_eq!(explained.own.notes.len(), file.fingerings.len());
    for (own, note) in explained.own.notes.iter().zip(&file.fingerings) {
        assert!(own.sd_cents < 2.0, "{}: {:?}", note.name, own);
    }
}

#[test]
fn nothing_is_cut_or_set_for_air_that_was_measured_cold() {
    let mut played: Instrument = bittern();
    played.measure_air(15.0);
    assert_eq!(played.in_tune_at_c, Some(bittern().air.temperature_c));
    let result = check(&played, &takes_of(&played, &[], &mut Player::new(5, 1.0), 3));
    assert!(result.cuts.is_empty() && result.next.action == Do::Nothing, "{:?}", result.next);
    assert!(result.target_cents.abs() < 5.0, "{}", result.target_cents);
}

#[test]
fn a_hole_just_flush_with_the_tube_makes_its_note_no_less_certain() {
    let doubt_of_its_note = |standing_mm: f64| {
        let mut instrument = bittern();
        let h4 = instrument.holes.iter().position(|hole| hole.name == "h4").unwrap();
        instrument.holes[h4].chimney_mm = instrument.wall.thickness_mm + standing_mm;
        let takes = takes_of(&instrument, &[], &mut Player::new(6, 1.0), 1);
        let predicted = predict(&instrument);
        let bench = Bench::new(&instrument, &predicted, &[]);
        let noise = expected_noise(&bench, &gather(&bench, &takes));
        let note =
            (0..instrument.fingerings.len()).find(|&f| instrument.first_open_hole(f) == Some(h4)).unwrap();
        noise.instrument[note][note].sqrt()
    };
    // Half a millimetre over the wall is the last height that counts as flush.
    let (edge, flush) = (doubt_of_its_note(0.5), doubt_of_its_note(0.1));
    assert!((edge - flush).abs() < 0.1 * flush, "{edge} {flush}");
}
