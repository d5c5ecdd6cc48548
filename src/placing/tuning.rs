//! How far a layout is from what is wanted: the notes' cents and the rows of the wishes, with their slopes.
//!
//! Must not know how the values are changed.

use super::fit::Misfit;
use super::slopes::slopes as table_of_slopes;
use super::task::Task;
use super::wishes::Wishes;
use crate::instrument::model::Instrument;
use crate::instrument::prediction::cents_near;
use crate::units::shift_by_cents;

/// Up to about here a note counts by the square of its cents, beyond only in proportion: a note that can't be met
/// must not spoil all others (our choice; P. J. Huber, Ann. Math. Stat. 35 (1964) 73, in the smooth form that is used
/// since; from memory).
const HOPELESS_CENTS: f64 = 10.0;
/// What a note counts whose resonance is lost, cents.
pub(super) const LOST_CENTS: f64 = 600.0;
/// Step of the wishes' slopes, mm: they are simple functions.
const WISH_STEP_MM: f64 = 1e-3;

/// The rows of one task.
pub(super) struct Tuning<'a, 't> {
    pub(super) task: &'a Task<'t>,
    pub(super) wishes: &'a Wishes<'t>,
    /// Where each note is followed from, hertz; `None`: it is looked for from the bottom.
    pub(super) near_hz: Vec<Option<f64>>,
}

impl Tuning<'_, '_> {
    fn note_rows(&self, instrument: &Instrument) -> Vec<f64> {
        cents_near(instrument, &self.near_hz)
            .into_iter()
            .enumerate()
            .map(|(fingering, cents)| self.task.limits.weight(fingering) * felt(cents.unwrap_or(LOST_CENTS)))
            .collect()
    }
}

/// What a misfit counts: itself when small, less when it is hopeless; its square grows only in proportion then.
pub(super) fn felt(cents: f64) -> f64 {
    let share = cents / HOPELESS_CENTS;
    cents.signum() * HOPELESS_CENTS * (2.0 * (1.0_f64.hypot(share) - 1.0)).sqrt()
}

/// The misfit that counts so much.
fn told_by(felt: f64) -> f64 {
    let share = felt / HOPELESS_CENTS;
    let root = 1.0 + 0.5 * share * share;
    felt.signum() * HOPELESS_CENTS * (root * root - 1.0).sqrt()
}

/// How what counts grows with the misfit.
fn felt_slope(cents: f64) -> f64 {
    let counted = felt(cents);
    if counted.abs() < 1e-6 { 1.0 } else { cents / (counted * 1.0_f64.hypot(cents / HOPELESS_CENTS)) }
}

impl Misfit for Tuning<'_, '_> {
    fn rows(&self, values: &[f64]) -> Vec<f64> {
        let instrument = self.task.with_values(values);
        let mut rows = self.note_rows(&instrument);
        rows.extend(self.wishes.rows(&instrument));
        rows
    }

    fn slopes(&self, values: &[f64], rows: &[f64]) -> Vec<Vec<f64>> {
        let instrument = self.task.with_values(values);
        let notes = instrument.fingerings.len();
        let weight = |fingering: usize| self.task.limits.weight(fingering);
        let off_cents: Vec<f64> = (0..notes).map(|f| told_by(rows[f] / weight(f))).collect();
        let pitches: Vec<Option<f64>> = instrument
            .fingerings
            .iter()
            .zip(&off_cents)
            .map(|(fingering, &cents)| {
                let is_lost = cents > LOST_CENTS - 1.0;
                (!is_lost).then(|| shift_by_cents(instrument.target_hz(fingering), cents))
            })
            .collect();
        let table = table_of_slopes(self.task, &instrument, values, &pitches);
        let mut slopes: Vec<Vec<f64>> = (0..notes)
            .map(|fingering| {
                let felt_per_cent = weight(fingering) * felt_slope(off_cents[fingering]);
                table.iter().map(|row| felt_per_cent * row[fingering]).collect()
            })
            .collect();
        slopes.extend(self.wish_slopes(values, &rows[notes..]));
        slopes
    }
}

impl Tuning<'_, '_> {
    fn wish_slopes(&self, values: &[f64], here: &[f64]) -> Vec<Vec<f64>> {
        let moved: Vec<Vec<f64>> = (0..values.len())
            .map(|i| {
                let mut values = values.to_vec();
                values[i] += WISH_STEP_MM;
                self.wishes.rows(&self.task.with_values(&values))
            })
            .collect();
        let slope = |row: usize| moved.iter().map(|m| (m[row] - here[row]) / WISH_STEP_MM).collect();
        (0..here.len()).map(slope).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_misfits_count_as_they_are_and_hopeless_ones_little_more() {
        assert!((felt(0.5) / 0.5 - 1.0).abs() < 1e-3);
        // Four times the misfit, twice what it counts.
        assert!((felt(-1600.0) / felt(-400.0) - 2.0).abs() < 0.03);
    }

    #[test]
    fn a_misfit_is_read_back_from_what_it_counts_and_the_slope_is_its_derivative() {
        for cents in [-300.0, -12.0, -0.01, 0.2, 7.0, 90.0] {
            assert!((told_by(felt(cents)) / cents - 1.0).abs() < 1e-6, "{cents}");
            let slope = (felt(cents + 1e-4) - felt(cents - 1e-4)) / 2e-4;
            assert!((felt_slope(cents) / slope - 1.0).abs() < 1e-5, "{cents}");
        }
        assert_eq!((felt(0.0), felt_slope(0.0)), (0.0, 1.0));
    }
}
