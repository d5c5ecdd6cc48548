//! What a file without problems says.

use borescribe::instrument::file::{load, parse};
use borescribe::instrument::model::*;
use borescribe::instrument::problem::FileError;

use super::{WHOLE, changed};

/// The shortest file: a plain tube.
const PLAIN: &str = "format = 1\n[instrument]\nname = \"x\"\nprototype = \"P1\"\ndrive = \"reed\"\n\
    [mouthpiece]\nchamber_ml = 0\n[[bore]]\nat_mm = 0\ndiameter_mm = 20\n[[bore]]\nat_mm = 900\ndiameter_mm = 20\n";

#[test]
fn every_key_of_the_file_arrives_where_it_belongs() {
    let instrument = parse(WHOLE).unwrap();
    let pad = Some(Pad { diameter_mm: 16.0, lift_mm: 4.0 });
    let expected_hole = Hole {
        name: "h1".into(),
        at_mm: 610.0,
        diameter_mm: 9.0,
        chimney_mm: 6.0,
        pad,
        rim_mm: 1.75,
        undercut_mm: 0.5,
        vent: false,
        drilled: true,
        measured_again: false,
        angle_deg: 33.75,
        finger: false,
    };
    assert_eq!(instrument.name, "Reed Bunting");
    assert_eq!(instrument.prototype, "P1");
    assert_eq!((instrument.drive, instrument.a4_hz), (Drive::Reed, 440.5));
    assert_eq!(instrument.written_above_sounding, 14);
    assert_eq!(instrument.wall, Wall { thickness_mm: 3.5, finish: Finish::OiledWood });
    assert_eq!(instrument.air, InsideAir { temperature_c: 23.5, humidity_percent: 70.0 });
    let mouthpiece = Mouthpiece { chamber_ml: 12.5, suits_bore_mm: Some([18.0, 22.0]), reed_ml: Some(1.25) };
    assert_eq!(instrument.mouthpiece, Some(mouthpiece));
    let bore: Vec<(f64, f64)> = instrument.bore.iter().map(|p| (p.at_mm, p.diameter_mm)).collect();
    assert_eq!(bore, [(0.0, 20.125), (600.0, 20.25), (600.0, 21.0), (1180.0, 21.5)]);
    assert_eq!(instrument.holes[0], expected_hole);
    assert!(!instrument.holes[1].drilled && instrument.holes[2].vent);
    assert_eq!(instrument.leak_sites, [LeakSite { name: "post 4".into(), at_mm: 505.0, wall_mm: 4.25 }]);
    assert_eq!(instrument.bends, [Bend { at_mm: 800.0, radius_mm: 60.5, angle_deg: 180.0 }]);
    let long = &instrument.fingerings[1];
    assert_eq!(long.name, "D♭3 long");
    assert_eq!((long.note.to_string(), long.open.clone()), ("C#3".to_string(), vec![0, 1]));
    assert_eq!((long.register, long.cents), (2, -3.5));
    assert_eq!((long.weight, long.leave), (1.0, true));
    assert_eq!((instrument.fingerings[0].weight, instrument.fingerings[0].leave), (2.5, false));
    let full = Key {
        name: "k1".into(),
        pad_diameter_mm: 18.25,
        from_mm: Some(400.5),
        to_mm: Some(900.25),
        angle_deg: Some(40.5),
        lift_mm: Some(5.5),
        count: 2,
        vent: true,
    };
    let bare = Key {
        name: "key 2".into(),
        pad_diameter_mm: 17.0,
        from_mm: None,
        to_mm: None,
        angle_deg: None,
        lift_mm: None,
        count: 1,
        vent: false,
    };
    assert_eq!(instrument.keys, [full, bare]);
    assert_eq!(instrument.holes[1].angle_deg, 0.0);
    assert_eq!(instrument.goal, Goal { within_cents: 4.5, second_register_weight: 0.25 });
    assert_eq!(instrument.workshop.drills_mm, [6.0, 6.5, 7.0]);
    let measured = MeasuredTo { place_mm: 0.4, bore_mm: 0.2, ..MeasuredTo::default() };
    assert_eq!(instrument.workshop.measured_to, measured);
}

