//! The attacks: a command is killed, finds a full disk, or runs beside eleven others. Then the maker goes on, and
//! everything that the book promises is looked at.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use super::evening::Evening;
use super::kept::{Kept, May};
use super::run::{Moment, Run, Running, Sound};
use super::small_disk::SmallDisk;
use super::task::{Deed, Goal, Task};
use super::trouble::Trouble;

/// What came of one attack.
#[derive(Debug)]
pub struct Event {
    /// What was attacked; of a round its name.
    pub name: &'static str,
    /// Whether the command had done all of it.
    pub was_done: bool,
    /// Whether anything had been written.
    pub was_begun: bool,
    pub troubles: Vec<Trouble>,
}

impl Evening {
    /// Kills a command of this kind at a moment that the dice choose.
    pub fn kill(&mut self, deed: Deed) -> Event {
        self.attack(deed, |evening, task| {
            let lasts = deed.lasts().as_micros() as u64;
            let moment = if evening.dice.chance(50) {
                Moment::After(std::time::Duration::from_micros(evening.dice.below(lasts)))
            } else {
                let pause = evening.dice.below(400);
                Moment::Change(1 + evening.dice.below(4), std::time::Duration::from_micros(pause))
            };
            let watched = evening.maker.book.parent().unwrap().to_path_buf();
            Running::start(&evening.maker.book, &task.arguments, &task.sound).kill_at(moment, &watched)
        })
    }

    /// Lets a command of this kind find so little room that the dice choose, on the disk that the book lies on.
    pub fn fill(&mut self, deed: Deed, disk: &SmallDisk) -> Event {
        let mut refused_badly = None;
        let mut event = self.attack(deed, |evening, task| {
            let pages = *evening.dice.one_of(&[4, 40, 200]);
            disk.fill(evening.dice.below(pages));
            let run = Running::start(&evening.maker.book, &task.arguments, &task.sound).end();
            disk.make_room();
            let names_it = ["full", "room", "space"].iter().any(|word| run.stderr.contains(word));
            if run.code != Some(0) && !names_it {
                refused_badly = Some(Trouble::new("a full disk isn't named", deed.typed(), &run.stderr));
            }
            run
        });
        event.troubles.extend(refused_badly);
        event
    }

    /// One command, attacked; then the next one, the same once more, and a look at everything.
    fn attack(&mut self, deed: Deed, attacked: impl FnOnce(&mut Evening, &Task) -> Run) -> Event {
        self.ready(deed);
        let task = self.task(deed);
        if self.dice.chance(30) {
            let bytes_left = self.dice.below(60);
            self.lists_up_to_a_page(bytes_left);
        }
        let before = self.kept();
        let run = attacked(self, &task);
        let after = self.kept();
        let mut troubles = before.lost_in(&after, &task.may);
        troubles.extend(after.flaws(&self.benches));
        troubles.extend(self.broken_words(&task, &run, &after));
        let is_seen = !matches!(task.goal, Goal::Checked | Goal::Played(_) | Goal::Held(_));
        let was_done = run.code == Some(0) || (is_seen && self.undone(&task, &after).is_none());
        let was_begun = match &task.goal {
            Goal::Book(folder) => folder.exists(),
            _ => after != before || was_done,
        };

        troubles.extend(self.next_command(&task));
        troubles.extend(self.same_again(&task));
        troubles.extend(self.look_at_all(&task.step, &before, &task.may));
        Event { name: deed.typed(), was_done, was_begun, troubles: self.new_ones(troubles) }
    }

    /// Brings the book to where a task of this kind can be asked for.
    fn ready(&mut self, deed: Deed) {
        let open = self.open_step();
        self.by_hand(std::slice::from_ref(&open));
        if deed == Deed::SetAside {
            self.more_takes(&open, 1);
        }
        if deed != Deed::Measured {
            return;
        }
        // Several steps, so that several files are to be written; all of them are frozen once the last one has a take.
        let prototype = self.prototype();
        while self.steps().iter().filter(|step| step.starts_with(&prototype)).count() < 4 {
            let step = self.task(Deed::Step);
            self.run(&step.arguments, &step.sound);
        }
        let open = self.open_step();
        self.by_hand(std::slice::from_ref(&open));
        if !self.maker.book.join(&open).join("instrument.toml").is_file() {
            self.must(&["check"]);
        }
    }

    fn kept(&self) -> Kept {
        Kept::of(&self.maker.book)
    }

