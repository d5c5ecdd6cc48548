//! A maker with a book: runs the program in the book's folder and plays takes of given pitches into it.

use std::f64::consts::TAU;
use std::path::{Path, PathBuf};
use std::process::Output;

use assert_cmd::Command;
use serde_json::Value;
use tempfile::TempDir;

/// Rate and length of the takes that are played.
pub const RATE_HZ: usize = 16_000;
pub const SECONDS: f64 = 1.5;

pub struct Maker {
    /// Where the book lies, when it goes with the maker.
    _folder: Option<TempDir>,
    pub book: PathBuf,
}

/// The program: the one that was built for these tests; for a program in `examples/` the one in the folder above.
pub fn program() -> PathBuf {
    let beside = || {
        let own = std::env::current_exe().unwrap();
        own.ancestors().nth(2).unwrap().join(format!("borescribe{}", std::env::consts::EXE_SUFFIX))
    };
    option_env!("CARGO_BIN_EXE_borescribe").map_or_else(beside, PathBuf::from)
}

impl Maker {
    /// A new book, in a folder whose name is as awkward as they get.
    pub fn new() -> Maker {
        let folder = TempDir::new().unwrap();
        let maker = Maker::on(folder.path());
        Maker { _folder: Some(folder), ..maker }
    }

    /// The same in a folder that stays.
    pub fn on(folder: &Path) -> Maker {
        const NAME: &str = "Große Rohrdommel ♭, Nr. 1";
        let output = Command::new(program())
            .current_dir(folder)
            .args(["new", NAME, "--what", "drilled", "--player", "É. Ouvrier"])
            .output()
            .unwrap();
        assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
        Maker { book: folder.join(NAME), _folder: None }
    }

    /// A maker in a folder that is there, a book or the one above it.
    pub fn in_book(folder: &Path) -> Maker {
        Maker { _folder: None, book: folder.to_path_buf() }
    }

    pub fn write_instrument(&self, text: &str) {
        std::fs::write(self.book.join("instrument.toml"), text).unwrap();
    }

    pub fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(program());
        command.current_dir(&self.book).args(arguments);
        command
    }

    pub fn run(&self, arguments: &[&str]) -> Output {
        let output = self.command(arguments).output().unwrap();
        assert!(!stderr(&output).contains("panicked"), "{}", stderr(&output));
        output
    }

    /// Runs a command that must do its work; its stdout.
    #[track_caller]
    pub fn told(&self, arguments: &[&str]) -> String {
        let output = self.run(arguments);
        assert_eq!(output.status.code(), Some(0), "{arguments:?}: {}", stderr(&output));
        String::from_utf8(output.stdout).unwrap()
    }

    #[track_caller]
    pub fn json(&self, arguments: &[&str]) -> Value {
        serde_json::from_str(&self.told(arguments)).unwrap()
    }

    /// Runs a command that can't do its work; what it says.
    #[track_caller]
    pub fn refused(&self, arguments: &[&str], code: i32) -> String {
        let output = self.run(arguments);
        assert_eq!(output.status.code(), Some(code), "{arguments:?}: {}", stderr(&output));
        stderr(&output)
    }

    /// Records notes as if they came from a microphone; the takes get the names of `names`, or of all
    /// fingerings, the lowest first.
    #[track_caller]
    pub fn play(&self, options: &[&str], names: &[&str], notes: &[Tone]) -> Output {
        let seconds = SECONDS.to_string();
        let format = format!("f32le:{RATE_HZ}:1");
        let mut arguments = vec!["record"];
        arguments.extend(names);
        arguments.extend(["--seconds", &seconds, "--raw", &format]);
        arguments.extend(options);
        let bytes: Vec<u8> =
            notes.iter().flat_map(Tone::samples).flat_map(|s| (s as f32).to_le_bytes()).collect();
        let output = self.command(&arguments).write_stdin(bytes).output().unwrap();
        assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
        output
    }

    pub fn log(&self) -> Vec<Vec<String>> {
        let text = std::fs::read_to_string(self.book.join("log.csv")).unwrap();
        text.lines().skip(1).map(|line| line.split(',').map(str::to_string).collect()).collect()
    }

    /// A file in `folder` that is still being written; waits for one for four seconds.
    pub fn unfinished(&self, folder: &str) -> Option<PathBuf> {
        let is_unfinished = |path: &PathBuf| path.extension().is_some_and(|ending| ending == "part");
        for _ in 0..200 {
            let entries = std::fs::read_dir(self.path(folder)).into_iter().flatten().flatten();
            if let Some(path) = entries.map(|entry| entry.path()).find(is_unfinished) {
                return Some(path);
            }
            std::thread::sleep(std::time::Duration::from_millis(20));
        }
        None
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.book.join(name)
    }
}

pub fn stderr(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// A note to be played, as a steady reed tone in a faint hiss with silence around it.
#[derive(Debug, Clone, Copy)]
pub struct Tone {
    pub hz: f64,
    /// Level of a line at a third of the note against the note itself, dB.
    pub third_db: Option<f64>,
}

impl Tone {
    pub fn plain(hz: f64) -> Tone {
        Tone { hz, third_db: None }
    }

    pub fn samples(&self) -> Vec<f64> {
        let count = (SECONDS * RATE_HZ as f64) as usize;
        let mut state = 1_u32;
        (0..count)
            .map(|i| {
                let t = i as f64 / RATE_HZ as f64;
                let swell = ((t - 0.2) / 0.05).min((SECONDS - 0.2 - t) / 0.05).clamp(0.0, 1.0);
                let odd = (1..24).step_by(2).filter(|n| f64::from(*n) * self.hz < 6_000.0);
                let mut tone: f64 =
                    odd.map(|n| (TAU * f64::from(n) * self.hz * t).sin() / f64::from(n)).sum();
                if let Some(db) = self.third_db {
                    tone += 10_f64.powf(db / 20.0) * (TAU * self.hz / 3.0 * t + 1.0).sin();
                }
                // Numerical Recipes' quick generator (from memory); any would do.
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                let hiss = (f64::from(state) / f64::from(u32::MAX) - 0.5) * 2e-4;
                // What 24 bits hold exactly.
                ((0.4 * swell * tone + hiss) * 8_388_608.0).round() / 8_388_608.0
            })
            .collect()
    }
}

/// Every file below `folder` with its bytes, by its path.
pub fn files(folder: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    let mut found = Vec::new();
    let mut folders = vec![folder.to_path_buf()];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else {
                found.push((path.clone(), std::fs::read(path).unwrap()));
            }
        }
    }
    found.sort();
    found
}
