//! How likely a pitch is under each of the things that a take may hold: its own note, another register, another
//! fingering, anything.
//!
//! Every place is believed with a double-exponential scatter (P. S. Laplace's first law of errors, 1774, from
//! memory): it forgives one slip far out where a bell would not. Chances are natural logarithms, densities a
//! cent. Must not know takes or instruments.

use crate::diagnosis::beliefs::takes::{
    AGAIN_CENTS, ANYTHING, ANYWHERE_CENTS, EVEN_LEFT_OUT_DB, FALLS, FALLS_BESIDE, JUMPS, LEFT_OUT_SCALE_DB,
    OTHER_CENTS, OTHER_FINGERING, OTHER_OF_OTHER_REGISTER, OWN_CENTS, REGISTER_CENTS,
};

/// A stretch of pitch in which a note is believed, cents from anywhere.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Place {
    pub low_cents: f64,
    pub high_cents: f64,
}

impl Place {
    pub fn at(cents: f64) -> Place {
        Place { low_cents: cents, high_cents: cents }
    }

    /// Stretched so far that it holds `cents`.
    pub fn reaching(self, cents: f64) -> Place {
        Place { low_cents: self.low_cents.min(cents), high_cents: self.high_cents.max(cents) }
    }

    /// Even within the stretch, falling off outside of it.
    fn ln_density(self, cents: f64, scatter_cents: f64) -> f64 {
        let outside = (self.low_cents - cents).max(cents - self.high_cents).max(0.0);
        -(self.high_cents - self.low_cents + 2.0 * scatter_cents).ln() - outside / scatter_cents
    }
}

/// How often a note falls to a lower register; `beside`: the same note or the next one was heard to.
pub(super) fn falls(beside: bool) -> f64 {
    if beside { FALLS_BESIDE } else { FALLS }
}

/// Log chance density of the note that is wanted, where notes fall with the chance `falls`; `heard_again`: its place is
/// known from other takes of the fingering.
pub(super) fn own_note(cents: f64, place: Place, heard_again: bool, falls: f64) -> f64 {
    let speaks: f64 = 1.0 - falls - JUMPS - OTHER_FINGERING - ANYTHING;
    speaks.ln() + place.ln_density(cents, if heard_again { AGAIN_CENTS } else { OWN_CENTS })
}

/// The same of a resonance below the wanted one.
pub(super) fn lower_register(cents: f64, place: Place, falls: f64) -> f64 {
    falls.ln() + place.ln_density(cents, REGISTER_CENTS)
}

/// A resonance above the wanted one.
pub(super) fn higher_register(cents: f64, place: Place) -> f64 {
    JUMPS.ln() + place.ln_density(cents, REGISTER_CENTS)
}

/// The note of another fingering.
pub(super) fn other_fingering(cents: f64, place: Place, same_register: bool) -> f64 {
    let slip: f64 = if same_register { OTHER_FINGERING } else { OTHER_OF_OTHER_REGISTER };
    slip.ln() + place.ln_density(cents, OTHER_CENTS)
}

/// No note of this instrument.
pub(super) fn anything() -> f64 {
    (ANYTHING / ANYWHERE_CENTS).ln()
}

/// What it speaks against a note that it leaves out lines of this power against its own, dB.
pub(super) fn against_leaving_out(left_out_db: f64) -> f64 {
    (left_out_db - EVEN_LEFT_OUT_DB) / LEFT_OUT_SCALE_DB
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_chances_of_a_place_add_up_to_one() {
        let place = Place::at(-40.0).reaching(100.0);
        let sum: f64 = (-3000..3000).map(|cents| place.ln_density(f64::from(cents), 25.0).exp()).sum();
        assert!((sum - 1.0).abs() < 1e-3, "{sum}");
    }

    #[test]
    fn a_note_alone_is_believed_to_a_semitone_and_a_half() {
        let speaks = |cents: f64| own_note(cents, Place::at(0.0), false, falls(false)) > anything();
        assert!(speaks(130.0) && !speaks(170.0));
    }
}
