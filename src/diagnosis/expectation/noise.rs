//! How far measured and predicted pitch may differ before anything is wrong: player, measuring
//! tape, air, reed, and the model's own error, as one covariance over the notes.
//!
//! Must not know faults.

use crate::acoustics::blown::blown_hz;
use crate::acoustics::resonance::follow;
use crate::diagnosis::beliefs::DRIFT_CENTS;
use crate::diagnosis::beliefs::expectation::{
    BLOWING_SHARE, CHAMBER_ML, CHAMBER_SHAPE_SHARE, COMMON_CENTS, FINGER_RADII, HOLE_HEIGHT_RADII,
    LEARNT_REED_SHARE, OF_THE_DAY_CENTS, REGISTER_CENTS, SINGLE_CENTS, SMOOTH_CENTS, SMOOTH_OCTAVES,
    UNKNOWN_REED_SHARE,
};
use crate::diagnosis::takes::condition::Bench;
use crate::diagnosis::takes::evidence::Evidence;
use crate::instrument::column::{column, reed_give_ml};
use crate::instrument::model::{Hole, Instrument, MeasuredTo};
use crate::units::cents_between;

/// The notes that can be compared, and what noise is expected in them.
#[derive(Default)]
pub struct Noise {
    /// Fingerings with a measured and a predicted pitch: first those of the instrument as it is, in the file's order, then
    /// those of the tests.
    pub fingerings: Vec<usize>,
    /// What each was played under; 0 for the instrument as it is.
    pub conditions: Vec<usize>,
    /// Measured minus predicted, cents.
    pub offsets_cents: Vec<f64>,
    /// How far usual blowing draws each of them off the prediction beyond what it does to all, cents.
    pub drawn_cents: Vec<f64>,
    /// How far each of them is known beforehand to lie off, however it is blown, cents: 0 until something is learnt.
    pub learnt_cents: Vec<f64>,
    /// Covariance of everything but the player, cents²: what the notes would keep however often they are
    /// played.
    pub instrument: Vec<Vec<f64>>,
    /// Covariance of what the evenings differ by, cents²; all 0 where all was played on one.
    pub between_evenings: Vec<Vec<f64>>,
    /// How many takes count, for each note; fewer where some of them look like slips.
    pub takes: Vec<f64>,
    /// The part that all notes share smoothly (air, player, reed, model), cents².
    pub common: Vec<Vec<f64>>,
}

/// Sets up the noise for the notes that have takes.
#[must_use]
pub fn expected_noise(bench: &Bench<'_>, evidence: &Evidence) -> Noise {
    let instrument = bench.instrument;
    let mut noise = Noise::default();
    let mut base: Vec<f64> = Vec::new();
    let mut evening_shares: Vec<&[f64]> = Vec::new();
    for note in evidence.notes.iter().chain(&evidence.tests) {
        let predicted_hz =
            |condition: usize| bench.predicted_under(condition).get(note.fingering)?.predicted_hz;
        let (Some(own_hz), Some(hz), Some(sd_cents), Some(measured_hz)) =
            (predicted_hz(0), predicted_hz(note.condition), note.sd_cents, note.measured_hz)
        else {
            continue;
        };
        noise.fingerings.push(note.fingering);
        noise.conditions.push(note.condition);
        noise.offsets_cents.push(cents_between(measured_hz, hz));
        noise.takes.push((evidence.player_spread_cents / sd_cents).powi(2));
        base.push(own_hz);
        evening_shares.push(&note.evening_shares);
    }
    // What the instrument does to a note it does to it under every condition.
    let (fingerings, own_hz) = each_once(&noise.fingerings, &base);
    let drawn_cents = drawn_by_blowing(instrument, &fingerings, &own_hz);
    let one: Vec<usize> = noise
        .fingerings
        .iter()
        .map(|f| fingerings.iter().position(|known| known == f).unwrap_or_default())
        .collect();
    let mut common = lasting(instrument, &fingerings, &own_hz);
    for pattern in shared_patterns(instrument, &fingerings, &own_hz, &drawn_cents) {
        add_pattern(&mut common, &pattern);
    }
    let mut all = common.clone();
    for pattern in measuring_patterns(instrument, &fingerings, &own_hz) {
        add_pattern(&mut all, &pattern);
    }
    add_pattern(&mut all, &finger_pattern(instrument, &fingerings, &own_hz));
    for (i, row) in all.iter_mut().enumerate() {
        row[i] += SINGLE_CENTS.powi(2);
    }
    let spread_out = |of_fingerings: &[Vec<f64>]| -> Vec<Vec<f64>> {
        one.iter().map(|&i| one.iter().map(|&j| of_fingerings[i][j]).collect()).collect()
    };
    noise.common = spread_out(&common);
    noise.instrument = spread_out(&all);
    for i in 0..one.len() {
        for j in 0..one.len() {
            if noise.conditions[i] == noise.conditions[j] && noise.conditions[i] > 0 {
                noise.common[i][j] += DRIFT_CENTS.powi(2);
                noise.instrument[i][j] += DRIFT_CENTS.powi(2);
            }
        }
    }
    noise.tell_evenings_apart(&evening_shares);
    noise.drawn_cents = one.iter().map(|&i| drawn_cents[i]).collect();
    noise.learnt_cents = vec![0.0; one.len()];
    noise
}

