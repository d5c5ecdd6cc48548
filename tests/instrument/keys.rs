//! Keys in the box and angles round the tube: what is read, what is refused, what is kept.

use borescribe::instrument::file::parse;
use borescribe::instrument::save::layout_text;

use super::{WHOLE, changed, problems, refused};

const CHECK_MM: &str = "Check it and write it in mm.";

#[test]
fn keys_that_can_not_be_are_refused_with_their_line_and_what_to_do() {
    let angle =
        "the angle round the tube, from the line of the finger holes, lies between -180 and 180 degrees";
    for (from, to, what, to_do) in [
        (
            "pad_diameter_mm = 18.25",
            "pad_diameter_mm = 0",
            "key \"k1\": pad_diameter_mm is 0 mm; the diameter of a pad is more than 0 and at most 600 mm".into(),
            CHECK_MM,
        ),
        (
            "pad_diameter_mm = 17",
            "pad_diameter_mm = \"17 mm\"",
            "key 2: pad_diameter_mm must be a number, but it is text in quotes".into(),
            "Write it without quotes and unit: 17.",
        ),
        (
            "from_mm = 400.5",
            "from_mm = 950",
            "key \"k1\": from_mm is 950, beyond to_mm, 900.25".into(),
            "from_mm is the end of its reach that is nearer the mouthpiece. Swap the two, or measure again.",
        ),
        (
            "angle_deg = 40.5",
            "angle_deg = 200",
            format!("key \"k1\": angle_deg is 200 degrees; {angle}"),
            "Check it and write it in degrees.",
        ),
        (
            "angle_deg = 33.75",
            "angle_deg = -181",
            format!("hole \"h1\": angle_deg is -181 degrees; {angle}"),
            "Check it and write it in degrees.",
        ),
        (
            "lift_mm = 5.5",
            "lift_mm = -5.5",
            "key \"k1\": lift_mm is -5.5 mm; the lift of a pad over an open hole is more than 0 and at most 200 mm"
                .into(),
            CHECK_MM,
        ),
        (
            "count = 2",
            "count = 0",
            "key \"k1\": count is 0; how many keys are alike lies between 1 and 40".into(),
            "Correct the number.",
        ),
        (
            "name = \"k1\"",
            "name = \"k/1\"",
            "key \"k/1\": a name can't hold \"/\"".into(),
            "Use letters, digits, - and _; spaces only inside.",
        ),
        (
            "lift_mm = 5.5",
            "lift_cm = 0.55",
            "key \"k1\": \"lift_cm\" is no key that [[key]] knows".into(),
            "Lengths are in mm. Use lift_mm: 1 cm is 10 mm.",
        ),
    ] {
        let text = changed(from, to);
        let found = problems(&text);
        assert_eq!(found.len(), 1, "{to}: {found:?}");
        let line = text[..text.find(to).unwrap()].matches('\n').count() + 1;
        assert_eq!((found[0].what.clone(), found[0].to_do.as_str(), found[0].line), (what, to_do, line));
    }
}

#[test]
fn more_keys_than_forty_are_refused_however_they_are_counted() {
    refused(
        "count = 2",
        "count = 40",
        "[[key]]\npad",
        "key 2: with this one there are 41 keys; an instrument can have at most 40",
        "Keep the keys that may serve this body; it has no more holes than that.",
    );
}

#[test]
fn a_key_can_not_be_called_like_one_without_a_name() {
    refused(
        "name = \"k1\"",
        "name = \"Key 2\"",
        "[[key]]\npad",
        "key \"key 2\" and the key \"Key 2\" in line 89 differ only in case or the sign for sharp or flat",
        "Give one of the two another name.",
    );
}

#[test]
fn a_key_without_the_size_of_its_pad_is_refused() {
    refused(
        "pad_diameter_mm = 17\n",
        "lift_mm = 4\n",
        "[[key]]\nlift",
        "key 2: pad_diameter_mm is missing",
        "Add pad_diameter_mm = … under [[key]].",
    );
}

#[test]
fn keys_and_their_remarks_stay_when_a_layout_is_written_and_a_new_angle_is_written() {
    let text = changed("count = 2", "count = 2   # from the old bassoon");
    let before = parse(&text).unwrap();
    let mut after = before.clone();
    after.holes[1].angle_deg = 40.5;
    after.holes[1].at_mm = 705.0;
    let written = layout_text(&text, &before, &after).unwrap();
    assert!(written.contains("count = 2   # from the old bassoon"), "{written}");
    assert_eq!(parse(&written).unwrap(), after);
    assert_eq!(parse(WHOLE).unwrap().keys, after.keys);
}
