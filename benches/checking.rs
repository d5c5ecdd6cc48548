//! How long a complete check takes: twenty takes of a twenty-hole instrument, measured beforehand, all causes and pairs
//! weighed, findings, next action and cuts. The promise is less than a second on one core.
//!
//! Run with `cargo bench --bench checking`. The pool of one thread is made here, so that nothing has to be set.

use std::hint::black_box;

use borescribe::analysis::measurement::Measurement;
use borescribe::diagnosis::check::check;
use borescribe::diagnosis::takes::evidence::FiledTake;
use borescribe::instrument::file::parse;
use borescribe::instrument::model::Instrument;
use borescribe::instrument::prediction::predict;
use borescribe::units::{Note, shift_by_cents};
use criterion::{Criterion, criterion_group, criterion_main};

/// A tube of 24 mm with `holes` tone holes, a vent and three posts, a fingering a semitone in two registers.
fn body(holes: i32) -> Instrument {
    let mut text = String::from(
        "format = 1\n[instrument]\nname = \"Bench\"\nprototype = \"P1\"\ndrive = \"reed\"\n[mouthpiece]\n\
         chamber_ml = 31\n[[bore]]\nat_mm = 0\ndiameter_mm = 24\n[[bore]]\nat_mm = 1200\ndiameter_mm = 24\n",
    );
    for hole in 1..=holes {
        let (at, size) = (400 + 720 * hole / holes, 10.0 + 6.0 * f64::from(hole) / f64::from(holes));
        text += &format!(
            "[[hole]]\nname = \"h{hole}\"\nat_mm = {at}\ndiameter_mm = {size}\nchimney_mm = 6\npad_diameter_mm = {}\n\
             pad_lift_mm = {}\n",
            size + 7.0,
            0.35 * size
        );
    }
    text += "[[hole]]\nname = \"v\"\nat_mm = 230\ndiameter_mm = 2\nchimney_mm = 10\nvent = true\n";
    for (name, at_mm) in [("p1", 150), ("p2", 300), ("p3", 520)] {
        text += &format!("[[leak_site]]\nname = \"{name}\"\nat_mm = {at_mm}\nwall_mm = 3\n");
    }
    let lowest: Note = "C2".parse().unwrap();
    for (register, up) in [(1, 0), (2, 19)] {
        for count in 0..=holes {
            let note = Note { midi: lowest.midi + up + count };
            let mut open: Vec<String> =
                (holes + 1 - count..=holes).map(|hole| format!("\"h{hole}\"")).collect();
            open.extend((register == 2).then(|| "\"v\"".to_string()));
            text += &format!(
                "[[fingering]]\nname = \"{note} r{register}\"\nnote = \"{note}\"\nregister = {register}\nopen = [{}]\n",
                open.join(", ")
            );
        }
    }
    parse(&text).unwrap()
}

/// One take a fingering, a few cents about the prediction, one hole acting too small.
fn takes(instrument: &Instrument) -> Vec<FiledTake> {
    let mut truth = instrument.clone();
    truth.holes[3].diameter_mm -= 2.0;
    predict(&truth)
        .iter()
        .enumerate()
        .filter_map(|(index, note)| {
            let scatter_cents = 3.0 * (2.4 * index as f64).sin();
            let measurement = Measurement {
                pitch_hz: Some(shift_by_cents(note.predicted_hz?, scatter_cents)),
                sd_cents: Some(0.1),
                confidence: 1.0,
                tone_over_noise_db: Some(40.0),
                ..Measurement::default()
            };
            Some(FiledTake {
                file: format!("{index}.wav"),
                fingering: note.fingering,
                measurement,
                condition: 0,
                evening: 0,
            })
        })
        .collect()
}

fn benches(criterion: &mut Criterion) {
    let one_core = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    let mut group = criterion.benchmark_group("check on one core");
    group.sample_size(10);
    for holes in [9, 19] {
        let instrument = body(holes);
        let takes: Vec<FiledTake> = takes(&instrument).into_iter().take(20).collect();
        group.bench_function(format!("{} takes, {} holes", takes.len(), instrument.holes.len()), |b| {
            b.iter(|| one_core.install(|| check(black_box(&instrument), black_box(&takes))))
        });
    }
    group.finish();
}

criterion_group!(checking, benches);
criterion_main!(checking);
