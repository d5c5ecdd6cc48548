//! What a maker asks of the program: the commands that write into a book, each drawn with everything that it needs.

use std::path::{Path, PathBuf};
use std::time::Duration;

use super::evening::Evening;
use super::kept::{Kept, May, aside_of};
use super::run::Sound;
use crate::reed_takes::{reed_tone, write_wav};

/// A kind of command.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Deed {
    Record,
    RecordTest,
    Listen,
    Check,
    CopyIn,
    CopyTest,
    OneTake,
    Step,
    Measured,
    Found,
    SetAside,
    NewBook,
    NewPrototype,
}

impl Deed {
    pub const ALL: [Deed; 13] = [
        Deed::Record,
        Deed::RecordTest,
        Deed::Listen,
        Deed::Check,
        Deed::CopyIn,
        Deed::CopyTest,
        Deed::OneTake,
        Deed::Step,
        Deed::Measured,
        Deed::Found,
        Deed::SetAside,
        Deed::NewBook,
        Deed::NewPrototype,
    ];

    /// The command as it is typed, without its particulars.
    pub fn typed(self) -> &'static str {
        match self {
            Deed::Record => "record",
            Deed::RecordTest => "record --test",
            Deed::Listen => "listen",
            Deed::Check => "check",
            Deed::CopyIn => "check --step TAKES",
            Deed::CopyTest => "check --step --test",
            Deed::OneTake => "check --step --one-take",
            Deed::Step => "step",
            Deed::Measured => "step --measured",
            Deed::Found => "step --found",
            Deed::SetAside => "set-aside",
            Deed::NewBook => "new",
            Deed::NewPrototype => "new --prototype",
        }
    }

    /// About how long it takes on a quiet machine: a kill falls into that.
    pub fn lasts(self) -> Duration {
        Duration::from_millis(match self {
            Deed::Record | Deed::RecordTest => 200,
            Deed::Listen => 500,
            Deed::Check | Deed::CopyIn | Deed::CopyTest => 150,
            Deed::OneTake => 250,
            Deed::Step
            | Deed::Measured
            | Deed::Found
            | Deed::SetAside
            | Deed::NewBook
            | Deed::NewPrototype => 12,
        })
    }
}

/// What a task is to bring about.
#[derive(Debug, Clone)]
pub enum Goal {
    /// Rows and a page for what is there.
    Checked,
    /// These takes, sample for sample.
    Played(Vec<Vec<i32>>),
    /// So many held notes.
    Held(usize),
    /// A take with each of these bytes, below the step's folder.
    Copied(Vec<Vec<u8>>),
    /// So many notes of the long recording with this name.
    CutOut(String, usize),
    /// A newer step than there was, with these words in its name.
    Opened(String),
    /// This text in the open step's frozen file.
    Measured(String),
    /// This find in the open step's note.
    Found(String),
    /// The take with its reason.
    SetAside { take: PathBuf, why: String },
    /// A book in this folder.
    Book(PathBuf),
    /// This prototype on the bench.
    OnBench(String),
}

/// A command with what it needs.
#[derive(Debug, Clone)]
pub struct Task {
    pub deed: Deed,
    pub arguments: Vec<String>,
    pub sound: Sound,
    pub may: May,
    pub goal: Goal,
    /// The step that it is about, from the book's folder on.
    pub step: PathBuf,
}

/// Rate of what is recorded: much happens in a moment.
const RATE_HZ: usize = 8_000;
/// Length of what is recorded, seconds.
const TAKE_S: f64 = 0.5;
/// Takes that one `record` asks for.
const TAKES: usize = 4;

