//! Notes of a long recording, and files with names that say nothing, kept as takes of the step that is named.

use std::path::{Path, PathBuf};

use crate::maker::{Maker, files};
use crate::reed_pipe::REED_PIPE;
use crate::reed_takes::{reed_tone, write_wav};

const STEP: &str = "P1/01-drilled";

/// One recording of three fingerings, as a phone names it, and its samples.
fn evening() -> (Maker, PathBuf, Vec<i16>) {
    let maker = Maker::new();
    maker.write_instrument(REED_PIPE);
    let long = maker.book.parent().unwrap().join("Memo é 12.wav");
    let notes = [68.9, 77.0, 86.0].map(|hz| reed_tone(hz, 2.0));
    let pause = || vec![0.0; 12_000];
    let all: Vec<f64> = notes.into_iter().flat_map(|note| [pause(), note, pause()].concat()).collect();
    write_wav(&long, &all);
    let samples = hound::WavReader::open(&long).unwrap().into_samples().map(Result::unwrap).collect();
    (maker, long, samples)
}

fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .map(|entries| entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect())
        .unwrap_or_default();
    names.sort();
    names
}

#[test]
fn each_note_of_a_long_recording_becomes_a_take_of_the_named_step_sample_for_sample() {
    let (maker, long, samples) = evening();
    let one_take = ["check", "--step", "01", "--one-take", long.to_str().unwrap()];
    let original = std::fs::read(&long).unwrap();
    let told = maker.told(&one_take);
    assert!(told.contains("3 notes heard") && told.contains("check.html"), "{told}");
    let takes = maker.path(STEP).join("takes");
    assert_eq!(names(&takes), ["C#2.wav", "D#2.wav", "F2.wav"]);
    let list = std::fs::read_to_string(maker.path(STEP).join("copied.csv")).unwrap();
    for (name, hz) in [("C#2", 68.9), ("D#2", 77.0), ("F2", 86.0)] {
        let mut reader = hound::WavReader::open(takes.join(format!("{name}.wav"))).unwrap();
        let kept: Vec<i32> = reader.samples::<i32>().map(Result::unwrap).collect();
        assert!(kept.len() > 2 * 16_000, "{name} is cut short");
        // 24 bits hold the 16 of the original and eight zeros.
        let kept: Vec<i16> = kept.iter().map(|sample| i16::try_from(sample / 256).unwrap()).collect();
        assert!(samples.windows(kept.len()).any(|part| part == kept), "{name} is not what was recorded");
        let row = maker.log().into_iter().find(|row| row[2] == name).unwrap();
        let logged: f64 = row[4].parse().unwrap();
        assert!((1200.0 * (logged / hz).log2()).abs() < 0.5, "{row:?}");
        let origin = list.lines().find(|line| line.starts_with(name)).unwrap();
        assert!(origin.contains("Memo é 12.wav, 0:0"), "the name it had and where in it: {origin}");
    }
    assert!(maker.path(STEP).join("instrument.toml").is_file(), "the geometry is frozen with them");
    // Once more, nothing is kept twice, and the original is as it was.
    let before = files(&takes);
    maker.told(&one_take);
    assert_eq!(files(&takes), before);
    assert_eq!(maker.log().len(), 3);
    assert_eq!(std::fs::read(&long).unwrap(), original);
}

#[test]
fn without_a_step_named_a_long_recording_is_checked_and_nothing_is_kept() {
    let (maker, long, _) = evening();
    let before = files(&maker.book);
    maker.told(&["check", "--one-take", long.to_str().unwrap()]);
    assert_eq!(files(&maker.book), before);
}

#[test]
fn corrected_notes_are_kept_anew_and_what_they_were_taken_as_is_set_aside() {
    let (maker, long, _) = evening();
    let mut one_take = vec!["check", "--step", "01", "--one-take", long.to_str().unwrap()];
    maker.told(&one_take);
    one_take.extend(["--notes", "C#2, F2, skip"]);
    maker.told(&one_take);
    let step = maker.path(STEP);
    assert_eq!(names(&step.join("takes")), ["C#2.wav", "F2-2.wav", "F2.wav"]);
    assert_eq!(names(&step.join("set-aside")), ["D#2.wav"]);
    let why = std::fs::read_to_string(step.join("set-aside.csv")).unwrap();
    assert!(why.contains("D#2.wav,it is F2,"), "{why}");
    // What the maker set aside does not come back.
    maker.told(&["set-aside", "C#2.wav", "--why", "reed slipped"]);
    maker.told(&one_take);
    assert_eq!(names(&step.join("takes")), ["F2-2.wav", "F2.wav"]);
}

#[test]
fn files_in_order_become_takes_of_the_named_step_under_the_names_of_their_fingerings() {
    let maker = Maker::new();
    maker.write_instrument(REED_PIPE);
    let phone = maker.book.parent().unwrap().join("phone");
    std::fs::create_dir(&phone).unwrap();
    for (i, hz) in [68.9, 77.0, 86.0, 96.5].into_iter().enumerate() {
        write_wav(&phone.join(format!("Memo {}.wav", i + 9)), &reed_tone(hz, 2.0));
    }
    maker.told(&["check", "--step", "01", "--in-order", phone.to_str().unwrap()]);
    let takes = maker.path(STEP).join("takes");
    assert_eq!(names(&takes), ["C#2.wav", "D#2.wav", "F2.wav", "G2.wav"]);
    let same = |take: &str, memo: &str| {
        std::fs::read(takes.join(take)).unwrap() == std::fs::read(phone.join(memo)).unwrap()
    };
    assert!(same("C#2.wav", "Memo 9.wav") && same("G2.wav", "Memo 12.wav"));
    let list = std::fs::read_to_string(maker.path(STEP).join("copied.csv")).unwrap();
    assert!(list.contains("Memo 12.wav") && list.lines().count() == 5, "{list}");
}
