//! What a measured take tells, as plain data, and how far one player's takes of a note scatter. Must not know how it was
//! measured.

use crate::units::cents_between;

/// Everything that is told of one take.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Measurement {
    /// Mean pitch over the steady part, hertz; `None` when no note was found.
    pub pitch_hz: Option<f64>,
    /// Standard uncertainty of that mean, cents.
    pub sd_cents: Option<f64>,
    /// The note's own spread over the steady part, cents (standard deviation of the pitch track).
    pub wander_cents: Option<f64>,
    /// How sure it is that this is the note (not an octave, twelfth or hum): 0 to 1.
    pub confidence: f64,
    /// Start and end of the steady part, seconds from the start of the file.
    pub steady_s: Option<(f64, f64)>,
    /// RMS level of the steady part, dB relative to a full-scale square wave (0 dBFS = RMS 1).
    pub level_dbfs: Option<f64>,
    /// Power of the tone over that of the breath and background between its partials, dB.
    pub tone_over_noise_db: Option<f64>,
    /// Harmonics, rising; level relative to the strongest.
    pub partials: Vec<Partial>,
    /// What the note sounds like beyond its pitch; `None` when no note was found.
    pub tone: Option<Tone>,
    /// Lines below or between the harmonics, strongest first.
    pub undertones: Vec<Undertone>,
    /// Lines below the note that sound along while it builds up, when it is slow to speak; strongest first, dB
    /// against the strongest harmonic meanwhile.
    pub building_up: Vec<Undertone>,
    /// Simple fractions at which none could be told.
    pub hidden: Vec<Hidden>,
    /// What is wrong with the recording, worst first.
    pub troubles: Vec<Trouble>,
    /// Whether a note was found near the expected pitch; `None` when none was expected.
    pub expectation_met: Option<bool>,
    /// True when an expected pitch, not the sound alone, decided between octaves.
    pub expectation_decided: bool,
    /// What the sound alone offers then; `None` when both are one.
    pub unasked: Option<Unasked>,
}

/// The note that the lines of a sound mean by themselves, when the expected pitch decided for another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unasked {
    /// Its pitch, hertz.
    pub hz: f64,
    /// Power of its partials that are none of the expected note's, over that of all that are, dB. Far below
    /// zero where the expected note is the lower one.
    pub left_out_db: f64,
}

/// One harmonic of the note.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Partial {
    /// Number of the harmonic; 1 is the note itself.
    pub n: usize,
    /// Its own frequency, hertz.
    pub hz: f64,
    /// Level relative to the strongest harmonic, dB.
    pub db: f64,
}

/// What a note sounds like beyond its pitch.
#[derive(Debug, Clone, PartialEq)]
pub struct Tone {
    /// How far the harmonics lie off whole multiples of the pitch, cents: root mean square weighted by
    /// power. A reed holds them on the multiples, so that much of it is noise or a plucked or struck sound.
    pub inharmonicity_cents: Option<f64>,
    /// Power of the odd harmonics over that of the even ones, dB; `None` when one kind isn't heard.
    pub odd_over_even_db: Option<f64>,
    /// Mean frequency of the harmonics weighted by amplitude, hertz: how bright the tone is.
    pub centroid_hz: Option<f64>,
    /// Tone over noise in each octave that has harmonics: low figures are hiss.
    pub hiss: Vec<Hiss>,
    /// Time from a tenth to nine tenths of the full level, seconds; `None` when the recording begins in it.
    pub attack_s: Option<f64>,
    /// Even rise (or fall, below zero) of the pitch over the steady part, cents a second.
    pub slope_cents_per_s: f64,
    /// Regular swing of the pitch; its depth is the way to one side, cents.
    pub vibrato: Option<Swing>,
    /// Regular swing of the level; its depth is the way to one side, dB.
    pub beating: Option<Swing>,
}

/// Tone over noise between two frequencies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hiss {
    /// Lower end, hertz.
    pub from_hz: f64,
    /// Upper end, hertz.
    pub to_hz: f64,
    /// Power of the harmonics over that of the noise between them, dB.
    pub tone_over_noise_db: f64,
}

/// A regular swing of pitch or level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Swing {
    /// Turns a second.
    pub hz: f64,
    /// The way to one side, in the unit that its user tells.
    pub depth: f64,
}

/// A line below or between the harmonics.
#[derive(Debug, Clone, PartialEq)]
pub struct Undertone {
    /// Frequency, hertz.
    pub hz: f64,
    /// Exact ratio to the note as numerator and denominator (1/2, 1/3, 2/3 …), when it is one.
    pub ratio: Option<(u32, u32)>,
    /// Level relative to the strongest harmonic, dB.
    pub db: f64,
    /// Whether it is locked to the note or runs free.
    pub kind: UndertoneKind,
    /// Whether it moves with the note's pitch; `None` when the pitch moves too little to tell.
    pub follows: Option<bool>,
    /// The fraction of which this and other lines are multiples, when together they show that the
    /// sound repeats only every second, third or fourth time: 1/2, 1/3 or 1/4.
    pub family: Option<(u32, u32)>,
    /// The lowest of several free lines that lie equally far from their nearest partials: one
    /// resonance at this frequency, hertz, and its mixtures with the note.
    pub mixed_with_hz: Option<f64>,
}