impl Evening {
    /// Draws a task of this kind, and writes what it needs beside the book.
    pub fn task(&mut self, deed: Deed) -> Task {
        let open = self.open_step();
        let number = self.number();
        let mut task = Task {
            deed,
            arguments: Vec::new(),
            sound: Sound::default(),
            may: May::default(),
            goal: Goal::Checked,
            step: open.clone(),
        };
        let words = |all: &[&str]| all.iter().map(|word| (*word).to_string()).collect::<Vec<_>>();
        match deed {
            Deed::Record | Deed::RecordTest => {
                let takes: Vec<Vec<i32>> = (0..TAKES).map(|_| played_take(self.hz_near(69.0))).collect();
                let raw = format!("f32le:{RATE_HZ}:1");
                task.arguments = words(&["record", "F2", "C#2", "F2", "G2", "--raw", &raw]);
                task.arguments.extend(words(&["--seconds", &TAKE_S.to_string()]));
                if deed == Deed::RecordTest {
                    let changes = *self.dice.one_of(&["leak.h1=0", "leak.h2=0"]);
                    task.arguments.extend(words(&["--test", changes]));
                } else if self.dice.chance(30) {
                    task.arguments.extend(words(&["--room", "19"]));
                }
                task.sound = raw_sound(takes.concat().iter().map(|s| *s as f32 / 8_388_608.0), 500, 1500);
                task.goal = Goal::Played(takes);
            }
            Deed::Listen => {
                let notes = [68.9, 77.0, 86.0].map(|hz| reed_tone(self.hz_near(hz), 1.8));
                task.arguments = words(&["listen", "--hold", "1", "--raw", "f32le:16000:1"]);
                // Far faster than anyone plays.
                task.sound = raw_sound(notes.concat().into_iter().map(|s| s as f32), 4000, 5000);
                task.goal = Goal::Held(notes.len());
            }
            Deed::Check => task.arguments = words(&["check"]),
            Deed::CopyIn | Deed::CopyTest => {
                task.step = self.any_step();
                let phone = self.elsewhere.path().join(format!("phone {number}"));
                std::fs::create_dir(&phone).unwrap();
                let names = ["F2.wav", "D#2.wav"];
                for (name, hz) in names.iter().zip([86.0, 77.0]) {
                    write_wav(&phone.join(name), &reed_tone(self.hz_near(hz), 0.8));
                }
                let step = task.step.to_str().unwrap();
                task.arguments = words(&["check", "--step", step]);
                if deed == Deed::CopyTest {
                    task.arguments.extend(words(&["--test", "leak.h1=0"]));
                }
                task.arguments.push(phone.to_str().unwrap().to_string());
                let bytes = |name: &&str| std::fs::read(phone.join(name)).unwrap();
                task.goal = Goal::Copied(names.iter().map(bytes).collect());
            }
            Deed::OneTake => {
                task.step = self.any_step();
                let long = self.elsewhere.path().join(format!("Memo {number}.wav"));
                let pause = vec![0.0; 12_000];
                let notes =
                    [68.9, 77.0, 86.0].map(|hz| [pause.clone(), reed_tone(self.hz_near(hz), 1.2)].concat());
                write_wav(&long, &[notes.concat(), pause].concat());
                let step = task.step.to_str().unwrap();
                task.arguments = words(&["check", "--step", step, "--one-take", long.to_str().unwrap()]);
                task.goal = Goal::CutOut(format!("Memo {number}.wav"), notes.len());
            }
            Deed::Step => {
                let what = format!("h1 eased {number}");
                task.arguments = words(&["step", &what]);
                task.goal = Goal::Opened(what.replace(' ', "-"));
            }
            Deed::Measured => {
                let old = self.bench();
                let line = old.lines().find(|line| line.starts_with("diameter_mm = 12")).unwrap();
                // No digit at the end that an editor would leave out.
                let new = old.replacen(line, &format!("diameter_mm = 12.{number:03}1"), 1);
                self.write_bench(&new);
                task.arguments = words(&["step", "--measured", "calipers"]);
                task.may.frozen = Some(new.clone());
                task.goal = Goal::Measured(new);
            }
            Deed::Found => {
                let find = format!(
                    "{}:{}",
                    self.dice.one_of(&["F2", "G2"]),
                    self.dice.one_of(&["slow", "hissy", "stuffy"])
                );
                task.arguments = words(&["step", "--found", &find]);
                task.goal = Goal::Found(find);
            }
            Deed::SetAside => {
                let take = self.any_take(&open);
                let why = format!("reed slipped {number}");
                let named = take.strip_prefix(&open).unwrap();
                let named = named.strip_prefix("takes").unwrap_or(named).to_str().unwrap();
                task.arguments =
                    words(&["set-aside", named, "--why", &why, "--step", open.to_str().unwrap()]);
                task.may.set_aside = vec![take.clone()];
                task.goal = Goal::SetAside { take, why };
            }
            Deed::NewBook => {
                let folder = self.maker.book.with_file_name(format!("É {number}"));
                task.arguments = words(&["new", folder.to_str().unwrap(), "--what", "drilled"]);
                task.goal = Goal::Book(folder);
            }
            Deed::NewPrototype => {
                let from = self.prototype();
                let name = format!("P{}", from[1..].parse::<usize>().unwrap() + 1);
                let quoted = |name: &str| format!("prototype = \"{name}\"");
                let bench = self.bench().replace(&quoted(&from), &quoted(&name));
                task.arguments = words(&["new", ".", "--prototype", &name, "--from", &from]);
                self.benches.push(bench.clone());
                task.may.bench = Some(bench);
                task.may.begun_again = Some(name.clone());
                task.goal = Goal::OnBench(name);
            }
        }
        task
    }

    fn any_step(&mut self) -> PathBuf {
        let steps = self.steps();
        self.dice.one_of(&steps).clone()
    }

    /// A take of the step that counts.
    fn any_take(&mut self, step: &Path) -> PathBuf {
        let kept = Kept::of(&self.maker.book);
        let takes: Vec<PathBuf> = kept
            .all(super::kept::Is::Take)
            .map(|(path, _)| path.to_path_buf())
            .filter(|path| path.starts_with(step) && kept.bytes(&aside_of(path)).is_none())
            .filter(|path| !path.parent().unwrap().ends_with("set-aside"))
            .collect();
        self.dice.one_of(&takes).clone()
    }
}

/// What is played as a take: 24-bit steps.
fn played_take(hz: f64) -> Vec<i32> {
    let count = (TAKE_S * RATE_HZ as f64) as usize;
    (0..count)
        .map(|i| {
            let phase = std::f64::consts::TAU * hz * i as f64 / RATE_HZ as f64;
            (2_000_000.0 * (phase.sin() + 0.3 * (3.0 * phase).sin())) as i32
        })
        .collect()
}

/// Samples in pieces, with a pause of so many microseconds after each.
fn raw_sound(samples: impl Iterator<Item = f32>, piece: usize, pause_us: u64) -> Sound {
    let samples: Vec<f32> = samples.collect();
    let bytes = |piece: &[f32]| piece.iter().flat_map(|sample| sample.to_le_bytes()).collect();
    Sound { pieces: samples.chunks(piece).map(bytes).collect(), pause: Duration::from_micros(pause_us) }
}
