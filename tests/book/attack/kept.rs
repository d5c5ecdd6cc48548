//! What a book holds on the disk, and whether anything that was accepted has been lost or altered since. Reads the
//! folders itself: what the program says of them is no witness.

use std::collections::BTreeMap;
use std::path::{Component, Path, PathBuf};

use super::trouble::Trouble;

/// Everything below a book's folder, by its place in it. A folder has no bytes.
#[derive(Debug, Clone, PartialEq)]
pub struct Kept(pub BTreeMap<PathBuf, Option<Vec<u8>>>);

/// What a command may change besides adding.
#[derive(Debug, Clone, Default)]
pub struct May {
    /// What the instrument file on the bench may become.
    pub bench: Option<String>,
    /// What frozen files may become; the old ones are then kept beside them.
    pub frozen: Option<String>,
    /// Takes that may be set aside, from the book's folder on.
    pub set_aside: Vec<PathBuf>,
    /// A prototype that may be begun once more: it was never on the bench.
    pub begun_again: Option<String>,
}

/// What a file of a book is to the promises.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Is {
    Take,
    /// A list that only grows.
    Rows,
    Bench,
    Frozen,
    /// Keys and the maker's own lines.
    Note,
    /// Written once.
    ForEver,
    Page,
    /// Never accepted: it must be gone after the next command.
    LeftOver,
    Other,
}

/// What the file at `path`, from the book's folder on, is.
pub fn is(path: &Path) -> Is {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let depth = path.components().count();
    let is_hidden = |part: Component<'_>| part.as_os_str().to_string_lossy().starts_with('.');
    match &*name {
        ".writing" | ".recording" if depth == 1 => Is::Other,
        _ if name.ends_with(".part") || path.components().any(is_hidden) => Is::LeftOver,
        "log.csv" | "tests.csv" | "set-aside.csv" | "copied.csv" => Is::Rows,
        "instrument.toml" if depth == 1 => Is::Bench,
        "instrument.toml" => Is::Frozen,
        "note.toml" => Is::Note,
        "check.html" => Is::Page,
        "test.toml" => Is::ForEver,
        _ if name.starts_with("instrument-before-") => Is::ForEver,
        _ if name.ends_with(".wav") => Is::Take,
        _ => Is::Other,
    }
}

impl Kept {
    /// What lies in the folder `book` now.
    pub fn of(book: &Path) -> Kept {
        let mut all = BTreeMap::new();
        let mut folders = vec![book.to_path_buf()];
        while let Some(folder) = folders.pop() {
            for entry in std::fs::read_dir(folder).unwrap() {
                let path = entry.unwrap().path();
                let place = path.strip_prefix(book).unwrap().to_path_buf();
                if path.is_dir() {
                    all.insert(place, None);
                    folders.push(path);
                } else {
                    all.insert(place, Some(std::fs::read(path).unwrap()));
                }
            }
        }
        Kept(all)
    }

    /// All files that are this to the promises.
    pub fn all(&self, what: Is) -> impl Iterator<Item = (&Path, &[u8])> {
        self.files().filter(move |(path, _)| is(path) == what)
    }

    fn files(&self) -> impl Iterator<Item = (&Path, &[u8])> {
        self.0.iter().filter_map(|(path, bytes)| Some((path.as_path(), bytes.as_deref()?)))
    }

    pub fn bytes(&self, path: &Path) -> Option<&[u8]> {
        self.0.get(path)?.as_deref()
    }

    pub fn text(&self, path: &Path) -> String {
        String::from_utf8_lossy(self.bytes(path).unwrap_or_default()).into_owned()
    }

    /// Whole lines of a file.
    pub fn lines(&self, path: &Path) -> Vec<String> {
        let text = self.text(path);
        text.split_inclusive('\n').filter(|line| line.ends_with('\n')).map(str::to_string).collect()
    }

    /// What was accepted here and is lost or altered in `now`, although the command might only do what `may` says.
    pub fn lost_in(&self, now: &Kept, may: &May) -> Vec<Trouble> {
        self.files().filter_map(|(path, bytes)| self.lost(path, bytes, now, may)).collect()
    }