/// Each fingering once, with its predicted pitch, in the order of the first time.
fn each_once(fingerings: &[usize], base_hz: &[f64]) -> (Vec<usize>, Vec<f64>) {
    let mut once: (Vec<usize>, Vec<f64>) = (Vec::new(), Vec::new());
    for (&fingering, &hz) in fingerings.iter().zip(base_hz) {
        if !once.0.contains(&fingering) {
            once.0.push(fingering);
            once.1.push(hz);
        }
    }
    once
}

/// Covariance of what lasts and of the day, for fingerings with these predicted pitches, cents².
fn lasting(instrument: &Instrument, fingerings: &[usize], base_hz: &[f64]) -> Vec<Vec<f64>> {
    let note = |i: usize| (instrument.fingerings[fingerings[i]].register, base_hz[i]);
    let cell = |i: usize, j: usize| OF_THE_DAY_CENTS.powi(2) + lasting_covariance(note(i), note(j));
    (0..fingerings.len()).map(|i| (0..fingerings.len()).map(|j| cell(i, j)).collect()).collect()
}

impl Noise {
    /// How many of the notes were played on the instrument as it is; they come first.
    #[must_use]
    pub fn ordinary(&self) -> usize {
        self.conditions.iter().filter(|condition| **condition == 0).count()
    }

    /// How far each note is expected to lie off the prediction when this share of what usual blowing does is done, cents:
    /// 0 for soft notes, 1 for usual ones.
    #[must_use]
    pub fn expected_cents(&self, usual: f64) -> Vec<f64> {
        self.learnt_cents
            .iter()
            .zip(&self.drawn_cents)
            .map(|(learnt, drawn)| learnt + usual * drawn)
            .collect()
    }

    /// Each evening brings its own offset of the day, of which a note has the share of its takes that was played then: the
    /// notes keep the mean of the offsets, which has the variance of one by their number, and what the single evenings
    /// differ from it is none of the instrument's.
    fn tell_evenings_apart(&mut self, shares: &[&[f64]]) {
        let evenings = shares.iter().map(|shares| shares.len()).max().unwrap_or(1).max(1) as f64;
        let variance = OF_THE_DAY_CENTS.powi(2);
        self.between_evenings = vec![vec![0.0; shares.len()]; shares.len()];
        if evenings < 2.0 {
            return;
        }
        for (i, a) in shares.iter().enumerate() {
            for (j, b) in shares.iter().enumerate() {
                let together: f64 = a.iter().zip(*b).map(|(a, b)| a * b).sum();
                self.common[i][j] += variance * (together - 1.0);
                self.instrument[i][j] += variance * (1.0 / evenings - 1.0);
                self.between_evenings[i][j] = variance * (together - 1.0 / evenings);
            }
        }
    }

    /// Whole covariance when the player's single takes spread by `spread_cents`, cents². A take's own
    /// uncertainty is far below any player's spread and is left out.
    #[must_use]
    pub fn covariance(&self, spread_cents: f64) -> Vec<Vec<f64>> {
        let mut covariance = self.instrument.clone();
        for ((i, row), takes) in covariance.iter_mut().enumerate().zip(&self.takes) {
            row.iter_mut().zip(&self.between_evenings[i]).for_each(|(cell, evenings)| *cell += evenings);
            row[i] += spread_cents * spread_cents / *takes;
        }
        covariance
    }
}

