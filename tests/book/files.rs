//! What is in a book after each command, and what is said when something is not as it was left.

use borescribe::instrument::file::parse;
use borescribe::instrument::prediction::predict;

use crate::maker::{Maker, Tone, program, stderr};
use crate::reed_pipe::REED_PIPE;

/// Pitches that the reed pipe's file predicts.
fn predicted_hz(text: &str) -> Vec<f64> {
    predict(&parse(text).unwrap()).iter().map(|note| note.predicted_hz.unwrap()).collect()
}

fn played() -> Maker {
    let maker = Maker::new();
    maker.write_instrument(REED_PIPE);
    let tones: Vec<Tone> = predicted_hz(REED_PIPE).into_iter().map(Tone::plain).collect();
    maker.play(&["--room", "19.5"], &[], &tones);
    maker
}

#[test]
fn takes_kept_in_a_book_freeze_the_geometry_and_get_a_row_each() {
    let maker = played();
    let frozen = std::fs::read_to_string(maker.path("P1/01-drilled/instrument.toml")).unwrap();
    assert_eq!(frozen, REED_PIPE);
    let rows = maker.log();
    let files: Vec<&str> = rows.iter().map(|row| row[3].as_str()).collect();
    assert_eq!(files, ["C#2", "D#2", "F2", "G2"].map(|name| format!("P1/01-drilled/takes/{name}.wav")));
    assert!(rows.iter().all(|row| row[0] == "P1" && row[1] == "01-drilled" && row[9] == "19.5"), "{rows:?}");
    let note = std::fs::read_to_string(maker.path("P1/01-drilled/note.toml")).unwrap();
    assert!(note.contains("room_c = 19.5") && note.contains("É. Ouvrier"), "{note}");
    let head = std::fs::read_to_string(maker.path("log.csv")).unwrap();
    assert!(
        head.starts_with("prototype,step,fingering,file,hz,sd_cents,level,undertone,troubles,room_c,when\n")
    );
}

#[test]
fn a_check_adds_rows_only_for_takes_that_the_log_does_not_have() {
    let maker = played();
    let before = std::fs::read(maker.path("log.csv")).unwrap();
    maker.told(&["check"]);
    assert_eq!(std::fs::read(maker.path("log.csv")).unwrap(), before);
    let takes = maker.path("P1/01-drilled/takes");
    std::fs::copy(takes.join("F2.wav"), takes.join("F2-2.wav")).unwrap();
    maker.told(&["check"]);
    maker.told(&["check"]);
    let rows = maker.log();
    assert_eq!(rows.len(), 5);
    assert!(rows[4][3].ends_with("F2-2.wav"), "{rows:?}");
}

#[test]
fn a_file_that_changed_after_takes_were_kept_is_told_and_the_step_is_offered() {
    let maker = played();
    let changed = REED_PIPE.replacen("diameter_mm = 12.0", "diameter_mm = 12.5", 1);
    assert_ne!(changed, REED_PIPE);
    maker.write_instrument(&changed);
    let checked = maker.run(&["check", "--json"]);
    let told = stderr(&checked);
    for words in ["has changed", "diameter 12 mm → 12.5 mm", "borescribe step"] {
        assert!(told.contains(words), "{told}");
    }
    // The takes are held against the geometry that they were played on.
    let json: serde_json::Value = serde_json::from_slice(&checked.stdout).unwrap();
    assert_eq!(json["findings"][0]["cause"], "healthy", "{}", json["findings"]);
    assert!(stderr(&maker.run(&["predict"])).contains("has changed"));
    // New takes would be played on the new geometry: they must not go into the old step.
    let refused = maker.refused(&["record", "--raw", "f32le:8000:1"], 1);
    assert!(refused.contains("borescribe step"), "{refused}");
    let told = maker.told(&["step", "lowest hole opened"]);
    assert!(told.contains("12 mm → 12.5 mm"), "{told}");
    assert_eq!(stderr(&maker.run(&["predict"])), "");
    maker.play(&[], &["C#2"], &[Tone::plain(predicted_hz(&changed)[0])]);
    let frozen = std::fs::read_to_string(maker.path("P1/02-lowest-hole-opened/instrument.toml")).unwrap();
    assert_eq!(frozen, changed);
}

