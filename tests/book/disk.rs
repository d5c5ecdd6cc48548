//! Disks that are full, folders that can't be written, devices that vanish: a clear sentence, and nothing lost.

use crate::attack::small_disk::{PAGE_BYTES, SmallDisk};
use crate::attack::{Deed, Evening, unharmed};
use crate::maker::{Maker, Tone, files, program, stderr};
use crate::reed_pipe::REED_PIPE;
use crate::reed_takes::{reed_tone, write_wav};

/// A maker whose book lies on a disk of so many kilobytes, as long as there is one.
fn maker_on(disk: &SmallDisk) -> Maker {
    let maker = Maker::on(disk.path());
    maker.write_instrument(REED_PIPE);
    maker
}

#[test]
fn whatever_finds_a_full_disk_says_so_and_loses_nothing() {
    // The same for longer: scripts/attack.rs.
    for (seed, deeds) in (1..).zip(Deed::ALL.chunks(5)) {
        let Some(disk) = SmallDisk::new(32_000) else { return };
        let mut evening = Evening::new(Maker::on(disk.path()), seed);
        deeds.iter().for_each(|deed| unharmed(&evening.fill(*deed, &disk), seed));
        unharmed(&evening.close(), seed);
    }
}

#[test]
fn a_disk_that_fills_up_while_recording_keeps_all_takes_before_it() {
    // A take of 1.5 s has 72 kB: the fifth or so does not fit.
    let Some(disk) = SmallDisk::new(400) else { return };
    let maker = maker_on(&disk);
    let bytes: Vec<u8> = (0..12)
        .flat_map(|_| Tone::plain(69.0).samples())
        .flat_map(|sample| (sample as f32).to_le_bytes())
        .collect();
    let mut arguments = vec!["record"];
    arguments.extend(["C#2"; 12]);
    arguments.extend(["--seconds", "1.5", "--raw", "f32le:16000:1"]);
    let output = maker.command(&arguments).write_stdin(bytes).output().unwrap();
    let told = stderr(&output);
    assert_eq!(output.status.code(), Some(1), "{told}");
    assert!(told.contains("disk") && told.contains("full"), "{told}");
    let kept = String::from_utf8_lossy(&output.stdout).lines().filter(|line| line.contains(".wav: ")).count();
    assert!(kept >= 2, "{kept} takes: {told}");
    let expected: Vec<i32> =
        Tone::plain(69.0).samples().iter().map(|s| (s * 8_388_608.0).round() as i32).collect();
    for number in 1..=kept {
        let name = if number == 1 { "C#2.wav".to_string() } else { format!("C#2-{number}.wav") };
        let mut reader = hound::WavReader::open(maker.path("P1/01-drilled/takes").join(&name)).unwrap();
        assert!(reader.samples::<i32>().map(Result::unwrap).eq(expected.iter().copied()), "{name}");
    }
}

#[test]
fn a_full_disk_leaves_the_log_whole() {
    let Some(disk) = SmallDisk::new(1000) else { return };
    let maker = maker_on(&disk);
    let takes = maker.path("P1/01-drilled/takes");
    write_wav(&takes.join("C#2.wav"), &reed_tone(68.6, 1.0));
    maker.told(&["check"]);
    std::fs::copy(takes.join("C#2.wav"), takes.join("C#2-2.wav")).unwrap();
    // Grow the log to the end of its page, so that the next row needs room.
    let mut text = std::fs::read(maker.path("log.csv")).unwrap();
    text.resize(text.len().next_multiple_of(PAGE_BYTES as usize), b'\n');
    std::fs::write(maker.path("log.csv"), &text).unwrap();
    disk.fill(0);
    let output = maker.run(&["check"]);
    assert_eq!(output.status.code(), Some(1), "{}", stderr(&output));
    assert!(stderr(&output).contains("disk is full"), "{}", stderr(&output));
    assert!(!output.stdout.is_empty(), "the check itself was done");
    assert_eq!(std::fs::read(maker.path("log.csv")).unwrap(), text);
    disk.make_room();
    maker.told(&["check"]);
    assert_eq!(maker.log().iter().filter(|row| row[0] == "P1").count(), 2);
}

