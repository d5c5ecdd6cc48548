//! Values and geometry that can't be right, each with its sentence and place.

use super::{changed, problems, refused};

const CHECK_MM: &str = "Check it and write it in mm.";

#[test]
fn the_bore_starts_at_zero_and_goes_down_the_tube() {
    refused(
        "at_mm = 0\n",
        "at_mm = 5\n",
        "5\ndiameter_mm = 20.125",
        "the bore starts at 5 mm, not at 0",
        "Measure from where the mouthpiece ends, and write the first point as at_mm = 0.",
    );
    refused(
        "at_mm = 1180.0",
        "at_mm = 118.5",
        "118.5",
        "bore point 4 is at 118.5 mm, before the point above it at 600 mm",
        "Put the points in order from the mouthpiece down, or correct the number.",
    );
    refused(
        "at_mm = 1180.0",
        "at_mm = 600.00",
        "600.00",
        "three points of the bore are at 600 mm",
        "Keep two: the diameter before and after the change.",
    );
}

#[test]
fn a_bore_needs_two_points_and_some_length() {
    let head = "format = 1\n[instrument]\nname = \"x\"\nprototype = \"P1\"\ndrive = \"air-jet\"\n";
    for (bore, line, column, what) in [
        ("", 1, 1, "the bore has no point; a tube needs two at least"),
        (
            "[[bore]]\nat_mm = 0\ndiameter_mm = 20\n",
            7,
            9,
            "the bore has only one point; a tube needs two at least",
        ),
        (
            "[[bore]]\nat_mm = 0\ndiameter_mm = 20\n[[bore]]\nat_mm = 0\ndiameter_mm = 21\n",
            10,
            9,
            "the tube is 0 mm long",
        ),
    ] {
        let found = problems(&format!("{head}{bore}"));
        assert_eq!(found.len(), 1, "{bore}");
        assert_eq!((found[0].what.as_str(), found[0].line, found[0].column), (what, line, column));
    }
}

#[test]
fn single_values_have_limits() {
    let hole = "the diameter of a hole lies between 0.1 and 500 mm";
    let bore = "the diameter of a bore lies between 1 and 500 mm";
    for (from, to, value, what, to_do) in [
        ("diameter_mm = 20.125", "diameter_mm = 0.5", "0.5\n\n[[bore]]", format!("bore point 1: diameter_mm is 0.5 mm; {bore}"), CHECK_MM),
        ("diameter_mm = 21.5", "diameter_mm = 2150", "2150", format!("bore point 4: diameter_mm is 2150 mm; {bore}"), CHECK_MM),
        ("at_mm = 1180.0", "at_mm = 20001", "20001", "bore point 4: at_mm is 20001 mm; a place on the tube lies between 0 and 20000 mm".into(), CHECK_MM),
        ("diameter_mm = 10.5", "diameter_mm = 0.0", "0.0\nchimney_mm = 6.5", format!("hole \"h2\": diameter_mm is 0 mm; {hole}"), CHECK_MM),
        ("diameter_mm = 10.5", "diameter_mm = -9", "-9", format!("hole \"h2\": diameter_mm is -9 mm; {hole}"), CHECK_MM),
        ("chimney_mm = 6.5", "chimney_mm = -2", "-2\n", "hole \"h2\": chimney_mm is -2 mm; the height of a chimney lies between 0 and 500 mm".into(), CHECK_MM),
        ("pad_lift_mm = 4.0", "pad_lift_mm = -4", "-4", "hole \"h1\": pad_lift_mm is -4 mm; the lift of a pad over an open hole is more than 0 and at most 200 mm".into(), CHECK_MM),
        ("undercut_mm = 0.5", "undercut_mm = -0.5", "-0.5", "hole \"h1\": undercut_mm is -0.5 mm; an undercut lies between 0 and 100 mm".into(), CHECK_MM),
        ("temperature_c = 23.5", "temperature_c = 74", "74", "[air]: temperature_c is 74 °C; the air inside an instrument lies between -10 and 45 °C".into(), "Check it and write it in °C."),
        ("humidity_percent = 70", "humidity_percent = 101", "101", "[air]: humidity_percent is 101 percent; humidity lies between 0 and 100 percent".into(), "Check it and write it in percent."),
        ("a4_hz = 440.5", "a4_hz = 44", "44\n", "[instrument]: a4_hz is 44 Hz; the frequency of A4 lies between 300 and 600 Hz".into(), "Check it and write it in Hz."),
        ("chamber_ml = 12.5", "chamber_ml = -1", "-1\n", "[mouthpiece]: chamber_ml is -1 ml; the water that a mouthpiece holds lies between 0 and 1000 ml".into(), "Check it and write it in ml."),
        ("register = 2", "register = 13", "13", "fingering \"D♭3 long\": register is 13; a register lies between 1 and 12".into(), "Correct the number."),
        ("wall_mm = 4.25", "wall_mm = nan", "nan", "leak site \"post 4\": wall_mm is no number that can be measured".into(), CHECK_MM),
        ("radius_mm = 60.5", "radius_mm = inf", "inf", "bend 1: radius_mm is no number that can be measured".into(), CHECK_MM),
        ("thickness_mm = 3.5", "thickness_mm = 1e999", "1e999", "[wall]: thickness_mm is no number that can be measured".into(), CHECK_MM),
    ] {
        refused(from, to, value, &what, to_do);
    }
}

