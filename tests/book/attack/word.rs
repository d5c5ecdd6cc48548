//! Whether a command kept its word: what it told is so, a refusal is told, and nothing is told in a programmer's words.

use std::collections::BTreeMap;
use std::path::Path;

use super::evening::Evening;
use super::kept::{Is, Kept, aside_of, samples, step_of};
use super::run::Run;
use super::task::{Goal, Task};
use super::trouble::Trouble;

impl Evening {
    /// What of the run's own words is not so, given what lies in the book `now`.
    pub fn broken_words(&self, task: &Task, run: &Run, now: &Kept) -> Vec<Trouble> {
        let typed = task.deed.typed();
        let mut broken = Vec::new();
        if run.stderr.contains("panicked") || run.stderr.contains("RUST_BACKTRACE") {
            broken.push(Trouble::new("a panic", typed, &run.stderr));
        }
        match run.code {
            Some(0) => {
                let undone = self.undone(task, now);
                broken.extend(
                    undone.map(|undone| Trouble::new("exit code 0, and it isn't done", typed, undone)),
                );
            }
            Some(_) if run.stderr.trim().is_empty() => {
                broken.push(Trouble::new("a refusal without a word", typed, format!("{:?}", run.code)));
            }
            _ => {}
        }
        broken.extend(told_takes(task, run, now));
        if let Some((_, page)) =
            run.stdout.split_once("The same with pictures: ").filter(|_| run.code.is_some())
        {
            let page = page.trim().trim_start_matches("./");
            if now.bytes(Path::new(page)).is_none() {
                broken.push(Trouble::new("a page was told that isn't there", typed, page));
            }
        }
        broken
    }

    /// What is missing of what the task was to bring about; `None` when it is done.
    pub fn undone(&self, task: &Task, now: &Kept) -> Option<String> {
        let missing = |is_there: bool, what: &str| (!is_there).then(|| what.to_string());
        match &task.goal {
            // Told line by line, and looked at there; what was to be checked shows in rows.
            Goal::Checked | Goal::Played(_) | Goal::Held(_) => None,
            Goal::Copied(all) => {
                // One that lies aside only doesn't count.
                let counts = |bytes: &Vec<u8>| {
                    now.all(Is::Take).any(|(path, other)| {
                        step_of(path) == task.step
                            && !path.parent().unwrap().ends_with("set-aside")
                            && other == bytes
                    })
                };
                missing(all.iter().all(counts), "a recording was not copied, or doesn't count")
            }
            Goal::CutOut(memo, count) => {
                let list = now.lines(&task.step.join("copied.csv"));
                // Of two rows for one name the later counts: the name of a copy that was stopped goes to another.
                let named = list.iter().filter_map(|line| Some((line.split(',').next()?, line)));
                let last: BTreeMap<&str, &String> = named.collect();
                let of_memo = last.into_iter().filter(|(_, line)| line.contains(memo.as_str()));
                let mut files: Vec<&str> = of_memo.map(|(file, _)| file).collect();
                files.retain(|file| now.bytes(&task.step.join("takes").join(file)).is_some());
                (files.len() != *count).then(|| format!("{} of {count} notes: {files:?}", files.len()))
            }
            Goal::Opened(words) => {
                let is_there =
                    self.steps().iter().any(|step| step.to_string_lossy().ends_with(words.as_str()));
                missing(is_there, "there is no such step")
            }
            Goal::Measured(text) => {
                let frozen = now.bytes(&task.step.join("instrument.toml"));
                missing(frozen == Some(text.as_bytes()), "the frozen file has the old measures")
            }
            Goal::Found(find) => {
                // Beside other commands a later step may have been open.
                let is_later = |path: &Path| step_of(path) >= task.step.as_path();
                let quoted = format!("\"{find}\"");
                let mut notes = now.all(Is::Note).filter(|(path, _)| is_later(path));
                missing(notes.any(|(path, _)| now.text(path).contains(&quoted)), "no note says it")
            }
            Goal::SetAside { take, why } => {
                let reasons = now.text(&aside_of(take).parent().unwrap().with_file_name("set-aside.csv"));
                let name = take.file_name().unwrap().to_string_lossy();
                let is_told = reasons.lines().any(|line| line.starts_with(&format!("{name},{why}")));
                let is_moved = now.bytes(take).is_none() && now.bytes(&aside_of(take)).is_some();
                missing(is_moved, "the take is where it was")
                    .or_else(|| missing(is_told, "the reason is nowhere"))
            }
            Goal::Book(folder) => missing(folder.join("instrument.toml").is_file(), "there is no book"),
            Goal::OnBench(name) => missing(self.prototype() == *name, "it isn't on the bench"),
        }
    }
}

/// Takes that were told as kept and aren't, or not as they were played.
fn told_takes(task: &Task, run: &Run, now: &Kept) -> Vec<Trouble> {
    let told =
        run.stdout.split_inclusive('\n').filter(|line| line.ends_with('\n') && line.contains(".wav: "));
    let files: Vec<&str> = told.map(|line| line.split(": ").next().unwrap_or_default()).collect();
    let mut broken = Vec::new();
    let mut wrong = |file: &str, what: &str| {
        broken.push(Trouble::new("a take told as kept is missing or not as it was played", file, what));
    };
    let is_whole = |count: usize| run.code != Some(0) || files.len() == count;
    match &task.goal {
        Goal::Played(takes) => {
            for (file, played) in files.iter().zip(takes) {
                match now.bytes(Path::new(file)).map(samples) {
                    Some(Some(kept)) if kept == *played => {}
                    kept => wrong(file, if kept.is_some() { "other samples" } else { "not there" }),
                }
            }
            if !is_whole(takes.len()) {
                wrong("all of them", &format!("{files:?}"));
            }
        }
        Goal::Held(count) => {
            for file in &files {
                let kept = now.bytes(Path::new(file)).and_then(samples);
                // A second and more at 16 kHz.
                if kept.is_none_or(|kept| kept.len() < 16_000) {
                    wrong(file, "not there, or too short");
                }
            }
            if !is_whole(*count) {
                wrong("all of them", &format!("{files:?}"));
            }
        }
        _ => {}
    }
    broken
}
