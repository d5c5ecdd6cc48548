//! How a blown reed draws a note off its resonance: the note's harmonics meet the higher resonances, and where those
//! are no exact multiples of the first, all of them settle on a frequency between.
//!
//! SI units and hertz. Must not know names, files or what was measured.

use num_complex::Complex64;

use crate::acoustics::circuit::Circuit;
use crate::acoustics::column::{Column, Top};

/// Odd harmonics that are looked at; a reed on a tube closed at the top makes hardly any others.
const HARMONICS: [f64; 3] = [1.0, 3.0, 5.0];

/// Slope of flow over pressure of a reed in the middle of its quiet range, in units of S/ρc: `ζ (3γ − 1)/(2√γ)` with
/// ζ = 0.3 and γ = 0.42, half-way from where a note begins (1/3) to where the reed beats (1/2). Flow law: T. A. Wilson &
/// G. S. Beavers, J. Acoust. Soc. Am. 56 (1974) 653; ζ as usual on clarinets; both from memory.
const REED_SLOPE: f64 = 0.060;

/// A note as it is blown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Blown {
    /// Where it sounds, hertz.
    pub hz: f64,
    /// Height of its resonance, see [`super::resonance::Resonance::magnitude`].
    pub height: f64,
}

/// Where a note of `column` whose resonance is at `hz` sounds when it is blown, hertz. An air jet is taken not to draw it.
#[must_use]
pub fn blown_hz(column: &Column, hz: f64) -> f64 {
    blown(&Circuit::new(column), hz).hz
}

/// The same in a column that is ready for evaluation, with how high the resonance at `hz` is.
///
/// The reactive power of all harmonics together is nothing, as no spring or mass hides in a quick reed's flow:
/// `Σ n |p_n|² Im Y(n f) = 0`, reed give counted to Y (X. Boutillon, J. Acoust. Soc. Am. 95 (1994) 2970, abstract
/// read). That playing frequencies follow from the impedance curve with a term for inharmonicity: W. L. Coyle,
/// P. Guillemain, J. Kergomard & J.-P. Dalmont, J. Acoust. Soc. Am. 138 (2015) 2770, abstract read. The harmonics are
/// a square wave's, each weakened as its resonance fails it: `|p_n/p_1| = |g/(g + Y_n − Y_1)|/n` with the reed's slope
/// g (exact for a third harmonic by a cubic flow law; own derivation).
#[must_use]
pub fn blown(circuit: &Circuit, hz: f64) -> Blown {
    let load = |hz: f64| circuit.driven_load(hz);
    let first = load(hz);
    let height = 1.0 / first.norm();
    let undrawn = Blown { hz, height };
    if matches!(circuit.top(), Top::AirJet { .. }) {
        return undrawn;
    }
    let (mut reactive, mut slope) = (0.0, 0.0);
    for n in HARMONICS {
        let here = if n == 1.0 { first } else { load(n * hz) };
        let pull = n * harmonic_share(n, here, first).powi(2);
        reactive += pull * here.im;
        slope += pull * (load(n * hz * (1.0 + SMALL)).im - here.im) / SMALL;
    }
    // Beside a resonance the load's imaginary part rises; where the sum does not, nothing draws the note away.
    if slope <= 0.0 {
        return undrawn;
    }
    // One step of Newton's rule: the draw is small beside the width of the resonances.
    Blown { hz: hz * (1.0 - (reactive / slope).clamp(-FARTHEST, FARTHEST)), height }
}

/// Step for slopes, as a share of the frequency.
const SMALL: f64 = 1e-6;
/// Farthest that a note is drawn, as a share of the frequency (about 35 cents).
const FARTHEST: f64 = 0.02;

fn harmonic_share(n: f64, load: Complex64, first: Complex64) -> f64 {
    REED_SLOPE / (REED_SLOPE + load - first).norm() / n
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::acoustics::radiation::OpenEnd;
    use crate::acoustics::resonance::resonances;
    use crate::air::Air;
    use crate::units::cents_between;

    fn tube(pieces: &[(f64, f64, f64)]) -> Column {
        let mut column = Column {
            pieces: Vec::new(),
            end_radius: pieces[pieces.len() - 1].1,
            end: OpenEnd::Unflanged,
            air: Air::keefe(24.0),
            loss_factor: 1.0,
            top_radius: pieces[0].0,
            top: Top::Reed { give_volume: 0.0 },
        };
        for &(top, bottom, length) in pieces {
            column.push_bore(top, bottom, length, None);
        }
        column
    }

    /// Where the first note sounds, cents above its resonance, and the second resonance's place, cents above three
    /// times the first.
    fn drawn_and_inharmonicity(column: &Column) -> (f64, f64) {
        let found = resonances(column, 2, 2000.0);
        let drawn = cents_between(blown_hz(column, found[0].hz), found[0].hz);
        (drawn, cents_between(found[1].hz, 3.0 * found[0].hz))
    }

    #[test]
    fn a_note_is_drawn_towards_its_second_resonance_and_never_past_it() {
        // A wide stretch at the top flattens the second resonance against the first, a narrow one sharpens it.
        for top_radius in [0.008, 0.009, 0.010, 0.011, 0.012] {
            let column = tube(&[(top_radius, top_radius, 0.1), (0.010, 0.010, 1.2)]);
            let (drawn, inharmonicity) = drawn_and_inharmonicity(&column);
            assert!(drawn.signum() == inharmonicity.signum(), "{top_radius}: {drawn}, {inharmonicity}");
            assert!(drawn.abs() < inharmonicity.abs(), "{top_radius}: {drawn}, {inharmonicity}");
        }
    }

    #[test]
    fn a_note_is_drawn_by_about_half_of_a_small_inharmonicity() {
        let (drawn, inharmonicity) = drawn_and_inharmonicity(&tube(&[(0.010, 0.010, 1.3)]));
        assert!((0.3..0.8).contains(&(drawn / inharmonicity)), "{drawn} of {inharmonicity}");
    }
}
