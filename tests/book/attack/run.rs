//! Runs the program: to its end, or until it is killed (SIGKILL, which nothing can catch).

use std::io::Write;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use crate::maker::program;

/// What is played to a command, piece by piece, with a pause after each.
#[derive(Debug, Clone, Default)]
pub struct Sound {
    pub pieces: Vec<Vec<u8>>,
    pub pause: Duration,
}

/// What a command said, and how it ended.
#[derive(Debug)]
pub struct Run {
    /// `None` when it was killed.
    pub code: Option<i32>,
    pub stdout: String,
    pub stderr: String,
}

/// When a command is killed.
#[derive(Debug, Clone, Copy)]
pub enum Moment {
    /// So long after it was started.
    After(Duration),
    /// So long after the book's folders have changed so many times: its writing is over in a moment.
    Change(u64, Duration),
}

/// A command that runs.
pub struct Running {
    child: Child,
    player: JoinHandle<()>,
}

impl Running {
    pub fn start(folder: &Path, arguments: &[String], sound: &Sound) -> Running {
        let mut child = Command::new(program())
            .current_dir(folder)
            .args(arguments)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut pipe = child.stdin.take().unwrap();
        let Sound { pieces, pause } = sound.clone();
        // The player, until the pipe breaks.
        let player = std::thread::spawn(move || {
            for piece in pieces {
                if pipe.write_all(&piece).is_err() {
                    return;
                }
                std::thread::sleep(pause);
            }
        });
        Running { child, player }
    }

    pub fn end(self) -> Run {
        let output = self.child.wait_with_output().unwrap();
        self.player.join().unwrap();
        Run {
            code: output.status.code(),
            stdout: String::from_utf8_lossy(&output.stdout).into_owned(),
            stderr: String::from_utf8_lossy(&output.stderr).into_owned(),
        }
    }

    /// Kills it at that moment, unless it has ended before.
    pub fn kill_at(mut self, moment: Moment, watched: &Path) -> Run {
        match moment {
            Moment::After(pause) => std::thread::sleep(pause),
            Moment::Change(changes, pause) => {
                let mut last = look(watched);
                let (mut left, started) = (changes, Instant::now());
                while left > 0 && started.elapsed() < Duration::from_secs(5) {
                    let now = look(watched);
                    left -= u64::from(now != last);
                    last = now;
                    if self.child.try_wait().unwrap().is_some() {
                        break;
                    }
                }
                // Sleeping takes longer than most of what is to be hit.
                let until = Instant::now() + pause;
                while Instant::now() < until {
                    std::hint::spin_loop();
                }
            }
        }
        self.child.kill().unwrap();
        self.end()
    }
}

/// Names and lengths of what lies below a folder, as far as they can be seen while a program changes them.
fn look(folder: &Path) -> Vec<(std::path::PathBuf, u64)> {
    let mut seen = Vec::new();
    let mut folders = vec![folder.to_path_buf()];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
            let Ok(about) = entry.metadata() else { continue };
            if about.is_dir() {
                folders.push(entry.path());
            }
            seen.push((entry.path(), about.len()));
        }
    }
    seen
}