    fn run(&self, arguments: &[String], sound: &Sound) -> Run {
        Running::start(&self.maker.book, arguments, sound).end()
    }

    /// A command that must do its work now.
    fn must(&self, arguments: &[&str]) -> Option<Trouble> {
        let arguments: Vec<String> = arguments.iter().map(|word| (*word).to_string()).collect();
        let run = self.run(&arguments, &Sound::default());
        let is_disturbed = words_of_a_lost_file(&run.stderr);
        let fails = run.code != Some(0) || is_disturbed || run.stderr.contains("panicked");
        fails.then(|| Trouble::new("the next command doesn't work", arguments.join(" "), said(&run)))
    }

    /// What the maker happens to do next. No leftover may stay after it.
    fn next_command(&mut self, task: &Task) -> Vec<Trouble> {
        let open = self.open_step();
        self.by_hand(&[open, task.step.clone()]);
        // What is about the step that is open, or a book that is begun, is done before another step is opened.
        let looks =
            matches!(task.goal, Goal::Measured(_) | Goal::Found(_) | Goal::OnBench(_) | Goal::Book(_));
        let deed =
            if looks { Deed::Check } else { *self.dice.one_of(&[Deed::Check, Deed::Record, Deed::Step]) };
        let mut next = self.task(deed);
        // What was begun may be ended.
        next.may.set_aside = task.may.set_aside.clone();
        let before = self.kept();
        let run = self.run(&next.arguments, &next.sound);
        let after = self.kept();
        let mut troubles = before.lost_in(&after, &next.may);
        if run.code != Some(0) {
            troubles.push(Trouble::new("the next command doesn't work", deed.typed(), said(&run)));
        }
        troubles.extend(self.broken_words(&next, &run, &after));
        troubles.extend(after.left_overs());
        troubles
    }

    /// The same command once more does what the first could not; what is done already may be refused.
    fn same_again(&mut self, task: &Task) -> Vec<Trouble> {
        // Sound is played once, and another step is another step.
        if matches!(task.goal, Goal::Played(_) | Goal::Held(_) | Goal::Opened(_)) {
            return Vec::new();
        }
        let before = self.kept();
        let was_done = self.undone(task, &before).is_none();
        let run = self.run(&task.arguments, &task.sound);
        let after = self.kept();
        let mut troubles = before.lost_in(&after, &task.may);
        troubles.extend(self.broken_words(task, &run, &after));
        if run.code != Some(0) && !was_done {
            troubles.push(Trouble::new("the same command again doesn't work", task.deed.typed(), said(&run)));
        }
        if let Goal::Book(folder) = &task.goal {
            troubles.extend(self.must(&["history", folder.to_str().unwrap()]));
            let made = Kept::of(folder);
            troubles.extend(made.left_overs());
            std::fs::remove_dir_all(folder).unwrap();
        }
        troubles
    }

    /// Checks what was worked on, and looks at every promise.
    fn look_at_all(&mut self, step: &Path, before: &Kept, may: &May) -> Vec<Trouble> {
        let open = self.open_step();
        let steps = BTreeSet::from([open, step.to_path_buf()]);
        let steps: Vec<PathBuf> = steps.into_iter().collect();
        self.by_hand(&steps);
        let mut troubles = Vec::new();
        for step in &steps {
            troubles.extend(self.must(&["check", "--no-report", "--step", step.to_str().unwrap()]));
        }
        let now = self.kept();
        troubles.extend(before.lost_in(&now, may));
        troubles.extend(now.flaws(&self.benches));
        troubles.extend(now.left_overs());
        troubles.extend(now.miscounted());
        steps.iter().for_each(|step| troubles.extend(now.without_row(step)));
        troubles
    }

    /// Checks every step that there is: nothing is missing and nothing counts twice.
    pub fn close(&mut self) -> Event {
        let steps = self.steps();
        self.by_hand(&steps);
        let mut troubles = Vec::new();
        for step in &steps {
            troubles.extend(self.must(&["check", "--no-report", "--step", step.to_str().unwrap()]));
        }
        let now = self.kept();
        troubles.extend(now.miscounted());
        troubles.extend(now.left_overs());
        steps.iter().for_each(|step| troubles.extend(now.without_row(step)));
        let arguments = ["history", "--json"].map(str::to_string);
        let told = self.run(&arguments, &Sound::default()).stdout;
        let told: serde_json::Value = serde_json::from_str(&told).unwrap_or_default();
        let prototypes = told["prototypes"].as_array().cloned().unwrap_or_default();
        let count: usize = prototypes.iter().map(|one| one["steps"].as_array().map_or(0, Vec::len)).sum();
        if count != steps.len() {
            let seen = format!("{count} of {}", steps.len());
            troubles.push(Trouble::new("history doesn't tell every step", "history", seen));
        }
        Event {
            name: "the evening's end",
            was_done: true,
            was_begun: true,
            troubles: self.new_ones(troubles),
        }
    }

