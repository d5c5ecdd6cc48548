//! What lies among the takes and is none, rooms that can't be read, names that could play tricks on a terminal, and
//! pipes that carry no sound: said in a line each.

use crate::bench::{Bench, reed_tone, stderr};

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

#[test]
fn a_folder_and_a_link_to_nothing_among_the_takes_are_told() {
    let bench = Bench::new();
    bench.play(&["C#2", "D#2", "F2", "G2"]);
    std::fs::create_dir(bench.path("takes/old")).unwrap();
    #[cfg(unix)]
    std::os::unix::fs::symlink("nowhere.wav", bench.path("takes/A2.wav")).unwrap();
    let output = bench.run(&["check", ".", "takes"]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let told = stderr(&output);
    assert!(told.contains("old is a folder; what lies in it is left out"), "{told}");
    #[cfg(unix)]
    assert!(told.contains("A2.wav is a link to a file that is not there; left out"), "{told}");
    assert_eq!(stderr(&bench.run(&["check", ".", "takes", "--quiet"])), "");
}

#[test]
fn what_lies_beside_takes_that_are_copied_into_a_book_is_told() {
    let bench = Bench::new();
    bench.play(&["C#2", "D#2"]);
    std::fs::rename(bench.path("takes"), bench.path("phone")).unwrap();
    std::fs::create_dir(bench.path("phone/old")).unwrap();
    std::fs::write(bench.path("phone/list.txt"), "C#2, D#2\n").unwrap();
    assert_eq!(bench.run(&["new", "book", "--what", "drilled"]).status.code(), Some(0));
    std::fs::copy(bench.path("instrument.toml"), bench.path("book/instrument.toml")).unwrap();
    let told = stderr(&bench.run(&["check", "book", "--step", "01", "phone"]));
    assert!(told.contains("old is a folder; what lies in it is left out"), "{told}");
    assert!(told.contains("list.txt is no recording; left out"), "{told}");
}

#[test]
fn a_room_that_cant_be_read_is_told_once_and_the_takes_are_checked_without_it() {
    let bench = Bench::new();
    bench.play(&["C#2", "D#2", "F2", "G2"]);
    std::fs::write(bench.path("takes/room.wav"), b"RIFF\x24\0\0\0WAVEfmt ").unwrap();
    let output = bench.run(&["check", ".", "takes"]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let told = stderr(&output);
    assert_eq!(told.matches("room.wav").count(), 1, "{told}");
    assert!(told.contains("inside its header") && told.contains("measured without the room"), "{told}");
    // In order, and while recording, too.
    let told = stderr(&bench.run(&["check", ".", "--in-order", "takes"]));
    assert!(told.contains("room.wav") && told.contains("measured without the room"), "{told}");
    let raw: Vec<u8> = reed_tone(69.0, 1.0).iter().flat_map(|s| (*s as f32).to_le_bytes()).collect();
    let arguments = ["record", ".", "C#2", "--seconds", "1", "--raw", "f32le:8000:1"];
    let output = bench.borescribe(&arguments).write_stdin(raw).output().unwrap();
    assert!(stderr(&output).contains("measured without the room"), "{}", stderr(&output));
}

#[test]
fn a_room_that_was_named_by_hand_must_be_readable() {
    let bench = Bench::new();
    bench.play(&["C#2"]);
    std::fs::write(bench.path("room.wav"), "quiet here\n").unwrap();
    let says = ["room.wav", "holds text"];
    bench.refuses(&["check", ".", "takes", "room.wav"], 1, &says);
    bench.refuses(&["check", ".", "takes", "--as", "room", "room.wav"], 1, &says);
    bench.refuses(&["check", ".", "--in-order", "takes/C#2.wav", "room.wav"], 1, &says);
}

/// A name that would draw in red, go up a line and pretend to be a line of the program's.
#[cfg(unix)]
#[test]
fn a_name_cant_move_the_cursor_nor_pass_for_a_line_of_the_program() {
    let bench = Bench::new();
    let name = "a\tb\u{1b}[31m\rc\nborescribe: all is well\u{9b}2J.wav";
    let says = ["a\u{fffd}b\u{fffd}[31m\u{fffd}c\u{fffd}borescribe: all is well\u{fffd}2J.wav"];
    let assert_harmless = |what: &str| {
        assert!(what.contains(says[0]), "{what:?}");
        let is_wild = |c: char| c.is_control() && c != '\n';
        assert!(!what.contains(is_wild) && !what.contains("\nborescribe: all is well"), "{what:?}");
    };
    bench.wav(name, &reed_tone(69.3, 1.0));
    assert_harmless(&text(&bench.run(&["measure", name]).stdout));
    // Faithful where a program reads it.
    let json = bench.json(&["measure", name, "--json"]);
    assert_eq!(json["takes"][0]["file"], name);
    assert_harmless(&stderr(&bench.run(&["check", ".", name])));
    assert_harmless(&text(&bench.run(&["check", ".", "--one-take", name]).stdout));
    std::fs::write(bench.path(name), "no sound at all in here, sorry\n").unwrap();
    assert_harmless(&stderr(&bench.run(&["measure", name])));
    assert_harmless(&stderr(&bench.run(&["check", ".", "--one-take", name])));
    assert_harmless(&stderr(&bench.run(&["check", ".", "--as", "C#2", name])));
    let beside = format!("takes/{name}");
    std::fs::create_dir_all(bench.path(&beside)).unwrap();
    bench.play(&["C#2", "D#2"]);
    assert_harmless(&stderr(&bench.run(&["check", ".", "takes"])));
}

#[test]
fn what_is_no_sound_in_a_pipe_is_told_as_that_and_not_as_a_missing_card() {
    let bench = Bench::new();
    let mut state = 7_u32;
    let noise: Vec<u8> = std::iter::repeat_with(|| {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 24) as u8
    })
    .take(100_000)
    .collect();
    for command in ["listen", "record"] {
        let output = bench.borescribe(&[command, "."]).write_stdin(noise.clone()).output().unwrap();
        let told = stderr(&output);
        assert_eq!(output.status.code(), Some(1), "{told}");
        assert!(told.contains("what comes through the pipe is no sound"), "{told}");
        assert!(told.contains("--raw f32le:48000:1") && !told.contains("sound card"), "{told}");
    }
}
