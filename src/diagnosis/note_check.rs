//! One fingering's entry of a check: its takes, what was measured, what stays open.
//!
//! Must not know causes or cuts.

use crate::analysis::measurement::{Trouble, TroubleCode, Undertone};
use crate::diagnosis::beliefs::EVENING_HOURS;
use crate::diagnosis::check::{CheckedNote, CheckedTake};
use crate::diagnosis::takes::evidence::{Evidence, FiledTake, Standing};
use crate::instrument::model::Instrument;
use crate::instrument::prediction::PredictedNote;
use crate::units::{cents_between, shift_by_cents};

/// The entry of one fingering; `shift_cents` is what findings and common part add to its prediction.
pub(in crate::diagnosis) fn checked_note(
    instrument: &Instrument,
    predicted: &PredictedNote,
    evidence: &Evidence,
    takes: &[FiledTake],
    shift_cents: f64,
) -> CheckedNote {
    let fingering = predicted.fingering;
    let note = &evidence.notes[fingering];
    let filed: Vec<&FiledTake> = note.takes.iter().map(|&(take, _)| &takes[take]).collect();
    let mut undertones: Vec<Undertone> =
        filed.iter().flat_map(|take| take.measurement.undertones.clone()).collect();
    undertones.sort_by(|a, b| b.db.total_cmp(&a.db));
    let mut troubles: Vec<Trouble> = Vec::new();
    for trouble in filed.iter().flat_map(|take| &take.measurement.troubles) {
        if !troubles.iter().any(|known| known.code == trouble.code) {
            troubles.push(trouble.clone());
        }
    }
    for &(_, standing) in &note.takes {
        if let Standing::OtherFingering(other) = standing {
            troubles.push(Trouble {
                code: TroubleCode::WrongFingering,
                text: format!("Sounds like {}. Record it again.", instrument.fingerings[other].name),
            });
        }
    }
    CheckedNote {
        fingering,
        target_hz: predicted.target_hz,
        predicted_hz: predicted.predicted_hz,
        explained_hz: predicted.predicted_hz.map(|hz| shift_by_cents(hz, shift_cents)),
        measured_hz: note.measured_hz,
        sd_cents: note.sd_cents,
        sounded_register: note
            .sounded_register
            .or(note.measured_hz.map(|_| instrument.fingerings[fingering].register)),
        playable: instrument.playable(&instrument.fingerings[fingering]),
        takes: note
            .takes
            .iter()
            .map(|&(take, standing)| checked_take(instrument, &takes[take], standing, predicted.target_hz))
            .collect(),
        undertones,
        troubles,
    }
}

fn checked_take(
    instrument: &Instrument,
    take: &FiledTake,
    standing: Standing,
    target_hz: f64,
) -> CheckedTake {
    let why = match standing {
        Standing::Used => None,
        Standing::NoNote => Some(
            take.measurement
                .troubles
                .first()
                .map_or("no note found", |trouble| trouble.code.as_str())
                .to_string(),
        ),
        Standing::OtherFingering(other) => Some(format!("sounds like {}", instrument.fingerings[other].name)),
        Standing::OtherRegister(register) => Some(format!("resonance {register} sounded")),
        Standing::Breath => Some("more breath than tone: it did not speak".to_string()),
        Standing::Unsettled => {
            Some("only overtones sound, and they don't hold: it did not speak".to_string())
        }
        Standing::Stranger => Some("fits no fingering".to_string()),
    };
    CheckedTake {
        file: take.file.clone(),
        cents: take.measurement.pitch_hz.map(|hz| cents_between(hz, target_hz)),
        used: standing == Standing::Used,
        why,
    }
}

/// What half a scale, one register or single takes leave open.
pub(in crate::diagnosis) fn remarks(instrument: &Instrument, evidence: &Evidence) -> Vec<String> {
    let mut remarks = Vec::new();
    let has = |f: usize| evidence.notes[f].measured_hz.is_some();
    let count = (0..evidence.notes.len()).filter(|&f| has(f)).count();
    let total = evidence.notes.len();
    let missing: Vec<&str> = instrument
        .fingerings
        .iter()
        .enumerate()
        .filter(|(f, fingering)| !has(*f) && instrument.playable(fingering))
        .map(|(_, fingering)| fingering.name.as_str())
        .collect();
    if count > 0 && !missing.is_empty() {
        remarks.push(format!(
            "{count} of {total} fingerings have a usable take; without {} a fault there can't be seen.",
            missing.join(", ")
        ));
    }
    let planned = instrument.fingerings.iter().filter(|fingering| !instrument.playable(fingering)).count();
    if planned > 0 {
        remarks.push(format!("{planned} fingerings open a hole that is only planned: not playable yet."));
    }
    let registers =
        |wanted: bool| (0..total).any(|f| has(f) && (instrument.fingerings[f].register > 1) == wanted);
    if registers(true) != registers(false) && count > 1 {
        remarks.push(
            "Only one register was played: a small leak, warm air and a wrong bore can't be told apart yet. Play \
             the other register too."
                .to_string(),
        );
    }
    if evidence.evenings > 1 {
        remarks.push(format!(
            "The takes were played on {} evenings, more than {EVENING_HOURS:.0} hours apart: what reed, lip and room did to \
             all notes may differ between them, and is not held against the instrument.",
            evidence.evenings
        ));
    }
    if !evidence.spread_from_repeats && count > 0 {
        remarks.push(format!(
            "One take a note: the player's spread is taken as {:.0} cents. Three takes a note make this surer.",
            evidence.player_spread_cents
        ));
    }
    remarks
}
