//! How long the air column takes: one evaluation, one fingering, a whole instrument, all its sensitivities.
//! The instrument is large on purpose: twenty holes, twenty fingerings.
//!
//! Run with `cargo bench --bench column`; on one core with `RAYON_NUM_THREADS=1` before it.

use std::hint::black_box;

use borescribe::acoustics::circuit::Circuit;
use borescribe::acoustics::resonance::resonances;
use borescribe::instrument::column::{column, highest_hz};
use borescribe::instrument::model::{
    BorePoint, Drive, Fingering, Finish, Goal, Hole, InsideAir, Instrument, MeasuredTo, Mouthpiece, Pad,
    Wall, Workshop,
};
use borescribe::instrument::prediction::predict;
use borescribe::instrument::sensitivity::{parameters, sensitivities};
use criterion::{Criterion, criterion_group, criterion_main};

/// Bore 24 mm, 1.6 m long, a vent (the first hole) and nineteen padded holes that open one by one from the
/// low end.
fn twenty_holes() -> Instrument {
    let hole = |i: usize| {
        let (vent, diameter_mm) = (i == 0, if i == 0 { 2.5 } else { 10.0 + 0.4 * i as f64 });
        Hole {
            name: format!("h{i}"),
            at_mm: if vent { 250.0 } else { 420.0 + 55.0 * i as f64 },
            diameter_mm,
            chimney_mm: if vent { 10.0 } else { 6.0 },
            pad: (!vent).then_some(Pad { diameter_mm: diameter_mm + 6.0, lift_mm: 0.35 * diameter_mm }),
            rim_mm: 1.5,
            undercut_mm: 0.0,
            vent,
            drilled: true,
            measured_again: false,
            angle_deg: 0.0,
            finger: false,
        }
    };
    let fingering = |i: usize| Fingering {
        name: format!("f{i}"),
        note: "C3".parse().unwrap(),
        open: (20 - i..20).collect(),
        register: 1,
        cents: 0.0,
        weight: 1.0,
        leave: false,
    };
    Instrument {
        name: "twenty".into(),
        prototype: "P1".into(),
        drive: Drive::Reed,
        a4_hz: 440.0,
        written_above_sounding: 0,
        wall: Wall { thickness_mm: 3.0, finish: Finish::Smooth },
        air: InsideAir { temperature_c: 24.0, humidity_percent: 60.0 },
        air_is_measured: false,
        in_tune_at_c: None,
        mouthpiece: Some(Mouthpiece { chamber_ml: 31.0, suits_bore_mm: None, reed_ml: Some(2.0) }),
        embouchure_mm: None,
        bore: vec![
            BorePoint { at_mm: 0.0, diameter_mm: 24.0 },
            BorePoint { at_mm: 1600.0, diameter_mm: 24.0 },
        ],
        holes: (0..20).map(hole).collect(),
        leak_sites: Vec::new(),
        bends: Vec::new(),
        fingerings: (0..20).map(fingering).collect(),
        keys: Vec::new(),
        goal: Goal::default(),
        workshop: Workshop { drills_mm: Vec::new(), measured_to: MeasuredTo::default() },
    }
}

fn benches(criterion: &mut Criterion) {
    let instrument = twenty_holes();
    let middle = column(&instrument, &instrument.fingerings[10].open, &[]);
    criterion.bench_function("make ready, 20 holes", |b| b.iter(|| Circuit::new(black_box(&middle))));
    let ready = Circuit::new(&middle);
    criterion.bench_function("impedance once, 20 holes", |b| {
        b.iter(|| black_box(&ready).input_impedance(black_box(123.4)))
    });
    criterion.bench_function("first three resonances, 20 holes", |b| {
        b.iter(|| resonances(black_box(&middle), 3, highest_hz(&middle)))
    });
    criterion
        .bench_function("predict 20 fingerings, 20 holes", |b| b.iter(|| predict(black_box(&instrument))));
    let predicted: Vec<Option<f64>> = predict(&instrument).iter().map(|note| note.predicted_hz).collect();
    let count = parameters(&instrument).len();
    criterion.bench_function(&format!("20 fingerings by {count} sensitivities"), |b| {
        b.iter(|| sensitivities(&instrument, parameters(&instrument), black_box(&predicted)))
    });
}

criterion_group!(column_benches, benches);
criterion_main!(column_benches);
