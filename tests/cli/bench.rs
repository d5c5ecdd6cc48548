//! A workbench for the tests: a folder, an instrument, synthetic takes, the program.

use std::f64::consts::TAU;
use std::path::{Path, PathBuf};
use std::process::{Output, Stdio};

use assert_cmd::Command;
use serde_json::Value;
use tempfile::TempDir;

/// Samples a second of the synthetic takes.
pub const RATE_HZ: u32 = 16_000;

/// A tube of 20 mm with three plain holes. The targets are near what it sounds.
pub const REED_PIPE: &str = r#"format = 1

[instrument]
name = "Test Pipe"
prototype = "P1"
drive = "reed"

[mouthpiece]
chamber_ml = 12.5

[[bore]]
at_mm = 0.0
diameter_mm = 20.0
[[bore]]
at_mm = 1180.0
diameter_mm = 20.0

[[hole]]
name = "h1"
at_mm = 1050.0
diameter_mm = 12.0
chimney_mm = 3.0
[[hole]]
name = "h2"
at_mm = 925.0
diameter_mm = 12.0
chimney_mm = 3.0
[[hole]]
name = "h3"
at_mm = 815.0
diameter_mm = 12.0
chimney_mm = 3.0

[[fingering]]
name = "C#2"
open = []
[[fingering]]
name = "D#2"
open = ["h1"]
[[fingering]]
name = "F2"
open = ["h1", "h2"]
[[fingering]]
name = "G2"
open = ["h1", "h2", "h3"]
"#;

/// A folder that vanishes after the test, with an instrument file in it.
pub struct Bench {
    folder: TempDir,
}

impl Bench {
    pub fn new() -> Bench {
        Bench::with(REED_PIPE)
    }

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

    pub fn wav(&self, name: &str, samples: &[f64]) -> PathBuf {
        let path = self.path(name);
        write_wav(&path, samples);
        path
    }
}

pub fn stderr(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// A steady reed note: odd harmonics that fall off, in a faint hiss, a breath of silence around it.
pub fn reed_tone(hz: f64, seconds: f64) -> Vec<f64> {
    let count = (seconds * f64::from(RATE_HZ)) as usize;
    let silence = RATE_HZ as usize / 4;
    let mut hiss = Hiss(1);
    let mut samples: Vec<f64> = (0..silence).map(|_| hiss.next()).collect();
    samples.extend((0..count).map(|i| {
        let t = i as f64 / f64::from(RATE_HZ);
        let swell = (t / 0.05).min((seconds - t) / 0.05).clamp(0.0, 1.0);
        let odd = (1..24).step_by(2).filter(|n| f64::from(*n) * hz < 0.4 * f64::from(RATE_HZ));
        let tone: f64 = odd.map(|n| (TAU * f64::from(n) * hz * t).sin() / f64::from(n)).sum();
        0.4 * swell * tone + hiss.next()
    }));
    samples.extend((0..silence).map(|_| hiss.next()));
    samples
}

/// Noise at −80 dBFS, the same every time.
struct Hiss(u32);

impl Hiss {
    fn next(&mut self) -> f64 {
        // Numerical Recipes' quick generator (from memory); any would do.
        self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (f64::from(self.0) / f64::from(u32::MAX) - 0.5) * 2e-4
    }
}

pub fn write_wav(path: &Path, samples: &[f64]) {
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: RATE_HZ,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(path, spec).unwrap();
    for sample in samples {
        writer.write_sample((sample * 32_768.0).round().clamp(-32_768.0, 32_767.0) as i16).unwrap();
    }
    writer.finalize().unwrap();
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
