//! Wide and narrow places of the bore, and the note that tells one cause from another.

use borescribe::diagnosis::beliefs::causes::PLACE_LENGTH_MM;
use borescribe::diagnosis::causes::bore_places::{BorePlace, bore_places, widen};
use borescribe::diagnosis::check::check;
use borescribe::diagnosis::findings::ranking::Kind;
use borescribe::instrument::column::{Leak, LeakPlace};
use borescribe::instrument::prediction::predict;
use borescribe::units::cents_between;

use crate::common::bittern;
use crate::{Player, takes_of};

#[test]
fn a_groove_at_a_joint_and_a_ridge_between_are_found_where_they_are_and_nothing_is_cut() {
    let instrument = bittern();
    // p4 at 505 mm; and a place without any post, 850 mm down.
    for (at_mm, wider_mm, word) in [(505.0, 7.0, "wide place"), (850.0, -6.0, "narrow place")] {
        let mut truth = instrument.clone();
        widen(&mut truth, BorePlace { at_mm, site: None }, wider_mm);
        let takes = takes_of(&truth, &[], &mut Player::new(21, 1.0), 3);
        let result = check(&instrument, &takes);
        let told = result.findings.iter().find(|finding| finding.suspect.kind == Kind::Bore);
        let told = told.unwrap_or_else(|| panic!("{at_mm} mm: {:#?}", result.findings));
        assert!(told.text.contains(word), "{}", told.text);
        let near = bore_places(&instrument).into_iter().filter(|place| (place.at_mm - at_mm).abs() < 110.0);
        let names: Vec<String> = near.map(|place| place.name(&instrument)).collect();
        assert!(names.contains(told.suspect.place.as_ref().unwrap()), "{names:?}: {told:?}");
        assert!(result.cuts.is_empty(), "{at_mm} mm: {:?}", result.cuts);
    }
}

#[test]
fn a_place_of_the_bore_changes_its_volume_and_nothing_else() {
    let instrument = bittern();
    for place in bore_places(&instrument) {
        let mut changed = instrument.clone();
        widen(&mut changed, place, 2.0);
        assert_eq!(changed.length_mm(), instrument.length_mm());
        for at_mm in
            [0.0, place.at_mm - PLACE_LENGTH_MM, place.at_mm + PLACE_LENGTH_MM, instrument.length_mm()]
        {
            assert_eq!(changed.bore_at_mm(at_mm), instrument.bore_at_mm(at_mm), "{place:?} {at_mm}");
        }
        assert_eq!(changed.bore_at_mm(place.at_mm), instrument.bore_at_mm(place.at_mm) + 2.0);
        // And widening by nothing moves no note.
        let mut same = instrument.clone();
        widen(&mut same, place, 0.0);
        for (a, b) in predict(&same).iter().zip(predict(&instrument)) {
            assert!(cents_between(a.predicted_hz.unwrap(), b.predicted_hz.unwrap()).abs() < 1e-6);
        }
    }
}

#[test]
fn the_note_that_is_asked_for_is_one_where_more_takes_can_still_tell() {
    let instrument = bittern();
    let leak = Leak { place: LeakPlace::Site(2), diameter_mm: 0.7 };
    let all = takes_of(&instrument, &[leak], &mut Player::new(4, 2.0), 1);
    // The first register alone, and only its upper half.
    let few: Vec<_> = all.into_iter().filter(|take| (3..9).contains(&take.fingering)).collect();
    let result = check(&instrument, &few);
    let asked = result.remarks.iter().find(|remark| remark.starts_with("To tell "));
    let asked = asked.unwrap_or_else(|| panic!("{:#?} {:?}", result.findings, result.remarks));
    let unplayed = (0..18).filter(|fingering| !(3..9).contains(fingering));
    let names: Vec<String> =
        unplayed.map(|fingering| format!("play {} three", instrument.fingerings[fingering].name)).collect();
    assert!(names.iter().any(|name| asked.contains(name)), "{asked}");
    // With three takes of every note there is no note left to ask for.
    let full = takes_of(&instrument, &[leak], &mut Player::new(4, 2.0), 3);
    assert!(check(&instrument, &full).remarks.iter().all(|remark| !remark.starts_with("To tell ")));
}