/// A fraction of the note at which this recording can't tell whether there is an undertone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hidden {
    /// The fraction.
    pub ratio: (u32, u32),
    /// Its frequency, hertz.
    pub hz: f64,
    /// Why.
    pub by: HiddenBy,
}

/// Why an undertone could not be told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HiddenBy {
    /// Too few periods are steady.
    TooShort,
    /// A line of mains hum lies there.
    Hum,
    /// A line of the room lies there.
    Room,
}

/// How an undertone stands to its note.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum UndertoneKind {
    /// At an exact simple ratio of the note.
    Locked,
    /// At no simple ratio.
    Free,
    /// The take is too short to tell.
    Unclear,
}

/// Something wrong with a recording.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Trouble {
    /// What it is.
    pub code: TroubleCode,
    /// The maker's sentence: what is wrong and what to do.
    pub text: String,
}

/// Kinds of trouble; [`TroubleCode::as_str`] gives the spelling that other programs rely on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[allow(missing_docs)] // each is its own word
pub enum TroubleCode {
    Hum,
    Clipped,
    LowCut,
    TooQuiet,
    Noise,
    Pumping,
    Reverb,
    TooShort,
    Unsteady,
    SeveralNotes,
    CutOff,
    Lossy,
    Silent,
    Unreadable,
    WrongFingering,
    RoomUnknown,
}

impl TroubleCode {
    /// The word in JSON.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            TroubleCode::Hum => "hum",
            TroubleCode::Clipped => "clipped",
            TroubleCode::LowCut => "low-cut",
            TroubleCode::TooQuiet => "too-quiet",
            TroubleCode::Noise => "noise",
            TroubleCode::Pumping => "pumping",
            TroubleCode::Reverb => "reverb",
            TroubleCode::TooShort => "too-short",
            TroubleCode::Unsteady => "unsteady",
            TroubleCode::SeveralNotes => "several-notes",
            TroubleCode::CutOff => "cut-off",
            TroubleCode::Lossy => "lossy",
            TroubleCode::Silent => "silent",
            TroubleCode::Unreadable => "unreadable",
            TroubleCode::WrongFingering => "wrong-fingering",
            TroubleCode::RoomUnknown => "room-unknown",
        }
    }
}

/// Spread of one player's repeats when the takes do not tell it, cents (common practice: 2 to 5 for a practised player; no
/// source).
pub const PLAYER_SPREAD_CENTS: f64 = 3.0;
/// As many repeats that figure counts as, beside those that were played (our choice).
pub const SPREAD_COUNTS_AS: f64 = 4.0;
/// Repeats of one note count as lying no farther from their mean than this, cents: what is farther is a slip, and one slip
/// must not make the whole evening's spread (our choice).
pub const SPREAD_SLIP_CENTS: f64 = 8.0;

/// How far single takes of a note scatter about their mean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlayerSpread {
    /// One standard deviation, cents.
    pub cents: f64,
    /// Whether repeats told it, beside what is usual.
    pub from_repeats: bool,
}

/// The player's spread: repeats about their mean, pooled over all notes with what is usual. Each of `repeats` holds the
/// pitches (hertz) of takes that were meant to sound the same.
#[must_use]
pub fn player_spread(repeats: impl Iterator<Item = Vec<f64>>) -> PlayerSpread {
    let (mut sum_of_squares, mut freedoms) = (0.0, 0.0);
    for pitches in repeats.filter(|pitches| pitches.len() > 1) {
        let cents: Vec<f64> = pitches.iter().map(|&hz| cents_between(hz, pitches[0])).collect();
        let mean = cents.iter().sum::<f64>() / cents.len() as f64;
        let most = (SPREAD_SLIP_CENTS * SPREAD_SLIP_CENTS) * (cents.len() as f64 - 1.0);
        sum_of_squares += cents.iter().map(|c| (c - mean).powi(2)).sum::<f64>().min(most);
        freedoms += cents.len() as f64 - 1.0;
    }
    let usual = SPREAD_COUNTS_AS * PLAYER_SPREAD_CENTS.powi(2);
    let cents = ((sum_of_squares + usual) / (freedoms + SPREAD_COUNTS_AS)).sqrt();
    PlayerSpread { cents, from_repeats: freedoms > 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::shift_by_cents;

    fn of_two(apart_cents: f64) -> PlayerSpread {
        player_spread([vec![100.0, shift_by_cents(100.0, apart_cents)], vec![70.0]].into_iter())
    }

    #[test]
    fn the_spread_is_what_is_usual_until_repeats_tell_more() {
        let alone = player_spread([vec![100.0], vec![]].into_iter());
        assert_eq!(alone, PlayerSpread { cents: PLAYER_SPREAD_CENTS, from_repeats: false });
        let apart = of_two(10.0);
        assert!((apart.cents - ((4.0 * 9.0 + 50.0) / 5.0_f64).sqrt()).abs() < 1e-9 && apart.from_repeats);
    }

    #[test]
    fn one_slip_does_not_make_the_whole_spread() {
        assert_eq!(of_two(40.0).cents, of_two(400.0).cents);
    }
}
