//! The great-bass chalumeau "Bittern" of the samples: what faults do to its notes, by our own earlier
//! scripts (transfer matrices in another language).

use std::f64::consts::PI;

use borescribe::acoustics::column::Piece;
use borescribe::acoustics::hole::ToneHole;
use borescribe::acoustics::resonance::resonances;
use borescribe::air::Air;
use borescribe::instrument::column::{Leak, LeakPlace, column, highest_hz, mouthpiece_length_mm, playing_hz};
use borescribe::instrument::model::{BorePoint, Instrument};
use borescribe::units::cents_between;

use crate::common::bittern;

/// Playing pitch of all eighteen notes in hertz, after `change`, with `leaks`.
fn notes(change: impl Fn(&mut Instrument), leaks: &[Leak]) -> Vec<f64> {
    let mut instrument = bittern();
    change(&mut instrument);
    instrument
        .fingerings
        .iter()
        .map(|f| playing_hz(&instrument, &f.open, f.register, leaks).unwrap())
        .collect()
}

type Change = fn(&mut Instrument);

/// Change, then the shift of C2 … D3 and of G3 … A4 in cents.
const GEOMETRY_ROWS: [(&str, Change, [f64; 9], [f64; 9]); 18] = [
    (
        "h5 13 mm",
        |i| i.holes[4].diameter_mm = 13.0,
        [0.0, -0.1, -0.2, -0.2, -6.5, -0.6, -0.1, 0.0, 0.0],
        [0.4, 0.4, 0.3, 0.1, -6.8, -0.8, -0.1, 0.0, 0.0],
    ),
    (
        "h5 15 mm",
        |i| i.holes[4].diameter_mm = 15.0,
        [0.0, 0.1, 0.2, 0.2, 5.8, 0.5, 0.1, 0.0, 0.0],
        [-0.4, -0.5, -0.3, -0.1, 6.1, 0.8, 0.1, 0.0, 0.0],
    ),
    (
        "h5 3 mm further down",
        |i| i.holes[4].at_mm += 3.0,
        [0.0, 0.0, 0.0, 0.0, -5.7, -0.5, -0.1, 0.0, 0.0],
        [0.0, 0.0, 0.1, 0.1, -5.6, -0.7, -0.1, 0.0, 0.0],
    ),
    (
        "h5 chimney 2 mm taller",
        |i| i.holes[4].chimney_mm += 2.0,
        [-0.2, -0.2, -0.1, 0.0, -6.6, -0.6, -0.1, 0.0, 0.0],
        [-0.8, -0.9, -0.7, -0.5, -7.0, -0.9, -0.2, 0.0, 0.0],
    ),
    (
        "h5 lift 2.4 mm",
        |i| set_lift(i, 4, 2.4),
        [0.0, 0.0, 0.0, 0.0, -6.9, -0.6, -0.1, 0.0, 0.0],
        [0.0, 0.0, 0.0, 0.0, -7.4, -0.9, -0.2, 0.0, 0.0],
    ),
    (
        "h5 lift 1.5 mm",
        |i| set_lift(i, 4, 1.5),
        [0.0, 0.0, 0.0, 0.0, -13.6, -1.2, -0.1, 0.0, 0.0],
        [0.0, 0.0, 0.0, 0.0, -14.5, -1.8, -0.3, -0.1, 0.0],
    ),
    (
        "all lifts × 0.6",
        |i| (0..8).for_each(|hole| set_lift(i, hole, 0.6 * 0.35 * i.holes[hole].diameter_mm)),
        [0.0, -3.2, -3.8, -3.4, -4.7, -5.6, -6.4, -5.6, -7.9],
        [0.0, -3.2, -3.9, -3.5, -5.2, -6.3, -7.5, -6.5, -9.5],
    ),
    (
        "pulled out 5 mm at the top",
        |i| pull_out(i, 5.0),
        [-6.7, -7.5, -8.4, -8.9, -10.0, -11.2, -12.5, -13.3, -14.9],
        [-7.3, -7.9, -8.6, -9.0, -9.7, -10.7, -11.8, -12.6, -13.9],
    ),
    (
        "joint gap 28 mm wide, 6 mm long, 420 mm down",
        |i| change_bore(i, 420.0, 6.0, 28.0),
        [-1.6, -1.5, -1.3, -1.2, -0.8, -0.2, 0.6, 1.0, 1.8],
        [0.8, 0.4, -0.6, -1.4, -3.1, -4.7, -5.1, -4.5, -1.6],
    ),
    (
        "ridge 20 mm wide, 5 mm long, 150 mm down",
        |i| change_bore(i, 150.0, 5.0, 20.0),
        [1.5, 1.6, 1.6, 1.6, 1.4, 1.2, 0.7, 0.4, -0.4],
        [-1.7, -2.7, -3.8, -4.4, -5.8, -7.2, -8.4, -8.9, -9.0],
    ),
    (
        "ridge 20 mm wide, 5 mm long, 600 mm down",
        |i| change_bore(i, 600.0, 5.0, 20.0),
        [-1.6, -2.5, -3.7, -4.4, -6.0, -7.6, -0.9, -0.2, 0.0],
        [-0.9, 1.0, 2.4, 2.5, 0.6, -4.2, -0.5, 0.0, 0.0],
    ),
    (
        "mouthpiece 3 ml larger",
        |i| {
            if let Some(mouthpiece) = i.mouthpiece.as_mut() {
                mouthpiece.chamber_ml += 3.0;
            }
        },
        [-8.8, -9.9, -11.1, -11.8, -13.2, -14.8, -16.6, -17.6, -19.7],
        [-9.6, -10.5, -11.4, -11.9, -12.9, -14.1, -15.6, -16.6, -18.4],
    ),
    (
        "5 mm off the open end",
        |i| i.bore[1].at_mm -= 5.0,
        [6.8, 0.2, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0],
        [6.5, 0.3, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0],
    ),
    (
        "bore narrows 24.6 to 23.4 mm",
        |i| (i.bore[0].diameter_mm, i.bore[1].diameter_mm) = (24.6, 23.4),
        [-33.0, -26.0, -22.0, -20.0, -17.0, -13.0, -10.0, -9.0, -6.0],
        [1.0, 3.0, 4.0, 5.0, 6.0, 6.0, 7.0, 7.0, 7.0],
    ),
    (
        "vent 1.2 mm",
        |i| i.holes[8].diameter_mm = 1.2,
        [0.1; 9],
        [-7.9, -3.8, -1.1, -0.4, -0.1, -1.4, -4.1, -5.8, -9.1],
    ),
    (
        "vent 3 mm",
        |i| i.holes[8].diameter_mm = 3.0,
        [-0.1; 9],
        [15.0, 7.0, 2.0, 0.7, 0.1, 2.5, 7.0, 11.0, 16.0],
    ),
    (
        "vent 30 mm nearer the reed",
        |i| i.holes[8].at_mm -= 30.0,
        [0.0; 9],
        [5.3, 4.4, 3.1, 2.2, 0.3, -1.9, -4.0, -5.0, -5.8],
    ),
    (
        "vent 30 mm further down",
        |i| i.holes[8].at_mm += 30.0,
        [0.0; 9],
        [-4.6, -3.3, -1.6, -0.6, 1.6, 3.7, 5.4, 5.8, 5.3],
    ),
];

