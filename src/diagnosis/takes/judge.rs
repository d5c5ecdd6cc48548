//! What a take is worth: its own fingering's note, another's, another register, hardly any, or a stranger.
//!
//! Must not know causes or cuts.

use crate::analysis::measurement::{Trouble, TroubleCode};
use crate::diagnosis::takes::evidence::{FiledTake, Standing};
use crate::instrument::model::Instrument;
use crate::instrument::prediction::PredictedNote;
use crate::units::cents_between;

/// A take this far from its own prediction may be another fingering …
const FAR_CENTS: f64 = 70.0;
/// … when it lies this close to the other's prediction.
const CLOSE_CENTS: f64 = 25.0;
/// A neighbour this far off in the same direction speaks for a fault of the instrument instead.
const NEIGHBOUR_OFF_CENTS: f64 = 40.0;
/// Farther than this from its own prediction, and alone in that, a take says nothing of the instrument.
const STRANGER_CENTS: f64 = 150.0;
/// A tone this weak over the breath is hardly one (our choice) …
const BREATH_DB: f64 = 6.0;
/// … when the takes of the evening are clearer by so much in the middle: else the room is to blame.
const CLEARER_DB: f64 = 12.0;
/// Within this of another resonance of its own fingering, a take has jumped there.
const JUMP_CENTS: f64 = 80.0;

/// All takes of one evening beside their predictions.
pub(in crate::diagnosis) struct Judge<'a> {
    instrument: &'a Instrument,
    predicted: &'a [PredictedNote],
    takes: &'a [FiledTake],
    /// Each take's offset from its own prediction, cents.
    offsets: Vec<Option<f64>>,
    /// Median of them: air, player and model together, cents.
    common_cents: f64,
    /// Takes with less tone than this over the breath did not speak, dB.
    breath_limit_db: f64,
}

