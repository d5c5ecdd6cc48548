//! A maker's evening with one book, as far as the attack knows of it: what was written by hand, what was on the bench.

use std::path::{Path, PathBuf};

use tempfile::TempDir;

use super::dice::Dice;
use super::kept::{Is, Kept};
use super::small_disk::PAGE_BYTES;
use super::trouble::Trouble;
use crate::maker::Maker;
use crate::reed_pipe::REED_PIPE;
use crate::reed_takes::{reed_tone, write_wav};

/// Lines that the maker writes into every note.
const OWN_LINES: &str = "# rain all day\nstool = \"low\"\n";

/// A book, and a folder beside it with what comes from elsewhere.
pub struct Evening {
    pub maker: Maker,
    pub dice: Dice,
    /// A phone, a second disk.
    pub elsewhere: TempDir,
    /// Every text that has been on the bench.
    pub benches: Vec<String>,
    /// Makes every name, pitch and reason one of its own.
    count: usize,
    /// What was found already and lasts.
    known: Vec<Trouble>,
}

impl Evening {
    pub fn new(maker: Maker, seed: u64) -> Evening {
        maker.write_instrument(REED_PIPE);
        let benches = vec![REED_PIPE.to_string()];
        let elsewhere = tempfile::tempdir().unwrap();
        Evening { maker, dice: Dice::new(seed), elsewhere, benches, count: 0, known: Vec::new() }
    }

    /// A number that was not used before.
    pub fn number(&mut self) -> usize {
        self.count += 1;
        self.count
    }

    /// A pitch near `hz` that was not played before.
    pub fn hz_near(&mut self, hz: f64) -> f64 {
        hz + 0.01 * self.number() as f64
    }

    /// The text on the bench.
    pub fn bench(&self) -> String {
        std::fs::read_to_string(self.maker.path("instrument.toml")).unwrap()
    }

    /// Writes other measures into the file on the bench.
    pub fn write_bench(&mut self, text: &str) {
        self.maker.write_instrument(text);
        self.benches.push(text.to_string());
    }

    /// All steps, from the book's folder on: of each prototype in the order of their numbers.
    pub fn steps(&self) -> Vec<PathBuf> {
        let folders = |folder: &Path| -> Vec<String> {
            let mut names: Vec<String> = std::fs::read_dir(folder)
                .unwrap()
                .map(Result::unwrap)
                .filter(|entry| entry.path().is_dir())
                .map(|entry| entry.file_name().into_string().unwrap())
                .filter(|name| !name.starts_with('.'))
                .collect();
            names.sort_by_key(|name| (name.split('-').next().unwrap().parse::<usize>().ok(), name.clone()));
            names
        };
        let prototypes = folders(&self.maker.book);
        let steps = prototypes.iter().flat_map(|prototype| {
            folders(&self.maker.path(prototype)).into_iter().map(|step| Path::new(prototype).join(step))
        });
        steps.collect()
    }

    /// The prototype that the file on the bench names.
    pub fn prototype(&self) -> String {
        let bench = self.bench();
        let line = bench.lines().find(|line| line.starts_with("prototype = ")).unwrap();
        line.split('"').nth(1).unwrap().to_string()
    }

    /// The open step.
    pub fn open_step(&self) -> PathBuf {
        let prototype = self.prototype();
        self.steps().into_iter().rfind(|step| step.starts_with(&prototype)).unwrap()
    }

    /// What the maker does by hand between two commands: a take into these steps where they have none, lines into
    /// notes.
    pub fn by_hand(&mut self, steps: &[PathBuf]) {
        for step in steps {
            let takes = self.maker.book.join(step).join("takes");
            let is_take = |path: PathBuf| path.extension().is_some_and(|ending| ending == "wav");
            if !std::fs::read_dir(&takes).unwrap().any(|entry| is_take(entry.unwrap().path())) {
                self.more_takes(step, 1);
            }
        }
        for step in self.steps() {
            let note = self.maker.book.join(step).join("note.toml");
            let text = std::fs::read_to_string(&note).unwrap_or_default();
            if !text.is_empty() && !text.contains(OWN_LINES) {
                std::fs::write(&note, format!("{text}{OWN_LINES}")).unwrap();
            }
        }
    }

    /// Puts so many more takes into a step by hand.
    pub fn more_takes(&mut self, step: &Path, count: usize) {
        for _ in 0..count {
            let name = format!("F2-by-hand-{}.wav", self.number());
            write_wav(
                &self.maker.book.join(step).join("takes").join(name),
                &reed_tone(self.hz_near(86.0), 0.8),
            );
        }
    }

    /// The troubles that were not found before, each once.
    pub fn new_ones(&mut self, mut troubles: Vec<Trouble>) -> Vec<Trouble> {
        troubles.sort();
        troubles.dedup_by(|one, other| (one.kind, &one.about) == (other.kind, &other.about));
        let is_known =
            |new: &Trouble| self.known.iter().any(|old| (old.kind, &old.about) == (new.kind, &new.about));
        troubles.retain(|trouble| !is_known(trouble));
        self.known.extend(troubles.iter().filter(|trouble| trouble.lasts).cloned());
        troubles
    }

    /// Lets the lists end just before a page of the disk does, with empty lines as an editor may leave them: the next
    /// row needs room.
    pub fn lists_up_to_a_page(&self, bytes_left: u64) {
        let kept = Kept::of(&self.maker.book);
        for (path, bytes) in kept.all(Is::Rows).filter(|(_, bytes)| bytes.ends_with(b"\n")) {
            let missing = PAGE_BYTES - bytes.len() as u64 % PAGE_BYTES;
            let padding = vec![b'\n'; missing.saturating_sub(bytes_left) as usize];
            std::fs::write(self.maker.path(path.to_str().unwrap()), [bytes, &padding].concat()).unwrap();
        }
    }
}
