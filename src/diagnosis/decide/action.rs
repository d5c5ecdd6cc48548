//! The next action as data: what to do, why, what to find out first, and whether to stop.
//!
//! Must not know words, files or the terminal.

use crate::diagnosis::decide::bench_tests::{BenchTest, Measured, Why};
use crate::diagnosis::work::adjust::Adjustment;
use crate::diagnosis::work::plain_tube::TopLength;
use crate::instrument::column::LeakPlace;

/// Kind of action.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)] // each is its own word
pub enum Do {
    Seal,
    Press,
    Lift,
    Adjust,
    ReRecord,
    Cut,
    Nothing,
}

impl Do {
    /// The word in JSON.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Do::Seal => "seal",
            Do::Press => "press",
            Do::Lift => "lift",
            Do::Adjust => "adjust",
            Do::ReRecord => "re-record",
            Do::Cut => "cut",
            Do::Nothing => "nothing",
        }
    }
}

/// Why this is the next thing to do.
#[derive(Debug, Clone, PartialEq)]
pub enum Reason {
    /// Nothing was played yet.
    NoTakes,
    /// No take could be used, or these fingerings were lost or mixed up.
    PlayAgain(Vec<usize>),
    /// The first of the tests is to be made.
    Test,
    /// It leaks here; with the probability.
    Leaks(LeakPlace, f64),
    /// This pad does not open.
    StuckPad(usize),
    /// All notes are off by the same interval.
    AllOff(Adjustment),
    /// All notes are off by this many cents, as the measured air explains.
    WarmUp(f64),
    /// Cuts are due: indices into the list of cuts, all to be done before the next takes.
    Cuts(Vec<usize>),
    /// Nothing is left that is worth doing on this body.
    Done(Vec<Left>),
    /// A tube without a tone hole is ready for the drill, or not yet: what it tells of mouthpiece and reed, where it has a
    /// mouthpiece.
    PlainTube(Option<TopLength>),
    /// Holes are still to be drilled, and until they are there no note of this body has its place.
    HolesWait,
    /// The first finding was seen and has to be looked at; nothing else is to be done before.
    Look,
}

/// A note that stays off, and why.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Left {
    /// Index into the instrument's fingerings.
    pub fingering: usize,
    /// Cents from where it should be, without what all notes share; `None` where it did not speak as wanted.
    pub off_cents: Option<f64>,
}

/// The next action.
#[derive(Debug, Clone, PartialEq)]
pub struct Next {
    /// What.
    pub action: Do,
    /// Hole, leak site or fingering by name.
    pub place: Option<String>,
    /// Why.
    pub reason: Reason,
    /// What to do to the instrument, in the spelling of `try`; empty while nothing is to be altered.
    pub changes: Vec<String>,
    /// What to find out first, best first.
    pub tests: Vec<BenchTest>,
    /// A reversible trial first.
    pub stand_in: Option<String>,
    /// Fingerings to play again afterwards, by name.
    pub retake: Vec<String>,
    /// Whether the advice is to stop.
    pub done: bool,
}

impl Next {
    /// Whether cuts may be listed beside this action: not while it may leak, takes are lost, or the file's
    /// measures are in question.
    #[must_use]
    pub fn allows_cuts(&self) -> bool {
        // A tube gets its length, and a hole its size, when all holes are drilled.
        let lost = matches!(
            self.reason,
            Reason::PlayAgain(_)
                | Reason::NoTakes
                | Reason::StuckPad(_)
                | Reason::PlainTube(_)
                | Reason::HolesWait
        );
        let comes_first = |test: &BenchTest| match test {
            BenchTest::Play { why, .. } => matches!(why, Why::ShowsLeak(_)),
            BenchTest::Measure { of, .. } => *of == Measured::Bore,
            BenchTest::Answer { .. } => true,
        };
        !lost && !matches!(self.action, Do::Press | Do::Seal) && !self.tests.first().is_some_and(comes_first)
    }
}
