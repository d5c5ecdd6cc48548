//! A workbench for the tests: a folder, an instrument, synthetic takes, the program.

use std::path::PathBuf;
use std::process::Output;

use assert_cmd::Command;
use serde_json::Value;
use tempfile::TempDir;

use crate::reed_takes::write_wav;

/// A folder that vanishes after the test, with an instrument file in it.
pub struct Bench {
    folder: TempDir,
}

impl Bench {
    pub fn with(instrument: &str) -> Bench {
        let folder = TempDir::new().unwrap();
        std::fs::write(folder.path().join("instrument.toml"), instrument).unwrap();
        Bench { folder }
    }

    pub fn path(&self, name: &str) -> PathBuf {
        let path = self.folder.path().join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        path
    }

    /// The program, about to run in the folder.
    pub fn borescribe(&self, arguments: &[&str]) -> Command {
        let mut command = Command::cargo_bin("borescribe").unwrap();
        command.current_dir(self.folder.path()).args(arguments);
        command
    }

    pub fn run(&self, arguments: &[&str]) -> Output {
        let output = self.borescribe(arguments).output().unwrap();
        assert!(!stderr(&output).contains("panicked"), "{}", stderr(&output));
        output
    }

    /// Runs a command that must do its work; its JSON.
    pub fn json(&self, arguments: &[&str]) -> Value {
        let output = self.run(arguments);
        assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
        serde_json::from_slice(&output.stdout).unwrap()
    }

    /// Runs a command that can't do its work: exit code, nothing on stdout, each of `says` on stderr.
    #[track_caller]
    pub fn refuses(&self, arguments: &[&str], code: i32, says: &[&str]) {
        let output = self.run(arguments);
        let told = stderr(&output);
        assert_eq!(output.status.code(), Some(code), "{told}");
        assert_eq!(String::from_utf8_lossy(&output.stdout), "", "stdout of a refusal");
        for words in says {
            assert!(told.contains(words), "\"{words}\" is not in:\n{told}");
        }
    }

    pub fn wav(&self, name: &str, samples: &[f64]) -> PathBuf {
        let path = self.path(name);
        write_wav(&path, samples);
        path
    }
}

pub fn stderr(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}
