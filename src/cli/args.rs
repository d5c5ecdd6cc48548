//! What may be typed after `borescribe`; nothing else. Alone knows the argument parser.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

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

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Pitch, partials, undertones and troubles of recordings; needs no instrument.
    Measure(MeasureArguments),
}

/// Arguments of `measure`.
#[derive(Debug, Args)]
pub struct MeasureArguments {
    /// Recordings: WAV, FLAC, MP3, M4A, Ogg Vorbis, AIFF or CAF, one note in each.
    #[arg(required = true, value_name = "FILE")]
    pub files: Vec<PathBuf>,
    /// The note or the hertz hoped for: settles the octave, never moves the result.
    #[arg(long, value_name = "NOTE|HZ")]
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
    /// Print JSON instead of text.
    #[arg(long)]
    pub json: bool,
}