/// Covariance of what two notes, each by register and predicted hertz, keep from day to day and from body to body, cents²:
/// player, tuning standard, and the model's own error.
pub(in crate::diagnosis) fn lasting_covariance(a: (usize, f64), b: (usize, f64)) -> f64 {
    let mut value = COMMON_CENTS.powi(2) - OF_THE_DAY_CENTS.powi(2);
    if a.0 == b.0 {
        if a.0 > 1 {
            value += REGISTER_CENTS.powi(2);
        }
        let octaves = (a.1 / b.1).log2() / SMOOTH_OCTAVES;
        value += SMOOTH_CENTS.powi(2) * (-0.5 * octaves * octaves).exp();
    }
    value
}

/// One standard deviation of each thing that moves all notes in a pattern of its own, always in this order; the first
/// two are the mouthpiece's.
pub(in crate::diagnosis) fn shared_patterns(
    instrument: &Instrument,
    fingerings: &[usize],
    base: &[f64],
    drawn_cents: &[f64],
) -> [Vec<f64>; 4] {
    [
        reed_pattern(instrument, fingerings, base),
        chamber_shape_pattern(instrument, fingerings, base),
        hole_height_pattern(instrument, fingerings, base),
        drawn_cents.iter().map(|cents| BLOWING_SHARE * cents).collect(),
    ]
}

/// Reed give and chamber are one pattern on a cylinder; one standard deviation of both together.
fn reed_pattern(instrument: &Instrument, fingerings: &[usize], base: &[f64]) -> Vec<f64> {
    let Some(mouthpiece) = instrument.mouthpiece else { return vec![0.0; base.len()] };
    let give_ml = reed_give_ml(instrument);
    let share = if mouthpiece.reed_ml.is_some() { LEARNT_REED_SHARE } else { UNKNOWN_REED_SHARE };
    let sd_ml = (share * give_ml).hypot(CHAMBER_ML);
    shift_pattern(instrument, fingerings, base, |changed| {
        if let Some(mouthpiece) = changed.mouthpiece.as_mut() {
            mouthpiece.reed_ml = Some(give_ml + sd_ml);
        }
    })
}

/// What changes when the chamber is a lump of air instead of a piece of bore.
fn chamber_shape_pattern(instrument: &Instrument, fingerings: &[usize], base: &[f64]) -> Vec<f64> {
    let give_ml = reed_give_ml(instrument);
    let lumped = shift_pattern(instrument, fingerings, base, |changed| {
        if let Some(mouthpiece) = changed.mouthpiece.as_mut() {
            mouthpiece.reed_ml = Some(give_ml + mouthpiece.chamber_ml);
            mouthpiece.chamber_ml = 0.0;
        }
    });
    lumped.iter().map(|cents| CHAMBER_SHAPE_SHARE * cents).collect()
}

/// All holes taller by one standard deviation of what the formulas may be off.
fn hole_height_pattern(instrument: &Instrument, fingerings: &[usize], base: &[f64]) -> Vec<f64> {
    chimney_pattern(instrument, fingerings, base, |hole| {
        if hole.vent { 0.0 } else { HOLE_HEIGHT_RADII * 0.5 * hole.diameter_mm }
    })
}

/// Fingertips that go in less deep, all alike, in the holes that each note has closed; nothing where the file names no
/// hole that a finger closes.
fn finger_pattern(instrument: &Instrument, fingerings: &[usize], base: &[f64]) -> Vec<f64> {
    if !instrument.holes.iter().any(|hole| hole.finger) {
        return vec![0.0; base.len()];
    }
    // A small step down, for the reason told at `chimney_pattern`.
    const STEP_SHARE: f64 = -0.05;
    let moved = |(&fingering, &hz): (&usize, &f64)| {
        let open = &instrument.fingerings[fingering].open;
        let mut changed = instrument.clone();
        for (index, hole) in changed.holes.iter_mut().enumerate() {
            if hole.finger && !open.contains(&index) {
                hole.chimney_mm += STEP_SHARE * FINGER_RADII * 0.5 * hole.diameter_mm;
            }
        }
        let moved_hz = follow(&column(&changed, open, &[]), hz);
        moved_hz.map_or(0.0, |moved| cents_between(moved, hz) / STEP_SHARE)
    };
    fingerings.iter().zip(base).map(moved).collect()
}

