//! Why a command stopped, told once at the edge: what is wrong, where, and what to do.

use std::path::{Path, PathBuf};

use crate::audio::capture::CaptureError;
use crate::audio::decode::AudioError;
use crate::audio::encode::WriteError;
use crate::book::error::BookError;
use crate::diagnosis::findings::cause_names::CauseNameError;
use crate::diagnosis::weigh::learned::LearnError;
use crate::instrument::change::ChangeError;
use crate::instrument::drilling::DrillingError;
use crate::instrument::problem::FileError;
use crate::instrument::save::SaveError;
use crate::placing::error::PlaceError;
use crate::report::chart::ChartError;
use crate::report::layout::visible_path;

/// Why a command could not do its work, in the maker's words.
#[derive(Debug, thiserror::Error)]
pub enum Failure {
    /// The instrument file.
    #[error("{0}")]
    Instrument(#[from] FileError),
    /// The bench book.
    #[error("{0}")]
    Book(#[from] BookError),
    /// Another program works on the same book.
    #[error(
        "another borescribe is {0} this book.\n  Let it finish or close it, then run this again. Nothing was changed."
    )]
    Busy(&'static str),
    /// The instrument file has changed since takes were kept.
    #[error("{0}")]
    Changed(String),
    /// A change that can't be tried.
    #[error("{0}")]
    Change(#[from] ChangeError),
    /// Holes that can't be marked as drilled, or a plan that doesn't fit.
    #[error("{0}")]
    Drilling(#[from] DrillingError),
    /// Holes that can't be placed.
    #[error("{0}")]
    Place(#[from] PlaceError),
    /// A cause that nothing goes by.
    #[error("{0}")]
    CauseName(#[from] CauseNameError),
    /// A book that teaches nothing for this instrument.
    #[error("--learned-from {}: {source}.", visible_path(book))]
    Learning {
        /// The book.
        book: PathBuf,
        /// Why.
        source: LearnError,
    },
    /// A changed instrument that can't be saved.
    #[error("{0}")]
    Save(#[from] SaveError),
    /// A recording.
    #[error("{path}: {source}", path = visible_path(path))]
    Recording {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        source: AudioError,
    },
    /// The sound card or the pipe.
    #[error("{0}.")]
    Capture(#[from] CaptureError),
    /// A take that can't be written.
    #[error("{0}.\n  Is the disk full, and may you write there?")]
    Writing(#[from] WriteError),
    /// A file or folder that can't be read or written.
    #[error("{path}: {source}\n  Check that it is there and that you may use it.", path = visible_path(path))]
    File {
        /// The file or folder.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// A folder without a single recording.
    #[error(
        "{path} holds no recordings.\n  Put one file a fingering there, named after it: {example}.wav",
        path = visible_path(path)
    )]
    NoTakes {
        /// The folder.
        path: PathBuf,
        /// A name that would do.
        example: String,
    },
    /// A long recording in which no note is heard.
    #[error(
        "{path}: no note is heard in {seconds:.0} s.\n  Check the microphone and its level, and record it again.",
        path = visible_path(path)
    )]
    NoNotes {
        /// The recording.
        path: PathBuf,
        /// Its length.
        seconds: f64,
    },
    /// A recording whose name is no fingering.
    #[error(
        "{path}: no fingering is called that.\n  {}",
        what_to_do(path, names), path = visible_path(path)
    )]
    UnknownFingering {
        /// The recording.
        path: PathBuf,
        /// All names in the instrument file; empty when it has no fingerings.
        names: String,
    },
    /// A chart.
    #[error("{0}.")]
    Chart(#[from] ChartError),
    /// A page or a chart beside the results that can't be written.
    #[error(
        "{path} can't be written: {source}.\n  Name a folder that is there, has room, and that you may write to. What \
         was found is told above; nothing is lost.",
        path = visible_path(path)
    )]
    Page {
        /// The page or the chart.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// No threads to compute with.
    #[error(
        "the system starts no more threads for this program: {source}.\n  Close other programs, or ask for fewer: \
         RAYON_NUM_THREADS=1."
    )]
    Threads {
        /// What the system said.
        source: rayon::ThreadPoolBuildError,
    },
    /// Options that make no sense together or values out of range.
    #[error("{0}")]
    Usage(String),
    /// The result can't be printed.
    #[error("the result can't be printed: {source}\n  Is the disk full?")]
    Output {
        /// What the system said.
        source: std::io::Error,
    },
    /// A folder that must not be overwritten.
    #[error("{path} is already there and not empty.\n  Choose another name; nothing was changed.", path = visible_path(path))]
    Occupied {
        /// The folder.
        path: PathBuf,
    },
}

fn what_to_do(take: &Path, names: &str) -> String {
    if names.is_empty() {
        "The instrument file has no fingerings yet. Add a [[fingering]] with its name and open holes."
            .to_string()
    } else {
        format!(
            "The file has: {names}.\n  Rename the recording, or say --as NAME {}\n  If none has its fingering's name: \
             --in-order FILE... takes them one after the other",
            visible_path(take)
        )
    }
}