#[test]
fn a_plain_tube_without_holes_and_fingerings_is_valid_and_takes_the_usual_values() {
    let instrument = parse(PLAIN).unwrap();
    assert_eq!(instrument.a4_hz, 440.0);
    assert_eq!(instrument.wall, Wall { thickness_mm: 3.0, finish: Finish::Smooth });
    assert_eq!(instrument.air, InsideAir { temperature_c: 24.0, humidity_percent: 60.0 });
    assert!(instrument.holes.is_empty() && instrument.fingerings.is_empty());
    assert!(instrument.workshop.drills_mm.is_empty());
    assert_eq!(instrument.workshop.measured_to, MeasuredTo::default());
    assert_eq!(instrument.goal, Goal { within_cents: 5.0, second_register_weight: 0.5 });
}

#[test]
fn holes_that_are_only_planned_are_valid() {
    let text = format!(
        "{PLAIN}[[hole]]\nname = \"h1\"\nat_mm = 500\ndiameter_mm = 8\nchimney_mm = 5\ndrilled = false\n\
         [[fingering]]\nname = \"D3\"\nopen = [\"h1\"]\n"
    );
    let instrument = parse(&text).unwrap();
    assert!(!instrument.playable(&instrument.fingerings[0]));
    assert_eq!(instrument.holes[0].rim_mm, 1.5);
    assert_eq!(instrument.fingerings[0].register, 1);
    assert_eq!((instrument.fingerings[0].weight, instrument.fingerings[0].leave), (1.0, false));
}

const HOLE: &str = "[[hole]]\nname = \"h1\"\nat_mm = 500\ndiameter_mm = 8\nchimney_mm = 5\n";

#[test]
fn a_hole_is_closed_by_a_finger_only_where_the_file_says_so() {
    let finger = |text: &str| parse(&format!("{PLAIN}{text}")).unwrap().holes[0].finger;
    assert!(!finger(HOLE));
    assert!(finger(&format!("{HOLE}closed_by = \"finger\"\n")));
}

#[test]
fn anything_else_that_closes_a_hole_is_refused() {
    for (line, what, to_do) in [
        ("closed_by = \"fingr\"", "closed_by can't be \"fingr\"", "Did you mean \"finger\"?"),
        ("closed_by = \"pad\"", "closed_by can't be \"pad\"", "Write one of: \"finger\"."),
        ("closed_by = 1", "closed_by", "closed_by = \"finger\""),
        (
            "closed_by = \"finger\"\npad_diameter_mm = 16\npad_lift_mm = 3",
            "a pad hangs over the hole",
            "Delete closed_by when the pad closes it",
        ),
    ] {
        let problem = parse(&format!("{PLAIN}{HOLE}{line}\n")).unwrap_err().remove(0);
        assert!(problem.what.contains(what) && problem.to_do.contains(to_do), "{line}: {problem:?}");
    }
}

#[test]
fn overlapping_holes_are_valid_because_they_may_be_on_two_sides_of_the_tube() {
    assert!(parse(&changed("at_mm = 700.5", "at_mm = 610.0 # opposite")).is_ok());
}

#[test]
fn a_flute_has_no_mouthpiece() {
    let text = PLAIN.replace("\"reed\"", "\"air-jet\"").replace("[mouthpiece]\nchamber_ml = 0\n", "");
    let instrument = parse(&text).unwrap();
    assert_eq!((instrument.drive, instrument.mouthpiece), (Drive::AirJet, None));
}

#[test]
fn windows_line_ends_and_a_byte_order_mark_change_nothing() {
    let windows = format!("\u{feff}{}", WHOLE.replace('\n', "\r\n"));
    assert_eq!(parse(&windows).unwrap(), parse(WHOLE).unwrap());
    let problem = parse(&windows.replace("at_mm = 505.0", "at_mm = 5050")).unwrap_err().remove(0);
    assert_eq!((problem.line, problem.column), (67, 9));
    let first_line = parse(&windows.replace("format = 1", "format = 0")).unwrap_err().remove(0);
    assert_eq!((first_line.line, first_line.column), (1, 10));
}