#[test]
fn holes_sit_inside_the_tube() {
    refused(
        "at_mm = 700.5",
        "at_mm = 1190.5",
        "1190.5",
        "hole \"h2\" is at 1190.5 mm, beyond the open end at 1180 mm",
        "Measure from where the mouthpiece ends to the centre of the hole.",
    );
    refused(
        "at_mm = 700.5",
        "at_mm = 1175.5",
        "1175.5",
        "hole \"h2\", 10.5 mm wide at 1175.5 mm, cuts across the open end at 1180 mm",
        "Measure its centre and its diameter again.",
    );
    refused(
        "at_mm = 700.5",
        "at_mm = 5.125",
        "5.125",
        "hole \"h2\", 10.5 mm wide at 5.125 mm, cuts across the top of the bore at 0 mm",
        "Measure its centre and its diameter again.",
    );
}

#[test]
fn a_hole_is_no_wider_than_the_bore_it_leads_into() {
    refused(
        "diameter_mm = 10.5",
        "diameter_mm = 25.5",
        "25.5",
        "hole \"h2\" is 25.5 mm wide, but the bore there is only 21.09 mm",
        "Measure the hole at its rim and the bore at that place again.",
    );
    refused(
        "undercut_mm = 0.5",
        "undercut_mm = 13.5",
        "13.5",
        "hole \"h1\": the undercut makes it 22.5 mm wide inside, but the bore there is only 21.01 mm",
        "undercut_mm is how much wider the hole is at the bore than at its rim; measure it again.",
    );
}

#[test]
fn a_pad_is_given_whole_and_covers_its_hole() {
    refused(
        "pad_diameter_mm = 16.0",
        "pad_diameter_mm = 8.75",
        "8.75",
        "hole \"h1\": a pad of 8.75 mm can't cover a hole of 9 mm",
        "Measure both again: pad_diameter_mm is the pad, diameter_mm the hole at its rim.",
    );
    refused(
        "pad_lift_mm = 4.0\n",
        "",
        "16.0",
        "hole \"h1\": pad_diameter_mm is given, but pad_lift_mm is not",
        "Measure the pad and add pad_lift_mm, or delete pad_diameter_mm when no pad hangs over the hole.",
    );
    refused(
        "pad_diameter_mm = 16.0\n",
        "",
        "4.0\n",
        "hole \"h1\": pad_lift_mm is given, but pad_diameter_mm is not",
        "Measure the pad and add pad_diameter_mm, or delete pad_lift_mm when no pad hangs over the hole.",
    );
}