#[test]
fn a_fingering_or_a_remark_added_later_is_no_change_of_the_body() {
    let maker = played();
    let more =
        format!("{REED_PIPE}\n# again\n[[fingering]]\nname = \"F2 fork\"\nnote = \"F2\"\nopen = [\"h2\"]\n");
    maker.write_instrument(&more);
    assert_eq!(stderr(&maker.run(&["predict"])), "");
    maker.play(&[], &["F2 fork"], &[Tone::plain(87.0)]);
    let steps = maker.json(&["history", "--json"])["prototypes"][0]["steps"].clone();
    assert_eq!(steps.as_array().unwrap().len(), 1);
    let fork = steps[0]["fingerings"].as_array().unwrap().iter().find(|f| f["name"] == "F2 fork").unwrap();
    assert!(fork["cents_from_target"].as_f64().is_some(), "{fork}");
}

#[test]
fn a_take_set_aside_stays_and_counts_no_more() {
    let maker = played();
    maker.play(&[], &["F2"], &[Tone::plain(91.0)]);
    let f2 = |maker: &Maker| {
        let step = maker.json(&["history", "--json"])["prototypes"][0]["steps"][0].clone();
        step["fingerings"].as_array().unwrap().iter().find(|f| f["name"] == "F2").unwrap().clone()
    };
    assert_eq!(f2(&maker)["takes"], 2);
    let json = maker.json(&["set-aside", "F2-2.wav", "--why", "reed slipped", "--json"]);
    assert_eq!(json["set_aside"][0]["file"], "F2-2.wav");
    assert_eq!(f2(&maker)["takes"], 1);
    assert!(maker.path("P1/01-drilled/set-aside/F2-2.wav").is_file());
    let why = std::fs::read_to_string(maker.path("P1/01-drilled/set-aside.csv")).unwrap();
    assert!(why.contains("F2-2.wav,reed slipped,"), "{why}");
    // Its name is not given to another take.
    maker.play(&[], &["F2"], &[Tone::plain(87.0)]);
    assert!(maker.path("P1/01-drilled/takes/F2-3.wav").is_file());
    assert!(maker.refused(&["set-aside", "nothing.wav", "--why", "x"], 1).contains("nothing.wav"));
}

#[test]
fn takes_from_elsewhere_are_copied_into_a_step_with_their_old_names_noted() {
    let maker = played();
    maker.told(&["step", "later"]);
    let elsewhere = maker.book.parent().unwrap().join("Sprachmemos é");
    std::fs::create_dir(&elsewhere).unwrap();
    let takes = maker.path("P1/01-drilled/takes");
    std::fs::copy(takes.join("F2.wav"), elsewhere.join("f2_second try.WAV")).unwrap();
    std::fs::copy(takes.join("G2.wav"), elsewhere.join("Memo 7.wav")).unwrap();
    let (first, memo) = (elsewhere.join("f2_second try.WAV"), elsewhere.join("Memo 7.wav"));
    let (first, memo) = (first.to_str().unwrap(), memo.to_str().unwrap());
    for _ in 0..2 {
        let json = maker.json(&["check", "--step", "02", first, "--as", "G2", memo, "--json"]);
        let used: usize =
            json["fingerings"].as_array().unwrap().iter().map(|f| f["takes"].as_array().unwrap().len()).sum();
        assert_eq!(used, 2);
    }
    let step = maker.path("P1/02-later");
    assert_eq!(std::fs::read(step.join("takes/G2.wav")).unwrap(), std::fs::read(memo).unwrap());
    assert!(step.join("takes/F2.wav").is_file() && elsewhere.join("Memo 7.wav").is_file());
    let list = std::fs::read_to_string(step.join("copied.csv")).unwrap();
    assert!(list.contains("Memo 7.wav") && list.contains("f2_second try.WAV"), "{list}");
    assert_eq!(list.lines().count(), 3, "copied once: {list}");
    assert_eq!(maker.log().iter().filter(|row| row[1] == "02-later").count(), 2);
    assert!(maker.refused(&["check", "--step", "9", first], 1).contains("P1/01-drilled"));
}

