//! How far measured and predicted may differ while nothing is wrong, and when a sound note fails.
//!
//! Must not know notes or instruments.

/// Common offset of all notes: room thermometer, breath, tuning standard, the model's absolute error (our choice). The
/// transfer-matrix method is within 10 cents absolutely (A. Lefebvre, PhD thesis, McGill 2010, abstract read): two
/// standard deviations of 5, of which the reed's give, learnt by playing, holds a part already; a thermometer is within
/// a degree: 3 cents.
pub const COMMON_CENTS: f64 = 5.0;
/// The part of it that another day does not bring again: thermometer, breath, and how the reed lies (our choice). Each
/// evening on which takes of a step were played brings its own.
pub const OF_THE_DAY_CENTS: f64 = 3.0;
/// Offset of each higher register against the first (our choice).
pub const REGISTER_CENTS: f64 = 3.5;
/// Error that changes slowly from note to note, and over how many octaves (our choice).
pub const SMOOTH_CENTS: f64 = 3.5;
/// See [`SMOOTH_CENTS`].
pub const SMOOTH_OCTAVES: f64 = 0.7;
/// Error of single notes that nothing else explains (our choice).
pub const SINGLE_CENTS: f64 = 1.0;
/// Reed give: known to this share when the maker gives it, and when the rule of thumb gives it (our choice).
pub const LEARNT_REED_SHARE: f64 = 0.10;
/// See [`LEARNT_REED_SHARE`].
pub const UNKNOWN_REED_SHARE: f64 = 0.30;
/// Chamber volume weighed with water, ml (common practice, no source).
pub const CHAMBER_ML: f64 = 0.3;
/// How far the formulas for holes may be off, alike for all holes, in hole radii of chimney height: the shape of the rim
/// and the hang of the pad are simplified (our choice; published fits differ by 0.02 to 0.15).
pub const HOLE_HEIGHT_RADII: f64 = 0.15;
/// The mouthpiece's chamber counts as bore of the same volume; a short wide chamber is nearer to a lump of
/// air at the top. This share of the difference is one standard deviation (our choice).
pub const CHAMBER_SHAPE_SHARE: f64 = 0.7;
/// How far a fingertip goes into a hole differs from finger to finger, and what it takes of the hole's volume was
/// concluded from the series length, not measured. It takes about half a radius of height; half of that is one standard
/// deviation (our choice).
pub const FINGER_RADII: f64 = 0.25;
/// Soft or usual, the player draws a note more or less off its resonance: this share of what usual blowing does is
/// one standard deviation (our choice).
pub const BLOWING_SHARE: f64 = 0.5;

/// A note fails although nothing is wrong in this share of takes; with its resonance this much lower, in
/// half of them; the chance rises over this range (our choice, after the bench: half a millimetre costs
/// 4 to 6 dB and the low notes come out thin; 0.8 mm costs 10 dB and they no longer come).
pub const FAILS_ANYWAY: f64 = 0.03;
/// See [`FAILS_ANYWAY`].
pub const FAILS_HALF_DB: f64 = -10.0;
/// See [`FAILS_ANYWAY`].
pub const FAILS_RANGE_DB: f64 = 1.5;
/// Tone over breath of a healthy instrument, all our choice: no one knows how high in each register; rising with pitch
/// between not at all, as breath and tone leave by the same holes, and 6 dB an octave, as a small source radiates
/// against a room's noise (H. Levine & J. Schwinger, Phys. Rev. 73 (1948) 383, from memory); one standard deviation of
/// that; scatter from take to take.
pub const LEVEL_DB: f64 = 20.0;
/// See [`LEVEL_DB`].
pub const RISE_DB_PER_OCTAVE: f64 = 3.0;
/// See [`LEVEL_DB`].
pub const SLOPE_DB_PER_OCTAVE: f64 = 6.0;
/// See [`LEVEL_DB`].
pub const SCATTER_DB: f64 = 3.0;
/// How many dB of tone over breath go with each dB of the resonance's height: near the threshold of speaking
/// the tone falls faster than the resonance, and half the time it tells nothing, because the player blows
/// harder or the microphone stands elsewhere (our choice). Each with its share.
pub const TONE_GAINS: [(f64, f64); 5] = [(0.0, 0.5), (0.5, 0.125), (1.0, 0.125), (2.0, 0.125), (3.0, 0.125)];

/// How likely a player says of a note that it is slow, hissy, stuffy or squeals: so seldom when nothing is wrong …
pub const HEARD_BADLY_ANYWAY: f64 = 0.08;
/// … so often once its resonance is much lower …
pub const HEARD_BADLY_MOSTLY: f64 = 0.7;
/// … and half as often when it is lower by this, dB (our choice, all three).
pub const HEARD_BADLY_HALF_DB: f64 = -3.0;

/// Share of evenings on which the notes are taken to be soft (our choice: nobody is told how to blow).
pub const SOFT_SHARE: f64 = 0.3;

/// Fewer notes than this teach nothing that one bad take could not overthrow (our choice).
pub const LEAST_NOTES: usize = 5;
/// Chambers within this share of each other are one mouthpiece's (our choice).
pub const SAME_CHAMBER_SHARE: f64 = 0.05;

/// Scatter of what a cause does, where it is below this, is lost in the player's, cents (our choice).
pub const LEAST_INEXACT_CENTS: f64 = 1.0;
