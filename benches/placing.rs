//! How long placing takes: twelve holes, twenty-four fingerings in two registers, sizes and vent free.
//!
//! Run with `cargo bench --bench placing`; on one core with `RAYON_NUM_THREADS=1` before it.

use std::hint::black_box;

use borescribe::instrument::file::parse;
use borescribe::instrument::model::Instrument;
use borescribe::placing::limits::Limits;
use borescribe::placing::place::place;
use borescribe::units::Note;
use criterion::{Criterion, criterion_group, criterion_main};

/// A tube of 24 mm with eleven tone holes and a vent, one hole a semitone from C2.
fn twelve_holes() -> Instrument {
    let mut text = String::from(
        "format = 1\n[instrument]\nname = \"Twelve\"\nprototype = \"P1\"\ndrive = \"reed\"\n[mouthpiece]\n\
         chamber_ml = 31\n[[bore]]\nat_mm = 0\ndiameter_mm = 24\n[[bore]]\nat_mm = 1200\ndiameter_mm = 24\n",
    );
    for hole in 1..=11 {
        let (at, size) = (400 + 60 * hole, 10.0 + 0.5 * f64::from(hole));
        text += &format!(
            "[[hole]]\nname = \"h{hole}\"\nat_mm = {at}\ndiameter_mm = {size}\nchimney_mm = 6\ndrilled = false\n\
             pad_diameter_mm = {}\npad_lift_mm = {}\n",
            size + 7.0,
            0.35 * size
        );
    }
    text += "[[hole]]\nname = \"v\"\nat_mm = 230\ndiameter_mm = 2\nchimney_mm = 10\nvent = true\ndrilled = false\n";
    let lowest: Note = "C2".parse().unwrap();
    for (register, up) in [(1, 0), (2, 19)] {
        for count in 0..=11 {
            let note = Note { midi: lowest.midi + up + count };
            let mut open: Vec<String> = (12 - count..=11).map(|hole| format!("\"h{hole}\"")).collect();
            open.extend((register == 2).then(|| "\"v\"".to_string()));
            text += &format!(
                "[[fingering]]\nname = \"{note} r{register}\"\nnote = \"{note}\"\nregister = {register}\nopen = [{}]\n",
                open.join(", ")
            );
        }
    }
    parse(&text).unwrap()
}

fn benches(criterion: &mut Criterion) {
    let instrument = twelve_holes();
    let mut group = criterion.benchmark_group("place");
    group.sample_size(10);
    group.bench_function("12 holes, 24 fingerings", |b| {
        b.iter(|| place(black_box(&instrument), &Limits::default(), &|_| {}))
    });
    group.finish();
}

criterion_group!(placing_benches, benches);
criterion_main!(placing_benches);
