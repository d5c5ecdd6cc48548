//! What the notes of a long recording may be taken as: how far off they lie, and what each slip of player and ear costs,
//! in natural logarithms of how much less likely it makes a way. Our choice, all of them.
//!
//! Must not know recordings.

/// All notes may lie so far off the prediction together, cents: three times what air, reed and model
/// usually add up to.
pub const MOST_COMMON_CENTS: i32 = 80;
/// … and usually lie within this (one standard deviation): ±10 cents of the model, and room and reed
/// not as written.
pub const COMMON_SD_CENTS: f64 = 30.0;
/// Within this of another resonance of its fingering a note has jumped there, cents.
pub const JUMP_CENTS: f64 = 80.0;
/// A note of less than this share of the usual length was broken off (our own choice).
pub const SHORT_SHARE: f64 = 0.5;

/// Scale of how far notes lie off their predictions, cents. The law is Student's t with two degrees of
/// freedom, `(1 + d²/2s²)^(-3/2)`: most notes lie close, but the instrument is unfinished, and a single
/// one may lie far off.
pub const OFF_CENTS: f64 = 15.0;
/// Beyond this a note is not its fingering's own resonance, cents.
pub const FARTHEST_CENTS: f64 = 300.0;
/// Repeats of one fingering lie closer, cents.
pub const REPEAT_CENTS: f64 = 12.0;
/// … but one of the two may have jumped to another register.
pub const REPEAT_MOST: f64 = 3.0;
/// Cost of playing a fingering again.
pub const REPEAT: f64 = 1.0;
/// Another register than the wanted one sounded.
pub const JUMP: f64 = 4.0;
/// The ear may have read an octave or a twelfth too high or low.
pub const MISREAD: f64 = 5.0;
/// What the ear then takes the pitch times.
pub const MISREAD_FACTORS: [f64; 4] = [2.0, 3.0, 0.5, 1.0 / 3.0];
/// One playable fingering passed over in the middle, at the beginning, left at the end; and the most
/// that passing over costs.
pub const SKIP: f64 = 2.5;
/// See [`SKIP`].
pub const SKIP_FIRST: f64 = 1.5;
/// See [`SKIP`].
pub const SKIP_LAST: f64 = 1.0;
/// See [`SKIP`].
pub const SKIP_MOST: f64 = 10.0;
/// Going back: to the fingering just before, as on the way down again; to any other; to the beginning,
/// to play all once more.
pub const STEP_BACK: f64 = 3.0;
/// See [`STEP_BACK`].
pub const BACK: f64 = 6.0;
/// See [`STEP_BACK`].
pub const START_AGAIN: f64 = 4.0;
/// A fingering that the file calls not playable yet.
pub const PLANNED: f64 = 4.0;
/// A note left out: broken off at once; a whole note; without a pitch.
pub const LEAVE_SHORT: f64 = 1.5;
/// See [`LEAVE_SHORT`].
pub const LEAVE: f64 = 7.0;
/// See [`LEAVE_SHORT`].
pub const LEAVE_NOTHING: f64 = 0.5;
/// The same of a silent file that was named for a fingering.
pub const LEAVE_MEANT_NOTHING: f64 = 3.0;
/// A broken-off note taken as a take (cheaper than to pass over a fingering that has no other one); a
/// silent file taken for its fingering.
pub const TAKE_SHORT: f64 = 1.8;
/// See [`TAKE_SHORT`].
pub const TAKE_NOTHING: f64 = 2.2;
/// Another fingering within this of the best is told: less than e^1.5 = 4.5 times less likely.
pub const NEARLY: f64 = 1.5;