#[test]
fn a_long_recording_whose_notes_find_no_room_leaves_none_of_them_half_kept() {
    // Two notes of 24 bits have 96 kB a second.
    let Some(disk) = SmallDisk::new(160) else { return };
    let maker = maker_on(&disk);
    let elsewhere = tempfile::tempdir().unwrap();
    let long = elsewhere.path().join("all.wav");
    let pause = vec![0.0; 12_000];
    let notes = [68.6, 77.0].map(|hz| [pause.clone(), reed_tone(hz, 3.0)].concat());
    write_wav(&long, &[notes.concat(), pause].concat());
    let before = files(&maker.book);
    let told = maker.refused(&["check", "--step", "01", "--one-take", long.to_str().unwrap()], 1);
    assert!(told.contains("disk full"), "{told}");
    let locks = |(path, _): &(std::path::PathBuf, Vec<u8>)| !path.ends_with(".writing");
    let after: Vec<_> = files(&maker.book).into_iter().filter(locks).collect();
    assert_eq!(after, before.into_iter().filter(locks).collect::<Vec<_>>());
}

#[test]
fn a_folder_that_may_not_be_written_is_told_and_left_as_it_is() {
    // Root may write everywhere, but not on a disk that is mounted for reading only.
    let Some(disk) = SmallDisk::new(400) else { return };
    let maker = maker_on(&disk);
    write_wav(&maker.path("P1/01-drilled/takes/C#2.wav"), &reed_tone(68.6, 1.0));
    disk.make_read_only();
    let before = files(&maker.book);
    for arguments in [
        &["check"][..],
        &["step", "x"],
        &["record", "--raw", "f32le:8000:1"],
        &["listen", "--raw", "f32le:8000:1"],
        &["check", "--step", "01", "--one-take", "P1/01-drilled/takes/C#2.wav"],
    ] {
        let output = maker.run(arguments);
        assert_eq!(output.status.code(), Some(1), "{arguments:?}: {}", stderr(&output));
        assert!(stderr(&output).contains("You may not write there"), "{arguments:?}: {}", stderr(&output));
        assert_eq!(output.stdout.is_empty(), arguments != ["check"], "a check is still told");
    }
    maker.told(&["history"]);
    assert_eq!(files(&maker.book), before);
}

#[test]
fn a_folder_that_vanished_while_recording_is_told() {
    let maker = Maker::new();
    maker.write_instrument(REED_PIPE);
    let mut child = std::process::Command::new(program())
        .current_dir(&maker.book)
        .args(["record", "C#2", "--seconds", "1.5", "--raw", "f32le:16000:1"])
        .stdin(std::process::Stdio::piped())
        .stderr(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    let bytes: Vec<u8> =
        Tone::plain(69.0).samples().into_iter().flat_map(|s| (s as f32).to_le_bytes()).collect();
    let mut pipe = child.stdin.take().unwrap();
    std::io::Write::write_all(&mut pipe, &bytes[..32_000]).unwrap();
    assert!(maker.unfinished("P1/01-drilled/takes").is_some());
    std::fs::rename(maker.path("P1"), maker.path("pulled out")).unwrap();
    let _ = std::io::Write::write_all(&mut pipe, &bytes[32_000..]);
    drop(pipe);
    let output = child.wait_with_output().unwrap();
    let told = stderr(&output);
    assert_eq!(output.status.code(), Some(1), "{told}");
    assert!(told.contains("not there any more") || told.contains("no steps"), "{told}");
    // What came before is still in the unfinished file.
    let part = maker.unfinished("pulled out/01-drilled/takes").unwrap();
    assert!(part.metadata().unwrap().len() > 60_000);
}