    /// Twelve checks at once of a step that isn't frozen yet.
    pub fn twelve_checks(&mut self) -> Event {
        self.fresh_step();
        self.at_once("twelve checks of a step that isn't frozen", &[Deed::Check; 12])
    }

    /// Twelve commands of several kinds at once.
    pub fn twelve_mixed(&mut self) -> Event {
        const ALWAYS: [Deed; 8] = [
            Deed::Check,
            Deed::Check,
            Deed::SetAside,
            Deed::SetAside,
            Deed::Record,
            Deed::Step,
            Deed::CopyIn,
            Deed::CopyIn,
        ];
        const DRAWN: [Deed; 8] = [
            Deed::Check,
            Deed::SetAside,
            Deed::Record,
            Deed::RecordTest,
            Deed::CopyIn,
            Deed::CopyTest,
            Deed::Found,
            Deed::Listen,
        ];
        if self.dice.chance(50) {
            self.fresh_step();
        } else {
            self.more_takes(&self.open_step(), 4);
        }
        let drawn: Vec<Deed> = (0..4).map(|_| *self.dice.one_of(&DRAWN)).collect();
        self.at_once("twelve commands of several kinds", &[&ALWAYS[..], &drawn].concat())
    }

    fn fresh_step(&mut self) {
        let step = self.task(Deed::Step);
        self.run(&step.arguments, &step.sound);
        self.more_takes(&self.open_step(), 4);
    }

    /// Several commands at once on this book, and then the look at everything.
    pub fn at_once(&mut self, name: &'static str, deeds: &[Deed]) -> Event {
        let open = self.open_step();
        self.by_hand(std::slice::from_ref(&open));
        let tasks: Vec<Task> = deeds.iter().map(|deed| self.task(*deed)).collect();
        let before = self.kept();
        let running: Vec<Running> =
            tasks.iter().map(|task| Running::start(&self.maker.book, &task.arguments, &task.sound)).collect();
        let waiting: Vec<_> = running.into_iter().map(|run| std::thread::spawn(|| run.end())).collect();
        let runs: Vec<Run> = waiting.into_iter().map(|run| run.join().unwrap()).collect();
        let after = self.kept();
        let may = May {
            set_aside: tasks.iter().flat_map(|task| task.may.set_aside.clone()).collect(),
            ..May::default()
        };
        let mut troubles = before.lost_in(&after, &may);
        troubles.extend(after.flaws(&self.benches));
        // All have ended by themselves.
        troubles.extend(after.left_overs());
        let only_check = deeds.iter().all(|deed| *deed == Deed::Check);
        for (task, run) in tasks.iter().zip(&runs) {
            troubles.extend(self.broken_words(task, run, &after));
            if words_of_a_lost_file(&run.stderr) {
                let seen = format!("{:?}: {}", run.code, run.stderr);
                troubles.push(Trouble::new("disturbed by another command", task.deed.typed(), seen));
            } else if only_check && run.code != Some(0) {
                troubles.push(Trouble::new("a check among checks doesn't work", name, said(run)));
            }
        }
        for take in &may.set_aside {
            let moved = tasks.iter().zip(&runs).filter(|(task, _)| task.may.set_aside.contains(take));
            let times = moved.filter(|(_, run)| run.code == Some(0)).count();
            if times != 1 {
                troubles.push(Trouble::of_file(
                    "a take is set aside not just once",
                    take,
                    format!("{times} times"),
                ));
            }
        }
        let was_done = runs.iter().all(|run| run.code == Some(0));
        troubles.extend(self.look_at_all(&open, &before, &may));
        Event { name, was_done, was_begun: true, troubles: self.new_ones(troubles) }
    }
}

/// Words of a program that missed a file: nobody took one away.
fn words_of_a_lost_file(stderr: &str) -> bool {
    ["No such file", "not there any more", "can't be written"].iter().any(|words| stderr.contains(words))
}

fn said(run: &Run) -> String {
    format!("exit code {:?}: {}", run.code, run.stderr)
}
