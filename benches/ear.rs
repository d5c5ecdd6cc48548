//! How fast a take is measured: 10 s of one channel at 48 kHz, from bytes of a WAV to everything told.
//! Ten seconds over the time printed is the speed in times real time.

use std::f64::consts::TAU;
use std::hint::black_box;

use borescribe::analysis::measure::{Settings, measure};
use borescribe::audio::decode::read_bytes;
use criterion::{Criterion, criterion_group, criterion_main};

const RATE_HZ: u32 = 48_000;
const SECONDS: f64 = 10.0;

/// A note of odd partials between two silences, as a 16-bit WAV.
fn wav(hz: f64) -> Vec<u8> {
    let count = (SECONDS * f64::from(RATE_HZ)) as usize;
    let mut bytes = Vec::with_capacity(44 + 2 * count);
    bytes.extend(b"RIFF");
    bytes.extend((36 + 2 * count as u32).to_le_bytes());
    bytes.extend(b"WAVEfmt \x10\0\0\0\x01\0\x01\0");
    bytes.extend(RATE_HZ.to_le_bytes());
    bytes.extend((2 * RATE_HZ).to_le_bytes());
    bytes.extend(b"\x02\0\x10\0data");
    bytes.extend((2 * count as u32).to_le_bytes());
    let mut state = 1_u32;
    for i in 0..count {
        let t = i as f64 / f64::from(RATE_HZ) - 0.5;
        let shape = (t.min(SECONDS - 1.0 - t) / 0.05).clamp(0.0, 1.0);
        let tone: f64 = (1..40)
            .step_by(2)
            .map(f64::from)
            .filter(|n| n * hz < 4000.0)
            .map(|n| (TAU * n * hz * t).sin() / n)
            .sum();
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let hiss = f64::from(state >> 16) / 65_536.0 - 0.5;
        let sample = 32_767.0 * (0.2 * shape * tone + 0.0005 * hiss);
        bytes.extend((sample as i16).to_le_bytes());
    }
    bytes
}

fn benches(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("ear");
    group.sample_size(20);
    for hz in [25.0, 73.4, 220.0] {
        let bytes = wav(hz);
        group.bench_function(format!("measure 10 s at {hz} Hz"), |bencher| {
            bencher.iter(|| {
                let take = read_bytes(bytes.clone(), "wav").unwrap();
                measure(black_box(&take), &Settings::default(), None)
            });
        });
    }
    group.finish();
}

criterion_group!(ear, benches);
criterion_main!(ear);
