//! What a maker wrote into a book's files, what a spreadsheet made of them, and what a stopped program left half done:
//! nothing of it is lost, and what can't be read is refused with its place.

use std::path::Path;

use crate::attack::small_disk::SmallDisk;
use crate::maker::{Maker, files, stderr};
use crate::reed_pipe::REED_PIPE;
use crate::reed_takes::{reed_tone, write_wav};

const TAKES: &str = "P1/01-drilled/takes";

/// A book with one take, not checked yet.
fn with_a_take() -> Maker {
    let maker = Maker::new();
    maker.write_instrument(REED_PIPE);
    write_wav(&maker.path(TAKES).join("F2.wav"), &reed_tone(86.0, 1.0));
    maker
}

fn text(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap()
}

#[test]
fn a_note_in_another_coding_is_refused_with_its_line_and_stays_as_it_is() {
    let maker = with_a_take();
    let note = maker.path("P1/01-drilled/note.toml");
    let bytes = b"what = \"drilled\"\nplayer = \"Andr\xe9\"\nmine = \"dull reed\"\n";
    std::fs::write(&note, bytes).unwrap();
    for arguments in [&["check", "--room", "19"][..], &["check"], &["step", "--found", "h1:tight"]] {
        let told = maker.refused(arguments, 1);
        assert!(told.contains("note.toml:2: ") && told.contains("UTF-8"), "{told}");
        assert_eq!(std::fs::read(&note).unwrap(), bytes);
    }
}

#[test]
fn a_note_of_several_lines_and_tables_of_the_makers_own_stay_where_they_are() {
    let maker = with_a_take();
    let path = maker.path("P1/01-drilled/note.toml");
    let own = "note = \"\"\"\nfirst line\nsecond line\"\"\"\n\n[weather]\nrain = true # all day\n";
    std::fs::write(&path, format!("what = \"drilled\"\nroom_c = 18.55\n{own}")).unwrap();
    maker.told(&["check", "--room", "19"]);
    assert_eq!(text(&path), format!("what = \"drilled\"\nroom_c = 18.55\n{own}"));
    maker.told(&["step", "--found", "h1:tight", "--note", "one line"]);
    let after = text(&path);
    assert!(after.contains("note = \"one line\"\n"), "{after}");
    let (above, below) = after.split_once("[weather]\n").unwrap();
    assert!(above.contains("found = [\"h1:tight\"]") && below == "rain = true # all day\n", "{after}");
    maker.told(&["check"]);
}

#[test]
fn a_room_that_can_not_be_is_told_with_file_and_line() {
    let maker = with_a_take();
    for room in ["nan", "-400", "\"warm\"", "inf"] {
        let note = maker.path("P1/01-drilled/note.toml");
        std::fs::write(note, format!("what = \"drilled\"\nroom_c = {room}\n")).unwrap();
        let told = maker.refused(&["check"], 1);
        assert!(told.contains("note.toml:2: ") && !told.contains("NaN °C"), "{told}");
    }
}

#[test]
fn a_log_that_a_spreadsheet_saved_is_read_and_gets_new_rows_in_its_own_way() {
    let maker = with_a_take();
    maker.told(&["check"]);
    let before = maker.json(&["history", "--json"]);
    let ours = text(&maker.path("log.csv"));
    let german: String = ours
        .lines()
        .map(|line| {
            let cell = |field: &str| match field.parse::<f64>() {
                Ok(_) => field.replace('.', ","),
                Err(_) => format!("\"{field}\""),
            };
            line.split(',').map(cell).collect::<Vec<_>>().join(";") + "\r\n"
        })
        .collect();
    std::fs::write(maker.path("log.csv"), format!("\u{feff}{german}")).unwrap();
    assert_eq!(maker.json(&["history", "--json"]), before);
    // Nothing is new, so that nothing is added.
    maker.told(&["check"]);
    assert_eq!(text(&maker.path("log.csv")), format!("\u{feff}{german}"));
    write_wav(&maker.path(TAKES).join("G2.wav"), &reed_tone(96.5, 1.0));
    maker.told(&["check"]);
    let after = text(&maker.path("log.csv"));
    let new = after.lines().last().unwrap();
    assert!(after.starts_with(&format!("\u{feff}{german}")), "{after}");
    assert!(new.starts_with("P1;01-drilled;G2;P1/01-drilled/takes/G2.wav;96,"), "{new}");
}

