//! When an expected pitch may decide what a sound is: only between notes that the sound itself offers.
//!
//! The lines alone offer one note. The expected pitch may put another in its place, an octave or a twelfth
//! away, if the sound holds lines that speak for it, and none of the first note's that are stronger than its
//! own. Must not know the instrument.

use super::comb::{Candidate, Comb};
use super::hum::Hum;
use super::measurement::Unasked;
use crate::units::cents_between;

/// An expected pitch may be this far off, cents.
const EXPECTED_WITHIN_CENTS: f64 = 250.0;
/// A comb near the expected pitch must explain at least this share of what the best one does.
const EXPECTED_WORTH: f64 = 0.25;
/// Most power that the lines left out of a note may have against its own partials, dB (our choice: a reed that beats
/// every second or third period puts lines between the partials whose power comes near the note's own, not over twice
/// of it).
const LEFT_OUT_DB: f64 = 3.0;
/// A note whose frequency is lower than the best comb's by this factor or more needs [`OWN_LINES`] further partials of
/// its own (our choice: one line may be anything that rings along; an octave or a twelfth is decided by power instead).
const FAR_BELOW: f64 = 4.0;
/// See [`FAR_BELOW`].
const OWN_LINES: usize = 2;

/// The note that was chosen.
pub(super) struct Choice {
    pub candidate: Candidate,
    /// What the lines alone offered, when the expectation decided otherwise.
    pub unasked: Option<Unasked>,
}

/// Whether a pitch is near the expected one.
pub(super) fn is_near(hz: f64, expect_hz: f64) -> bool {
    cents_between(hz, expect_hz).abs() <= EXPECTED_WITHIN_CENTS
}

/// The note of a spectrum. `None` when no comb explains anything.
pub(super) fn choose(comb: &Comb, hum: &Hum, expect_hz: Option<f64>) -> Option<Choice> {
    let blind = comb.best()?;
    let expected =
        expect_hz.filter(|&hz| !is_near(blind.hz, hz)).and_then(|hz| offered(comb, hum, &blind, hz));
    Some(expected.unwrap_or(Choice { candidate: blind, unasked: None }))
}

/// The note near the expected pitch, if the sound offers it beside the one that its lines alone mean.
fn offered(comb: &Comb, hum: &Hum, blind: &Candidate, expect_hz: f64) -> Option<Choice> {
    let near = comb.near(expect_hz, EXPECTED_WITHIN_CENTS)?;
    let left_out_db = comb.left_out_db(near.hz, blind.hz);
    let times = (blind.hz / near.hz).round();
    let has_own_lines = || {
        let lines = comb.own_lines(near.hz, times as usize);
        lines.into_iter().filter(|&hz| !hum.may_hold(hz)).take(OWN_LINES).count() == OWN_LINES
    };
    let is_offered = near.worth > EXPECTED_WORTH * blind.worth
        && left_out_db < LEFT_OUT_DB
        && (times < FAR_BELOW || has_own_lines());
    is_offered.then_some(Choice { candidate: near, unasked: Some(Unasked { hz: blind.hz, left_out_db }) })
}
