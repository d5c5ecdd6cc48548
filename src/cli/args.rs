//! What may be typed after `borescribe`; nothing else. Alone knows the argument parser.

use std::path::PathBuf;

use clap::{ArgGroup, Args, Parser, Subcommand, ValueEnum};

use super::book_args::{
    HistoryArguments, ListenArguments, NewArguments, RecordArguments, SetAsideArguments, StepArguments,
};
use super::place_args::{PlaceArguments, ScaleArguments};

/// Measures recorded notes of a woodwind, compares them with what its geometry predicts, and says
/// what to do next at the bench.
#[derive(Debug, Parser)]
#[command(name = "borescribe", version, about)]
pub struct Arguments {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
    /// When to colour the text.
    #[arg(long, global = true, value_name = "WHEN", default_value = "auto")]
    pub color: Color,
    /// Say nothing but results.
    #[arg(long, short, global = true)]
    pub quiet: bool,
}

impl Arguments {
    /// Whether text is to be coloured, given whether it goes to a terminal.
    #[must_use]
    pub fn wants_color(&self, terminal: bool) -> bool {
        match self.color {
            Color::Always => true,
            Color::Never => false,
            // Set and not empty: no-color.org.
            Color::Auto => terminal && std::env::var_os("NO_COLOR").is_none_or(|v| v.is_empty()),
        }
    }
}

/// When to colour the text.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Color {
    /// On a terminal, unless NO_COLOR is set.
    Auto,
    /// Always.
    Always,
    /// Never.
    Never,
}

/// Where the page of a check and its pictures go.
#[derive(Debug, Args)]
pub struct PageArguments {
    /// Write everything that was found into FILE.html: one page with pictures that any web browser shows and
    /// prints, without a network. A page that is there already is replaced.
    #[arg(long, value_name = "FILE.html")]
    pub report: Option<PathBuf>,
    /// Whether the page carries the sound of the takes, to play in place: as long as it stays small, with it
    /// whatever it weighs, or without.
    #[arg(long, value_name = "WHETHER", default_value = "auto")]
    pub sound: SoundInPage,
    /// Write the page's pictures into the folder DIR as SVG files, each for itself: the instrument, causes,
    /// registers, undertones, takes. Files of the same name are replaced.
    #[arg(long, value_name = "DIR")]
    pub plots: Option<PathBuf>,
}

/// Whether a page carries the sound of the takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum SoundInPage {
    /// As long as the page stays small (8 MB of sound).
    Auto,
    /// Whatever it weighs.
    With,
    /// Without sound.
    Without,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Start a bench book with a commented instrument file to fill in, or the next prototype in one.
    New(NewArguments),
    /// What each fingering should sound, from the geometry alone.
    Predict(PredictArguments),
    /// The main job: measure recorded fingerings, compare, name the cause, propose what to do next.
    Check(CheckArguments),
    /// What a change would do to every note, before cutting.
    Try(TryArguments),
    /// Where the holes of a planned body go, and how wide, so that its fingerings meet their targets.
    Place(PlaceArguments),
    /// Carry a measured layout to another size: another pitch, bore or mouthpiece. ("Scale" as a verb; a row of
    /// notes is not meant.)
    Scale(ScaleArguments),
    /// Pitch, partials, undertones and troubles of recordings; needs no instrument.
    Measure(MeasureArguments),
    /// Record one fingering after the other, and hear at once how each stands.
    Record(RecordArguments),
    /// Listen while you play: name each note, and keep the ones that are held.
    Listen(ListenArguments),
    /// Open the next bench step, and show what changed in the instrument file; or keep with the open one what you found
    /// or measured better.
    Step(StepArguments),
    /// Tuning across steps and prototypes: what each change was predicted to do, and did.
    History(HistoryArguments),
    /// Set takes aside that should not count; they stay in the book, with the reason.
    SetAside(SetAsideArguments),
    /// The main job on a sample inside the program: three bench steps of an unfinished instrument.
    Demo(DemoArguments),
}

/// Arguments of `demo`.
#[derive(Debug, Args)]
pub struct DemoArguments {
    /// Show this bench step only, from 1.
    #[arg(long, value_name = "N")]
    pub step: Option<usize>,
    /// Print the JSON object of `check` for one step: the one that shows most, or --step N.
    #[arg(long)]
    pub json: bool,
    /// The page of that step.
    #[command(flatten)]
    pub page: PageArguments,
}

