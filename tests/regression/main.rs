//! Values that we computed ourselves with independent scripts (transfer matrices and static finite
//! elements in another language), to notice when the air column changes. They are not published
//! values; those are in `tests/published`.
//!
//! Air for all of them: Keefe's linear constants at 20 °C, smooth walls (loss factor 1).

mod bittern;
mod columns;
#[path = "../common/mod.rs"]
mod common;
mod ends;
mod fingers;
mod holes;
mod leaking_bittern;
mod leaks;
mod lines;
mod vents;

use borescribe::acoustics::circuit::Circuit;
use borescribe::acoustics::column::{Column, Piece, Top};
use borescribe::acoustics::radiation::OpenEnd;
use borescribe::acoustics::resonance::resonances;
use borescribe::air::Air;
use borescribe::units::cents_between;

/// An empty closed-open tube with a thin-walled end.
fn bare_column(radius: f64) -> Column {
    Column {
        pieces: Vec::new(),
        end_radius: radius,
        end: OpenEnd::Unflanged,
        air: Air::keefe(20.0),
        loss_factor: 1.0,
        top_radius: radius,
        top: Top::Reed { give_volume: 0.0 },
    }
}

fn tube(radius: f64, length: f64) -> Column {
    let mut column = bare_column(radius);
    column.push_bore(radius, radius, length, None);
    column
}

/// The tube with one extra piece `at` m from the top.
fn tube_with(radius: f64, length: f64, at: f64, piece: Piece) -> Column {
    let mut column = bare_column(radius);
    column.push_bore(radius, radius, at, None);
    column.pieces.push(piece);
    column.push_bore(radius, radius, length - at, None);
    column
}

/// The maxima of the impedance's magnitude, reed included: where (hertz) and how high (ρc/S). The tables that these
/// tests compare with list such peaks; the program's notes lie where Im(1/Z) vanishes, up to some
/// cents beside a flat peak.
fn peaks(column: &Column, count: usize, highest_hz: f64) -> Vec<(f64, f64)> {
    let height = |hz: f64| 1.0 / column.driven_load(hz).norm();
    resonances(column, count, highest_hz)
        .iter()
        .map(|resonance| {
            let (mut low, mut high) = (resonance.hz * 0.95, resonance.hz * 1.05);
            for _ in 0..80 {
                let (a, b) = (low + 0.382 * (high - low), low + 0.618 * (high - low));
                if height(a) < height(b) { low = a } else { high = b }
            }
            (low, height(low))
        })
        .collect()
}

/// Where the peak that lies at `hz` without a disturbance has gone, and its height, when `disturbed(size)` has grown
/// to `size` in small steps: numbers swap when a leak grows wide.
fn followed(disturbed: &impl Fn(f64) -> Column, size: f64, hz: f64) -> (f64, f64) {
    let mut at_hz = hz;
    for step in 1..=200 {
        let column = disturbed(size * f64::from(step) / 200.0);
        at_hz = peak_near(&column, at_hz).0;
    }
    peak_near(&disturbed(size), at_hz)
}

/// The nearest maximum of the impedance's magnitude uphill from `hz`, and how high it is.
fn peak_near(column: &Column, hz: f64) -> (f64, f64) {
    let circuit = Circuit::new(column);
    let height = |hz: f64| 1.0 / circuit.driven_load(hz).norm();
    let ratio = 1.001;
    let uphill = if height(hz * ratio) > height(hz / ratio) { ratio } else { 1.0 / ratio };
    let mut top = hz;
    while height(top * uphill) > height(top) {
        top *= uphill;
    }
    let (mut low, mut high) = (top / ratio, top * ratio);
    for _ in 0..60 {
        let (a, b) = (low + 0.382 * (high - low), low + 0.618 * (high - low));
        if height(a) < height(b) { low = a } else { high = b }
    }
    (low, height(low))
}

/// Asserts that `hz` lies within `tolerance` cents of `expected_hz`.
fn assert_cents(hz: f64, expected_hz: f64, tolerance: f64, what: &str) {
    let off = cents_between(hz, expected_hz);
    assert!(off.abs() <= tolerance, "{what}: {hz} Hz is {off:.3} cents from {expected_hz} Hz");
}

/// Asserts a relative difference.
fn assert_close(value: f64, expected: f64, relative: f64, what: &str) {
    let off = (value - expected).abs() / expected.abs();
    assert!(off <= relative, "{what}: {value} differs from {expected} by {off:.2e}");
}
