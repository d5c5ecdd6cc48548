//! A note in another register than wanted did not speak as wanted, and moves no hole.

use borescribe::analysis::measurement::Unasked;
use borescribe::diagnosis::check::check;
use borescribe::diagnosis::findings::ranking::Kind;
use borescribe::diagnosis::takes::condition::Bench;
use borescribe::diagnosis::takes::evidence::{FiledTake, Standing, gather};
use borescribe::instrument::column::playing_hz;
use borescribe::instrument::model::Instrument;
use borescribe::instrument::prediction::predict;
use borescribe::units::shift_by_cents;

use crate::common::bittern;
use crate::{Player, leading, take, takes_of};

/// A4 of the upper register: all holes and the vent open.
const HIGHEST: usize = 17;

fn standing(instrument: &Instrument, takes: &[FiledTake], index: usize) -> Standing {
    let predicted = predict(instrument);
    let evidence = gather(&Bench::new(instrument, &predicted, &[]), takes);
    let filed = evidence.notes.iter().flat_map(|note| &note.takes);
    filed.into_iter().find(|(take, _)| *take == index).map(|(_, standing)| *standing).unwrap()
}

/// What the first resonance sounds under an upper fingering, hertz: with its vent open, and as if it were shut.
fn fallen_hz(instrument: &Instrument, fingering: usize) -> [f64; 2] {
    let open = &instrument.fingerings[fingering].open;
    let shut: Vec<usize> = open.iter().copied().filter(|&hole| !instrument.holes[hole].vent).collect();
    [open, &shut].map(|open| playing_hz(instrument, open, 1, &[]).unwrap())
}

#[test]
fn an_upper_note_that_fell_is_another_register_wherever_the_vent_lets_it_sound() {
    let instrument = bittern();
    for fingering in 9..=HIGHEST {
        let [open_hz, shut_hz] = fallen_hz(&instrument, fingering);
        for hz in [open_hz, shut_hz, (open_hz * shut_hz).sqrt()] {
            let mut takes = takes_of(&instrument, &[], &mut Player::new(3, 3.0), 1);
            takes[fingering].measurement.pitch_hz = Some(hz);
            assert_eq!(
                standing(&instrument, &takes, fingering),
                Standing::OtherRegister(1),
                "{fingering} {hz}"
            );
            let result = check(&instrument, &takes);
            assert!(result.cuts.is_empty(), "{fingering} {hz}: {:?}", result.cuts);
            assert!(result.notes[fingering].measured_hz.is_none());
            assert_eq!(result.notes[fingering].sounded_register, Some(1));
            assert!(
                !matches!(leading(&result).0, Kind::Hole | Kind::Bore),
                "{fingering} {hz}: {:?}",
                result.findings[0]
            );
        }
    }
}

#[test]
fn a_fallen_note_that_was_read_as_the_wanted_one_is_known_by_what_that_leaves_out_and_by_its_pitch() {
    let instrument = bittern();
    let wanted_hz = predict(&instrument)[HIGHEST].predicted_hz.unwrap();
    let read = |cents: f64, left_out_db: f64| {
        let mut takes = takes_of(&instrument, &[], &mut Player::new(3, 3.0), 1);
        let hz = shift_by_cents(wanted_hz, cents);
        takes[HIGHEST].measurement.pitch_hz = Some(hz);
        takes[HIGHEST].measurement.expectation_decided = true;
        takes[HIGHEST].measurement.unasked = Some(Unasked { hz: hz / 3.0, left_out_db });
        standing(&instrument, &takes, HIGHEST)
    };
    assert_eq!(read(60.0, -1.0), Standing::OtherRegister(1));
    assert_eq!(read(2.0, -20.0), Standing::Used, "an undertone of a note that is where it should be");
    assert_eq!(read(30.0, -20.0), Standing::Used, "and of one that a fault has moved");
}

#[test]
fn other_takes_of_the_fingering_tell_which_of_two_readings_is_right() {
    let instrument = bittern();
    let wanted_hz = predict(&instrument)[HIGHEST].predicted_hz.unwrap();
    let mut takes = takes_of(&instrument, &[], &mut Player::new(3, 1.0), 3);
    let index = 3 * HIGHEST;
    let mut read_at = |cents: f64| {
        let hz = shift_by_cents(wanted_hz, cents);
        takes[index].measurement.pitch_hz = Some(hz);
        takes[index].measurement.unasked = Some(Unasked { hz: hz / 3.0, left_out_db: -5.0 });
        standing(&instrument, &takes, index)
    };
    assert_eq!(read_at(0.0), Standing::Used);
    assert_eq!(read_at(35.0), Standing::OtherRegister(1));
}

#[test]
fn a_low_note_that_jumped_is_another_register_and_not_the_upper_fingering_on_the_same_holes() {
    let instrument = bittern();
    let mut takes = takes_of(&instrument, &[], &mut Player::new(3, 3.0), 1);
    takes[2].measurement.pitch_hz = predict(&instrument)[11].predicted_hz;
    assert_eq!(standing(&instrument, &takes, 2), Standing::OtherRegister(2));
    takes[2] = take("E2.wav".into(), 2, predict(&instrument)[2].resonances[2].hz);
    assert_eq!(standing(&instrument, &takes, 2), Standing::OtherRegister(3));
}
