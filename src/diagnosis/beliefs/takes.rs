//! What a take may hold beside the note that is wanted, and how far off each lies.
//!
//! Must not know takes or instruments.

/// How far one player's takes scatter: where the book compares takes as well.
pub use crate::analysis::measurement::{PLAYER_SPREAD_CENTS, SPREAD_COUNTS_AS, SPREAD_SLIP_CENTS};

/// Spreads that are believed before anything was heard, cents, with their shares: most practised players lie at 2 to 5
/// cents (common practice, no source).
pub const PLAYER_SPREADS: [(f64, f64); 3] = [(1.7, 0.3), (PLAYER_SPREAD_CENTS, 0.45), (5.0, 0.25)];

/// How often a player means a fingering and a lower register sounds (our choice: slips are rare, and a note falls more
/// often than it jumps).
pub const FALLS: f64 = 0.02;
/// A note falls more often where the same note or the next one fell: one vent serves several (our choice).
pub const FALLS_BESIDE: f64 = 0.3;
/// The same of a jump to a higher register (our choice).
pub const JUMPS: f64 = 0.01;
/// The same of another fingering in its own register (our choice).
pub const OTHER_FINGERING: f64 = 0.005;
/// Another fingering and another register at once (our choice).
pub const OTHER_OF_OTHER_REGISTER: f64 = 0.001;
/// The same of anything else (our choice).
pub const ANYTHING: f64 = 0.005;
/// How far a note may lie off, cents: its own with every fault of the body, less what others share (our choice);
/// again by the same player (common practice: 2 to 5, no source); another resonance, whose place under an open
/// vent is known less well; another fingering's.
pub const OWN_CENTS: f64 = 15.0;
/// See [`OWN_CENTS`].
pub const AGAIN_CENTS: f64 = 6.0;
/// See [`OWN_CENTS`].
pub const REGISTER_CENTS: f64 = 25.0;
/// See [`OWN_CENTS`].
pub const OTHER_CENTS: f64 = 10.0;
/// A stranger may be anywhere within three octaves, cents (our choice).
pub const ANYWHERE_CENTS: f64 = 3600.0;
/// Lines between the partials as strong as this against the note, dB, are as likely of a note that speaks with
/// an undertone as of a lower one …
pub const EVEN_LEFT_OUT_DB: f64 = -8.0;
/// … and by a factor e less for each further step of this size, dB (our choice, both: most undertones stay 15 dB below,
/// and one as strong as all of its note is believed one time in two hundred).
pub const LEFT_OUT_SCALE_DB: f64 = 1.5;

/// What all takes share is believed up to this, cents (our choice).
pub const MOST_COMMON_CENTS: f64 = 25.0;
/// A take this far from its own prediction tells nothing of where others of the fingering should lie, cents …
pub const FAR_CENTS: f64 = 70.0;
/// … and this far from it, nothing of its neighbours: it is another register's …
pub const OTHER_REGISTER_CENTS: f64 = 1000.0;
/// … as it surely is so far below: an octave or more, less what an open vent lifts a lower one (our choice).
pub const FALLEN_CENTS: f64 = 800.0;
/// A neighbour this far off in the same direction speaks for a fault of the instrument (our choice).
pub const NEIGHBOUR_OFF_CENTS: f64 = 40.0;
/// A tone this weak over the breath is hardly one (our choice) …
pub const BREATH_DB: f64 = 6.0;
/// … when the evening's median take is clearer by this much, dB: else the room is to blame (our choice).
pub const CLEARER_DB: f64 = 12.0;
