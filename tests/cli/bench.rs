//! The workbench with what only these tests do at it.

use std::process::{Output, Stdio};

pub use crate::plain_bench::{Bench, stderr};
pub use crate::reed_pipe::REED_PIPE;
pub use crate::reed_takes::{RATE_HZ, reed_tone};

impl Bench {
    pub fn new() -> Bench {
        Bench::with(REED_PIPE)
    }

    /// One take of each named fingering at the pitch that the geometry predicts, in `takes/`.
    pub fn play(&self, names: &[&str]) {
        let predicted = self.json(&["predict", ".", "--json"]);
        for fingering in predicted["fingerings"].as_array().unwrap() {
            let name = fingering["name"].as_str().unwrap();
            if names.contains(&name) {
                let hz = fingering["predicted_hz"].as_f64().unwrap();
                self.wav(&format!("takes/{name}.wav"), &reed_tone(hz, 3.0));
            }
        }
    }
}

/// Runs a command whose reader goes away before it prints.
pub fn with_stdout_closed(bench: &Bench, arguments: &[&str]) -> Output {
    let mut command = std::process::Command::new(assert_cmd::cargo::cargo_bin("borescribe"));
    let mut child = command
        .current_dir(bench.path("."))
        .args(arguments)
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    child.wait_with_output().unwrap()
}
