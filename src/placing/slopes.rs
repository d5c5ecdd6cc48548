//! How every note moves with every free measure, for solving: quick, and exact enough to find the way. What is found is
//! never judged by it.
//!
//! Must not know what is wanted.

use rayon::prelude::*;

use super::task::{Task, Unknown};
use crate::acoustics::circuit::Circuit;
use crate::instrument::column::column;
use crate::instrument::model::Instrument;
use crate::instrument::twelfth::open_tone_holes;

/// A measure is moved by this much, mm: small against what bends the curves, large against rounding.
const STEP_MM: f64 = 0.25;
/// Step of the logarithm of frequency for the steepness of the reactance.
const LOG_STEP: f64 = 1e-5;
/// Hardly any of the standing wave is left below so many open tone holes: what lies there is taken to move nothing (our
/// choice; a twentieth of a cent a millimetre and less on plain tubes).
const OPEN_HOLES_FELT: usize = 5;

/// Cents per millimetre: one row a free measure of `task`, one column a fingering; 0 where the note has no pitch.
/// `pitches_hz` are those of `instrument`, which has these `values`.
pub(super) fn slopes(
    task: &Task<'_>,
    instrument: &Instrument,
    values: &[f64],
    pitches_hz: &[Option<f64>],
) -> Vec<Vec<f64>> {
    let bounds = task.bounds();
    let deepest_mm: Vec<f64> =
        (0..pitches_hz.len()).map(|fingering| deepest_felt_mm(instrument, fingering)).collect();
    let here: Vec<Option<Here>> = (0..pitches_hz.len())
        .into_par_iter()
        .map(|fingering| {
            Some(Here::of(instrument, &instrument.fingerings[fingering].open, pitches_hz[fingering]?))
        })
        .collect();
    let one = |(index, unknown): (usize, &Unknown)| -> Vec<f64> {
        let step_mm = if values[index] + STEP_MM <= bounds.most[index] { STEP_MM } else { -STEP_MM };
        let mut moved = values.to_vec();
        moved[index] += step_mm;
        let moved = task.with_values(&moved);
        let at_mm = match *unknown {
            Unknown::At(hole) | Unknown::Size(hole) => instrument.holes[hole].at_mm,
            Unknown::End => instrument.length_mm(),
        };
        let slope = |fingering: usize| {
            let here = here[fingering].as_ref().filter(|_| at_mm <= deepest_mm[fingering])?;
            Some(here.cents_to(&moved, &moved.fingerings[fingering].open) / step_mm)
        };
        (0..pitches_hz.len()).map(|fingering| slope(fingering).unwrap_or(0.0)).collect()
    };
    task.free.par_iter().enumerate().map(one).collect()
}

/// A resonance: where the reactance of column and drive passes zero, and how fast.
struct Here {
    hz: f64,
    /// At `hz`, nearly 0.
    reactance: f64,
    /// How it grows with the logarithm of frequency.
    steepness: f64,
}

impl Here {
    fn of(instrument: &Instrument, open: &[usize], hz: f64) -> Here {
        let column = column(instrument, open, &[]);
        let circuit = Circuit::new(&column);
        let reactance = |hz: f64| circuit.driven_load(hz).im;
        let rise = reactance(hz * (1.0 + LOG_STEP)) - reactance(hz * (1.0 - LOG_STEP));
        Here { hz, reactance: reactance(hz), steepness: rise / (2.0 * LOG_STEP) }
    }

    /// How far the resonance lies higher in a body that is nearly the same, by Newton's rule.
    fn cents_to(&self, body: &Instrument, open: &[usize]) -> f64 {
        let column = column(body, open, &[]);
        let moved = Circuit::new(&column).driven_load(self.hz).im - self.reactance;
        -1200.0 / std::f64::consts::LN_2 * moved / self.steepness
    }
}

/// The place of the last open tone hole that counts, mm; infinite where there are fewer.
fn deepest_felt_mm(instrument: &Instrument, fingering: usize) -> f64 {
    let mut open_mm: Vec<f64> =
        open_tone_holes(instrument, fingering).iter().map(|&hole| instrument.holes[hole].at_mm).collect();
    open_mm.sort_by(f64::total_cmp);
    open_mm.get(OPEN_HOLES_FELT - 1).copied().unwrap_or(f64::INFINITY)
}
