//! What a take is worth: its own fingering's note, another's, another register, hardly any, or a stranger.
//!
//! The likeliest of these counts, each by how often it happens and how well the pitch fits; `chances` has the
//! figures. Must not know causes or cuts.

use crate::analysis::measurement::{Trouble, TroubleCode};
use crate::diagnosis::beliefs::takes::{
    BREATH_DB, CLEARER_DB, FALLEN_CENTS, FAR_CENTS, MOST_COMMON_CENTS, NEIGHBOUR_OFF_CENTS,
    OTHER_REGISTER_CENTS,
};
use crate::diagnosis::takes::chances::{self, Place};
use crate::diagnosis::takes::evidence::{FiledTake, Standing};
use crate::instrument::model::Instrument;
use crate::instrument::prediction::PredictedNote;
use crate::units::cents_between;

/// All takes of one evening beside their predictions.
pub(in crate::diagnosis) struct Judge<'a> {
    instrument: &'a Instrument,
    predicted: &'a [PredictedNote],
    takes: &'a [&'a FiledTake],
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
        takes: &'a [&'a FiledTake],
    ) -> Judge<'a> {
        let offset = |take: &&FiledTake| {
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
            common_cents: common.unwrap_or(0.0).clamp(-MOST_COMMON_CENTS, MOST_COMMON_CENTS),
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
        let mut readings = vec![(Standing::Stranger, chances::anything())];
        readings.extend(self.own_note(index).map(|chance| (Standing::Used, chance)));
        readings.extend(self.other_registers(index, hz));
        readings.extend(self.other_fingerings(take, hz));
        if let Some(unasked) = take.measurement.unasked {
            let against = chances::against_leaving_out(unasked.left_out_db);
            let others = self.other_registers(index, unasked.hz);
            readings.extend(others.into_iter().map(|(standing, chance)| (standing, chance + against)));
        }
        let likeliest = readings.into_iter().max_by(|a, b| a.1.total_cmp(&b.1));
        likeliest.map_or(Standing::Stranger, |(standing, _)| standing)
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

    /// Chance that it is the wanted note. Other takes of the fingering tell where that lies; without them a leak
    /// or stuck pad may have moved it as far as its neighbours.
    fn own_note(&self, index: usize) -> Option<f64> {
        let cents = self.own_cents(index)?;
        let again = self.again_cents(index);
        let place = again.map_or_else(|| self.beside_neighbours(index, cents), Place::at);
        Some(chances::own_note(cents, place, again.is_some(), self.falls(index)))
    }

    /// Where the other takes of its fingering lie that are the wanted note beyond doubt, cents.
    fn again_cents(&self, index: usize) -> Option<f64> {
        let own = &self.takes[index];
        let again = (0..self.takes.len()).filter(|&other| {
            let take = &self.takes[other];
            other != index
                && (take.fingering, take.condition) == (own.fingering, own.condition)
                && take.measurement.unasked.is_none()
        });
        median(
            again.filter_map(|other| self.own_cents(other)).filter(|cents| cents.abs() < FAR_CENTS).collect(),
        )
    }

    /// From its prediction to where the next notes of its register lie, when they are far off the same way.
    fn beside_neighbours(&self, index: usize, own_cents: f64) -> Place {
        let own = self.takes[index].fingering;
        let nearest = self.next_in_register(own);
        (0..self.takes.len())
            .filter(|&other| nearest.contains(&self.takes[other].fingering))
            .filter(|&other| self.takes[other].measurement.unasked.is_none())
            .filter_map(|other| self.own_cents(other))
            .filter(|cents| cents.signum() == own_cents.signum())
            .filter(|cents| (NEIGHBOUR_OFF_CENTS..OTHER_REGISTER_CENTS).contains(&cents.abs()))
            .fold(Place::at(0.0), Place::reaching)
    }

    /// The two fingerings of the same register whose notes are next to one's.
    fn next_in_register(&self, own: usize) -> Vec<usize> {
        let register = self.instrument.fingerings[own].register;
        let away = |fingering: usize| {
            cents_between(self.predicted[fingering].target_hz, self.predicted[own].target_hz).abs()
        };
        let mut same_register: Vec<usize> = (0..self.predicted.len())
            .filter(|&f| f != own && self.instrument.fingerings[f].register == register)
            .collect();
        same_register.sort_by(|&a, &b| away(a).total_cmp(&away(b)));
        same_register.truncate(2);
        same_register
    }

    /// How often a note falls here: oftener where another take of it, or of the next notes, did beyond doubt.
    fn falls(&self, index: usize) -> f64 {
        let own = self.takes[index].fingering;
        let nearest = self.next_in_register(own);
        let fell_beside = (0..self.takes.len()).any(|other| {
            let fingering = self.takes[other].fingering;
            other != index
                && (fingering == own || nearest.contains(&fingering))
                && self.own_cents(other).is_some_and(|cents| cents < -FALLEN_CENTS)
        });
        chances::falls(fell_beside)
    }

    /// Chance of each unwanted resonance of its own fingering, numbered from 1.
    fn other_registers(&self, index: usize, hz: f64) -> Vec<(Standing, f64)> {
        let fingering = self.takes[index].fingering;
        let wanted = self.instrument.fingerings[fingering].register;
        let note = &self.predicted[fingering];
        let falls = self.falls(index);
        // Cents over 1 Hz: any one place will do.
        let cents = cents_between(hz, 1.0) - self.common_cents;
        let chance = |resonance_hz: f64, register: usize| {
            if register < wanted {
                chances::lower_register(cents, lower_place(resonance_hz, note.predicted_hz), falls)
            } else {
                chances::higher_register(cents, Place::at(cents_between(resonance_hz, 1.0)))
            }
        };
        let others = note.resonances.iter().zip(1..).filter(|&(_, register)| register != wanted);
        others.map(|(r, register)| (Standing::OtherRegister(register), chance(r.hz, register))).collect()
    }

    /// Chance of each other fingering. One that differs in vents only is a matter of registers.
    fn other_fingerings(&self, take: &FiledTake, hz: f64) -> impl Iterator<Item = (Standing, f64)> {
        let own = take.fingering;
        let register = |fingering: usize| self.instrument.fingerings[fingering].register;
        let others = self.predicted.iter().filter(move |note| {
            let other = note.fingering;
            other != own && !(register(other) != register(own) && self.same_but_vents(other, own))
        });
        others.filter_map(move |note| {
            let cents = cents_between(hz, note.predicted_hz?) - self.common_cents;
            let same_register = register(note.fingering) == register(own);
            let chance = chances::other_fingering(cents, Place::at(0.0), same_register);
            Some((Standing::OtherFingering(note.fingering), chance))
        })
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
}

/// Where a resonance under the wanted one sounds, cents over 1 Hz. An open vent lifts it, and a note that falls on
/// it sounds between there and the wanted note's third or half, to which its partials draw it: the vent leaves
/// the wanted one alone.
fn lower_place(resonance_hz: f64, wanted_hz: Option<f64>) -> Place {
    let place = Place::at(cents_between(resonance_hz, 1.0));
    let whole_part = |wanted_hz: f64| wanted_hz / (wanted_hz / resonance_hz).round().max(1.0);
    let drawn_to_hz = wanted_hz.map(whole_part).filter(|&hz| hz < resonance_hz);
    drawn_to_hz.map_or(place, |hz| place.reaching(cents_between(hz, 1.0)))
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
