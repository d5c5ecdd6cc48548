//! What is believed before anything was heard, what things cost, and from where on something counts: every prior,
//! cost and threshold of the diagnosis in one place.
//!
//! Each figure says where it comes from: published, common practice, our choice, or our own simulations. Nothing here
//! was chosen by scoring on recordings. What only sets how finely something is computed, or how many lines are told, stays
//! where it is used. Must not know instruments or takes.

pub mod causes;
pub mod decisions;
pub mod expectation;
pub mod findings;
pub mod sequence;
pub mod takes;
pub mod work;

/// Prior odds of each kind of cause against "nothing is wrong", shared among its places (our choice: leaks are the first
/// thing a repairer looks for, holes the second; common practice, no source).
pub const HOLES_ODDS: f64 = 0.6;
/// The same of all leaks together.
pub const LEAKS_ODDS: f64 = 0.88;
/// The same of all pads that stay shut.
pub const STUCK_ODDS: f64 = 0.05;
/// The same of air that is warmer or colder than the file says, where nobody measured it …
pub const AIR_ODDS: f64 = 0.165;
/// … and where somebody did (our choice: a thermometer in a warm bore is a degree or two off at most).
pub const MEASURED_AIR_ODDS: f64 = 0.02;
/// The same of the top of the tube with mouthpiece and reed.
pub const TOP_ODDS: f64 = 0.165;
/// The same of the length at the open end.
pub const END_ODDS: f64 = 0.03;
/// The same of a bore that narrows or widens along its length.
pub const TAPER_ODDS: f64 = 0.03;
/// The same of one place of the bore at a joint or post …
pub const SITE_BORE_ODDS: f64 = 0.01;
/// … and elsewhere.
pub const PLAIN_BORE_ODDS: f64 = 0.0025;
/// The same of a vent's size, and again of its place.
pub const VENT_ODDS: f64 = 0.03;
/// A hole that was measured a second time with care is wrong in the file this much more seldom (our choice).
pub const MEASURED_AGAIN: f64 = 0.1;

/// A vent's pad leaks this much more often than any one pad or post: it is small, works hardest, and is pressed first
/// (common practice, no source).
pub const VENT_PAD_LEAKS: f64 = 3.0;

/// What a cause does to single notes differs from what is computed by this share of it, one standard deviation (our choice:
/// formulas for holes and ends agree to a tenth) …
pub const MODEL_SHARE: f64 = 0.1;
/// … and for leaks, whose flow is turbulent and differs with each note's strength (our choice).
pub const LEAK_MODEL_SHARE: f64 = 0.2;

/// A fault that moves no note by more than this, cents, and weakens none, is no fault for the maker: it is less than the
/// player scatters from take to take; and no hole is opened, nor a pad raised, for less (our choice).
pub const MATERIAL_CENTS: f64 = 3.0;
/// A note whose resonance a fault lowers by this much, dB, is weakened (our choice: a third of what makes it fail).
pub const MATERIAL_DB: f64 = -3.0;

/// How likely a maker's feeler, ear or cigarette paper says "leaks" where it leaks, and where it doesn't; "tight" is the
/// opposite (our choice: such tests are right about nine times in ten).
pub const FEELER_LEAKS: (f64, f64) = (0.85, 0.08);
/// How likely "tight" is said where it leaks, and where it does not (our choice).
pub const FEELER_TIGHT: (f64, f64) = (0.05, 0.92);
/// How likely a player says "unchanged" of closing a place that leaks, and of one that does not (our choice: a change of
/// few cents is easily missed).
pub const EAR_UNCHANGED: (f64, f64) = (0.2, 0.9);

/// A take is a slip (another register, a squeak, a wrong finger) with this chance (our choice).
pub const SLIP_CHANCE: f64 = 0.02;
/// And then its pitch lies this far off, one standard deviation, cents (our choice: takes farther off are recognised as
/// another register).
pub const SLIP_CENTS: f64 = 25.0;

/// Drift that all notes share between takes played at different times of one evening, as instrument and lip warm up; one
/// standard deviation, cents (our choice).
pub const DRIFT_CENTS: f64 = 1.5;

/// Takes that lie farther apart than this, hours, were not played on one evening (our choice: nobody's lip lasts longer).
pub const EVENING_HOURS: f64 = 4.0;

