//! From where on something is told as a finding, and what is told apart.
//!
//! Must not know instruments or takes.

/// A note speaks for a cause, or against it, when by itself it changes its log odds by this much (our choice:
/// one and a half times as likely).
pub const SPEAKS: f64 = 0.4;

/// As many takes of the note are asked for (our choice).
pub const TAKES: usize = 3;
/// A note tells two causes apart when their predictions for it differ by this many standard uncertainties (our choice).
pub const TELLS_SDS: f64 = 2.0;
/// A cause of the same group is no rival when it weighs less than this share of the other (our choice).
pub const RIVAL_SHARE: f64 = 0.15;
/// Farther apart, one of the two would not let the note speak, cents (our choice).
pub const MOST_CENTS: f64 = 100.0;
/// A cause that is less likely than this is no rival (our choice).
pub const RIVAL_FROM: f64 = 0.1;

/// An undertone fainter than this is not told as a fault, dB below the strongest partial (real wind
/// notes carry none above −40 dB in the recordings we measured: our choice after them).
pub const FAINTEST_DB: f64 = -40.0;
/// A free line counts as nearly a fraction within this distance, cents: as far as the player can push a note
/// off the resonance below it (our choice).
pub const NEARLY_CENTS: f64 = 50.0;
/// A free line under a vented note is its lower resonance's within a semitone: the note draws it along (our choice).
pub const LOWER_CENTS: f64 = 100.0;

/// A finding lighter than this is not told (our choice).
pub const LEAST_WEIGHT: f64 = 0.03;
/// Two causes whose marks on the notes are closer than this (squared, in units of the noise: a
/// likelihood ratio of e² on average) …
pub const ALIKE_BELOW: f64 = 4.0;
/// … and whose weights are within this ratio cannot be told apart (our choice, both).
pub const LEAST_SHARE_IN_GROUP: f64 = 0.15;
/// Likelier than not: a leak this likely comes before what it may disturb, a lost recording before cuts (our choice).
pub const LIKELIER_THAN_NOT: f64 = 0.5;