fn set_lift(instrument: &mut Instrument, hole: usize, lift_mm: f64) {
    if let Some(pad) = instrument.holes[hole].pad.as_mut() {
        pad.lift_mm = lift_mm;
    }
}

/// Mouthpiece pulled out, the gap filled with a ring of the same bore.
fn pull_out(instrument: &mut Instrument, mm: f64) {
    instrument.bore[1].at_mm += mm;
    instrument.holes.iter_mut().for_each(|hole| hole.at_mm += mm);
}

/// Another diameter for a short stretch with its upper end at `at_mm`.
fn change_bore(instrument: &mut Instrument, at_mm: f64, length_mm: f64, diameter_mm: f64) {
    let usual_mm = instrument.bore[0].diameter_mm;
    let ends = [
        (at_mm, usual_mm),
        (at_mm, diameter_mm),
        (at_mm + length_mm, diameter_mm),
        (at_mm + length_mm, usual_mm),
    ];
    let points = ends.map(|(at_mm, diameter_mm)| BorePoint { at_mm, diameter_mm });
    instrument.bore.splice(1..1, points);
}

#[test]
fn changes_of_geometry_shift_all_eighteen_notes_as_our_own_script_says() {
    let healthy = notes(|_| {}, &[]);
    for (what, change, lower, upper) in GEOMETRY_ROWS {
        for (i, (after, before)) in notes(change, &[]).iter().zip(&healthy).enumerate() {
            let expected = if i < 9 { lower[i] } else { upper[i - 9] };
            let shift = cents_between(*after, *before);
            // Rows were printed to a tenth or to a whole cent; half a cent covers both.
            assert!((shift - expected).abs() <= 0.51, "{what}, note {i}: {shift} against {expected}");
        }
    }
}