#[test]
fn a_log_with_other_columns_is_left_alone_even_without_a_last_line_end() {
    let maker = with_a_take();
    for foreign in ["pitch,take\n69.0,C#2", "prototype,step\nP1,01-dril"] {
        std::fs::write(maker.path("log.csv"), foreign).unwrap();
        let told = maker.refused(&["check"], 1);
        assert!(told.contains("log.csv:1") && told.contains("Nothing was changed"), "{told}");
        assert_eq!(text(&maker.path("log.csv")), foreign);
        assert!(!maker.path("log-torn.txt").exists());
    }
}

#[test]
fn a_copy_that_was_stopped_counts_when_it_is_copied_again() {
    let maker = with_a_take();
    let memo = maker.book.parent().unwrap().join("G2.wav");
    write_wav(&memo, &reed_tone(96.5, 1.0));
    // As a program leaves it that was killed before the copy had its name.
    let left = maker.path(TAKES).join(".G2.wav.k3dPq9.part");
    std::fs::copy(&memo, &left).unwrap();
    maker.told(&["check"]);
    assert!(!left.exists() && !maker.path("P1/01-drilled/set-aside").exists());
    let told = maker.told(&["check", "--step", "01", memo.to_str().unwrap()]);
    assert!(told.contains("G2") && maker.path(TAKES).join("G2.wav").is_file(), "{told}");
    assert_eq!(maker.log().len(), 2);
}

#[test]
fn what_was_left_in_a_step_that_is_not_open_is_put_right_too() {
    let maker = with_a_take();
    maker.told(&["check"]);
    maker.told(&["step", "trimmed"]);
    let before = files(&maker.book);
    let takes = maker.path(TAKES);
    std::fs::create_dir_all(maker.path("P1/.03-x.k3dPq9.part/takes")).unwrap();
    std::fs::write(maker.path("P1/01-drilled/.check.html.k3dPq9.part"), "<html").unwrap();
    std::fs::copy(takes.join("F2.wav"), takes.join("F2-2.wav.k3dPq9.part")).unwrap();
    let output = maker.run(&["check", "--step", "01"]);
    let told = stderr(&output);
    let kept = maker.path("P1/01-drilled/set-aside/F2-2-cut-off-1.wav");
    assert!(told.contains("a take was cut off") && kept.is_file(), "{told}");
    std::fs::remove_dir_all(maker.path("P1/01-drilled/set-aside")).unwrap();
    std::fs::remove_file(maker.path("P1/01-drilled/set-aside.csv")).unwrap();
    let names = |files: &[(std::path::PathBuf, Vec<u8>)]| -> Vec<std::path::PathBuf> {
        files.iter().map(|(path, _)| path.clone()).filter(|path| !path.ends_with("check.html")).collect()
    };
    assert_eq!(names(&files(&maker.book)), names(&before));
    assert!(!maker.path("P1/.03-x.k3dPq9.part").exists());
}

#[test]
fn a_take_set_aside_on_a_full_disk_keeps_its_reason_and_the_next_command_ends_it() {
    let Some(disk) = SmallDisk::new(600) else { return };
    let maker = Maker::on(disk.path());
    maker.write_instrument(REED_PIPE);
    for name in ["F2.wav", "F2-2.wav", "F2-3.wav"] {
        write_wav(&maker.path(TAKES).join(name), &reed_tone(86.0, 1.0));
    }
    maker.told(&["check", "--no-report"]);
    maker.told(&["set-aside", "F2-2.wav", "--why", "slipped"]);
    let list = maker.path("P1/01-drilled/set-aside.csv");
    let mut refused = 0;
    // From a disk without any room to one with enough: each time the take counts, or is aside with its reason.
    for room in 0..12 {
        disk.fill(room);
        let output = maker.run(&["set-aside", "F2.wav", "--why", "the reed was wet"]);
        refused += usize::from(output.status.code() != Some(0));
        let told = stderr(&output);
        disk.make_room();
        maker.told(&["check", "--no-report"]);
        let aside = maker.path("P1/01-drilled/set-aside/F2.wav");
        let counts = text(&list).matches("F2.wav,the reed was wet,").count();
        assert_eq!(counts, usize::from(aside.is_file()), "{told}");
        assert_ne!(aside.is_file(), maker.path(TAKES).join("F2.wav").is_file());
        assert!(!maker.path("P1/01-drilled/.set-aside.toml").exists());
        if aside.is_file() {
            break;
        }
        assert!(told.contains("full"), "{told}");
    }
    assert!(refused > 0, "the disk was never full");
    assert!(maker.path("P1/01-drilled/set-aside/F2.wav").is_file());
}

