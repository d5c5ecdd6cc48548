//! Slips of writing: keys, kinds of values, versions, and text that is no TOML.

use borescribe::instrument::file::load;

use super::{WHOLE, changed, problems, refused};

#[test]
fn several_unknown_keys_and_impossible_values_are_all_told_at_once() {
    let text = WHOLE
        .replace("finish = ", "finnish = ")
        .replace("diameter_mm = 10.5", "diameter_cm = 1.05")
        .replace("[[bend]]", "[[bends]]")
        .replace("chimney_mm = 6.5", "chimney_mm = -6.5")
        .replace("chimney_mm = 6.0", "chimney_mm = -6.0");
    let found: Vec<(usize, usize, String)> = problems(&text)
        .into_iter()
        .map(|problem| (problem.line, problem.column, format!("{} | {}", problem.what, problem.to_do)))
        .collect();
    let chimney = "the height of a chimney lies between 0 and 500 mm | Check it and write it in mm.";
    let expected = [
        (12, 1, "[wall]: \"finnish\" is no key that [wall] knows | Did you mean finish?".to_string()),
        (43, 14, format!("hole \"h1\": chimney_mm is -6 mm; {chimney}")),
        (51, 1, "hole \"h2\": diameter_mm is missing | Add diameter_mm = … under [[hole]].".to_string()),
        (
            54,
            1,
            "hole \"h2\": \"diameter_cm\" is no key that [[hole]] knows | Lengths are in mm. Use diameter_mm: \
             1 cm is 10 mm."
                .to_string(),
        ),
        (55, 14, format!("hole \"h2\": chimney_mm is -6.5 mm; {chimney}")),
        (
            70,
            3,
            "the file: \"bends\" is no key that the file knows | Did you mean bend? One head for each: [[bend]]."
                .to_string(),
        ),
    ];
    assert_eq!(found, expected);
}

#[test]
fn values_of_another_kind_are_told_what_to_write() {
    for (from, to, at, what, to_do) in [
        (
            "at_mm = 505.0",
            "at_mm = \"505,5 mm\"",
            "\"505,5 mm\"",
            "leak site \"post 4\": at_mm must be a number, but it is text in quotes",
            "Write it without quotes and unit: 505.5.",
        ),
        (
            "at_mm = 505.0",
            "at_mm = \"middle\"",
            "\"middle\"",
            "leak site \"post 4\": at_mm must be a number, but it is text in quotes",
            "Write a plain number in mm.",
        ),
        (
            "at_mm = 505.0",
            "at_mm = [505,0]",
            "[505,0]",
            "leak site \"post 4\": at_mm must be a number, but it is a list in square brackets",
            "Write one number without brackets; a decimal point, not a comma.",
        ),
        (
            "drilled = false",
            "drilled = \"no\"",
            "\"no\"",
            "hole \"h2\": drilled must be true or false, but it is text in quotes",
            "Write drilled = true or drilled = false, without quotes.",
        ),
        (
            "name = \"speaker É\"",
            "name = 2",
            "2\nat_mm = 230",
            "hole 3: name must be text in quotes, but it is a number",
            "Write it like name = \"h1\".",
        ),
        (
            "register = 2",
            "register = 2.0",
            "2.0\ncents",
            "fingering \"D♭3 long\": register must be a whole number, but it is a number",
            "Write it like register = 1.",
        ),
        (
            "[\"h1\", \"h2\"]",
            "\"h1\"",
            "\"h1\"\nregister",
            "fingering \"D♭3 long\": open must be a list in square brackets, but it is text in quotes",
            "Write it like open = [\"h1\", \"h2\"].",
        ),
        (
            "\"oiled wood\"",
            "\"oiled-wood\"",
            "\"oiled-wood\"",
            "[wall]: finish can't be \"oiled-wood\"",
            "Did you mean \"oiled wood\"?",
        ),
        (
            "\"reed\"",
            "\"lips\"",
            "\"lips\"",
            "[instrument]: drive can't be \"lips\"",
            "Write one of: \"reed\", \"air-jet\".",
        ),
        (
            "[[leak_site]]",
            "[leak_site]",
            "[leak_site]",
            "[leak_site] has single brackets, but there can be several",
            "Write [[leak_site]] with double brackets.",
        ),
        (
            "[wall]",
            "[[wall]]",
            "[[wall]]",
            "[[wall]] has double brackets, but there is only one",
            "Write [wall] with single brackets, once.",
        ),
    ] {
        refused(from, to, at, what, to_do);
    }
}

#[test]
fn the_format_is_read_before_everything_else() {
    let first = "Write format = 1 as the first line.";
    refused(
        "format = 1\n",
        "",
        "\n[instrument]",
        "the file: format is missing, so the version is not known",
        first,
    );
    refused(
        "format = 1\n",
        "format = \"1\"\n",
        "\"1\"",
        "the file: format must be a whole number, but it is text in quotes",
        first,
    );
    refused("format = 1\n", "format = 0\n", "0\n\n[instrument]", "the file: there is no format 0", first);
    let newer = changed("format = 1\n", "format = 2\n").replace("chimney_mm", "chimneys");
    for text in [newer.clone(), newer.replace("[wall]", "[wall")] {
        let found = problems(&text);
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].what, "the file has format 2, and this program reads up to format 1");
        assert_eq!(found[0].to_do, "Use a newer borescribe for this file.");
        assert_eq!((found[0].line, found[0].column), (1, 10));
    }
}