/// The script's row without G3 … C4: there h5 is closed, and the script lost the air that the cone adds under the pad.
/// The test below holds those four, and all notes with h5 closed, to first-order theory.
#[test]
fn an_undercut_shifts_notes_as_our_own_script_says_where_its_air_counts_little() {
    let healthy = notes(|_| {}, &[]);
    let undercut = notes(|i| i.holes[4].undercut_mm = 2.0, &[]);
    let row = [
        (0, 0.4),
        (1, 0.5),
        (2, 0.5),
        (3, 0.6),
        (4, 5.8),
        (5, 0.5),
        (6, 0.1),
        (7, 0.0),
        (8, 0.0),
        (13, 6.1),
        (14, 0.8),
        (15, 0.1),
        (16, 0.0),
        (17, 0.0),
    ];
    for (note, cents) in row {
        let shift = cents_between(undercut[note], healthy[note]);
        assert!((shift - cents).abs() <= 0.5, "note {note}: {shift} against {cents}");
    }
}

/// Under its closed pad an undercut adds air (flat, most where the pressure swings most) and lets the stream in the
/// bore bulge further into the hole (sharp, most where the stream is fastest):
/// `Δf/f = −(ΔV/(S L)) cos² kx − (Δl/L) sin² kx`, C. J. Nederveen, Acoustical Aspects of Woodwind Instruments
/// (1969), from memory; lengths from the effective top, `L` the note's own number of quarter waves.
#[test]
fn a_closed_undercut_shifts_notes_by_its_air_and_its_series_length() {
    let instrument = bittern();
    let bore_area_mm2 = PI * (0.5 * instrument.bore[0].diameter_mm).powi(2);
    let top_mm = mouthpiece_length_mm(&instrument);
    let mut cut = instrument.clone();
    cut.holes[4].undercut_mm = 2.0;
    for note in [0, 1, 2, 3, 9, 10, 11, 12] {
        let fingering = &instrument.fingerings[note];
        let hole = |instrument: &Instrument| hole_as_fingered(instrument, &fingering.open, 4);
        let (straight, conical) = (hole(&instrument), hole(&cut));
        let hz = |instrument| playing_hz(instrument, &fingering.open, fingering.register, &[]).unwrap();
        let speed_mm = 1000.0 * column(&instrument, &[], &[]).air.speed;
        let quarter_waves = f64::from(u32::try_from(2 * fingering.register - 1).unwrap());
        let length_mm = quarter_waves * speed_mm / (4.0 * hz(&instrument));
        let phase = 2.0 * PI * hz(&instrument) / speed_mm * (top_mm + instrument.holes[4].at_mm);
        let air_mm = (air_mm3(&conical) - air_mm3(&straight)) / bore_area_mm2;
        let series_mm = 1000.0 * (conical.series_length() - straight.series_length());
        let share = -(air_mm * phase.cos().powi(2) + series_mm * phase.sin().powi(2)) / length_mm;
        let expected = 1200.0 * share.ln_1p() / 2f64.ln();
        let shift = cents_between(hz(&cut), hz(&instrument));
        assert!((shift - expected).abs() <= 0.1, "note {note}: {shift} against {expected}");
    }
}

/// Hole number `index` of the file, as the fingering leaves it.
fn hole_as_fingered(instrument: &Instrument, open: &[usize], index: usize) -> ToneHole {
    let holes: Vec<ToneHole> = column(instrument, open, &[])
        .pieces
        .iter()
        .filter_map(|piece| match piece {
            Piece::Hole(hole) => Some(*hole),
            _ => None,
        })
        .collect();
    let mut order: Vec<usize> = (0..instrument.holes.len()).collect();
    order.sort_by(|a, b| instrument.holes[*a].at_mm.total_cmp(&instrument.holes[*b].at_mm));
    holes[order.iter().position(|hole| *hole == index).unwrap()]
}

/// Air between the bore and the pad, mm³.
fn air_mm3(hole: &ToneHole) -> f64 {
    let (wide, narrow) = (hole.inner_radius, hole.radius);
    let height = hole.chimney + hole.saddle_length();
    1e9 * PI * height / 3.0 * (wide * wide + wide * narrow + narrow * narrow)
}

/// Our script took dry air by Keefe's constants; the program's air loses moisture too as it cools.
#[test]
fn colder_air_flattens_all_notes_alike_as_our_own_script_says() {
    let instrument = bittern();
    for (i, fingering) in instrument.fingerings.iter().enumerate() {
        let hz = |celsius: f64| {
            let mut column = column(&instrument, &fingering.open, &[]);
            column.air = Air::keefe(celsius);
            resonances(&column, fingering.register, highest_hz(&column))[fingering.register - 1].hz
        };
        let shift = cents_between(hz(19.0), hz(24.0));
        let range = if i < 9 { -14.3..-14.2 } else { -14.4..-14.3 };
        assert!(shift > range.start - 0.05 && shift < range.end + 0.05, "note {i}: {shift}");
    }
}

