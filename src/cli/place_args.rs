//! What may be typed after `place` and `scale`.

use std::path::PathBuf;

use clap::Args;

/// Arguments of `place`.
#[derive(Debug, Args)]
pub struct PlaceArguments {
    /// The instrument file, or the folder that holds instrument.toml: mouthpiece, tube, the holes that you plan
    /// (drilled = false, places only guessed) and the fingerings that you want.
    #[arg(value_name = "INSTRUMENT", default_value = ".")]
    pub instrument: PathBuf,
    /// What may move, and how far.
    #[command(flatten)]
    pub limits: LimitArguments,
    /// Where the result goes.
    #[command(flatten)]
    pub results: ResultArguments,
}

/// Arguments of `scale`.
#[derive(Debug, Args)]
pub struct ScaleArguments {
    /// The donor: the instrument file whose measured layout is carried over.
    #[arg(value_name = "INSTRUMENT", default_value = ".")]
    pub instrument: PathBuf,
    /// How many semitones higher the new body sounds; less than 0: lower. 0 for another bore or mouthpiece at the
    /// same pitch.
    #[arg(long, value_name = "SEMITONES", default_value_t = 0, allow_negative_numbers = true, value_parser = clap::value_parser!(i32).range(-48..=48))]
    pub higher: i32,
    /// The new tube's inner diameter at the top, mm; a taper keeps its proportions. The donor's when left out.
    #[arg(long, value_name = "MM", allow_negative_numbers = true)]
    pub new_bore: Option<f64>,
    /// The new tube's wall, mm; the donor's when left out.
    #[arg(long, value_name = "MM", allow_negative_numbers = true)]
    pub new_wall: Option<f64>,
    /// Height of the new tone holes' chimneys from the bore to the rim, mm; when left out, what stands above the
    /// wall stays.
    #[arg(long, value_name = "MM", allow_negative_numbers = true)]
    pub new_chimney: Option<f64>,
    /// The water that the new mouthpiece holds, ml; the donor's when left out.
    #[arg(long, value_name = "ML", allow_negative_numbers = true)]
    pub new_chamber: Option<f64>,
    /// The give of the new reed, ml; when left out, the donor's, grown with the bore.
    #[arg(long, value_name = "ML", allow_negative_numbers = true)]
    pub new_reed: Option<f64>,
    /// What may move, and how far.
    #[command(flatten)]
    pub limits: LimitArguments,
    /// Where the result goes.
    #[command(flatten)]
    pub results: ResultArguments,
}

/// What the maker allows.
#[derive(Debug, Args)]
pub struct LimitArguments {
    /// Holes that keep place and size: --fixed h1,v.
    #[arg(long, value_name = "HOLE", value_delimiter = ',')]
    pub fixed: Vec<String>,
    /// Keep every hole that the file has as drilled; only the others are placed.
    #[arg(long)]
    pub keep_drilled: bool,
    /// Keep every hole's size; only places (and the end) are found.
    #[arg(long)]
    pub keep_diameters: bool,
    /// Make a hole this wide, mm: --size v 2. May be given several times.
    #[arg(long, value_names = ["HOLE", "MM"], num_args = 2, allow_negative_numbers = true, action = clap::ArgAction::Append)]
    pub size: Vec<String>,
    /// Keep the length of the tube.
    #[arg(long)]
    pub keep_end: bool,
    /// Two holes lie no farther apart than this, centre to centre: --reach h1 h3 75 for the fingers of one hand.
    /// May be given several times.
    #[arg(long, value_names = ["HOLE", "HOLE", "MM"], num_args = 3, allow_negative_numbers = true, action = clap::ArgAction::Append)]
    pub reach: Vec<String>,
    /// Wall between the edges of neighbouring holes, mm; the wider rim of the two when left out.
    #[arg(long, value_name = "MM", allow_negative_numbers = true)]
    pub least_wall: Option<f64>,
    /// No tone hole smaller than this, mm; a quarter of the bore when left out.
    #[arg(long, value_name = "MM", allow_negative_numbers = true)]
    pub smallest: Option<f64>,
    /// No tone hole wider than this, mm; nine tenths of the bore, and what the pad covers, when left out.
    #[arg(long, value_name = "MM", allow_negative_numbers = true)]
    pub widest: Option<f64>,
    /// Pads at hand, mm, like 15,18,21: each tone hole with a pad takes the smallest that covers it, and gets no wider than
    /// three times its lift. The file's pads stay when left out. Keys with a reach stand in the file itself, each with its pad.
    #[arg(long, value_name = "MM", allow_negative_numbers = true, value_delimiter = ',')]
    pub pads: Vec<f64>,
    /// Drill holes this much smaller at first, to tune them open, mm; 1 mm, but at most a fifth of the hole, when
    /// left out. A drill that leaves half a millimetre more will do; where you have none, the size to get is named.
    #[arg(long, value_name = "MM", allow_negative_numbers = true)]
    pub undersize: Option<f64>,
    /// How much a fingering counts: --weight C2 3. Others count as the file's weight says, 1 as a rule. May be given
    /// several times.
    #[arg(long, value_names = ["FINGERING", "TIMES"], num_args = 2, allow_negative_numbers = true, action = clap::ArgAction::Append)]
    pub weight: Vec<String>,
    /// Temperature of the room in °C; the air inside follows from it.
    #[arg(long, value_name = "CELSIUS", allow_negative_numbers = true)]
    pub room: Option<f64>,
    /// Meet the targets as you play: with what this bench book's takes teach of player, mouthpiece and reed. It is
    /// worked out anew from the book's log each time, and written nowhere.
    #[arg(long, value_name = "BOOK")]
    pub learned_from: Option<PathBuf>,
}

/// Where a layout goes.
#[derive(Debug, Args)]
pub struct ResultArguments {
    /// Write the layout to this new instrument file, its holes planned, with your comments kept.
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Write paper strips at full size to wrap round the tube into this folder, as SVG pages for A4 and Letter.
    #[arg(long, value_name = "DIR")]
    pub strip: Option<PathBuf>,
    /// Print JSON instead of text.
    #[arg(long)]
    pub json: bool,
}
