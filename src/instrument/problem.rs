//! What is wrong with an instrument file, where, and what to do about it.
//!
//! Knows lines, columns and plain text. Must not know TOML, nor what the keys of the file mean.

use std::fmt;
use std::ops::Range;
use std::path::PathBuf;

/// Places in the file's text as byte offsets.
pub(crate) type Span = Range<usize>;

/// The name a problem carries until the path of its file is known.
const UNNAMED_FILE: &str = "instrument.toml";

/// Problems kept of one file; more help nobody, and a hostile file must not fill the memory.
const MOST_PROBLEMS: usize = 200;

/// Characters of a source line that a problem shows.
const SHOWN_CHARACTERS: usize = 100;

/// Characters shown before the place when a long line is cut.
const SHOWN_BEFORE: usize = 40;

/// One thing that is wrong in an instrument file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// The file as the maker called it; `instrument.toml` when only text was read.
    pub file: String,
    /// Line, counted from 1.
    pub line: usize,
    /// Column in characters, counted from 1.
    pub column: usize,
    /// What is wrong, in the maker's words.
    pub what: String,
    /// What to do about it.
    pub to_do: String,
    /// True for an example number that still waits for a real measurement.
    pub is_example: bool,
    /// The source line (a piece of it when it is long), without control characters.
    pub source_line: String,
    /// Characters of `source_line` before the marked ones.
    pub mark_after: usize,
    /// How many characters are marked, at least 1.
    pub mark_width: usize,
}

impl fmt::Display for Problem {
    /// What is wrong; where, with the source line and the place marked under it; what to do.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let number = self.line.to_string();
        let gutter = " ".repeat(number.len());
        writeln!(f, "{}", self.what)?;
        writeln!(f, "  {}:{}:{}", self.file, self.line, self.column)?;
        writeln!(f, "    {number} | {}", self.source_line)?;
        writeln!(f, "    {gutter} | {}{}", " ".repeat(self.mark_after), "^".repeat(self.mark_width))?;
        write!(f, "  {}", self.to_do)
    }
}

/// Why an instrument file could not be used. Nothing was changed on disk.
#[derive(Debug, thiserror::Error)]
pub enum FileError {
    /// There is no such file.
    #[error(
        "there is no file {}\n  Check the path, or start a bench book with `borescribe new DIR`.",
        path.display()
    )]
    Missing {
        /// The path that was asked for.
        path: PathBuf,
    },
    /// The path is a folder.
    #[error("{} is a folder, not an instrument file\n  Give the instrument.toml inside it.", path.display())]
    Folder {
        /// The path that was asked for.
        path: PathBuf,
    },
    /// The system would not let the file be read.
    #[error("{} could not be read: {source}\n  Check the path and who may read the file.", path.display())]
    Unreadable {
        /// The path that was asked for.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// The file is larger than any instrument file can be.
    #[error(
        "{} is larger than {limit_megabytes} MB; that is no instrument file\n  \
         Check that the path names the instrument.toml and not a recording.",
        path.display()
    )]
    TooLarge {
        /// The path that was asked for.
        path: PathBuf,
        /// The most that is read, megabytes.
        limit_megabytes: u64,
    },
    /// The bytes are no UTF-8 text.
    #[error(
        "{}:{line}:{column} is not plain text in UTF-8\n  \
         Save the file from a text editor with the encoding \"UTF-8\".",
        path.display()
    )]
    NotText {
        /// The path that was asked for.
        path: PathBuf,
        /// Line of the first byte that is no text, counted from 1.
        line: usize,
        /// Column of it in characters, counted from 1.
        column: usize,
    },
    /// There is nothing in the file.
    #[error(
        "{} is empty\n  Copy a measured file into it, or start a bench book with `borescribe new DIR`.",
        path.display()
    )]
    Empty {
        /// The path that was asked for.
        path: PathBuf,
    },
    /// The text was read, but something in it can't be right.
    #[error("{}", listed(path, problems))]
    Wrong {
        /// The path that was asked for.
        path: PathBuf,
        /// Everything that is wrong, in the order of the file; never empty.
        problems: Vec<Problem>,
    },
}

impl FileError {
    /// Whether the file has no other fault than example numbers that wait for a measurement.
    #[must_use]
    pub fn is_only_examples(&self) -> bool {
        matches!(self, FileError::Wrong { problems, .. } if problems.iter().all(|problem| problem.is_example))
    }
}

fn listed(path: &std::path::Path, problems: &[Problem]) -> String {
    let count = match problems.len() {
        1 => "1 problem".to_string(),
        many => format!("{many} problems"),
    };
    let mut text = format!("{} has {count}", path.display());
    for problem in problems {
        text.push_str(&format!("\n\n{problem}"));
    }
    text
}

/// The text of a file, and the problems found in it so far.
pub(crate) struct Problems<'t> {
    text: &'t str,
    line_starts: Vec<usize>,
    found: Vec<(usize, Problem)>,
    left_out: usize,
}

impl<'t> Problems<'t> {
    pub(crate) fn new(text: &'t str) -> Self {
        let line_starts = std::iter::once(0).chain(text.match_indices('\n').map(|(at, _)| at + 1)).collect();
        Problems { text, line_starts, found: Vec::new(), left_out: 0 }
    }

    /// Notes that `span` of the text is wrong.
    pub(crate) fn add(&mut self, span: &Span, what: impl Into<String>, to_do: impl Into<String>) {
        self.note(span, what.into(), to_do.into(), false);
    }

    /// Notes that `span` is wrong; works out the words only when the problem is kept.
    pub(crate) fn add_with(&mut self, span: &Span, words: impl FnOnce() -> (String, String)) {
        let is_kept = self.found.len() < MOST_PROBLEMS;
        let (what, to_do) = if is_kept { words() } else { Default::default() };
        self.note(span, what, to_do, false);
    }