impl<'a> Judge<'a> {
    pub(in crate::diagnosis) fn new(
        instrument: &'a Instrument,
        predicted: &'a [PredictedNote],
        takes: &'a [FiledTake],
    ) -> Judge<'a> {
        let offset = |take: &FiledTake| {
            let hz = take.measurement.pitch_hz?;
            Some(cents_between(hz, predicted.get(take.fingering)?.predicted_hz?))
        };
        let offsets: Vec<Option<f64>> = takes.iter().map(offset).collect();
        let common = median(offsets.iter().flatten().copied().collect());
        let tone = median(takes.iter().filter_map(|take| take.measurement.tone_over_noise_db).collect());
        Judge {
            instrument,
            predicted,
            takes,
            offsets,
            common_cents: common.unwrap_or(0.0).clamp(-CLOSE_CENTS, CLOSE_CENTS),
            breath_limit_db: tone.map_or(f64::NEG_INFINITY, |db| BREATH_DB.min(db - CLEARER_DB)),
        }
    }

    pub(in crate::diagnosis) fn judge_all(&self) -> Vec<Standing> {
        (0..self.takes.len()).map(|index| self.judge(index)).collect()
    }

    fn judge(&self, index: usize) -> Standing {
        let take = &self.takes[index];
        let Some(hz) = take.measurement.pitch_hz else { return Standing::NoNote };
        if take.measurement.tone_over_noise_db.is_some_and(|db| db < self.breath_limit_db) {
            return Standing::Breath;
        }
        if does_not_settle(take) && self.others_settle(index) {
            return Standing::Unsettled;
        }
        let own = self.own_cents(index);
        if own.is_some_and(|cents| cents.abs() < FAR_CENTS) {
            return Standing::Used;
        }
        let jumped = self.nearest_register(take, hz).filter(|(_, cents)| *cents < JUMP_CENTS);
        let other = self.nearest_fingering(take, hz).filter(|(_, cents)| *cents < CLOSE_CENTS);
        let alike = self.neighbours_off_alike(index);
        if let Some((fingering, cents)) = other
            && !alike
            && jumped.is_none_or(|(_, jump)| cents < jump && !self.same_but_vents(take.fingering, fingering))
        {
            return Standing::OtherFingering(fingering);
        }
        match jumped {
            Some((register, _)) => Standing::OtherRegister(register),
            None if alike || own.is_some_and(|cents| cents.abs() < STRANGER_CENTS) => Standing::Used,
            None => Standing::Stranger,
        }
    }

    /// Whether most takes of the other fingerings settle: else player or recording are to blame.
    fn others_settle(&self, index: usize) -> bool {
        let own = self.takes[index].fingering;
        let others = self.takes.iter().filter(|take| take.fingering != own);
        let (total, unsettled) =
            (others.clone().count(), others.filter(|take| does_not_settle(take)).count());
        2 * unsettled < total
    }

    /// Offset from its own prediction beyond what all takes share, cents.
    fn own_cents(&self, index: usize) -> Option<f64> {
        self.offsets[index].map(|cents| cents - self.common_cents)
    }

    fn misfit_cents(&self, hz: f64, expected_hz: f64) -> f64 {
        (cents_between(hz, expected_hz) - self.common_cents).abs()
    }

    /// The unwanted resonance of its own fingering that a take is nearest to.
    fn nearest_register(&self, take: &FiledTake, hz: f64) -> Option<(usize, f64)> {
        let wanted = self.instrument.fingerings[take.fingering].register;
        let resonances = self.predicted[take.fingering].resonances.iter().enumerate();
        resonances
            .filter(|(i, _)| i + 1 != wanted)
            .map(|(i, resonance)| (i + 1, self.misfit_cents(hz, resonance.hz)))
            .min_by(|a, b| a.1.total_cmp(&b.1))
    }

    /// The other fingering that a take is nearest to.
    fn nearest_fingering(&self, take: &FiledTake, hz: f64) -> Option<(usize, f64)> {
        self.predicted
            .iter()
            .filter(|note| note.fingering != take.fingering)
            .filter_map(|note| Some((note.fingering, self.misfit_cents(hz, note.predicted_hz?))))
            .min_by(|a, b| a.1.total_cmp(&b.1))
    }

    /// Whether two fingerings open the same holes, vents apart: then a jump between registers is likelier
    /// than a wrong fingering.
    fn same_but_vents(&self, a: usize, b: usize) -> bool {
        let tone_holes = |fingering: usize| {
            let open = &self.instrument.fingerings[fingering].open;
            let mut open: Vec<usize> =
                open.iter().copied().filter(|&hole| !self.instrument.holes[hole].vent).collect();
            open.sort_unstable();
            open
        };
        tone_holes(a) == tone_holes(b)
    }

    /// Whether a take of the next note up or down in the same register is far off the same way: then a
    /// leak or stuck pad is likelier than two wrong fingerings.
    fn neighbours_off_alike(&self, index: usize) -> bool {
        let own = self.takes[index].fingering;
        let Some(own_cents) = self.own_cents(index) else { return false };
        let register = self.instrument.fingerings[own].register;
        let away = |fingering: usize| {
            cents_between(self.predicted[fingering].target_hz, self.predicted[own].target_hz).abs()
        };
        let mut same_register: Vec<usize> = (0..self.predicted.len())
            .filter(|&f| f != own && self.instrument.fingerings[f].register == register)
            .collect();
        same_register.sort_by(|&a, &b| away(a).total_cmp(&away(b)));
        let nearest = &same_register[..same_register.len().min(2)];
        (0..self.takes.len()).filter(|&other| nearest.contains(&self.takes[other].fingering)).any(|other| {
            self.own_cents(other).is_some_and(|cents| {
                cents.signum() == own_cents.signum() && (NEIGHBOUR_OFF_CENTS..1000.0).contains(&cents.abs())
            })
        })
    }
}

/// Whether the note's own low partials are missing, so that only the expected pitch tells its octave, and what
/// sounds does not hold either.
fn does_not_settle(take: &FiledTake) -> bool {
    let unsettled = |trouble: &Trouble| matches!(trouble.code, TroubleCode::Unsteady | TroubleCode::TooShort);
    take.measurement.expectation_decided && take.measurement.troubles.iter().any(unsettled)
}

/// The upper median; `None` of nothing.
fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied()
}
