//! What takes teach of player, mouthpiece and reed: an offset and a reed's give that are planted are found again, as
//! surely as is said and no surer.

use borescribe::diagnosis::check::{Known, check, check_knowing};
use borescribe::diagnosis::findings::ranking::Kind;
use borescribe::diagnosis::weigh::learned::{LearnError, Learned, PlayedBody, PlayedNote};
use borescribe::instrument::column::reed_give_ml;
use borescribe::instrument::model::{Drive, Instrument};
use borescribe::instrument::prediction::predict;
use borescribe::units::{cents_between, shift_by_cents};

use crate::common::bittern;
use crate::{Player, take};

/// The true body, played `cents` sharp with a player's scatter, under the measures of `file`.
fn played(file: &Instrument, truth: &Instrument, cents: f64, player: &mut Player) -> PlayedBody {
    let notes = predict(truth)
        .iter()
        .map(|note| PlayedNote {
            fingering: note.fingering,
            hz: shift_by_cents(note.predicted_hz.unwrap(), cents + player.scatter()),
            takes: 1,
        })
        .collect();
    PlayedBody { source: "a book, P1/01".to_string(), instrument: file.clone(), notes }
}

/// The next body: shorter, narrower holes, the same mouthpiece and reed.
fn next_body() -> Instrument {
    let mut next = bittern();
    next.holes.iter_mut().filter(|hole| !hole.vent).for_each(|hole| hole.diameter_mm -= 1.0);
    next.holes.iter_mut().filter(|hole| !hole.vent).for_each(|hole| hole.at_mm -= 6.0);
    next
}

fn with_reed(body: &Instrument, times: f64) -> Instrument {
    let mut changed = body.clone();
    let give_ml = reed_give_ml(body);
    changed.mouthpiece.as_mut().unwrap().reed_ml = Some(times * give_ml);
    changed
}

#[test]
fn a_planted_offset_is_found_with_honest_uncertainty() {
    let (file, next) = (bittern(), next_body());
    let mut inside = 0;
    const EVENINGS: u64 = 20;
    for evening in 0..EVENINGS {
        let mut player = Player::new(evening, 3.0);
        let learned = Learned::from(&played(&file, &file, 8.0, &mut player)).unwrap();
        let expected = learned.expectation(&next, &predict(&next)).unwrap();
        let off_cents = expected.mean.cents - 8.0;
        assert!(off_cents.abs() < 3.0, "{expected:?}");
        // Another day alone moves all notes by 3 cents, so that nothing surer can be said.
        assert!(expected.mean.sd_cents >= 3.0, "{expected:?}");
        assert!(expected.mean.sd_cents < 0.7 * expected.unlearnt_sd_cents, "{expected:?}");
        inside += u64::from(off_cents.abs() <= expected.mean.sd_cents);
        for note in expected.notes.iter().flatten() {
            assert!((note.cents - 8.0).abs() < 2.0 * note.sd_cents, "{expected:?}");
        }
        assert_eq!(expected.taken_out, None);
    }
    assert!(inside >= EVENINGS * 2 / 3, "{inside} of {EVENINGS} within one standard uncertainty");
}

#[test]
fn what_a_planted_give_of_the_reed_does_is_carried_over_to_the_next_body_note_by_note() {
    let (file, next) = (bittern(), next_body());
    let (file_reed, next_reed) = (with_reed(&file, 1.3), with_reed(&next, 1.3));
    let (mut without, mut with) = (0.0, 0.0);
    for evening in 0..10 {
        let mut player = Player::new(100 + evening, 2.0);
        let learned = Learned::from(&played(&file, &file_reed, 0.0, &mut player)).unwrap();
        let expected = learned.expectation(&next, &predict(&next)).unwrap();
        assert!(expected.same_top);
        for ((note, truth), offset) in predict(&next).iter().zip(predict(&next_reed)).zip(&expected.notes) {
            let off = cents_between(truth.predicted_hz.unwrap(), note.predicted_hz.unwrap());
            without += off * off;
            with += (off - offset.unwrap().cents).powi(2);
        }
    }
    assert!(with < 0.25 * without, "{with:.0} of {without:.0}");
}

#[test]
fn a_check_that_knows_the_player_finds_nothing_in_an_offset_that_was_heard_before() {
    let (file, next) = (bittern(), next_body());
    let (mut healthier, mut cause) = (0, 0);
    const EVENINGS: u64 = 10;
    for evening in 0..EVENINGS {
        let mut player = Player::new(200 + evening, 3.0);
        let learned = Learned::from(&played(&file, &file, 14.0, &mut player)).unwrap();
        let takes: Vec<_> = predict(&next)
            .iter()
            .map(|note| {
                let hz = shift_by_cents(note.predicted_hz.unwrap(), 14.0 + player.scatter());
                take(format!("{}.wav", next.fingerings[note.fingering].name), note.fingering, hz)
            })
            .collect();
        let weight = |check: &borescribe::diagnosis::check::Check| {
            check.findings.iter().find(|finding| finding.suspect.kind == Kind::Healthy).unwrap().weight
        };
        let (plain, knowing) = (
            check(&next, &takes),
            check_knowing(&next, &takes, &Known { learned: Some(&learned), ..Known::default() }).unwrap(),
        );
        healthier += u64::from(weight(&knowing) > weight(&plain));
        cause += u64::from(knowing.findings[0].suspect.kind == Kind::Healthy);
    }
    assert!(healthier >= 9, "{healthier}");
    assert!(cause >= 9, "{cause}");
}

#[test]
fn a_fault_of_the_body_that_teaches_is_not_handed_on() {
    let (file, next) = (bittern(), next_body());
    let mut truth = file.clone();
    let h4 = truth.holes.iter().position(|hole| hole.name == "h4").unwrap();
    truth.holes[h4].diameter_mm *= 1.3;
    let learned = Learned::from(&played(&file, &truth, 0.0, &mut Player::new(7, 2.0))).unwrap();
    let expected = learned.expectation(&next, &predict(&next)).unwrap();
    assert_eq!(expected.taken_out.as_deref(), Some("hole:h4"));
    assert!(expected.notes.iter().flatten().all(|note| note.cents.abs() < 5.0), "{expected:?}");
}

#[test]
fn too_few_notes_none_at_all_and_another_drive_teach_nothing() {
    let file = bittern();
    let whole = played(&file, &file, 0.0, &mut Player::new(1, 2.0));
    let few = PlayedBody { notes: whole.notes[..4].to_vec(), ..whole.clone() };
    let none = PlayedBody { notes: Vec::new(), ..whole.clone() };
    assert_eq!(Learned::from(&few).err(), Some(LearnError::TooFewNotes { notes: 4 }));
    assert_eq!(Learned::from(&none).err(), Some(LearnError::NoTakes));
    let flute = Instrument { drive: Drive::AirJet, ..file.clone() };
    let learned = Learned::from(&whole).unwrap();
    assert!(matches!(
        learned.expectation(&flute, &predict(&flute)).err(),
        Some(LearnError::OtherDrive { theirs: "a reed", own: "an air jet" })
    ));
}
