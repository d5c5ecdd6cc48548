//! A drawn instrument, as the maker's file has it: from a pocket chalumeau of 0.3 m to a contrabass of 4 m.
//!
//! All measures are our choice. The targets are what the geometry predicts: this file is in tune by construction, and
//! only what differs from it is looked for.

use borescribe::instrument::model::{
    BorePoint, Drive, Fingering, Finish, Goal, Hole, InsideAir, Instrument, LeakSite, MeasuredTo, Mouthpiece,
    Pad, Wall, Workshop,
};
use borescribe::instrument::prediction::predict;
use borescribe::units::Note;

use super::chance::Chance;

/// Shortest and longest tube, mm.
const LENGTHS_MM: (f64, f64) = (300.0, 4000.0);
/// Share of slight cones among the tubes, and how much wider they are at the end at most.
const CONES: f64 = 0.2;
const WIDEST_END: f64 = 1.2;
/// Share of instruments with a vent and a second register.
const TWO_REGISTERS: f64 = 0.5;

/// Draws until every fingering has a predicted pitch.
pub fn drawn(chance: &mut Chance) -> Instrument {
    loop {
        let mut instrument = attempt(chance);
        let predicted = predict(&instrument);
        let rising = |register: usize| {
            let own =
                predicted.iter().filter(|note| instrument.fingerings[note.fingering].register == register);
            let hz: Vec<f64> = own.filter_map(|note| note.predicted_hz).collect();
            hz.windows(2).all(|pair| pair[1] > 1.02 * pair[0])
        };
        if predicted.iter().any(|note| note.predicted_hz.is_none()) || !rising(1) || !rising(2) {
            continue;
        }
        for note in &predicted {
            if let Some(hz) = note.predicted_hz {
                let (nearest, cents) = Note::nearest(hz, instrument.a4_hz);
                let fingering = &mut instrument.fingerings[note.fingering];
                (fingering.note, fingering.cents) = (nearest, cents);
            }
        }
        return instrument;
    }
}

fn attempt(chance: &mut Chance) -> Instrument {
    let length_mm = chance.log_between(LENGTHS_MM.0, LENGTHS_MM.1);
    let bore_mm = 15.0 * (length_mm / 600.0).sqrt() * chance.between(0.85, 1.2);
    let end_mm = if chance.happens(CONES) { bore_mm * chance.between(1.03, WIDEST_END) } else { bore_mm };
    let area_mm2 = 0.25 * std::f64::consts::PI * bore_mm * bore_mm;
    let mouthpiece_mm = bore_mm * chance.between(2.0, 4.0);
    let chamber_ml = area_mm2 * mouthpiece_mm / 1000.0;
    let mut holes = tone_holes(chance, length_mm, bore_mm, mouthpiece_mm);
    let tones = holes.len();
    let two_registers = chance.happens(TWO_REGISTERS);
    if two_registers {
        holes.push(Hole {
            name: "v".to_string(),
            at_mm: length_mm * chance.between(0.15, 0.24),
            diameter_mm: (0.085 * bore_mm).clamp(1.2, 3.5),
            chimney_mm: 0.4 * bore_mm,
            pad: None,
            vent: true,
            ..holes[0].clone()
        });
    }
    let fingering = |count: usize, register: usize| Fingering {
        name: format!("{register}-{count}"),
        note: Note { midi: 60 },
        open: (tones - count..tones).chain((register == 2).then_some(tones)).collect(),
        register,
        cents: 0.0,
        weight: 1.0,
        leave: false,
    };
    let registers = if two_registers { 2 } else { 1 };
    Instrument {
        name: "Drawn".to_string(),
        prototype: "P1".to_string(),
        drive: Drive::Reed,
        a4_hz: 440.0,
        written_above_sounding: 0,
        wall: Wall { thickness_mm: 3.0, finish: Finish::Smooth },
        air: InsideAir { temperature_c: 24.0, humidity_percent: 60.0 },
        air_is_measured: false,
        in_tune_at_c: None,
        mouthpiece: Some(Mouthpiece { chamber_ml, suits_bore_mm: None, reed_ml: None }),
        embouchure_mm: None,
        bore: vec![
            BorePoint { at_mm: 0.0, diameter_mm: bore_mm },
            BorePoint { at_mm: length_mm, diameter_mm: end_mm },
        ],
        leak_sites: leak_sites(chance, length_mm),
        holes,
        bends: Vec::new(),
        fingerings: (1..=registers)
            .flat_map(|register| (0..=tones).map(move |count| (count, register)))
            .map(|(count, register)| fingering(count, register))
            .collect(),
        keys: Vec::new(),
        goal: Goal::default(),
        workshop: Workshop { drills_mm: Vec::new(), measured_to: MeasuredTo::default() },
    }
}

/// Five to ten holes about where a scale of whole and half tones wants them, from the mouthpiece down.
fn tone_holes(chance: &mut Chance, length_mm: f64, bore_mm: f64, mouthpiece_mm: f64) -> Vec<Hole> {
    let count = chance.whole(5, 10);
    let acoustic_mm = length_mm + mouthpiece_mm + 0.3 * bore_mm;
    let end_share = chance.between(0.5, 0.65);
    let mut semitones = 0.0;
    let mut holes: Vec<Hole> = (0..count)
        .map(|index| {
            semitones += if chance.happens(0.3) { 1.0 } else { 2.0 };
            // Near the bell larger, as makers like them.
            let diameter_mm = bore_mm * end_share * (1.0 - 0.35 * index as f64 / count as f64);
            let beyond_mm = 1.2 * bore_mm;
            Hole {
                name: format!("h{}", count - index),
                at_mm: acoustic_mm * (-semitones / 12.0_f64).exp2() - mouthpiece_mm - beyond_mm,
                diameter_mm,
                chimney_mm: 0.25 * bore_mm,
                pad: Some(Pad { diameter_mm: diameter_mm + 6.0, lift_mm: 0.35 * diameter_mm }),
                rim_mm: 1.5,
                undercut_mm: 0.0,
                vent: false,
                drilled: true,
                measured_again: false,
                angle_deg: 0.0,
                finger: false,
            }
        })
        .collect();
    holes.reverse();
    holes
}

/// Three to six posts and joints, each in a part of the tube of its own.
fn leak_sites(chance: &mut Chance, length_mm: f64) -> Vec<LeakSite> {
    let count = chance.whole(3, 6);
    (0..count)
        .map(|index| LeakSite {
            name: format!("p{}", index + 1),
            at_mm: length_mm * (0.05 + 0.9 * (index as f64 + chance.uniform()) / count as f64),
            wall_mm: 4.0,
        })
        .collect()
}
