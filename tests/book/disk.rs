//! Disks that are full, folders that can't be written, devices that vanish: a clear sentence, and nothing lost.

use std::path::Path;
use std::process::Command;

use crate::maker::{Maker, Tone, files, stderr, unfinished};
use crate::reed_pipe::REED_PIPE;

fn is_root() -> bool {
    Command::new("id").arg("-u").output().is_ok_and(|output| output.stdout.starts_with(b"0\n"))
}

/// A maker whose book lies on a disk of so many kilobytes. `None`, aloud, where none can be made.
struct SmallDisk {
    place: tempfile::TempDir,
}

impl SmallDisk {
    fn new(kilobytes: usize) -> Option<SmallDisk> {
        let place = tempfile::tempdir().unwrap();
        let size = format!("size={kilobytes}k");
        let mounted = cfg!(target_os = "linux")
            && is_root()
            && Command::new("mount")
                .args(["-t", "tmpfs", "-o", &size, "tmpfs"])
                .arg(place.path())
                .output()
                .is_ok_and(|output| output.status.success());
        if !mounted {
            eprintln!(
                "SKIPPED: a small disk can't be made here (needs root on Linux), a full disk was not tried"
            );
            return None;
        }
        Some(SmallDisk { place })
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(self.place.path()).output();
    }
}

fn on(disk: &Path) -> std::path::PathBuf {
    let book = disk.join("book");
    let output =
        assert_cmd::Command::cargo_bin("borescribe").unwrap().arg("new").arg(&book).output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    std::fs::write(book.join("instrument.toml"), REED_PIPE).unwrap();
    book
}

#[test]
fn a_disk_that_fills_up_while_recording_keeps_all_takes_before_it() {
    // A take of 1.5 s has 72 kB: the fifth or so does not fit.
    let Some(disk) = SmallDisk::new(400) else { return };
    let book = on(disk.place.path());
    let bytes: Vec<u8> = (0..12)
        .flat_map(|_| Tone::plain(69.0).samples())
        .flat_map(|sample| (sample as f32).to_le_bytes())
        .collect();
    let names = ["C#2"; 12];
    let output = assert_cmd::Command::cargo_bin("borescribe")
        .unwrap()
        .current_dir(&book)
        .arg("record")
        .args(names)
        .args(["--seconds", "1.5", "--raw", "f32le:16000:1"])
        .write_stdin(bytes)
        .output()
        .unwrap();
    let told = stderr(&output);
    assert_eq!(output.status.code(), Some(1), "{told}");
    assert!(told.contains("disk") && told.contains("full"), "{told}");
    let kept = String::from_utf8_lossy(&output.stdout).lines().filter(|line| line.contains(".wav: ")).count();
    assert!(kept >= 2, "{kept} takes: {told}");
    let expected: Vec<i32> =
        Tone::plain(69.0).samples().iter().map(|s| (s * 8_388_608.0).round() as i32).collect();
    for number in 1..=kept {
        let name = if number == 1 { "C#2.wav".to_string() } else { format!("C#2-{number}.wav") };
        let mut reader = hound::WavReader::open(book.join("P1/01-start/takes").join(&name)).unwrap();
        assert!(reader.samples::<i32>().map(Result::unwrap).eq(expected.iter().copied()), "{name}");
    }
}

#[test]
fn a_full_disk_leaves_the_log_whole() {
    let Some(disk) = SmallDisk::new(300) else { return };
    let book = on(disk.place.path());
    let take = book.join("P1/01-start/takes/C#2.wav");
    crate::reed_takes::write_wav(&take, &crate::reed_takes::reed_tone(68.6, 1.0));
    let check = |book: &Path| {
        assert_cmd::Command::cargo_bin("borescribe").unwrap().arg("check").arg(book).output().unwrap()
    };
    assert_eq!(check(&book).status.code(), Some(0));
    let before = std::fs::read(book.join("log.csv")).unwrap();
    std::fs::copy(&take, book.join("P1/01-start/takes/C#2-2.wav")).unwrap();
    // Fill what is left, to the last byte.
    let mut filler = std::fs::File::create(disk.place.path().join("filler")).unwrap();
    while std::io::Write::write_all(&mut filler, &[1; 512]).is_ok() {}
    // Grow the log to the end of its page, so that the next row needs room.
    let mut text = before.clone();
    while !(text.len() + 1).is_multiple_of(4096) {
        text.push(b'\n');
    }
    text.push(b'\n');
    std::fs::write(book.join("log.csv"), &text).unwrap();
    let output = check(&book);
    assert_eq!(output.status.code(), Some(1), "{}", stderr(&output));
    assert!(stderr(&output).contains("disk is full"), "{}", stderr(&output));
    assert!(!output.stdout.is_empty(), "the check itself was done");
    assert_eq!(std::fs::read(book.join("log.csv")).unwrap(), text);
    // The room is free only when nobody holds the file any more.
    drop(filler);
    std::fs::remove_file(disk.place.path().join("filler")).unwrap();
    assert_eq!(check(&book).status.code(), Some(0));
    let rows = std::fs::read_to_string(book.join("log.csv")).unwrap();
    assert_eq!(rows.lines().filter(|line| line.starts_with("P1,")).count(), 2);
}

