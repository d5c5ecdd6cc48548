//! What may be typed after the commands of the bench book and of live sound; nothing else.

use std::path::PathBuf;

use clap::Args;

use crate::book::note::StepNote;

/// How a step is played; kept in its note.
#[derive(Debug, Args, Default)]
pub struct NoteArguments {
    /// Temperature of the room in °C, kept with the step.
    #[arg(long, value_name = "CELSIUS", allow_negative_numbers = true)]
    pub room: Option<f64>,
    /// The reed, kept with the step.
    #[arg(long, value_name = "TEXT")]
    pub reed: Option<String>,
    /// Who plays, kept with the step.
    #[arg(long, value_name = "NAME")]
    pub player: Option<String>,
    /// Anything else worth keeping with the step.
    #[arg(long, value_name = "TEXT")]
    pub note: Option<String>,
}

impl NoteArguments {
    /// As a note that says only this.
    #[must_use]
    pub fn as_note(&self) -> StepNote {
        StepNote {
            room_c: self.room,
            reed: self.reed.clone(),
            player: self.player.clone(),
            note: self.note.clone(),
            ..StepNote::default()
        }
    }
}

/// Arguments of `new`.
#[derive(Debug, Args)]
pub struct NewArguments {
    /// The folder to make; with --prototype, the bench book.
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,
    /// Begin this prototype in the bench book DIR.
    #[arg(long, value_name = "NAME", requires = "from")]
    pub prototype: Option<String>,
    /// The prototype whose last measures it begins with.
    #[arg(long, value_name = "NAME", requires = "prototype")]
    pub from: Option<String>,
    /// Begin with this planned instrument file, as `place --out` and `scale --out` write it; a prototype begins with all
    /// of its holes only planned.
    #[arg(long, value_name = "FILE")]
    pub plan: Option<PathBuf>,
    /// The prototype begins as a bare tube: the measures of the one before, its holes only planned.
    #[arg(long, requires = "prototype", conflicts_with = "plan")]
    pub bare: bool,
    /// What has been done so far; names the first step.
    #[arg(long, value_name = "TEXT", default_value = "start")]
    pub what: String,
    /// How it is played.
    #[command(flatten)]
    pub notes: NoteArguments,
    /// Print JSON instead of text.
    #[arg(long)]
    pub json: bool,
}

/// Arguments of `step`.
#[derive(Debug, Args)]
pub struct StepArguments {
    /// What was changed, in your words: it names the step.
    #[arg(value_name = "TEXT")]
    pub what: Option<String>,
    /// Places that were touched for the new step, by name: --touched p3,v. What was found of them before holds no
    /// longer. A change of their measures in the file does the same by itself.
    #[arg(long, value_name = "PLACES", value_delimiter = ',', requires = "what")]
    pub touched: Vec<String>,
    /// Holes that were drilled, with the measured width where you have it: --drilled h8=8.4,h7. They are marked as drilled
    /// in instrument.toml, your comments kept, and the next step is opened.
    #[arg(long, value_name = "HOLE[=MM]", value_delimiter = ',', conflicts_with_all = ["found", "measured"])]
    pub drilled: Vec<String>,
    /// How far the mouthpiece was pulled out, mm; less than 0: pushed in. All places in instrument.toml move along,
    /// and the next step is opened.
    #[arg(long, value_name = "MM", allow_negative_numbers = true, conflicts_with_all = ["found", "measured"])]
    pub mouthpiece_out: Option<f64>,
    /// Take over where this planned instrument file has the holes that are not drilled yet, and the cents of its
    /// fingerings. Tube, mouthpiece and drilled holes stay as you measured them. The next step is opened.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["found", "measured"])]
    pub plan: Option<PathBuf>,
    /// Keep with the open step what you found without a recording: PLACE:leaks, PLACE:tight or PLACE:unchanged for a
    /// place that may leak; NOTE:squeals, NOTE:slow, NOTE:hissy or NOTE:stuffy for a fingering. No step is opened.
    #[arg(long, value_name = "WHAT:WORD", value_delimiter = ',', conflicts_with = "what")]
    pub found: Vec<String>,
    /// instrument.toml was only measured better, nothing was cut: write its measures into the open step, and into those
    /// before it since that part was cut. The old files are kept beside them, with WHY. No step is opened.
    #[arg(long, value_name = "WHY", conflicts_with_all = ["what", "found", "room", "reed", "player", "note"])]
    pub measured: Option<Option<String>>,
    /// The bench book, when you are not in its folder.
    #[arg(long, value_name = "DIR", default_value = ".")]
    pub book: PathBuf,
    /// How it is played.
    #[command(flatten)]
    pub notes: NoteArguments,
    /// Print JSON instead of text.
    #[arg(long)]
    pub json: bool,
}