#[test]
fn drills_can_be_named_by_their_series_and_one_error_can_stand_for_all() {
    let drills = "drills_mm = [7.0, 6.0, 6.5, 6.0]";
    for (series, count) in [("metric-0.5", 50), ("inch-64ths", 64), ("number", 80)] {
        let text = changed(drills, &format!("drills = \"{series}\""));
        assert_eq!(parse(&text).unwrap().workshop.drills_mm.len(), count, "{series}");
    }
    let one = parse(&changed("{ place = 0.4, bore = 0.2 }", "0.3")).unwrap().workshop.measured_to;
    let all = MeasuredTo { place_mm: 0.3, diameter_mm: 0.3, chimney_mm: 0.3, lift_mm: 0.3, bore_mm: 0.3 };
    assert_eq!(one, all);
}

#[test]
fn a_file_that_can_not_be_read_is_told_in_one_clear_sentence() {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, bytes: &[u8]| {
        let path = folder.path().join(name);
        std::fs::write(&path, bytes).unwrap();
        path
    };
    let message = |path: &std::path::Path| {
        let shown = load(path).unwrap_err().to_string();
        shown.replace(&format!("{}{}", folder.path().display(), std::path::MAIN_SEPARATOR), "")
    };

    assert_eq!(
        message(&folder.path().join("none.toml")),
        "there is no file none.toml\n  Check the path, or start a bench book with `borescribe new DIR`."
    );
    std::fs::create_dir(folder.path().join("book")).unwrap();
    assert_eq!(
        message(&folder.path().join("book")),
        "book is a folder, not an instrument file\n  Give the instrument.toml inside it."
    );
    let empty =
        "e.toml is empty\n  Copy a measured file into it, or start a bench book with `borescribe new DIR`.";
    assert_eq!(message(&write("e.toml", b"")), empty);
    assert_eq!(message(&write("e.toml", b"\xef\xbb\xbf \r\n")), empty);
    assert_eq!(
        message(&write(
            "l.toml",
            "name = \"x\"\né = \"".as_bytes().iter().chain(b"\xe9").copied().collect::<Vec<_>>().as_slice()
        )),
        "l.toml:2:6 is not plain text in UTF-8\n  Save the file from a text editor with the encoding \"UTF-8\"."
    );
    assert_eq!(
        message(&write("h.toml", &vec![b'#'; 4 * 1024 * 1024 + 1])),
        "h.toml is larger than 4 MB; that is no instrument file\n  \
         Check that the path names the instrument.toml and not a recording."
    );
    assert!(matches!(load(&write("m.toml", &vec![b'#'; 4 * 1024 * 1024])), Err(FileError::Wrong { .. })));
}

#[test]
fn a_wrong_file_lists_every_problem_with_its_path_and_source_line() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mine.toml");
    let text = changed("at_mm = 505.0", "at_mm = 5050").replace("chimney_mm = 6.5", "chimney_mm = -6.5 # É");
    std::fs::write(&path, text).unwrap();
    let shown = load(&path).unwrap_err().to_string();
    let path = path.display();
    let expected = format!(
        "{path} has 2 problems\n\n\
         hole \"h2\": chimney_mm is -6.5 mm; the height of a chimney lies between 0 and 500 mm\n  {path}:55:14\n    \
         55 | chimney_mm = -6.5 # É\n       |              ^^^^\n  Check it and write it in mm.\n\n\
         leak site \"post 4\" is at 5050 mm, beyond the open end at 1180 mm\n  {path}:67:9\n    \
         67 | at_mm = 5050\n       |         ^^^^\n  Measure from where the mouthpiece ends."
    );
    assert_eq!(shown, expected);
}