/// Arguments of `measure`.
#[derive(Debug, Args)]
pub struct MeasureArguments {
    /// Recordings: WAV, FLAC, MP3, M4A, Ogg Vorbis, AIFF or CAF, one note in each; - for one that comes through a pipe.
    #[arg(required = true, value_name = "FILE")]
    pub files: Vec<PathBuf>,
    /// The note or the hertz hoped for: settles the octave, never moves the result.
    #[arg(long, value_name = "NOTE|HZ", allow_negative_numbers = true)]
    pub expect: Option<String>,
    /// Measure from this second of the file on.
    #[arg(long, value_name = "S")]
    pub from: Option<f64>,
    /// Measure up to this second of the file.
    #[arg(long, value_name = "S")]
    pub to: Option<f64>,
    /// A recording of the room with nothing played: its lines and noise are not the note's.
    #[arg(long, value_name = "FILE")]
    pub room: Option<PathBuf>,
    /// Print a table for a spreadsheet: a row a take, columns with their units, text without formulas.
    #[arg(long, conflicts_with = "json")]
    pub csv: bool,
    /// Draw the take (one only) into FILE.svg: its spectrum with partials and undertones, and its pitch
    /// through time in cents. Any web browser shows it. A chart that is there already is replaced.
    #[arg(long, value_name = "FILE.svg")]
    pub plot: Option<PathBuf>,
    /// Print JSON instead of text.
    #[arg(long)]
    pub json: bool,
}

/// Arguments of `predict`.
#[derive(Debug, Args)]
pub struct PredictArguments {
    /// The instrument file, or the folder that holds instrument.toml.
    #[arg(value_name = "INSTRUMENT", default_value = ".")]
    pub instrument: PathBuf,
    /// Temperature of the room in °C; the air inside follows from it.
    #[arg(long, value_name = "CELSIUS", allow_negative_numbers = true)]
    pub room: Option<f64>,
    /// Reckon with what this bench book's takes teach of player, mouthpiece and reed. It is worked out anew from the
    /// book's log each time, and written nowhere.
    #[arg(long, value_name = "BOOK")]
    pub learned_from: Option<PathBuf>,
    /// Print JSON instead of text.
    #[arg(long)]
    pub json: bool,
}

/// Arguments of `try`.
#[derive(Debug, Args)]
pub struct TryArguments {
    /// The instrument file, or the folder that holds instrument.toml (here, when left out), and then the
    /// changes. "=" sets, "+=" and "-=" change by: h2.diameter=9 h2.diameter+=0.5 h2.at h2.chimney h2.lift
    /// h2.pad h2.pad=off (taken off) h2.undercut end.trim=2 (mm taken off; less than 0 adds) top.trim
    /// mouthpiece.out=2 (mm pulled out, a ring in the gap; less than 0 pushes in) mouthpiece.chamber
    /// mouthpiece.reed air.temperature "leak.post 4=0.8" (as wide as that hole).
    #[arg(value_names = ["INSTRUMENT", "CHANGE"], num_args = 0..)]
    pub words: Vec<String>,
    /// Temperature of the room in °C; the air inside follows from it.
    #[arg(long, value_name = "CELSIUS", allow_negative_numbers = true)]
    pub room: Option<f64>,
    /// Write the changed instrument to this new file, with your comments kept.
    #[arg(long, value_name = "FILE")]
    pub save: Option<PathBuf>,
    /// Print JSON instead of text.
    #[arg(long)]
    pub json: bool,
}