/// Minutes of the maker's time for one take (common practice, no source, as all these costs).
pub const TAKE_MINUTES: f64 = 0.5;
/// Minutes to press a pad, stop a vent or wind film round a post (common practice, no source).
pub const PRESS_MINUTES: f64 = 2.0;
/// Minutes for each further place that is closed at the same time (common practice, no source).
pub const FURTHER_PLACE_MINUTES: f64 = 1.0;
/// Minutes that any test takes besides: to get up, to record, to check again (our choice).
pub const TEST_OVERHEAD_MINUTES: f64 = 3.0;
/// Minutes to measure something (common practice, no source).
pub const MEASURE_MINUTES: f64 = 2.0;
/// Minutes for a cut, a fill, or sealing a place for good (common practice, no source).
pub const CUT_MINUTES: f64 = 15.0;
/// Minutes to seal a place for good and play everything again (our choice).
pub const SEAL_MINUTES: f64 = 25.0;
/// Minutes of testing that it takes to learn one bit about where it leaks: a test of seven minutes that tells half a bit,
/// since takes scatter and the marks of neighbouring places resemble one another (our choice).
pub const MINUTES_A_BIT: f64 = 14.0;
/// Minutes that a ruined body costs: forty hours (common practice, no source).
pub const RUINED_MINUTES: f64 = 2400.0;
/// A cut slips, or a fault that nobody saw makes it wrong, so that the body is ruined, with this chance (our choice).
pub const RUIN_CHANCE: f64 = 0.01;
/// What a fault that stays costs in the end, minutes for each cent that it moves the worst note (our choice) …
pub const MISSED_MINUTES_A_CENT: f64 = 4.0;
/// … and a leak that stays, which spoils tone and every later measurement as well …
pub const MISSED_LEAK_MINUTES_A_CENT: f64 = 8.0;
/// … and at most, minutes: an evening.
pub const MISSED_MOST_MINUTES: f64 = 240.0;
/// What it is worth, minutes, to bring a note of weight 1 to its target from the edge of what is good enough; from farther
/// off it is worth more with the square of the distance (our choice: with the costs above and 5 cents good enough, a note
/// 6 cents off is just worth a cut that leaves it 2 cents off).
pub const MINUTES_FROM_THE_EDGE: f64 = 30.0;
/// Cutting is begun when a note is farther off than this many times what is good enough (our choice: 8 cents where 5 are
/// good enough; nearer than that an instrument is in tune, and drill and clamp are not fetched for it). Once it is begun,
/// every note is brought in that is surely off.
pub const BEGIN_CUTTING_FROM: f64 = 1.6;

/// A place or cause that is less likely than this is not tested (our choice).
pub const TEST_FROM: f64 = 0.03;

/// What was seen comes before weighed findings that are less likely than this: an undertone under one note, and under
/// two or more, unless a leak makes it; another fingering's note (all our choice).
pub const UNDERTONE_IS_FAULT: f64 = 0.8;
/// See [`UNDERTONE_IS_FAULT`].
pub const UNDERTONES_ARE_FAULTS: f64 = 0.95;
/// See [`UNDERTONE_IS_FAULT`].
pub const WRONG_FINGERING_COMES_BEFORE: f64 = 0.97;

/// Nothing is cut while something leaks with this probability or more, unless the file's own measures ask for the cut
/// (our choice).
pub const NO_CUT_FROM_LEAK: f64 = 0.15;
/// A first-register note this far off by its geometry alone, cents, has a hole that must be opened or filled whatever
/// leaks besides: the prediction knows of no leak (our choice: three times what is left alone).
pub const KNOWN_OFF_CENTS: f64 = 15.0;

/// A note is cut for only when it is farther off than what is good enough with this probability: by one standard uncertainty
/// (our choice).
pub const SURELY_OFF: f64 = 0.84;
/// A note is worth playing again when it may be farther off than what is good enough with this probability (our choice).
pub const PERHAPS_OFF: f64 = 0.6;
/// The air inside an instrument that has been played warm, °C (common practice, no source).
pub const WARM_C: f64 = 24.0;
/// Air that is measured so cold or so warm that all notes are off by this much, cents, is left to pass: nothing is set for it
/// (our choice: three degrees).
pub const AIR_PASSES_FROM_CENTS: f64 = 8.0;
/// A bore that is otherwise than the file says, and so likely, is measured before anything is set or cut (our choice).
pub const BORE_LEADS_FROM: f64 = 0.3;
/// Air that is otherwise than the file says, and so likely, is measured before anything is set for it (our choice).
pub const MEASURE_AIR_FROM: f64 = 0.3;
/// Share of a cut's effect that is not known beforehand, one standard deviation (our choice: the drill, the file's own
/// measures, and the formulas for holes).
pub const CUT_EFFECT_SHARE: f64 = 0.15;
/// A first cut stops so far short that its note ends on the wrong side of the target by more than this share of what is
/// good enough …
pub const FIRST_CUT_OVERSHOOT: f64 = 0.5;
/// … only when it errs by this many standard uncertainties: with a chance of one in twenty (our choice, both).
pub const FIRST_CUT_SDS: f64 = 1.65;
/// A first cut brings at least this share of the whole one (our choice: less is not worth the drill).
pub const FIRST_CUT_LEAST: f64 = 0.4;
/// Minutes for a trial fill with wax and the lasting one afterwards (our choice).
pub const FILL_MINUTES: f64 = 30.0;
/// As many takes of a note as a cut should rest on (our choice).
pub const TAKES_FOR_A_CUT: usize = 3;
/// The mouthpiece is pushed in and pulled out by at most this much in one go, mm (our choice: what a socket allows).
pub const MOST_IN_MM: f64 = 10.0;
/// See [`MOST_IN_MM`].
pub const MOST_OUT_MM: f64 = 15.0;