#[test]
fn a_step_may_be_opened_before_anything_is_measured_and_says_what_to_measure() {
    let maker = Maker::new();
    let told = maker.told(&["step", "trimmed by 3"]);
    assert!(told.contains("P1/02-trimmed-by-3 is open") && told.contains("water"), "{told}");
    let json = maker.json(&["step", "and again", "--json"]);
    assert_eq!(json["to_measure"].as_array().unwrap().len(), 5, "{json}");
    maker.write_instrument(REED_PIPE);
    assert_eq!(maker.json(&["predict", "--json"])["fingerings"].as_array().unwrap().len(), 4);
    let wrong = REED_PIPE.replace("drive = \"reed\"", "drive = \"steam\"");
    maker.write_instrument(&wrong);
    assert!(maker.refused(&["step", "x"], 1).contains("steam"));
}

#[test]
fn commands_work_from_any_folder_of_the_book_and_by_its_path() {
    let maker = played();
    let mut inside = maker.command(&["check", "--json"]);
    let output = inside.current_dir(maker.path("P1/01-drilled/takes")).output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let name = maker.book.file_name().unwrap().to_str().unwrap();
    let mut outside = maker.command(&["check", name, "--json"]);
    let by_path = outside.current_dir(maker.book.parent().unwrap()).output().unwrap();
    assert_eq!(output.stdout, by_path.stdout);
    let mut tried = maker.command(&["try", "h1.diameter+=0.5"]);
    let output = tried.current_dir(maker.path("P1")).output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let nowhere = maker.book.parent().unwrap();
    for arguments in [&["history"][..], &["step", "x"], &["set-aside", "a.wav", "--why", "b"]] {
        let output = maker.command(arguments).current_dir(nowhere).output().unwrap();
        assert_eq!(output.status.code(), Some(1));
        assert!(stderr(&output).contains("no bench book"), "{}", stderr(&output));
    }
}

#[test]
fn a_book_that_was_moved_goes_on_where_it_was() {
    let mut maker = played();
    let moved = maker.book.parent().unwrap().join("another place");
    std::fs::rename(&maker.book, &moved).unwrap();
    maker.book = moved;
    maker.told(&["check"]);
    assert_eq!(maker.log().len(), 4);
}

#[test]
fn a_book_of_a_newer_program_is_left_alone() {
    let maker = played();
    std::fs::write(maker.path("book.toml"), "format = 7\n").unwrap();
    let before = crate::maker::files(&maker.book);
    for arguments in [&["check"][..], &["history"], &["step", "x"], &["record", "--raw", "f32le:8000:1"]] {
        let told = maker.refused(arguments, 1);
        assert!(told.contains("newer borescribe (format 7"), "{told}");
    }
    assert_eq!(crate::maker::files(&maker.book), before);
}

#[test]
fn a_book_without_a_version_file_as_somebody_may_have_written_it_by_hand_is_read() {
    let maker = played();
    std::fs::remove_file(maker.path("book.toml")).unwrap();
    let json = maker.json(&["history", "--json"]);
    assert_eq!(json["prototypes"][0]["steps"][0]["fingerings"][0]["name"], "C#2");
}

#[test]
fn a_torn_last_line_is_mended_on_the_next_run_and_said() {
    let maker = played();
    let whole = std::fs::read(maker.path("log.csv")).unwrap();
    std::fs::write(maker.path("log.csv"), &whole[..whole.len() - 30]).unwrap();
    let output = maker.run(&["check"]);
    assert!(stderr(&output).contains("cut off"), "{}", stderr(&output));
    let rows = maker.log();
    assert_eq!(rows.len(), 4);
    assert!(rows[3][3].ends_with("G2.wav") && maker.path("log-torn.txt").is_file());
    let again = maker.run(&["check"]);
    assert_eq!(stderr(&again), "");
}

#[test]
fn a_clock_that_jumps_back_changes_nothing_in_the_order() {
    let maker = played();
    let text = std::fs::read_to_string(maker.path("log.csv")).unwrap();
    let year = text.lines().nth(1).unwrap().rsplit(',').next().unwrap()[..4].to_string();
    std::fs::write(maker.path("log.csv"), text.replace(&format!(",{year}-"), ",2090-")).unwrap();
    let note = maker.path("P1/01-drilled/note.toml");
    let text = std::fs::read_to_string(&note).unwrap();
    std::fs::write(&note, text.replace(&year, "2090")).unwrap();
    maker.told(&["step", "after the jump"]);
    maker.play(&[], &["C#2"], &[Tone::plain(predicted_hz(REED_PIPE)[0])]);
    let steps = maker.json(&["history", "--json"])["prototypes"][0]["steps"].clone();
    assert_eq!(steps[1]["text"], "after the jump");
    let change = steps[1]["fingerings"][0]["change_cents"].as_f64().unwrap();
    assert!(change.abs() < 0.1, "{change}");
}