/// Arguments of `check`.
#[derive(Debug, Args)]
#[command(group(ArgGroup::new("sequence").args(["one_take", "in_order"])))]
pub struct CheckArguments {
    /// The instrument file, or the folder that holds instrument.toml.
    #[arg(value_name = "INSTRUMENT", default_value = ".")]
    pub instrument: PathBuf,
    /// Recordings, or folders of them, each named after its fingering: D2.wav, D2-2.wav. Without any:
    /// the folder takes beside the instrument file.
    #[arg(value_name = "TAKES")]
    pub takes: Vec<PathBuf>,
    /// Take FILE as a recording of the fingering NAME, whatever the file is called.
    #[arg(long = "as", value_names = ["NAME", "FILE"], num_args = 2, action = clap::ArgAction::Append)]
    pub named: Vec<String>,
    /// One long recording of all fingerings: play one after the other, in the order of the instrument
    /// file or from the lowest up, with a second of silence between. It is split into notes, each is
    /// taken as the fingering that fits pitch and order, and the list is shown for you to look over.
    /// Repeats, false starts and left-out fingerings are no harm.
    #[arg(long, value_name = "FILE")]
    pub one_take: Option<PathBuf>,
    /// Recordings with the recorder's own names (or a folder of them), one fingering in each, in the
    /// order they were played. Names are proposed from pitch and order and shown for you to look over.
    #[arg(long, value_name = "FILE", num_args = 1..)]
    pub in_order: Vec<PathBuf>,
    /// Correct what --one-take or --in-order took the notes as: a fingering's name for each note heard,
    /// in their order, skip for one to leave out: --notes "D2, E2, skip, F2".
    #[arg(long, value_name = "NAMES", requires = "sequence", allow_hyphen_values = true)]
    pub notes: Option<String>,
    /// Temperature of the room in °C; the air inside follows from it.
    #[arg(long, value_name = "CELSIUS", allow_negative_numbers = true)]
    pub room: Option<f64>,
    /// Check this step of the bench book, by its name or number; recordings given with it, those of --test too, are
    /// copied into the book, and the names that they had are noted. Notes of --one-take are cut out and kept as takes.
    #[arg(long, value_name = "NAME")]
    pub step: Option<String>,
    /// Places that you tested for a leak and found tight, by name: --tight v,p3. Short for --found v:tight,p3:tight.
    #[arg(long, value_name = "PLACES", value_delimiter = ',')]
    pub tight: Vec<String>,
    /// Takes that were played while something was changed for a test, and what that was: --test leak.v=0 pressed/ for
    /// takes with the pad of v pressed hard. CHANGES are written as for try, with a comma between: leak.NAME=0 (pad
    /// pressed, vent stopped, film round a post), h5.diameter-=2 (tape), h5.pad=off, end.trim=-4 (collar),
    /// mouthpiece.out=2. Takes are named as always. May be given more than once. The bench tests that a book keeps with
    /// its step are part of its check without this option.
    #[arg(long, value_names = ["CHANGES", "FOLDER_OR_FILE"], num_args = 2, action = clap::ArgAction::Append, allow_hyphen_values = true)]
    pub test: Vec<String>,
    /// What you found without a recording: PLACE:leaks, PLACE:tight or PLACE:unchanged for a place that may leak;
    /// NOTE:squeals, NOTE:slow, NOTE:hissy or NOTE:stuffy for a fingering. Counts for less than a recording. In a
    /// bench book it counts for this check only; step --found keeps it.
    #[arg(long, value_name = "WHAT:WORD", value_delimiter = ',')]
    pub found: Vec<String>,
    /// Take all takes of the step for those of one evening. Otherwise takes that lie more than four hours apart, by the
    /// bench book's rows, are of different evenings: what reed, lip and room did to all notes may differ between them.
    #[arg(long)]
    pub one_evening: bool,
    /// Reckon with what this bench book's takes teach of player, mouthpiece and reed. It is worked out anew from the
    /// book's log each time, and written nowhere.
    #[arg(long, value_name = "BOOK")]
    pub learned_from: Option<PathBuf>,
    /// Show one cause with every note instead of the usual screen: what was measured, what this cause would do, what is
    /// left over, and which notes speak for and against it. Name it as the findings do: leak:p3, hole:h5, pad:h5, air,
    /// length, mouthpiece, bore, vent:v, healthy. It need not have been told.
    #[arg(long, value_name = "CAUSE")]
    pub explain: Option<String>,
    /// The page with pictures.
    #[command(flatten)]
    pub page: PageArguments,
    /// In a bench book, don't write the step's page check.html, which is written otherwise.
    #[arg(long, conflicts_with = "report")]
    pub no_report: bool,
    /// End with exit code 3 when the first finding is not "healthy", for scripts.
    #[arg(long)]
    pub findings_exit: bool,
    /// Print JSON instead of text.
    #[arg(long)]
    pub json: bool,
}
