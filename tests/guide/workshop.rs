//! A maker at the bench: the file that the program is given, the instrument as it really is, and a player who scatters.

use std::fs;

use borescribe::acoustics::resonance::resonances;
use borescribe::diagnosis::takes::condition::Condition;
use borescribe::instrument::change::{parse as parse_change, place_called};
use borescribe::instrument::column::{Leak, LeakPlace, column, highest_hz};
use borescribe::instrument::file::parse;
use borescribe::instrument::model::Instrument;
use borescribe::units::shift_by_cents;
use serde_json::Value;

use crate::bench::{Bench, stderr};
use crate::reed_takes::reed_tone;

const TAKE_SECONDS: f64 = 1.2;
/// Breath noise beside the tone of a tight instrument (rms 0.3), 44 dB below it; what is quieter than a breath is silence.
const BREATH_RMS: f64 = 0.002;
const SILENT: f64 = 0.0005;
/// How far the player's takes of one note scatter, cents.
const SPREAD_CENTS: f64 = 2.0;

/// The great-bass chalumeau Bittern of the samples, with its vent opened to 2 mm: nothing is wrong with it.
pub fn bittern() -> String {
    let sample = include_str!("../../samples/bittern/P2/02-trimmed-opened/instrument.toml");
    with(sample, "diameter_mm = 1.2\nchimney_mm = 10.0", "diameter_mm = 2.0\nchimney_mm = 10.0")
}

/// `text` with `old`, which must be there once, replaced by `new`.
pub fn with(text: &str, old: &str, new: &str) -> String {
    assert_eq!(text.matches(old).count(), 1, "{old} should be in the file once");
    text.replace(old, new)
}

pub struct Workshop {
    bench: Bench,
    file: String,
    truth: Instrument,
    leaks: Vec<Leak>,
    player: Player,
    /// Changes and folder of each test that was played.
    tests: Vec<[String; 2]>,
}

impl Workshop {
    /// A bench on which the program is given the file `text`, while the instrument is really as `truth` says.
    pub fn new(text: &str, truth: &str, seed: u64) -> Workshop {
        Workshop {
            bench: Bench::with(text),
            file: "instrument.toml".to_string(),
            truth: parse(truth).unwrap(),
            leaks: Vec::new(),
            player: Player::new(seed),
            tests: Vec::new(),
        }
    }

    /// A sound Bittern whose file is right.
    pub fn sound(seed: u64) -> Workshop {
        Workshop::new(&bittern(), &bittern(), seed)
    }

    /// The same, but it leaks like a hole of this diameter.
    pub fn leaking(mut self, place: &str, diameter_mm: f64) -> Workshop {
        let place = place_called(&self.truth, place).unwrap();
        self.leaks.push(Leak { place, diameter_mm });
        self
    }

    /// What the true instrument sounds under changes that are undone again.
    pub fn sounds(&self, name: &str, changes: &[&str]) -> Note {
        let changes: Vec<_> = changes.iter().map(|text| parse_change(&self.truth, text).unwrap()).collect();
        let condition = Condition::of(&self.truth, &changes).unwrap();
        let truth = condition.changed.as_ref().map_or(&self.truth, |changed| &changed.instrument);
        let fingering = truth.fingerings.iter().find(|fingering| fingering.name == name).unwrap();
        // A leak at a hole leaks only while its pad is closed.
        let is_open =
            |place: LeakPlace| matches!(place, LeakPlace::Hole(hole) if fingering.open.contains(&hole));
        let acts = |leak: &&Leak| !condition.sealed.contains(&leak.place) && !is_open(leak.place);
        let leaks: Vec<Leak> = self.leaks.iter().filter(acts).copied().collect();
        let resonance = |leaks: &[Leak]| {
            let column = column(truth, &fingering.open, leaks);
            resonances(&column, fingering.register, highest_hz(&column))[fingering.register - 1]
        };
        let (leaking, tight) = (resonance(&leaks), resonance(&[]));
        Note { hz: leaking.hz, strength: (leaking.magnitude / tight.magnitude).min(1.0) }
    }

    /// All fingerings, each so often.
    pub fn play_all(&mut self, takes: usize) {
        let names: Vec<String> =
            self.truth.fingerings.iter().map(|fingering| fingering.name.clone()).collect();
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        self.play(&names, takes);
    }

    /// More ordinary takes of some fingerings.
    pub fn play(&mut self, names: &[&str], takes: usize) {
        self.play_into("takes", &[], names, takes);
    }

    /// A test: takes under changes that are undone afterwards, in a folder of their own.
    pub fn test(&mut self, changes: &[&str], names: &[&str], takes: usize) {
        let folder = format!("tests/{:02}", self.tests.len() + 1);
        self.play_into(&folder, changes, names, takes);
        self.tests.push([changes.join(","), folder]);
    }

    fn play_into(&mut self, folder: &str, changes: &[&str], names: &[&str], takes: usize) {
        for name in names {
            let note = self.sounds(name, changes);
            for _ in 0..takes {
                let samples = self.player.plays(note);
                self.put(folder, name, &samples);
            }
        }
    }

    /// One take of a fingering, as it is given.
    pub fn put(&self, folder: &str, name: &str, samples: &[f64]) {
        let free = (1..).map(|number| format!("{folder}/{name}-{number}.wav"));
        let free = free.into_iter().find(|path| !self.bench.path(path).exists()).unwrap();
        self.bench.wav(&free, samples);
    }