/// Rows that our script printed in part: a bell end that flares, a bore wider throughout.
#[test]
fn wider_bores_shift_notes_as_our_own_script_says() {
    let healthy = notes(|_| {}, &[]);
    let flared = |i: &mut Instrument| {
        i.bore.insert(1, BorePoint { at_mm: 1000.0, diameter_mm: 24.0 });
        i.bore[2].diameter_mm = 27.0;
    };
    let shifts = |after: Vec<f64>| -> Vec<f64> {
        after.iter().zip(&healthy).map(|(after, before)| cents_between(*after, *before)).collect()
    };
    let bell = shifts(notes(flared, &[]));
    for (note, cents) in [(0, 34.0), (1, 3.7), (2, 0.2), (3, 0.0), (9, 27.0), (10, 3.3), (11, 0.2), (12, 0.0)]
    {
        // 2 % of shifts over 25 cents.
        assert!((bell[note] - cents).abs() <= f64::max(0.5, 0.02 * cents), "note {note}: {}", bell[note]);
    }
    let wider = shifts(notes(|i| i.bore.iter_mut().for_each(|point| point.diameter_mm = 24.3), &[]));
    let within =
        |shifts: &[f64], low: f64, high: f64| shifts.iter().all(|s| (low - 0.5..high + 0.5).contains(s));
    assert!(within(&wider[..9], 2.0, 3.2) && within(&wider[9..], 1.7, 2.7), "{wider:?}");
}

#[test]
fn a_pad_stuck_open_jumps_as_our_own_script_says() {
    let instrument = bittern();
    let expected = [1057.0, 864.0, 671.0, 574.0, 383.0, 200.0, 0.0, 0.0, 0.0];
    for (fingering, cents) in instrument.fingerings.iter().zip(expected) {
        let mut stuck = fingering.open.clone();
        stuck.push(2);
        stuck.sort_unstable();
        stuck.dedup();
        let hz = |open: &[usize]| playing_hz(&instrument, open, 1, &[]).unwrap();
        let shift = cents_between(hz(&stuck), hz(&fingering.open));
        assert!((shift - cents).abs() <= f64::max(0.5, 0.02 * cents), "{}: {shift}", fingering.name);
    }
}

#[test]
fn a_stuck_pad_jumps_as_our_own_script_says() {
    let instrument = bittern();
    let open_g2 = &instrument.fingerings[4].open;
    let without_h5: Vec<usize> = open_g2.iter().copied().filter(|&hole| hole != 4).collect();
    let shift = cents_between(
        playing_hz(&instrument, &without_h5, 1, &[]).unwrap(),
        playing_hz(&instrument, open_g2, 1, &[]).unwrap(),
    );
    assert!((shift + 201.0).abs() < 1.0, "{shift}");
}

/// A post hole of 0.6 mm in the 3 mm wall at 300 mm (with the vent at 1.2 mm, so only the first
/// register compares).
#[test]
fn a_post_that_leaks_sharpens_the_first_register_as_our_own_script_says() {
    let healthy = notes(|_| {}, &[]);
    let leaking = notes(|_| {}, &[Leak { place: LeakPlace::Site(2), diameter_mm: 0.6 }]);
    let expected = [19.0, 19.0, 18.0, 18.0, 18.0, 16.0, 14.0, 13.0, 9.0];
    for ((after, before), cents) in leaking.iter().zip(&healthy).zip(expected) {
        let shift = cents_between(*after, *before);
        assert!((shift - cents).abs() < 1.7, "{shift} against {cents}");
    }
}

/// Height of the first two resonances under G3's fingering: the vent moves the first by +309 cents at
/// 2.0 mm, so that f2/f1 = 2.53; at 1.2 mm it stays at 2.84, close to 3.
#[test]
fn the_vent_parts_the_registers_as_our_own_script_says() {
    for (vent_mm, ratio) in [(2.0, 2.53), (1.2, 2.84)] {
        let mut instrument = bittern();
        instrument.holes[8].diameter_mm = vent_mm;
        let column = column(&instrument, &instrument.fingerings[9].open, &[]);
        let found = resonances(&column, 2, highest_hz(&column));
        assert!((found[1].hz / found[0].hz - ratio).abs() < 0.006, "{}", found[1].hz / found[0].hz);
    }
}