#[test]
fn a_spreadsheet_gets_every_figure_and_runs_no_name() {
    let maker = Maker::new();
    maker.write_instrument(&REED_PIPE.replace("name = \"C#2\"", "name = \"-C#2\"\nnote = \"C#2\""));
    let hz = predicted_hz(REED_PIPE)[0];
    maker.told(&["step", "=HYPERLINK(\"x\")"]);
    // A name that begins with a dash would be an option.
    maker.play(&["--", "-C#2"], &["."], &[Tone::plain(hz)]);
    let csv = maker.told(&["history", "--csv"]);
    let row = csv.lines().find(|line| line.contains("-C#2") && line.contains("HYPERLINK")).unwrap();
    assert!(row.contains(",'-C#2,") && row.contains("\"'=HYPERLINK(\"\"x\"\")\""), "{row}");
    // The log keeps the name as it is.
    assert_eq!(maker.log()[0][2], "-C#2");
}

#[test]
fn the_reference_note_is_played_again_and_its_move_told() {
    let maker = Maker::new();
    maker.write_instrument(REED_PIPE);
    let hz = predicted_hz(REED_PIPE);
    let tones = [hz[0], hz[1], hz[2], hz[3], hz[0] * 1.004].map(Tone::plain);
    let output = maker.play(&["--reference", "C#2"], &[], &tones);
    let told = stderr(&output);
    assert!(told.contains("C#2 played again: +6.9 cents") && told.contains("Warm up"), "{told}");
    assert!(maker.path("P1/01-drilled/takes/C#2-2.wav").is_file());
}

#[test]
fn a_mixed_order_still_records_every_fingering_once() {
    let maker = Maker::new();
    maker.write_instrument(REED_PIPE);
    let tones = predicted_hz(REED_PIPE).into_iter().map(Tone::plain).collect::<Vec<_>>();
    maker.play(&["--shuffle"], &[], &tones);
    let mut names: Vec<String> = maker.log().into_iter().map(|row| row[2].clone()).collect();
    names.sort();
    assert_eq!(names, ["C#2", "D#2", "F2", "G2"]);
}

#[test]
fn the_silent_room_is_kept_first_as_room_wav() {
    let maker = Maker::new();
    maker.write_instrument(REED_PIPE);
    let hz = predicted_hz(REED_PIPE)[0];
    let silence = Tone::plain(hz).samples().iter().map(|_| 0.0_f32).collect::<Vec<_>>();
    let note = Tone::plain(hz).samples().into_iter().map(|s| s as f32);
    let bytes: Vec<u8> = silence.into_iter().chain(note).flat_map(f32::to_le_bytes).collect();
    let arguments = ["record", "C#2", "--silence", "1.5", "--seconds", "1.5", "--raw", "f32le:16000:1"];
    let output = maker.command(&arguments).write_stdin(bytes).output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let reader = hound::WavReader::open(maker.path("P1/01-drilled/takes/room.wav")).unwrap();
    assert_eq!(reader.len(), 24_000);
    assert_eq!(maker.log().len(), 1);
}

#[test]
fn two_programs_on_one_book_wait_or_say_so() {
    let maker = played();
    let mut first = std::process::Command::new(program())
        .current_dir(&maker.book)
        .args(["record", "C#2", "--raw", "f32le:16000:1"])
        .stdin(std::process::Stdio::piped())
        .stdout(std::process::Stdio::null())
        .spawn()
        .unwrap();
    let mut pipe = first.stdin.take().unwrap();
    std::io::Write::write_all(&mut pipe, &vec![0_u8; 64_000]).unwrap();
    let part = maker.unfinished("P1/01-drilled/takes").expect("the first program has begun");
    for arguments in [&["record", "--raw", "f32le:8000:1"][..], &["step", "x"]] {
        let told = maker.refused(arguments, 1);
        assert!(told.contains("another borescribe is recording"), "{told}");
    }
    // Checking and looking go on beside it, and the take that is being recorded is left alone.
    maker.told(&["check"]);
    maker.told(&["history"]);
    assert!(part.exists());
    drop(pipe);
    first.wait().unwrap();
}
