//! A note that can't be met is named, and no other note moves for it.

use borescribe::instrument::model::Instrument;
use borescribe::placing::limits::Limits;
use borescribe::placing::place::{Placed, place};

use crate::plans::{BELOW_20_HZ, CONTRABASS, Plan, SOPRANO};

fn placed(instrument: &Instrument, limits: &Limits) -> Placed {
    place(instrument, limits, &|_| {}).unwrap()
}

fn cents(placed: &Placed, fingering: usize) -> f64 {
    placed.notes[fingering].cents.unwrap()
}

/// Places `plan` with `fingering` wanted `cents` higher, and holds every other note to where it was without that.
fn assert_no_other_note_moves(plan: &Plan, fingering: usize, higher_cents: f64) {
    let instrument = plan.instrument();
    let usual = placed(&instrument, &Limits::default());
    let mut odd = instrument.clone();
    odd.fingerings[fingering].cents += higher_cents;
    let found = placed(&odd, &Limits::default());
    for other in (0..usual.notes.len()).filter(|&other| other != fingering) {
        let moved_cents = cents(&found, other) - cents(&usual, other);
        let name = &odd.fingerings[other].name;
        assert!(moved_cents.abs() < 2.0, "{fingering} {higher_cents}: {name} moves {moved_cents}");
    }
    let name = &odd.fingerings[fingering].name;
    let is_named = |text: &str| text.starts_with(name.as_str()) && text.contains("It is left out");
    let told = found.warnings.iter().filter(|warning| warning.code == "not-met" && is_named(&warning.text));
    assert_eq!(told.count(), 1, "{name}: {:#?}", found.warnings);
}

/// The two notes of one row of open holes are wanted so far apart that no hole gives both: the lower one and all
/// others stay as they are without that wish.
#[test]
fn of_two_registers_that_can_not_both_be_had_one_is_named_and_nothing_else_moves() {
    let notes = CONTRABASS.notes.len();
    for (count, higher_cents) in [(5, 40.0), (5, 80.0), (3, -90.0), (0, -70.0), (8, 95.0)] {
        assert_no_other_note_moves(&CONTRABASS, notes + count, higher_cents);
    }
    assert_no_other_note_moves(&SOPRANO, SOPRANO.notes.len() + 3, 60.0);
    assert_no_other_note_moves(&BELOW_20_HZ, BELOW_20_HZ.notes.len() + 2, -80.0);
}

#[test]
fn of_two_registers_the_one_that_counts_more_is_met() {
    let mut instrument = CONTRABASS.instrument();
    let upper = CONTRABASS.notes.len() + 4;
    instrument.fingerings[upper].cents = 70.0;
    let limits = Limits { weights: vec![(upper, 3.0)], ..Limits::default() };
    let usual = placed(&CONTRABASS.instrument(), &limits);
    let found = placed(&instrument, &limits);
    assert!((cents(&found, upper) - cents(&usual, upper)).abs() < 2.0, "{}", cents(&found, upper));
    assert!(cents(&found, 4) > 40.0, "{}", cents(&found, 4));
}

/// The tube is far too long for its lowest notes and stays so.
#[test]
fn a_kept_end_draws_neither_the_vent_nor_the_sizes_after_its_note() {
    let mut instrument = CONTRABASS.instrument();
    let limits = Limits { keep_end: true, ..Limits::default() };
    instrument.bore[1].at_mm = 2363.7;
    let usual = placed(&instrument, &limits);
    instrument.bore[1].at_mm += 300.0;
    let found = placed(&instrument, &limits);
    let notes = CONTRABASS.notes.len();
    assert!(cents(&found, 0) < -150.0 && cents(&found, notes) < -150.0);
    // The notes of the lowest hole feel the long end itself.
    for other in (2..notes).chain(notes + 2..2 * notes) {
        let moved_cents = cents(&found, other) - cents(&usual, other);
        assert!(moved_cents.abs() < 2.0, "{}: {moved_cents}", instrument.fingerings[other].name);
    }
}