#[test]
fn a_prototype_that_lies_outside_of_the_book_is_refused() {
    let (maker, other) = (with_a_take(), with_a_take());
    let outside = format!("../../{}/{}/P1", dir_name(&other.book, 1), dir_name(&other.book, 0));
    let named = REED_PIPE.replace("prototype = \"P1\"", &format!("prototype = \"{outside}\""));
    maker.write_instrument(&named);
    let before = files(&other.book);
    let told = maker.refused(&["set-aside", "F2.wav", "--why", "x"], 1);
    assert!(told.contains("instrument.toml:") && told.contains("no name for a prototype"), "{told}");
    assert_eq!(files(&other.book), before);
}

/// The name of a folder, or of the one so many above it.
fn dir_name(path: &Path, above: usize) -> String {
    path.ancestors().nth(above).unwrap().file_name().unwrap().to_str().unwrap().to_string()
}

#[cfg(unix)]
#[test]
fn a_name_with_control_characters_gets_one_row_however_often_it_is_checked() {
    let maker = with_a_take();
    std::fs::rename(maker.path(TAKES).join("F2.wav"), maker.path(TAKES).join("F2-\t\u{1b}[31m\n.wav"))
        .unwrap();
    for _ in 0..3 {
        maker.told(&["check"]);
    }
    assert_eq!(maker.log().len(), 1);
}

#[test]
fn lists_for_people_hold_no_formula() {
    let maker = with_a_take();
    write_wav(&maker.path("=1+1.wav"), &reed_tone(96.5, 1.0));
    maker.told(&["check", "--step", "01", "--as", "G2", "=1+1.wav"]);
    maker.told(&["set-aside", "G2.wav", "--why", "=HYPERLINK(\"x\")"]);
    for list in ["copied.csv", "set-aside.csv"] {
        let text = text(&maker.path("P1/01-drilled").join(list));
        assert!(text.contains("'=") && !text.contains(",=") && !text.contains(",\"="), "{text}");
    }
}

#[test]
fn a_book_that_was_being_made_when_the_program_was_stopped_can_be_made() {
    let maker = Maker::new();
    let folder = maker.book.parent().unwrap().join("second");
    for left in ["P1/01-start/takes", "P1/01-start/.note.toml.k3dPq9.part", ".log.csv.k3dPq9.part"] {
        let path = folder.join(left);
        if left.ends_with(".part") {
            std::fs::write(path, "half").unwrap();
        } else {
            std::fs::create_dir_all(path).unwrap();
        }
    }
    maker.told(&["new", folder.to_str().unwrap()]);
    // A take in it is no left-over.
    std::fs::remove_file(folder.join("instrument.toml")).unwrap();
    std::fs::write(folder.join("P1/01-start/takes/F2.wav"), "sound").unwrap();
    maker.refused(&["new", folder.to_str().unwrap()], 1);
}

#[cfg(unix)]
#[test]
fn an_instrument_file_that_is_a_link_stays_one() {
    let maker = with_a_take();
    let real = maker.book.parent().unwrap().join("shared.toml");
    std::fs::rename(maker.path("instrument.toml"), &real).unwrap();
    std::os::unix::fs::symlink(&real, maker.path("instrument.toml")).unwrap();
    maker.told(&["check"]);
    maker.told(&["new", ".", "--prototype", "P2", "--from", "P1"]);
    assert!(maker.path("instrument.toml").symlink_metadata().unwrap().is_symlink());
    assert!(text(&real).contains("prototype = \"P2\""));
}
