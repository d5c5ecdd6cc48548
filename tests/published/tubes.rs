//! Whole tubes: which notes, and how strongly they answer.

use borescribe::acoustics::column::{Column, Top};
use borescribe::acoustics::radiation::OpenEnd;
use borescribe::acoustics::resonance::resonances;
use borescribe::air::Air;
use borescribe::instrument::column::reed_give_ml;
use borescribe::units::cents_between;

use crate::common::bittern;

fn tube(top: f64, bottom: f64, length: f64, air: Air) -> Column {
    let mut column = Column {
        pieces: Vec::new(),
        end_radius: bottom,
        end: OpenEnd::Unflanged,
        air,
        loss_factor: 1.0,
        top_radius: top,
        top: Top::Reed { give_volume: 0.0 },
    };
    column.push_bore(top, bottom, length, None);
    column
}

/// Air that damps nothing.
fn lossless() -> Air {
    Air { viscosity: 1e-20, ..Air::keefe(20.0) }
}

/// Textbook acoustics: a tube closed at one end sounds at odd multiples of c/(4 L), its end correction counted.
#[test]
fn a_closed_tube_sounds_the_odd_harmonics() {
    let air = lossless();
    let lowest_hz = air.speed / (4.0 * (1.5 + 0.6133 * 0.010));
    for (found, number) in
        resonances(&tube(0.010, 0.010, 1.5, air), 4, 500.0).iter().zip([1.0, 3.0, 5.0, 7.0])
    {
        assert!(cents_between(found.hz, number * lowest_hz).abs() < 0.2, "{number}: {}", found.hz);
    }
}

/// Textbook acoustics (N. H. Fletcher & T. D. Rossing, ch. 8, from memory): a cone down to its apex sounds all
/// harmonics of c/(2 L). Here the apex is cut at a hundredth of the length, which is a tenth of a cent.
#[test]
fn a_whole_cone_sounds_all_harmonics() {
    let air = lossless();
    let cone = tube(0.000_2, 0.020, 0.99, air);
    let lowest_hz = air.speed / (2.0 * (1.0 + 0.6133 * 0.020));
    for (found, number) in resonances(&cone, 3, 700.0).iter().zip([1.0, 2.0, 3.0]) {
        assert!(cents_between(found.hz, number * lowest_hz).abs() < 0.7, "{number}: {}", found.hz);
    }
}

/// J. Backus, J. Acoust. Soc. Am. 56 (1974) 1266, abstract read: reed woodwinds have input impedances of 400 to 1600
/// acoustic ohms (×1e5 Pa s/m³). A plain tube of a clarinet's bore and length must lie among them.
#[test]
fn a_tube_of_a_clarinets_size_answers_as_strongly_as_measured_woodwinds() {
    let column = tube(0.0075, 0.0075, 0.5, Air::keefe(20.0));
    let strongest = resonances(&column, 1, 500.0)[0].magnitude * column.top_impedance();
    assert!((4e7..1.6e8).contains(&strongest), "{strongest}");
}

/// C. J. Nederveen, "Calculations on location and dimensions of holes in a clarinet", Acustica 14 (1964), summary
/// read: the closed end of the equivalent tube lies 7 mm beyond the clarinet's top.
#[test]
fn a_reed_that_the_file_does_not_know_gives_like_seven_millimetres_of_a_clarinets_bore() {
    let mut clarinet = bittern();
    clarinet.bore.iter_mut().for_each(|point| point.diameter_mm = 15.0);
    if let Some(mouthpiece) = clarinet.mouthpiece.as_mut() {
        mouthpiece.reed_ml = None;
    }
    let length_mm = reed_give_ml(&clarinet) * 1000.0 / (std::f64::consts::PI * 7.5 * 7.5);
    assert!((length_mm - 7.0).abs() < 1e-9);
}
