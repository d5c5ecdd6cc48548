//! How far a layout is from what is wanted: the notes' cents and the rows of the wishes, with their slopes.
//!
//! Must not know how the values are changed.

use super::fit::Misfit;
use super::task::Task;
use super::wishes::Wishes;
use crate::instrument::model::Instrument;
use crate::instrument::prediction::predict;
use crate::instrument::sensitivity::sensitivities;
use crate::units::shift_by_cents;

/// What a note counts whose resonance is lost, cents.
pub(super) const LOST_CENTS: f64 = 600.0;
/// Step of the wishes' slopes, mm: they are simple functions.
const WISH_STEP_MM: f64 = 1e-3;

/// The rows of one task.
pub(super) struct Tuning<'a, 't> {
    pub(super) task: &'a Task<'t>,
    pub(super) wishes: &'a Wishes<'t>,
}

impl Tuning<'_, '_> {
    fn note_rows(&self, instrument: &Instrument) -> Vec<f64> {
        predict(instrument)
            .iter()
            .map(|note| self.task.limits.weight(note.fingering) * note.cents().unwrap_or(LOST_CENTS))
            .collect()
    }
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
        let pitches: Vec<Option<f64>> = (0..notes)
            .map(|fingering| {
                let cents = rows[fingering] / weight(fingering);
                let target_hz = instrument.target_hz(&instrument.fingerings[fingering]);
                (cents < LOST_CENTS).then(|| shift_by_cents(target_hz, cents))
            })
            .collect();
        let (parameters, signs): (Vec<_>, Vec<f64>) = self.task.free.iter().map(|u| u.parameter()).unzip();
        let table = sensitivities(&instrument, parameters, &pitches);
        let mut slopes: Vec<Vec<f64>> = (0..notes)
            .map(|fingering| {
                let slope = |(row, sign): (&Vec<Option<f64>>, &f64)| {
                    sign * weight(fingering) * row[fingering].unwrap_or(0.0)
                };
                table.cents.iter().zip(&signs).map(slope).collect()
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