/// Arguments of `history`.
#[derive(Debug, Args)]
pub struct HistoryArguments {
    /// The bench book.
    #[arg(value_name = "BOOK", default_value = ".")]
    pub book: PathBuf,
    /// Print comma-separated values for a spreadsheet.
    #[arg(long, conflicts_with = "json")]
    pub csv: bool,
    /// Print JSON instead of text.
    #[arg(long)]
    pub json: bool,
}

/// Arguments of `set-aside`.
#[derive(Debug, Args)]
pub struct SetAsideArguments {
    /// The takes, by file name: D2-2.wav.
    #[arg(required = true, value_name = "TAKE")]
    pub takes: Vec<PathBuf>,
    /// Why they should not count.
    #[arg(long, value_name = "TEXT")]
    pub why: String,
    /// The step that they are in, by name or number, when it is not the open one.
    #[arg(long, value_name = "NAME")]
    pub step: Option<String>,
    /// The bench book, when you are not in its folder.
    #[arg(long, value_name = "DIR", default_value = ".")]
    pub book: PathBuf,
    /// Print JSON instead of text.
    #[arg(long)]
    pub json: bool,
}

/// Where live sound comes from.
#[derive(Debug, Args, Default)]
pub struct SoundArguments {
    /// Read raw samples from standard input instead of the sound card: f32le:48000:1 is coding, rate and
    /// channels. A WAV on standard input needs no such option.
    #[arg(long, value_name = "FORMAT:RATE:CHANNELS")]
    pub raw: Option<String>,
    /// List the inputs of this machine, and do nothing else.
    #[arg(long)]
    pub devices: bool,
    /// The input to use: its number in that list, or a part of its name.
    #[arg(long, value_name = "NAME|NUMBER")]
    pub device: Option<String>,
}

/// Arguments of `record`.
#[derive(Debug, Args)]
pub struct RecordArguments {
    /// The instrument file or bench book; may be left out inside a book.
    #[arg(value_name = "INSTRUMENT", default_value = ".")]
    pub instrument: PathBuf,
    /// Fingerings to record, in this order. Without any: all that can be played, the lowest first, and the
    /// first one once more at the end.
    #[arg(value_name = "FINGERING")]
    pub fingerings: Vec<String>,
    /// Record under changes that are undone afterwards, and keep these takes as a bench test, apart from the ordinary
    /// ones: --test leak.v=0 with the pad of v pressed hard. CHANGES are written as for check, with a comma between.
    /// Outside a bench book, --into says where they go.
    #[arg(long, value_name = "CHANGES", allow_hyphen_values = true)]
    pub test: Option<String>,
    /// Mix the order, so that the ear can't pull a note towards the one before.
    #[arg(long)]
    pub shuffle: bool,
    /// Where takes are kept, when not in the book.
    #[arg(long, value_name = "DIR")]
    pub into: Option<PathBuf>,
    /// How long each take lasts, in seconds.
    #[arg(long, value_name = "S", default_value_t = 6.0, allow_negative_numbers = true)]
    pub seconds: f64,
    /// How long the silent room is recorded first, as room.wav. From the sound card 5 seconds, once a
    /// step; from a pipe 0.
    #[arg(long, value_name = "S", allow_negative_numbers = true)]
    pub silence: Option<f64>,
    /// The note that is played again at the end, to see whether all have moved; "none" for no such note.
    #[arg(long, value_name = "FINGERING")]
    pub reference: Option<String>,
    /// Where the sound comes from.
    #[command(flatten)]
    pub sound: SoundArguments,
    /// How it is played.
    #[command(flatten)]
    pub notes: NoteArguments,
    /// Print JSON instead of text.
    #[arg(long)]
    pub json: bool,
}

/// Arguments of `listen`.
#[derive(Debug, Args)]
pub struct ListenArguments {
    /// The instrument file or bench book; may be left out inside a book.
    #[arg(value_name = "INSTRUMENT", default_value = ".")]
    pub instrument: PathBuf,
    /// Listen under changes that are undone afterwards, and keep these takes as a bench test, apart from the ordinary
    /// ones: --test leak.v=0 with the pad of v pressed hard. CHANGES are written as for check, with a comma between.
    /// Outside a bench book, --into says where they go.
    #[arg(long, value_name = "CHANGES", allow_hyphen_values = true)]
    pub test: Option<String>,
    /// Where takes are kept, when not in the book.
    #[arg(long, value_name = "DIR")]
    pub into: Option<PathBuf>,
    /// A note held steady for so long is kept, in seconds.
    #[arg(long, value_name = "S", default_value_t = 3.0, allow_negative_numbers = true)]
    pub hold: f64,
    /// Keep nothing.
    #[arg(long)]
    pub only_listen: bool,
    /// Where the sound comes from.
    #[command(flatten)]
    pub sound: SoundArguments,
    /// How it is played.
    #[command(flatten)]
    pub notes: NoteArguments,
    /// Print JSON instead of text, when the sound has ended.
    #[arg(long)]
    pub json: bool,
}
