//! Names, notes and the holes that a fingering opens.

use borescribe::instrument::file::parse;

use super::{changed, problems, refused};

#[test]
fn two_names_that_differ_only_in_case_or_sign_are_refused() {
    let rename = "Give one of the two another name.";
    refused(
        "name = \"speaker É\"",
        "name = \"H1\"",
        "\"H1\"",
        "hole \"H1\" and the hole \"h1\" in line 40 differ only in case or the sign for sharp or flat",
        rename,
    );
}

#[test]
fn a_leak_site_can_not_be_called_like_a_hole() {
    refused(
        "name = \"post 4\"",
        "name = \"h1\" # post",
        "\"h1\" # post",
        "leak site \"h1\" has the same name as the hole in line 40",
        "Give one of the two another name.",
    );
}

#[test]
fn fingerings_that_takes_could_not_tell_apart_are_refused() {
    let second = "[[fingering]]\nname = \"F#2\"\n[[fingering]]\nname = \"f♯2\"\n[workshop]";
    refused(
        "[workshop]",
        second,
        "\"f♯2\"",
        "fingering \"f♯2\" and the fingering \"F#2\" in line 106 differ only in case or the sign for sharp or \
         flat",
        "Give one of the two another name.",
    );
}

#[test]
fn words_that_the_program_needs_are_no_names() {
    for word in ["bore", "top", "end", "Air", "leak", "mouthpiece", "ROOM"] {
        for (from, kind) in [("\"post 4\"", "leak site"), ("\"speaker É\"", "hole"), ("\"C2\"", "fingering")]
        {
            let note = if kind == "fingering" { "\nnote = \"C2\"" } else { "" };
            refused(
                from,
                &format!("\"{word}\"{note}"),
                &format!("\"{word}\""),
                &format!("{kind} \"{word}\": this word means a part of every instrument"),
                "Choose another name; kept for the program are bore, top, end, air, leak, mouthpiece, room.",
            );
        }
    }
    refused(
        "name = \"C2\"",
        "name = \"room 2\"\nnote = \"C2\"",
        "\"room 2\"",
        "fingering \"room 2\" is called like a take of the silent room",
        "Give it a name that does not begin with room.",
    );
}

#[test]
fn names_hold_letters_digits_and_few_signs() {
    let part = "Use letters, digits, - and _; spaces only inside.";
    refused("\"post 4\"", "\"post/4\"", "\"post/4\"", "leak site \"post/4\": a name can't hold \"/\"", part);
    refused("\"post 4\"", "\"post.4\"", "\"post.4\"", "leak site \"post.4\": a name can't hold \".\"", part);
    refused("\"post 4\"", "\"p#4\"", "\"p#4\"", "leak site \"p#4\": a name can't hold \"#\"", part);
    refused("\"post 4\"", "\" \"", "\" \"", "leak site: the name is empty", part);
    refused(
        "\"post 4\"",
        "\"post 4 \"",
        "\"post 4 \"",
        "leak site \"post 4 \": the name begins or ends with a space",
        "Delete the space.",
    );
    let long = "x".repeat(61);
    refused(
        "\"post 4\"",
        &format!("\"{long}\""),
        &format!("\"{long}\""),
        &format!("leak site \"{}…\": the name is longer than 60 characters", "x".repeat(60)),
        "Shorten it; files are called after it.",
    );
    refused(
        "\"D♭3 long\"",
        "\"D♭3:long\"",
        "\"D♭3:long\"",
        "fingering \"D♭3:long\": a name can't hold \":\"",
        "Use letters, digits, # ♯ ♭, - and _; spaces only inside.",
    );
    refused(
        "prototype = \"P1\"",
        "prototype = \"../P1\"",
        "\"../P1\"",
        "the prototype \"../P1\": a name can't hold \".\"",
        part,
    );
    refused(
        "\"Reed Bunting\"",
        "\"\"",
        "\"\"",
        "the instrument has no name",
        "Write its name between the quotes.",
    );
    for name in ["Löchlein-2", "_x", "Ж 4"] {
        assert!(parse(&changed("\"post 4\"", &format!("\"{name}\""))).is_ok(), "{name}");
    }
}

#[test]
fn a_fingering_needs_a_note() {
    let examples = "a letter, a sharp or flat, and the octave, like D2, F#2 or Bb-1.";
    refused(
        "note = \"Db3\"\n",
        "",
        "\"D♭3 long\"",
        "fingering \"D♭3 long\": the name is no note, and the wanted note is not given",
        &format!("Add note = with the wanted note: {examples}"),
    );
    refused(
        "\"Db3\"",
        "\"H3\"",
        "\"H3\"",
        "fingering \"D♭3 long\": \"H3\" is no note",
        &format!("Write {examples}"),
    );
}

#[test]
fn a_fingering_opens_holes_of_the_file_once() {
    refused(
        "[\"h1\", \"h2\"]",
        "[\"h1\", \"h22\"]",
        "\"h22\"",
        "fingering \"D♭3 long\": there is no hole \"h22\"",
        "Did you mean \"h2\"?",
    );
    refused(
        "[\"h1\", \"h2\"]",
        "[\"h1\", \"thumb\"]",
        "\"thumb\"",
        "fingering \"D♭3 long\": there is no hole \"thumb\"",
        "The holes of the file are \"h1\", \"h2\", \"speaker É\".",
    );
    refused(
        "[\"h1\", \"h2\"]",
        "[\"Post 4\"]",
        "\"Post 4\"",
        "fingering \"D♭3 long\": there is no hole \"Post 4\"",
        "It is a leak site, and no fingering opens one. Name a [[hole]].",
    );
    refused(
        "[\"h1\", \"h2\"]",
        "[\"h1\", \"h2\",\"h1\"]",
        "\"h1\"]",
        "fingering \"D♭3 long\": it opens hole \"h1\" twice",
        "Delete one of the two, or name the hole that was meant.",
    );
    refused(
        "[\"h1\", \"h2\"]",
        "[\"h1\", 2]",
        "2]\nregister",
        "fingering \"D♭3 long\": a hole in open must be text in quotes, but it is a number",
        "Write the names of the open holes, like open = [\"h1\", \"h2\"].",
    );
}

#[test]
fn an_entry_without_a_name_has_one_problem_and_goes_by_its_number() {
    let found = problems(&changed("name = \"post 4\"\n", ""));
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].what, "leak site 1: name is missing");
    assert_eq!(found[0].to_do, "Add name = \"post 1\" under [[leak_site]].");
    assert_eq!(found[0].source_line, "[[leak_site]]");
}
