//! The line that changes while something sounds, on a terminal whose size changes under it.
#![cfg(target_os = "linux")]

use std::process::{Command, Stdio};

use crate::listening::{predicted_hz, sound};
use crate::maker::{Maker, program};
use crate::reed_pipe::REED_PIPE;

/// What a terminal of so many columns shows in the end: its rows that are not empty.
fn screen(bytes: &str, columns: usize) -> Vec<String> {
    let mut rows: Vec<Vec<char>> = vec![Vec::new()];
    let (mut at, mut wraps) = (0, true);
    let mut letters = bytes.chars();
    while let Some(letter) = letters.next() {
        match letter {
            '\r' => at = 0,
            '\n' => rows.push(Vec::new()),
            '\x1b' => {
                let order: String = {
                    let mut order = String::new();
                    for c in letters.by_ref() {
                        order.push(c);
                        if c.is_ascii_alphabetic() {
                            break;
                        }
                    }
                    order
                };
                match order.as_str() {
                    "[2K" => rows.last_mut().unwrap().clear(),
                    "[?7l" => wraps = false,
                    "[?7h" => wraps = true,
                    other => panic!("an order that this terminal does not know: {other}"),
                }
            }
            letter => {
                if at == columns {
                    if wraps {
                        rows.push(Vec::new());
                        at = 0;
                    } else {
                        at = columns - 1;
                    }
                }
                let row = rows.last_mut().unwrap();
                row.resize(row.len().max(at + 1), ' ');
                row[at] = letter;
                at += 1;
            }
        }
    }
    assert!(wraps, "the terminal is left in another mode");
    let rows = rows.into_iter().map(|row| row.into_iter().collect::<String>().trim_end().to_string());
    rows.filter(|row| !row.is_empty()).collect()
}

#[test]
fn a_terminal_that_is_resized_while_it_listens_is_left_clean_and_as_it_was() {
    if !Command::new("script").arg("--version").output().is_ok_and(|output| output.status.success()) {
        eprintln!("SKIPPED: there is no `script` here to make a terminal, resizing was not tried");
        return;
    }
    let maker = Maker::new();
    maker.write_instrument(REED_PIPE);
    let hz = predicted_hz();
    let (sound, _) = sound(&[(hz[0], 2.0), (hz[3], 2.0)], 0.4);
    let bytes: Vec<u8> = sound.iter().flat_map(|sample| sample.to_le_bytes()).collect();
    std::fs::write(maker.path("sound.raw"), bytes).unwrap();
    // Between two pieces of sound the terminal gets another width.
    let line = "stty -g > before; exec 3< sound.raw; for n in 80 20 200 3 1 40 132 12 60 25; do stty cols $n < /dev/tty; \
                dd bs=40000 count=1 status=none <&3; sleep 0.05; done | \
                \"$BORESCRIBE\" listen --only-listen --raw f32le:16000:1; ended=$?; stty -g > after; exit $ended";
    let output = Command::new("script")
        .args(["-qec", line, "/dev/null"])
        .current_dir(&maker.book)
        .env("BORESCRIBE", program())
        .env("SHELL", "/bin/sh")
        .stdin(Stdio::null())
        .output()
        .unwrap();
    let told = String::from_utf8_lossy(&output.stdout).into_owned();
    assert_eq!(output.status.code(), Some(0), "{told}");
    let read = |name: &str| std::fs::read_to_string(maker.path(name)).unwrap();
    assert!(!read("before").is_empty() && read("before") == read("after"), "the terminal's mode is another");
    for shown in ["C#2", "G2", "listening"] {
        assert!(told.contains(shown), "{shown} was never shown: {told:?}");
    }
    for columns in [12, 20, 80, 200] {
        assert_eq!(screen(&told, columns), Vec::<String>::new(), "left on {columns} columns");
    }
}