    /// Notes an example number at `span` that was never replaced.
    pub(crate) fn add_example(&mut self, span: &Span, what: impl Into<String>, to_do: impl Into<String>) {
        self.note(span, what.into(), to_do.into(), true);
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.found.is_empty()
    }

    /// Line of a byte offset, counted from 1.
    pub(crate) fn line_of(&self, offset: usize) -> usize {
        self.line_starts.partition_point(|&start| start <= offset)
    }

    /// Everything found, in the order of the file.
    pub(crate) fn sorted(mut self) -> Vec<Problem> {
        self.found.sort_by_key(|(offset, _)| *offset);
        let mut problems: Vec<Problem> = self.found.into_iter().map(|(_, problem)| problem).collect();
        if let Some(last) = problems.last_mut()
            && self.left_out > 0
        {
            last.to_do.push_str(&format!(" ({} more problems are not shown.)", self.left_out));
        }
        problems
    }

    fn note(&mut self, span: &Span, what: String, to_do: String, is_example: bool) {
        if self.found.len() >= MOST_PROBLEMS {
            self.left_out += 1;
            return;
        }
        let offset = floor_boundary(self.text, span.start);
        let line = self.line_of(offset);
        let line_start = self.line_starts.get(line - 1).copied().unwrap_or(0);
        let line_text = self.text.get(line_start..).unwrap_or("").lines().next().unwrap_or("");
        let before = self.text.get(line_start..offset).unwrap_or("").chars().count();
        let width = self
            .text
            .get(offset..floor_boundary(self.text, span.end))
            .map_or(0, |marked| marked.lines().next().unwrap_or("").chars().take(SHOWN_CHARACTERS).count());
        let (source_line, mark_after) = excerpt(line_text, before);
        let room = (source_line.chars().count()).saturating_sub(mark_after);
        let problem = Problem {
            file: UNNAMED_FILE.to_string(),
            line,
            column: before + 1,
            what,
            to_do,
            is_example,
            source_line,
            mark_after,
            mark_width: width.min(room).max(1),
        };
        self.found.push((offset, problem));
    }
}

/// The largest character boundary of `text` that is not beyond `offset`.
fn floor_boundary(text: &str, offset: usize) -> usize {
    let mut offset = offset.min(text.len());
    while !text.is_char_boundary(offset) {
        offset -= 1;
    }
    offset
}

/// As much of a line as is worth showing, and how many characters stand before the place in it.
fn excerpt(line: &str, before: usize) -> (String, usize) {
    let skipped = if before >= SHOWN_CHARACTERS { before - SHOWN_BEFORE } else { 0 };
    let shown = line
        .chars()
        .skip(skipped)
        .take(SHOWN_CHARACTERS)
        // A tab would move the mark, an escape could command the terminal.
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    (shown, before - skipped)
}

/// The maker's own text between quotes: cut when long, without control characters.
pub(crate) fn quoted(text: &str) -> String {
    const MOST_CHARACTERS: usize = 60;
    let mut shown: String =
        text.chars().take(MOST_CHARACTERS).map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect();
    if text.chars().nth(MOST_CHARACTERS).is_some() {
        shown.push('…');
    }
    format!("\"{shown}\"")
}

/// A number as the maker would write it.
pub(crate) fn plain(number: f64) -> String {
    if number != 0.0 && (number.abs() >= 1e9 || number.abs() < 1e-4) {
        format!("{number:e}")
    } else {
        format!("{number}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_problem_shows_what_where_and_what_to_do() {
        let mut problems = Problems::new("name = \"É♭\"\nbore = -3.0 # wide\n");
        problems.add(&(22..26), "the bore is -3 mm", "Measure it again.");
        let shown = problems.sorted()[0].to_string();
        let expected = "the bore is -3 mm\n  instrument.toml:2:8\n    2 | bore = -3.0 # wide\n      |        ^^^^\n  Measure it again.";
        assert_eq!(shown, expected);
    }

    #[test]
    fn columns_count_characters_not_bytes() {
        let text = "\"É♭\" = 1";
        let mut problems = Problems::new(text);
        let one = text.find('1').unwrap();
        problems.add(&(one..one + 1), "", "");
        assert_eq!(problems.sorted()[0].column, 8);
    }

    #[test]
    fn a_long_line_shows_only_the_piece_around_the_place() {
        let text = format!("{}X{}", "a".repeat(5000), "b".repeat(5000));
        let mut problems = Problems::new(&text);
        problems.add(&(5000..5001), "", "");
        let problem = problems.sorted().remove(0);
        assert_eq!(problem.column, 5001);
        assert_eq!(problem.source_line.chars().count(), SHOWN_CHARACTERS);
        assert_eq!(problem.source_line.chars().nth(problem.mark_after), Some('X'));
    }

    #[test]
    fn problems_beyond_the_limit_are_counted_not_kept() {
        let mut problems = Problems::new("x");
        for _ in 0..MOST_PROBLEMS + 5 {
            problems.add(&(0..1), "wrong", "Mend it.");
        }
        let kept = problems.sorted();
        assert_eq!(kept.len(), MOST_PROBLEMS);
        assert_eq!(kept.last().unwrap().to_do, "Mend it. (5 more problems are not shown.)");
    }

    #[test]
    fn a_place_beyond_the_text_or_inside_a_character_is_still_shown() {
        let mut problems = Problems::new("é");
        problems.add(&(1..1), "", "");
        problems.add(&(90..99), "", "");
        let columns: Vec<usize> = problems.sorted().iter().map(|problem| problem.column).collect();
        assert_eq!(columns, [1, 2]);
    }
}
