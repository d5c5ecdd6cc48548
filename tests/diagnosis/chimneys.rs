//! What is proposed when a hole can't be opened any farther: its chimney, before another place on the next body.

use borescribe::diagnosis::check::check;
use borescribe::diagnosis::work::cuts::{Cut, CutKind};
use borescribe::instrument::model::Instrument;
use borescribe::instrument::prediction::predict;
use borescribe::units::cents_between;

use crate::common::bittern;
use crate::{Player, takes_of};

/// The first cut when D2 is wanted so much higher and the pad of its hole h8 covers no more than it does.
fn first_cut(wanted_cents: f64, change: impl Fn(&mut Instrument, usize)) -> (Instrument, Cut) {
    let mut instrument = bittern();
    let h8 = instrument.holes.iter().position(|hole| hole.name == "h8").unwrap();
    instrument.holes[h8].pad.as_mut().unwrap().diameter_mm = instrument.holes[h8].diameter_mm + 5.0;
    change(&mut instrument, h8);
    let d2 = instrument.fingerings.iter().position(|fingering| fingering.name == "D2").unwrap();
    // A note that matters much to its maker.
    instrument.fingerings[d2].weight = 4.0;
    instrument.goal.second_register_weight = 0.0;
    let now_cents = predict(&instrument)[d2].cents().unwrap();
    instrument.fingerings[d2].cents += now_cents + wanted_cents;
    let takes = takes_of(&instrument, &[], &mut Player::new(3, 0.5), 3);
    let result = check(&instrument, &takes);
    let cut = result.cuts.into_iter().find(|cut| cut.place.as_deref() == Some("h8")).unwrap();
    (instrument, cut)
}

#[test]
fn a_hole_whose_pad_covers_no_more_is_cured_by_its_chimney_and_every_note_is_told() {
    let (instrument, cut) = first_cut(9.0, |_, _| {});
    assert_eq!(cut.kind, CutKind::ShortenChimney, "{}", cut.text);
    assert!(
        !cut.undo && cut.text.contains("the pad covers no more") && cut.text.contains("set the pad"),
        "{}",
        cut.text
    );
    let mm = |change: &str| change.strip_prefix("h8.chimney=").unwrap().parse::<f64>().unwrap();
    let (first_mm, full_mm) = (mm(&cut.change), mm(&cut.full));
    let h8 = instrument.holes.iter().position(|hole| hole.name == "h8").unwrap();
    assert!(first_mm < instrument.holes[h8].chimney_mm && full_mm <= first_mm, "{first_mm} {full_mm}");
    assert!(full_mm >= instrument.wall.thickness_mm + 1.0, "{full_mm}");
    let mut shortened = instrument.clone();
    shortened.holes[h8].chimney_mm = full_mm;
    assert_eq!(cut.effects.len(), instrument.fingerings.len());
    for ((effect, before), after) in cut.effects.iter().zip(predict(&instrument)).zip(predict(&shortened)) {
        let moves = cents_between(after.predicted_hz.unwrap(), before.predicted_hz.unwrap());
        assert!((effect.after_cents - effect.before_cents - moves).abs() < 0.05, "{effect:?} {moves}");
        let own = instrument.fingerings[effect.fingering].name == "D2";
        assert!(!own || (effect.after_cents <= 0.0 && moves > 2.5), "{effect:?}");
    }
}

#[test]
fn a_hole_in_the_tubes_own_wall_and_a_note_too_flat_for_its_chimney_go_to_the_next_body() {
    let in_the_wall = |instrument: &mut Instrument, h8: usize| {
        instrument.holes[h8].chimney_mm = instrument.wall.thickness_mm;
    };
    let (_, cut) = first_cut(9.0, in_the_wall);
    assert_eq!(cut.kind, CutKind::Move, "{}", cut.text);
    let (_, cut) = first_cut(25.0, |_, _| {});
    assert_eq!(cut.kind, CutKind::Move, "{}", cut.text);
}

#[test]
fn where_the_drill_still_helps_the_chimney_is_left_alone() {
    let (_, cut) = first_cut(9.0, |instrument, h8| {
        instrument.holes[h8].pad.as_mut().unwrap().diameter_mm = 30.0;
    });
    assert_eq!(cut.kind, CutKind::Enlarge, "{}", cut.text);
}