    fn lost(&self, path: &Path, bytes: &[u8], now: &Kept, may: &May) -> Option<Trouble> {
        let after = now.bytes(path);
        let is_same = after == Some(bytes);
        let gone_or = |kind: &'static str| {
            let seen = if after.is_none() { "is gone" } else { "has other bytes" };
            Some(Trouble::of_file(kind, path, seen))
        };
        match is(path) {
            Is::Take if !is_same => {
                let aside = aside_of(path);
                let is_aside = after.is_none() && now.bytes(&aside) == Some(bytes);
                let may_be = may.set_aside.iter().any(|take| take == path);
                if is_aside && may_be { None } else { gone_or("a take is lost or altered") }
            }
            Is::Rows if !now.lines(path).starts_with(&self.lines(path)) => {
                gone_or("rows are lost or altered")
            }
            Is::Bench if !is_same && after != may.bench.as_ref().map(String::as_bytes) => {
                gone_or("the file on the bench is altered")
            }
            Is::Frozen if !is_same => {
                let is_new = after.is_some() && after == may.frozen.as_ref().map(String::as_bytes);
                let is_kept = now.all(Is::ForEver).any(|(other, old)| {
                    other.parent() == path.parent() && self.bytes(other).is_none() && old.ends_with(bytes)
                });
                if is_new && is_kept { None } else { gone_or("a frozen file is lost or altered") }
            }
            Is::Note if !is_same => {
                let text = now.text(path);
                let is_begun_again = may.begun_again.as_ref().is_some_and(|name| path.starts_with(name));
                let may_go = |line: &str| is_begun_again && line.starts_with("when = ");
                let lost = self.lines(path).into_iter().find(|line| !says(&text, line) && !may_go(line));
                lost.map(|line| Trouble::of_file("a line of a note is lost", path, line))
            }
            Is::ForEver if !is_same => gone_or("a file that is written once is lost or altered"),
            _ => None,
        }
    }

    /// What is not whole: recordings, pages, notes, frozen files that are no file of the bench.
    pub fn flaws(&self, benches: &[String]) -> Vec<Trouble> {
        let mut flaws = Vec::new();
        for (path, bytes) in self.files() {
            let text = || String::from_utf8_lossy(bytes);
            match is(path) {
                Is::Take if samples(bytes).is_none() => {
                    flaws.push(Trouble::of_file(
                        "a take is not whole",
                        path,
                        format!("{} bytes", bytes.len()),
                    ));
                }
                Is::Page if !text().trim_end().ends_with("</html>") => {
                    flaws.push(Trouble::of_file("a page is not whole", path, "ends too early"));
                }
                Is::Note if text().parse::<toml::Table>().is_err() => {
                    flaws.push(Trouble::of_file("a note can't be read", path, text()));
                }
                Is::Frozen if !benches.iter().any(|bench| bench.as_bytes() == bytes) => {
                    flaws.push(Trouble::of_file("a frozen file was never on the bench", path, text()));
                }
                _ => {}
            }
        }
        flaws
    }

    /// What must not be there once a command has ended by itself.
    pub fn left_overs(&self) -> Vec<Trouble> {
        let paths = self.0.keys().filter(|path| is(path) == Is::LeftOver);
        paths.map(|path| Trouble::of_file("a leftover stays", path, "is still there")).collect()
    }

    /// Takes that count twice, rows of the same take, and takes that are set aside without a reason.
    pub fn miscounted(&self) -> Vec<Trouble> {
        let mut found = Vec::new();
        for (path, _) in self.all(Is::Rows) {
            let column = match path.file_name().and_then(|name| name.to_str()) {
                Some("log.csv") => 3,
                Some("tests.csv") => 5,
                _ => continue,
            };
            let mut seen = BTreeMap::new();
            for line in self.lines(path).into_iter().skip(1).filter(|line| !line.trim().is_empty()) {
                // No name in these books needs quotes.
                let file = line.split(',').nth(column).unwrap_or_default().to_string();
                if let Some(first) = seen.insert(file.clone(), line.clone()) {
                    found.push(Trouble::of_file(
                        "a take has two rows",
                        Path::new(&file),
                        format!("{first}{line}"),
                    ));
                }
                if line.contains("unreadable") {
                    found.push(Trouble::of_file("a whole take is called unreadable", Path::new(&file), line));
                }
            }
        }
        let mut bytes_seen: BTreeMap<(&Path, &[u8]), &Path> = BTreeMap::new();
        for (path, bytes) in self.all(Is::Take) {
            if let Some(other) = bytes_seen.insert((step_of(path), bytes), path) {
                let seen = format!("the same bytes as {}", other.display());
                found.push(Trouble::of_file("a take is kept twice", path, seen));
            }
            if path.parent().is_some_and(|parent| parent.ends_with("set-aside")) {
                let name = path.file_name().unwrap_or_default().to_string_lossy();
                let list = path.parent().unwrap().with_file_name("set-aside.csv");
                if !self.lines(&list).iter().any(|line| line.starts_with(&format!("{name},"))) {
                    found.push(Trouble::of_file("a take is set aside without its reason", path, "no row"));
                }
            }
        }
        found
    }

    /// Takes of the step in the folder `step` that have no row.
    pub fn without_row(&self, step: &Path) -> Vec<Trouble> {
        let rows = [self.text(Path::new("log.csv")), self.text(Path::new("tests.csv"))].concat();
        let counts = |path: &Path| step_of(path) == step && !path.to_string_lossy().contains("set-aside");
        let takes = self.all(Is::Take).filter(|(path, _)| counts(path));
        takes
            .filter(|(path, _)| !rows.contains(&format!(",{},", path.to_string_lossy())))
            .map(|(path, _)| Trouble::of_file("a take has no row after a check", path, "no row"))
            .collect()
    }
}

/// Where a take lies when it is set aside.
pub fn aside_of(take: &Path) -> PathBuf {
    let (folder, name) = (take.parent().unwrap(), take.file_name().unwrap());
    // The ordinary takes' place is beside their folder, that of a test's within it.
    let home = if folder.ends_with("takes") { folder.parent().unwrap() } else { folder };
    home.join("set-aside").join(name)
}

/// The step's folder: `P1/01-drilled`.
pub fn step_of(path: &Path) -> &Path {
    path.ancestors().find(|folder| folder.components().count() == 2).unwrap_or(path)
}

/// The samples of a whole recording.
pub fn samples(bytes: &[u8]) -> Option<Vec<i32>> {
    hound::WavReader::new(bytes).ok()?.into_samples().collect::<Result<Vec<i32>, _>>().ok()
}

/// Whether a note still says what `line` said. The room and lists of finds may be said anew, but not less.
fn says(text: &str, line: &str) -> bool {
    let key = line.split(" = ").next().unwrap_or_default();
    match key {
        "room_c" => text.lines().any(|line| line.starts_with("room_c = ")),
        "found" => line.split('"').skip(1).step_by(2).all(|find| text.contains(&format!("\"{find}\""))),
        _ => text.split_inclusive('\n').any(|other| other == line),
    }
}
