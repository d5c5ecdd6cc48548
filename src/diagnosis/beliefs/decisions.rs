//! From where on something is asked, looked at or said.
//!
//! Must not know instruments or takes.

/// A test shows itself only on notes that it moves by more than this, cents (our choice).
pub const LEAST_SHOWN_CENTS: f64 = 2.0;
/// Places next to one another are closed together when their part of all leaks' weight is at least this. It may be all of
/// it: that shows whether anything leaks at all (our choice).
pub const SHARED_PART_FROM: f64 = 0.25;
/// More places than this can't be closed at once (our choice: two hands and a strip of film).
pub const MOST_CLOSED: usize = 4;

/// A stuck pad is looked at from this weight on (our choice).
pub const LOOK_FROM: f64 = 0.3;
/// Most holes that are cut before the instrument is played again (our choice).
pub const MOST_CUTS: usize = 8;
/// Holes are cut together only when none moves another's note by more than this, cents: of what one does to
/// another's note, a seventh is not known beforehand (our choice).
pub const APART_CENTS: f64 = 5.0;
/// A note whose takes failed this often is not asked for again: it does not speak, and that is a fact (our choice).
pub const ENOUGH_FAILURES: usize = 3;

/// Holes that are likelier than this to be otherwise than the file says are not drilled to a size (our choice).
pub const DOUBTFUL_FROM: f64 = 0.2;
/// Fewer takes than this are one take, slips left out (our choice).
pub const ALMOST_TWO_TAKES: f64 = 1.5;

/// Notes that sound this near to what the doubted geometry predicts, cents, prove it (our choice: a third of what makes a
/// question).
pub const PROVEN_CENTS: f64 = 50.0;

/// A plain tube disagrees with its file beyond this many standard uncertainties: one sound tube in twenty would (our
/// choice).
pub const TUBE_DISAGREES_SDS: f64 = 2.0;

/// A leak that is less likely than a test is worth is mentioned from this weight on (our choice).
pub const SMALL_LEAK_FROM: f64 = 0.1;
/// What is said where the takes were played in other air than the instrument is tuned for, °C apart (our choice).
pub const OTHER_AIR_C: f64 = 1.0;
