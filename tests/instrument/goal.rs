//! What is good enough, and how much each note matters: refused values, and what a saved copy keeps.

use borescribe::instrument::alter::Altered;
use borescribe::instrument::change;
use borescribe::instrument::file::parse;
use borescribe::instrument::save::changed_text;

use super::{WHOLE, changed, refused};

#[test]
fn goals_and_weights_that_can_t_be_are_refused_where_they_stand() {
    for (from, to, at, what, to_do) in [
        (
            "within_cents = 4.5",
            "within_cents = 0.5",
            "0.5\nsecond",
            "[goal]: within_cents is 0.5 cents; how near to the target is good enough lies between 1 and 50 cents",
            "Check it and write it in cents.",
        ),
        (
            "second_register_weight = 0.25",
            "second_register_weight = -1",
            "-1",
            "[goal]: second_register_weight is -1; the weight of the second register lies between 0 and 10",
            "Correct the number.",
        ),
        (
            "\nweight = 2.5",
            "\nweight = 101",
            "101",
            "fingering \"C2\": weight is 101; the weight of a note lies between 0 and 100",
            "Correct the number.",
        ),
        (
            "leave = true",
            "leave = \"yes\"",
            "\"yes\"",
            "fingering \"D♭3 long\": leave must be true or false, but it is text in quotes",
            "Write leave = true or leave = false, without quotes.",
        ),
        (
            "within_cents = 4.5",
            "within = 4.5",
            "within",
            "[goal]: \"within\" is no key that [goal] knows",
            "Intervals are in cents. Did you mean within_cents?",
        ),
        (
            "within_cents = 4.5",
            "leave = false",
            "leave = false",
            "[goal]: \"leave\" is no key that [goal] knows",
            "It belongs in [[fingering]].",
        ),
        (
            "[goal]",
            "[[goal]]",
            "[[goal]]",
            "[[goal]] has double brackets, but there is only one",
            "Write [goal] with single brackets, once.",
        ),
    ] {
        refused(from, to, at, what, to_do);
    }
}

#[test]
fn the_ends_of_every_range_are_allowed() {
    for (from, to) in [
        ("within_cents = 4.5", "within_cents = 1"),
        ("within_cents = 4.5", "within_cents = 50.0"),
        ("second_register_weight = 0.25", "second_register_weight = 0"),
        ("second_register_weight = 0.25", "second_register_weight = 10"),
        ("\nweight = 2.5", "\nweight = 0"),
        ("\nweight = 2.5", "\nweight = 100"),
    ] {
        assert!(parse(&changed(from, to)).is_ok(), "{to}");
    }
}

#[test]
fn a_saved_copy_keeps_goal_weights_and_what_is_left_alone() {
    let instrument = parse(WHOLE).unwrap();
    let start = Altered::unchanged(&instrument);
    let step = start.settle(&change::parse(&instrument, "h1.diameter=9.5").unwrap()).unwrap();
    let saved = changed_text(WHOLE, &instrument, &[step]).unwrap();
    // A size that is written with = was measured: that is kept beside it.
    assert_eq!(saved.matches("measured_again = true\n").count(), 1);
    assert_eq!(
        saved.replace("measured_again = true\n", ""),
        changed("diameter_mm = 9.0", "diameter_mm = 9.5")
    );
    let again = parse(&saved).unwrap();
    assert_eq!((again.goal, again.fingerings), (instrument.goal, instrument.fingerings));
}