#[test]
fn every_decimal_comma_is_told_at_once() {
    let text =
        WHOLE.replace("at_mm = 610.0", "at_mm = 610,5").replace("chimney_mm = 6.5", "chimney_mm = 6,5 # mm");
    let found = problems(&text);
    let told: Vec<(usize, usize, &str, &str)> =
        found.iter().map(|p| (p.line, p.column, p.what.as_str(), p.to_do.as_str())).collect();
    let expected = [
        (41, 9, "610,5 has a decimal comma", "Use a point: 610.5."),
        (55, 14, "6,5 has a decimal comma", "Use a point: 6.5."),
    ];
    assert_eq!(told, expected);
}

#[test]
fn text_that_is_no_toml_has_one_problem_with_its_place() {
    for (from, to, line, what) in [
        ("at_mm = 505.0", "at_mm = 505.0 mm", 67, "this is more than a plain number"),
        ("at_mm = 505.0", "at_mm =", 67, "nothing stands after the equals sign"),
        ("at_mm = 505.0", "at_mm 505.0", 67, "this line has no equals sign"),
        ("name = \"post 4\"", "name = post4", 66, "text needs quotes around it"),
        (
            "name = \"post 4\"",
            "name = \"post 4",
            66,
            "the quotes are not closed, or a backslash stands between them",
        ),
        ("wall_mm = 4.25", "at_mm = 4.25", 68, "this name is given twice in the same place"),
        ("[[leak_site]]", "[[leak_site", 65, "the double bracket is not closed"),
        ("[air]", "[air", 14, "the bracket is not closed"),
        ("[air]", "[wall]", 14, "this name is given twice in the same place"),
        ("open = [\"h1\", \"h2\"]", "open = [\"h1\" \"h2\"]", 83, "a comma is missing in the list"),
        ("open = []", "open = [", 77, "the list that begins here is not closed"),
        ("[18.0, 22.0]", "[18.0, 22.0", 20, "the list that begins here is not closed"),
        (
            "wall_mm = 4.25",
            "wall_mm = .25",
            68,
            "this is no plain number, no text in quotes, and neither true nor false",
        ),
        (
            "wall_mm = 4.25",
            "wall_mm = 4.2.5",
            68,
            "this is no plain number, no text in quotes, and neither true nor false",
        ),
        (
            "wall_mm = 4.25",
            "wall_mm = 04.25",
            68,
            "this is no plain number, no text in quotes, and neither true nor false",
        ),
        ("wall_mm = 4.25", "wall_mm: 4.25", 68, "a key holds a sign that no key has"),
        ("{ place = 0.4, bore = 0.2 }", "{ place = 0.4", 107, "the curly bracket is not closed"),
    ] {
        let found = problems(&changed(from, to));
        assert_eq!(found.len(), 1, "{to}");
        assert_eq!((found[0].what.as_str(), found[0].line), (what, line), "{to}");
        assert!(!found[0].to_do.is_empty());
    }
}

#[test]
fn an_empty_text_says_what_a_file_begins_with() {
    for text in ["", "\n \n", "# only a remark\n"] {
        let found = problems(text);
        assert_eq!(found[0].what, "the file: format is missing, so the version is not known");
        assert!(found.iter().any(|problem| problem.what == "the table [instrument] is missing"));
        assert!(found.iter().any(|problem| problem.what.starts_with("the bore has no point")));
    }
}

#[test]
fn an_example_mark_that_was_left_in_says_what_to_measure() {
    let text = changed("at_mm = 505.0", "at_mm = 505.0  # EXAMPLE: measure to the post.");
    let found = problems(&text);
    assert_eq!(found.len(), 1);
    assert!(found[0].is_example);
    assert_eq!(found[0].what, "this is an example, not a measurement of yours");
    assert_eq!(found[0].to_do, "To do: measure to the post. Then delete the remark with EXAMPLE.");
    assert_eq!((found[0].line, found[0].column), (67, 18));
}

#[test]
fn a_file_that_only_waits_for_measurements_is_told_from_a_wrong_one() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("instrument.toml");
    let marked = changed("at_mm = 505.0", "at_mm = 505.0  # EXAMPLE: measure to the post.");
    std::fs::write(&path, &marked).unwrap();
    assert!(load(&path).unwrap_err().is_only_examples());
    std::fs::write(&path, marked.replace("chimney_mm = 6.5", "chimney_mm = -6.5")).unwrap();
    assert!(!load(&path).unwrap_err().is_only_examples());
    assert!(!load(&folder.path().join("none.toml")).unwrap_err().is_only_examples());
}
