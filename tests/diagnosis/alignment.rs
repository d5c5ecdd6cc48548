//! Heard notes laid along the Bittern's eighteen fingerings.

use borescribe::diagnosis::takes::alignment::{Heard, Order, Place, align};
use borescribe::instrument::model::Instrument;
use borescribe::instrument::prediction::{PredictedNote, predict};
use borescribe::units::shift_by_cents;
use proptest::prelude::*;

use crate::common::bittern;

fn note(hz: f64, seconds: f64) -> Heard {
    Heard { hz: Some(hz), seconds, meant: false }
}

/// One note each, off its prediction by so many cents: a matter of the fingering.
fn heard(predicted: &[PredictedNote], fingerings: &[usize], cents: impl Fn(usize) -> f64) -> Vec<Heard> {
    let hz = |f: usize| shift_by_cents(predicted[f].predicted_hz.unwrap(), cents(f));
    fingerings.iter().map(|&f| note(hz(f), 2.0)).collect()
}

fn taken(instrument: &Instrument, predicted: &[PredictedNote], heard: &[Heard]) -> Vec<Option<usize>> {
    align(instrument, predicted, heard).notes.iter().map(|note| note.fingering).collect()
}

fn all_of(fingerings: &[usize]) -> Vec<Option<usize>> {
    fingerings.iter().copied().map(Some).collect()
}

#[test]
fn every_order_and_three_times_through_is_followed_with_notes_up_to_thirty_cents_off() {
    let instrument = bittern();
    let predicted = predict(&instrument);
    let up: Vec<usize> = (0..18).collect();
    let down: Vec<usize> = (0..18).rev().collect();
    let up_and_down: Vec<usize> = up.iter().chain(&down).copied().collect();
    let thrice = up.repeat(3);
    let each_thrice: Vec<usize> = up.iter().flat_map(|f| [*f; 3]).collect();
    for order in [up, down, up_and_down, thrice, each_thrice] {
        // An uneven instrument, and a player whose takes lie up to eight cents apart.
        let mut heard = heard(&predicted, &order, |f| 30.0 * ((f * 7 % 5) as f64 / 2.0 - 1.0));
        for (i, note) in heard.iter_mut().enumerate() {
            note.hz = note.hz.map(|hz| shift_by_cents(hz, 4.0 * ((i * 5 % 3) as f64 - 1.0)));
        }
        assert_eq!(taken(&instrument, &predicted, &heard), all_of(&order));
    }
}

#[test]
fn one_note_that_lies_nearer_to_its_neighbour_stays_in_its_place() {
    let instrument = bittern();
    let predicted = predict(&instrument);
    let all: Vec<usize> = (0..18).collect();
    // E2 to F2 is a semitone: 70 cents up, E2 lies 30 below F2.
    let heard = heard(&predicted, &all, |i| if i == 2 { 70.0 } else { 0.0 });
    assert_eq!(taken(&instrument, &predicted, &heard), all_of(&all));
}

#[test]
fn a_short_note_without_a_second_try_is_kept() {
    let instrument = bittern();
    let predicted = predict(&instrument);
    let all: Vec<usize> = (0..18).collect();
    let mut heard = heard(&predicted, &all, |_| 0.0);
    heard[4].seconds = 0.6;
    assert_eq!(taken(&instrument, &predicted, &heard), all_of(&all));
    // With a second try it was a false start.
    heard.insert(5, note(heard[4].hz.unwrap(), 2.0));
    let alignment = align(&instrument, &predicted, &heard);
    assert_eq!((alignment.notes[4].fingering, alignment.notes[4].place), (None, Place::FalseStart));
    assert_eq!((alignment.notes[5].fingering, alignment.notes[5].place), (Some(4), Place::Next));
}

#[test]
fn a_note_of_no_fingering_is_left_out_and_moves_no_other() {
    let instrument = bittern();
    let predicted = predict(&instrument);
    let all: Vec<usize> = (0..18).collect();
    let mut heard = heard(&predicted, &all, |_| 0.0);
    // A voice, far above all resonances.
    heard.insert(7, note(1731.0, 2.0));
    let alignment = align(&instrument, &predicted, &heard);
    assert_eq!((alignment.notes[7].fingering, alignment.notes[7].place), (None, Place::Stray));
    let rest: Vec<_> = alignment.notes.iter().filter_map(|note| note.fingering).collect();
    assert_eq!(rest, all);
    assert_eq!(alignment.order, Order::File);
    assert!(alignment.missing.is_empty());
}

#[test]
fn two_fingerings_of_one_pitch_are_told_apart_by_order_or_said_to_be_unsure() {
    let mut instrument = bittern();
    // Another name for the same holes.
    let twin = borescribe::instrument::model::Fingering {
        name: "E2 other".into(),
        ..instrument.fingerings[2].clone()
    };
    instrument.fingerings.insert(3, twin);
    let predicted = predict(&instrument);
    let all: Vec<usize> = (0..19).collect();
    assert_eq!(taken(&instrument, &predicted, &heard(&predicted, &all, |_| 0.0)), all_of(&all));
    // Three takes for two: which of them was played twice can't be told.
    let mut three = all.clone();
    three.insert(3, 2);
    let alignment = align(&instrument, &predicted, &heard(&predicted, &three, |_| 0.0));
    assert!(alignment.notes[2..5].iter().any(|note| note.or_else.is_some()), "{:?}", &alignment.notes[2..5]);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    #[test]
    fn whatever_is_heard_every_note_gets_one_entry_and_no_unknown_fingering(
        notes in prop::collection::vec((prop::option::of(5.0..3000.0_f64), 0.0..20.0_f64, any::<bool>()), 0..40),
        fingerings in 0_usize..18,
    ) {
        let mut instrument = bittern();
        instrument.fingerings.truncate(fingerings);
        let predicted = predict(&instrument);
        let heard: Vec<Heard> =
            notes.iter().map(|&(hz, seconds, meant)| Heard { hz, seconds, meant }).collect();
        let alignment = align(&instrument, &predicted, &heard);
        prop_assert_eq!(alignment.notes.len(), heard.len());
        for note in &alignment.notes {
            prop_assert!(note.fingering.is_none_or(|f| f < fingerings));
        }
        for f in alignment.missing {
            prop_assert!(alignment.notes.iter().all(|note| note.fingering != Some(f)));
        }
    }
}