/// Cents by which each note moves when each chimney grows by as many mm as `taller_mm` says: from a small step down, so that
/// a hole that is flush in the tube's outside is not computed as one that stands free.
fn chimney_pattern(
    instrument: &Instrument,
    fingerings: &[usize],
    base: &[f64],
    taller_mm: impl Fn(&Hole) -> f64,
) -> Vec<f64> {
    const STEP_SHARE: f64 = -0.05;
    let step = shift_pattern(instrument, fingerings, base, |changed| {
        for hole in &mut changed.holes {
            hole.chimney_mm += STEP_SHARE * taller_mm(hole);
        }
    });
    step.iter().map(|cents| cents / STEP_SHARE).collect()
}

/// How far usual blowing draws each note off its resonance, cents; without the mean of all, which the common offset
/// and the reed's give, learnt by blowing, hold already.
fn drawn_by_blowing(instrument: &Instrument, fingerings: &[usize], base: &[f64]) -> Vec<f64> {
    let drawn: Vec<f64> = fingerings
        .iter()
        .zip(base)
        .map(|(&f, &hz)| {
            cents_between(blown_hz(&column(instrument, &instrument.fingerings[f].open, &[]), hz), hz)
        })
        .collect();
    let mean = drawn.iter().sum::<f64>() / drawn.len().max(1) as f64;
    drawn.into_iter().map(|cents| cents - mean).collect()
}

/// One standard deviation of everything the maker measured, one pattern each.
fn measuring_patterns(instrument: &Instrument, fingerings: &[usize], base: &[f64]) -> Vec<Vec<f64>> {
    let MeasuredTo { place_mm, diameter_mm, chimney_mm, lift_mm, bore_mm } = instrument.workshop.measured_to;
    let mut patterns = Vec::new();
    for index in (0..instrument.holes.len()).filter(|&hole| instrument.holes[hole].drilled) {
        let own = &instrument.holes[index].name;
        let taller_mm = |hole: &Hole| if hole.name == *own { chimney_mm } else { 0.0 };
        patterns.push(chimney_pattern(instrument, fingerings, base, taller_mm));
        let mut add = |change: &dyn Fn(&mut Instrument)| {
            patterns.push(shift_pattern(instrument, fingerings, base, |changed| change(changed)));
        };
        add(&|changed| changed.holes[index].at_mm += place_mm);
        add(&|changed| changed.holes[index].diameter_mm += diameter_mm);
        if instrument.holes[index].pad.is_some() {
            add(&|changed| {
                if let Some(pad) = changed.holes[index].pad.as_mut() {
                    pad.lift_mm += lift_mm;
                }
            });
        }
    }
    let last = instrument.bore.len().saturating_sub(1);
    patterns
        .push(shift_pattern(instrument, fingerings, base, |changed| changed.bore[last].at_mm += place_mm));
    // Both ends of the bore are measured; a wrong difference between them is a taper.
    patterns.push(shift_pattern(instrument, fingerings, base, |changed| taper(changed, bore_mm)));
    patterns
}

/// Makes the bore wider by `wider_mm` at the top and narrower by as much at the end, straight between.
pub fn taper(instrument: &mut Instrument, wider_mm: f64) {
    let length_mm = instrument.length_mm();
    for point in &mut instrument.bore {
        point.diameter_mm += wider_mm * (1.0 - 2.0 * point.at_mm / length_mm);
    }
}

/// Cents by which each note moves when `change` is made; 0 where a resonance is lost.
fn shift_pattern(
    instrument: &Instrument,
    fingerings: &[usize],
    base: &[f64],
    change: impl Fn(&mut Instrument),
) -> Vec<f64> {
    let mut changed = instrument.clone();
    change(&mut changed);
    fingerings
        .iter()
        .zip(base)
        .map(|(&f, &hz)| {
            let column = column(&changed, &instrument.fingerings[f].open, &[]);
            follow(&column, hz).map_or(0.0, |moved| cents_between(moved, hz))
        })
        .collect()
}

fn add_pattern(covariance: &mut [Vec<f64>], pattern: &[f64]) {
    for (row, a) in covariance.iter_mut().zip(pattern) {
        for (cell, b) in row.iter_mut().zip(pattern) {
            *cell += a * b;
        }
    }
}
