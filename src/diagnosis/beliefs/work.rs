//! What bounds each cut.
//!
//! Must not know instruments.

use super::{CUT_MINUTES, RUIN_CHANCE, RUINED_MINUTES};

/// Holes are opened to this side of the target and no farther: what is left can still be taken
/// (common practice, no source).
pub const STAY_FLAT_CENTS: f64 = 2.0;
/// From this on, cents, an offset of all notes is named beside that of a single one (our choice).
pub const TELL_SHARED_CENTS: f64 = 1.5;

/// Of what can be spared below the last hole, no more than this share is cut off (our choice).
pub const SPARE_SHARE: f64 = 0.8;
/// An end is never moved farther than this share of the tube (our choice).
pub const FARTHEST_SHARE: f64 = 0.1;

/// This much of a chimney must still stand above the tube's wall, so that a pad finds a level seat (our choice).
pub const LEAST_STANDING_MM: f64 = 1.0;
/// Chimneys are filed in steps that calipers can follow, mm (our choice).
pub const STEP_MM: f64 = 0.1;
/// A shortening below this is within what calipers and felt give, mm (our choice).
pub const LEAST_WORTH_MM: f64 = 0.3;

/// Half millimetres from 1 to 25: what a home bench has when the file names no drills (common practice,
/// no source).
pub const HOME_STEP_MM: f64 = 0.5;
/// Less than this is not filed after a drill, mm (our choice: what a drill itself errs by).
pub const LEAST_FILED_MM: f64 = 0.15;

/// Where opening a hole can't bring this share of what is wanted, its chimney is looked at first (our choice).
pub const LEAST_SHARE: f64 = 0.5;
/// A fill can be taken out again, so that most of it goes in at once (our choice).
pub const FIRST_FILL_SHARE: f64 = 0.8;
/// What a cut with the drill costs and risks, minutes (from the costs above it).
pub const CUT_PRICE_MINUTES: f64 = CUT_MINUTES + RUIN_CHANCE * RUINED_MINUTES;

/// A note that is good enough may be moved outward by this much: less than anybody can hear or measure, cents (our choice).
pub const UNHEARD_CENTS: f64 = 1.5;