#[test]
fn a_long_recording_whose_notes_find_no_room_leaves_none_of_them_half_kept() {
    // Two notes of 24 bits have 96 kB a second.
    let Some(disk) = SmallDisk::new(160) else { return };
    let book = on(disk.place.path());
    let elsewhere = tempfile::tempdir().unwrap();
    let long = elsewhere.path().join("all.wav");
    let pause = vec![0.0; 12_000];
    let notes = [68.6, 77.0].map(|hz| [pause.clone(), crate::reed_takes::reed_tone(hz, 3.0)].concat());
    crate::reed_takes::write_wav(&long, &[notes.concat(), pause].concat());
    let before = files(&book);
    let output = assert_cmd::Command::cargo_bin("borescribe")
        .unwrap()
        .current_dir(&book)
        .args(["check", "--step", "01", "--one-take"])
        .arg(&long)
        .output()
        .unwrap();
    let told = stderr(&output);
    assert_eq!(output.status.code(), Some(1), "{told}");
    assert!(told.contains("disk full"), "{told}");
    let locks = |(path, _): &(std::path::PathBuf, Vec<u8>)| !path.ends_with(".writing");
    let after: Vec<_> = files(&book).into_iter().filter(locks).collect();
    assert_eq!(after, before.into_iter().filter(locks).collect::<Vec<_>>());
}

#[test]
fn a_folder_that_may_not_be_written_is_told_and_left_as_it_is() {
    // Root may write everywhere, but not on a disk that is mounted for reading only.
    let Some(disk) = SmallDisk::new(400) else { return };
    let book = on(disk.place.path());
    crate::reed_takes::write_wav(
        &book.join("P1/01-start/takes/C#2.wav"),
        &crate::reed_takes::reed_tone(68.6, 1.0),
    );
    let remounted = Command::new("mount").args(["-o", "remount,ro"]).arg(disk.place.path()).output().unwrap();
    assert!(remounted.status.success());
    let before = files(&book);
    for arguments in [
        &["check"][..],
        &["step", "x"],
        &["record", "--raw", "f32le:8000:1"],
        &["listen", "--raw", "f32le:8000:1"],
        &["check", "--step", "01", "--one-take", "P1/01-start/takes/C#2.wav"],
    ] {
        let output = assert_cmd::Command::cargo_bin("borescribe")
            .unwrap()
            .current_dir(&book)
            .args(arguments)
            .output()
            .unwrap();
        assert_eq!(output.status.code(), Some(1), "{arguments:?}: {}", stderr(&output));
        assert!(stderr(&output).contains("You may not write there"), "{arguments:?}: {}", stderr(&output));
        assert_eq!(output.stdout.is_empty(), arguments != ["check"], "a check is still told");
    }
    let output =
        assert_cmd::Command::cargo_bin("borescribe").unwrap().arg("history").arg(&book).output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert_eq!(files(&book), before);
}

#[test]
fn a_folder_that_vanished_while_recording_is_told() {
    let maker = Maker::new();
    maker.write_instrument(REED_PIPE);
    let mut child = std::process::Command::new(assert_cmd::cargo::cargo_bin("borescribe"))
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
    let takes = maker.path("P1/01-drilled/takes");
    for _ in 0..200 {
        if unfinished(&takes, "C#2.wav").is_some() {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    std::fs::rename(maker.path("P1"), maker.path("pulled out")).unwrap();
    let _ = std::io::Write::write_all(&mut pipe, &bytes[32_000..]);
    drop(pipe);
    let output = child.wait_with_output().unwrap();
    let told = stderr(&output);
    assert_eq!(output.status.code(), Some(1), "{told}");
    assert!(told.contains("not there any more") || told.contains("no steps"), "{told}");
    // What came before is still in the unfinished file.
    let left = unfinished(&maker.path("pulled out/01-drilled/takes"), "C#2.wav").unwrap();
    assert!(left.metadata().unwrap().len() > 60_000);
}
