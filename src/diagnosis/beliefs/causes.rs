//! How large the faults are that are weighed.
//!
//! Must not know instruments.

/// How much wider a hole may act than the file says, as a share of its diameter …
pub const HOLE_SHARES: [f64; 14] =
    [-0.36, -0.28, -0.22, -0.17, -0.13, -0.09, -0.05, 0.05, 0.09, 0.13, 0.17, 0.22, 0.28, 0.36];
/// … and one standard deviation (our choice, as all sizes here: no one counted how wrong makers measure).
pub const HOLE_SD_SHARE: f64 = 0.20;
/// Diameters of the round hole that a leak is like, mm, all as likely (our choice).
pub const LEAK_DIAMETERS_MM: [f64; 10] = [0.4, 0.48, 0.56, 0.65, 0.75, 0.87, 1.0, 1.2, 1.5, 1.9];
/// How much warmer the air may be than the file says, °C …
pub const AIR_STEPS_C: [f64; 12] = [-11.0, -9.0, -7.5, -6.0, -4.5, -3.0, 3.0, 4.5, 6.0, 7.5, 9.0, 11.0];
/// … and one standard deviation (our choice).
pub const AIR_SD_C: f64 = 5.0;
/// How much longer the tube may be at the top, mm …
pub const TOP_STEPS_MM: [f64; 12] = [-20.0, -15.0, -11.0, -8.0, -5.0, -3.0, 3.0, 5.0, 8.0, 11.0, 15.0, 20.0];
/// … and one standard deviation (our choice).
pub const TOP_SD_MM: f64 = 8.0;
/// How much longer it may be at the open end, mm …
pub const END_STEPS_MM: [f64; 10] = [-20.0, -14.0, -9.0, -6.0, -3.0, 3.0, 6.0, 9.0, 14.0, 20.0];
/// … and one standard deviation (our choice).
pub const END_SD_MM: f64 = 8.0;
/// How much wider the bore may be at the top and narrower at the end, as a share of its width …
pub const TAPER_SHARES: [f64; 8] = [-0.05, -0.03, -0.02, -0.01, 0.01, 0.02, 0.03, 0.05];
/// … and one standard deviation (our choice).
pub const TAPER_SD_SHARE: f64 = 0.02;
/// How much wider it may be at one place, as a share of its width …
pub const BORE_PLACE_SHARES: [f64; 6] = [-0.2, -0.12, -0.06, 0.06, 0.12, 0.2];
/// … and one standard deviation (our choice).
pub const BORE_PLACE_SD_SHARE: f64 = 0.1;
/// Times its size a vent's area or height may act, all as likely (our choice).
pub const VENT_FACTORS: [f64; 8] = [0.5, 0.65, 0.8, 0.9, 1.15, 1.3, 1.6, 2.0];
/// How far it may sit from where the file says, as a share of the tube, all as likely (our choice).
pub const VENT_PLACES_SHARE: [f64; 8] = [-0.05, -0.035, -0.02, -0.01, 0.01, 0.02, 0.035, 0.05];

/// A leak does to the note that is blown as usual between two thirds and one and a half times what is computed (our own
/// simulations of a blown reed).
pub const LEAK_GAINS: [f64; 3] = [0.67, 1.0, 1.5];
/// What is assumed when a resonance is lost: farther than any note is compared, cents.
pub const LOST_CENTS: f64 = 400.0;
/// And how much lower it is then, dB (our choice, both).
pub const LOST_DB: f64 = -40.0;

/// So many places are tried along the tube: nearer ones leave one and the same mark on the notes (our choice).
pub const PLACES: usize = 12;
/// Length of bore that is wider or narrower, mm: only the volume counts while it is short beside the wave (our choice,
/// a gap at a joint or the stump of a node).
pub const PLACE_LENGTH_MM: f64 = 8.0;