    /// Takes a fingering's ordinary takes away.
    pub fn lose(&self, name: &str) {
        for take in fs::read_dir(self.bench.path("takes/.")).unwrap() {
            let take = take.unwrap();
            if take.file_name().to_str().unwrap().starts_with(&format!("{name}-")) {
                fs::remove_file(take.path()).unwrap();
            }
        }
    }

    /// A fresh evening: all takes and tests of the last one are put away.
    pub fn begin_evening(&mut self) {
        for folder in ["takes", "tests"] {
            let path = self.bench.path(folder);
            if path.exists() {
                fs::remove_dir_all(path).unwrap();
            }
        }
        self.tests.clear();
    }

    fn arguments<'a>(&'a self, more: &[&'a str]) -> Vec<&'a str> {
        let mut arguments = vec!["check", self.file.as_str(), "takes"];
        for [changes, folder] in &self.tests {
            arguments.extend(["--test", changes, folder]);
        }
        arguments.extend(more);
        arguments
    }

    /// What `check` says, for other programs.
    #[track_caller]
    pub fn check(&self) -> Value {
        self.check_with(&[])
    }

    /// The same with more on the command line.
    #[track_caller]
    pub fn check_with(&self, more: &[&str]) -> Value {
        self.bench.json(&self.arguments(&[&["--json"], more].concat()))
    }

    /// What `check` says, as text.
    #[track_caller]
    pub fn check_text(&self) -> String {
        let output = self.bench.run(&self.arguments(&[]));
        assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
        String::from_utf8(output.stdout).unwrap()
    }

    /// Checks, plays the first test that is asked for, and checks again, until none is asked for or `most` were played.
    /// All checks, the first one first.
    pub fn dialogue(&mut self, most: usize) -> Vec<Value> {
        let mut checks = vec![self.check()];
        for _ in 0..most {
            let asked = checks.last().unwrap()["next"]["tests"][0].clone();
            if asked["play"].is_null() {
                break;
            }
            let (changes, names) = (words(&asked["changes"]), words(&asked["play"]));
            let takes = asked["takes"].as_u64().unwrap() as usize;
            if changes.is_empty() {
                self.play(&names, takes);
            } else {
                self.test(&changes, &names, takes);
            }
            checks.push(self.check());
        }
        checks
    }

    /// Makes changes to the file with `try --save`; the file from now on.
    pub fn save_changes(&mut self, changes: &[&str], new: &str) {
        self.bench.json(&[&["try", self.file.as_str()][..], changes, &["--save", new, "--json"]].concat());
        self.file = new.to_string();
    }

    /// Makes changes to the instrument itself, as a file and a drill would.
    pub fn alter_truth(&mut self, changes: &[&str]) {
        for text in changes {
            let change = parse_change(&self.truth, text).unwrap();
            if let borescribe::instrument::change::Target::Leak(place) = change.target {
                self.leaks.retain(|leak| leak.place != place);
                continue;
            }
            let condition = Condition::of(&self.truth, &[change]).unwrap();
            if let Some(changed) = condition.changed {
                self.truth = changed.instrument;
            }
        }
    }

    pub fn truth(&self) -> &Instrument {
        &self.truth
    }

    pub fn bench(&self) -> &Bench {
        &self.bench
    }

    pub fn file_text(&self) -> String {
        fs::read_to_string(self.bench.path(&self.file)).unwrap()
    }
}

/// The texts of a list.
#[track_caller]
pub fn words(list: &Value) -> Vec<&str> {
    list.as_array().unwrap().iter().map(|word| word.as_str().unwrap()).collect()
}

/// The entry of one fingering in a check.
#[track_caller]
pub fn note<'a>(check: &'a Value, name: &str) -> &'a Value {
    check["fingerings"].as_array().unwrap().iter().find(|fingering| fingering["name"] == name).unwrap()
}

/// The weight of a cause at a place; 0 where it is no finding.
pub fn weight(check: &Value, cause: &str, place: &str) -> f64 {
    let findings = check["findings"].as_array().unwrap().iter();
    let mut own = findings.filter(|finding| finding["cause"] == cause && finding["where"] == place);
    own.next().map_or(0.0, |finding| finding["weight"].as_f64().unwrap())
}

/// Asserts that nothing is to be cut, filled or moved.
#[track_caller]
pub fn assert_no_cut(check: &Value) {
    assert_eq!(check["cuts"].as_array().map(Vec::len), Some(0), "{}\n{}", check["cuts"], check["next"]);
    assert_ne!(check["next"]["do"], "cut", "{}", check["next"]);
}

/// A note of the true instrument.
#[derive(Clone, Copy)]
pub struct Note {
    pub hz: f64,
    /// How much of its resonance's height the leaks leave, 0 to 1.
    pub strength: f64,
}

/// Normal enough deviates (the sum of twelve even ones) that repeat with the seed.
struct Player {
    state: u64,
}

impl Player {
    fn new(seed: u64) -> Player {
        Player { state: seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 0xD1B5_4A32_D192_ED03 }
    }

    fn even(&mut self) -> f64 {
        self.state =
            self.state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.state >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.even()).sum::<f64>() - 6.0
    }

    /// One take: the pitch scattered, the tone as strong as leaks leave it, the breath the louder for it.
    fn plays(&mut self, note: Note) -> Vec<f64> {
        let played_hz = shift_by_cents(note.hz, SPREAD_CENTS * self.normal());
        let mut samples = reed_tone(played_hz, TAKE_SECONDS);
        let breath_rms = BREATH_RMS / note.strength;
        for sample in &mut samples {
            let is_blown = sample.abs() > SILENT;
            *sample = note.strength * *sample + if is_blown { breath_rms * self.normal() } else { 0.0 };
        }
        samples
    }
}
