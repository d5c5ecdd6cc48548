//! How far the notes scatter when the layout is drilled and measured as well as can be done at the bench: the
//! air column computed again and again with errors drawn at random.
//!
//! Must not know what the notes should be.

use std::f64::consts::TAU;

use rayon::prelude::*;

use super::limits::Limits;
use crate::acoustics::resonance::follow;
use crate::instrument::alter::trim_end;
use crate::instrument::column::column;
use crate::instrument::model::Instrument;
use crate::units::cents_between;

/// So many bodies are drawn.
const BODIES: u64 = 400;
/// A twist drill cuts this much over its size in plastic and wood, mm, evenly between (common practice, no
/// source).
const OVERSIZE_MM: [f64; 2] = [0.05, 0.2];
/// Nothing is drilled smaller or hung lower, mm.
const LEAST_MM: f64 = 0.1;
/// The share of bodies that the scatter tells.
const SHARE: f64 = 0.9;

/// How far notes scatter, cents: nine bodies of ten lie nearer.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Scatter {
    /// Each fingering; `None` where the note has no pitch.
    pub(super) notes_cents: Vec<Option<f64>>,
    /// All notes together: nine of ten notes lie nearer.
    pub(super) all_cents: f64,
}

/// Scatters every hole that is still to be drilled, the end and the bore.
pub(super) fn scatter(instrument: &Instrument, limits: &Limits, predicted_hz: &[Option<f64>]) -> Scatter {
    let bodies: Vec<Vec<Option<f64>>> = (0..BODIES)
        .into_par_iter()
        .map(|seed| {
            let body = drawn(instrument, limits, &mut Dice { state: seed });
            let fingerings = body.fingerings.iter().zip(predicted_hz);
            fingerings
                .map(|(fingering, hz)| {
                    let hz = (*hz)?;
                    follow(&column(&body, &fingering.open, &[]), hz)
                        .map(|found| cents_between(found, hz).abs())
                })
                .collect()
        })
        .collect();
    let of_note = |note: usize| bodies.iter().filter_map(|body| body[note]).collect::<Vec<f64>>();
    Scatter {
        notes_cents: (0..predicted_hz.len()).map(|note| percentile(of_note(note))).collect(),
        all_cents: percentile(bodies.iter().flatten().flatten().copied().collect()).unwrap_or(0.0),
    }
}

/// One body as it comes from the bench.
fn drawn(instrument: &Instrument, limits: &Limits, dice: &mut Dice) -> Instrument {
    let mut body = instrument.clone();
    let error = instrument.workshop.measured_to;
    for (index, hole) in body.holes.iter_mut().enumerate() {
        let [least, most] = OVERSIZE_MM;
        let oversize_mm =
            if hole.vent || !limits.may_move(index) { 0.0 } else { least + (most - least) * dice.even() };
        hole.at_mm += error.place_mm * dice.normal();
        hole.diameter_mm = (hole.diameter_mm + oversize_mm + error.diameter_mm * dice.normal()).max(LEAST_MM);
        hole.chimney_mm = (hole.chimney_mm + error.chimney_mm * dice.normal()).max(0.0);
        if let Some(pad) = hole.pad.as_mut() {
            pad.lift_mm = (pad.lift_mm + error.lift_mm * dice.normal()).max(LEAST_MM);
        }
    }
    trim_end(&mut body, error.place_mm * dice.normal());
    let wider_mm = error.bore_mm * dice.normal();
    body.bore.iter_mut().for_each(|point| point.diameter_mm += wider_mm);
    body
}

fn percentile(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let place = ((SHARE * values.len() as f64).ceil() as usize).saturating_sub(1);
    values.get(place).copied()
}

/// Random numbers that are the same everywhere: splitmix64 (S. Vigna, public domain; from memory).
struct Dice {
    state: u64,
}

impl Dice {
    /// Evenly from 0 up to, but not including, 1.
    fn even(&mut self) -> f64 {
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.state.wrapping_mul(0xd134_2543_de82_ef95);
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^= z >> 31;
        (z >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Normal with mean 0 and standard deviation 1 (G. E. P. Box & M. E. Muller, Ann. Math. Stat. 29 (1958) 610).
    fn normal(&mut self) -> f64 {
        (-2.0 * (1.0 - self.even()).ln()).sqrt() * (TAU * self.even()).cos()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_dice_are_normal_and_differ_from_body_to_body() {
        let draws: Vec<f64> = (0..4000).map(|seed| Dice { state: seed }.normal()).collect();
        let mean = draws.iter().sum::<f64>() / 4000.0;
        let variance = draws.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / 4000.0;
        // Four standard errors of mean and variance of 4000 draws.
        assert!(mean.abs() < 4.0 / 4000_f64.sqrt(), "{mean}");
        assert!((variance - 1.0).abs() < 4.0 * (2.0 / 4000_f64).sqrt(), "{variance}");
    }

    #[test]
    fn nine_of_ten_lie_within_the_told_distance() {
        assert_eq!(percentile((1..=100).map(f64::from).collect()), Some(90.0));
        assert_eq!(percentile(Vec::new()), None);
    }
}