#[test]
fn leak_sites_and_bends_are_on_the_tube() {
    refused(
        "at_mm = 505.0",
        "at_mm = 5050",
        "5050",
        "leak site \"post 4\" is at 5050 mm, beyond the open end at 1180 mm",
        "Measure from where the mouthpiece ends.",
    );
    refused(
        "at_mm = 800.0",
        "at_mm = 8000",
        "8000",
        "bend 1 is at 8000 mm, beyond the open end at 1180 mm",
        "Measure along the middle of the tube, from where the mouthpiece ends.",
    );
    refused(
        "at_mm = 800.0",
        "at_mm = 1100.0",
        "1100.0",
        "bend 1, 190 mm long with its middle at 1100 mm, reaches past the tube's end",
        "at_mm is the middle of the bend; check it, radius_mm and angle_deg.",
    );
    refused(
        "radius_mm = 60.5",
        "radius_mm = 8.5",
        "8.5",
        "bend 1 has a radius of 8.5 mm, less than half the bore of 21.17 mm",
        "Measure the radius to the middle of the tube; write 0 for a mitred elbow.",
    );
    assert!(borescribe::instrument::file::parse(&changed("radius_mm = 60.5", "radius_mm = 0")).is_ok());
}

#[test]
fn the_drive_and_the_mouthpiece_agree() {
    refused(
        "\"reed\"",
        "\"air-jet\"",
        "[mouthpiece]",
        "[mouthpiece]: drive is \"air-jet\", and an air jet has no mouthpiece with a reed",
        "Keep embouchure_mm at most, or write drive = \"reed\".",
    );
    refused(
        "chamber_ml = 12.5\n",
        "chamber_ml = 12.5\nembouchure_mm = 45.0\n",
        "45.0",
        "[mouthpiece]: embouchure_mm is for an air jet, and drive is \"reed\"",
        "Delete it, or write drive = \"air-jet\".",
    );
    refused(
        "[mouthpiece]\nchamber_ml = 12.5\nsuits_bore_mm = [18.0, 22.0]\nreed_ml = 1.25\n",
        "",
        "\"reed\"",
        "a reed needs a mouthpiece, but the table [mouthpiece] is missing",
        "Add [mouthpiece] with chamber_ml, the water it holds; 0 for a bare closed tube. A flute has drive = \
         \"air-jet\".",
    );
    let example = "Write the narrowest and the widest, like suits_bore_mm = [18.0, 22.0].";
    refused(
        "[18.0, 22.0]",
        "[22.0, 18.0]",
        "[22.0",
        "[mouthpiece]: suits_bore_mm goes from 22 down to 18 mm",
        example,
    );
    refused(
        "[18.0, 22.0]",
        "[18,5, 22,5]",
        "[18,5",
        "[mouthpiece]: suits_bore_mm holds two numbers, but there are 4",
        &format!("{example} The decimal sign is a point."),
    );
}

#[test]
fn drills_are_told_once_and_by_a_known_series() {
    let drills = "drills_mm = [7.0, 6.0, 6.5, 6.0]";
    refused(
        drills,
        "drills_mm = [7.0]\ndrills = \"number\"",
        "\"number\"",
        "[workshop]: drills and drills_mm are both given",
        "Keep the one that is true.",
    );
    refused(
        drills,
        "drills = \"metric-0,5\"",
        "\"metric-0,5\"",
        "[workshop]: drills can't be \"metric-0,5\"",
        "Did you mean \"metric-0.5\"?",
    );
    refused(
        drills,
        "drills = \"letters\"",
        "\"letters\"",
        "[workshop]: drills can't be \"letters\"",
        "Write one of: \"metric-0.5\", \"inch-64ths\", \"number\".",
    );
    refused(
        "6.5, 6.0]",
        "-6.5, 6.0]",
        "-6.5",
        "[workshop]: drills_mm is -6.5 mm; the diameter of a drill is more than 0 and at most 200 mm",
        CHECK_MM,
    );
    refused(
        "place = 0.4",
        "place = 0",
        "0, bore",
        "measured_to_mm: place is 0 mm; an error of measuring is more than 0 and at most 20 mm",
        CHECK_MM,
    );
}
