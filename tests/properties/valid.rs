//! Random parts and instruments that an instrument file could hold.

use borescribe::acoustics::column::{Column, Top};
use borescribe::acoustics::hole::{Cover, Rim, ToneHole};
use borescribe::acoustics::radiation::OpenEnd;
use borescribe::air::Air;
use borescribe::instrument::model::{
    Bend, BorePoint, Drive, Finish, Goal, Hole, InsideAir, Instrument, LeakSite, MeasuredTo, Mouthpiece, Pad,
    Wall, Workshop,
};
use proptest::prelude::*;

/// Air as found inside instruments.
pub fn air() -> impl Strategy<Value = Air> {
    (0.0..35.0, 0.0..1.0).prop_map(|(celsius, humidity)| Air::mixture(celsius, humidity, 0.0004))
}

/// Air that damps nothing: its viscosity is next to none, and heat conduction goes with it.
pub fn lossless_air() -> Air {
    Air { viscosity: 1e-40, ..Air::mixture(20.0, 0.5, 0.0004) }
}

pub fn end() -> impl Strategy<Value = OpenEnd> {
    prop_oneof![
        Just(OpenEnd::Unflanged),
        Just(OpenEnd::Flanged),
        (1.01..3.0).prop_map(|wall: f64| OpenEnd::ThickWall { outer_radius: 0.01 * wall }),
    ]
}

/// An empty column whose top and end have the radius of the test's bore.
pub fn empty(air: Air, top_radius: f64, end_radius: f64) -> Column {
    Column {
        pieces: Vec::new(),
        end_radius,
        end: OpenEnd::ThickWall { outer_radius: 1.2 * end_radius },
        air,
        loss_factor: 1.05,
        top_radius,
        top: Top::Reed { give_volume: 0.0 },
    }
}

/// A hole in a bore of `bore_radius` m, with any cover.
pub fn hole_in(bore_radius: f64) -> impl Strategy<Value = ToneHole> {
    (0.03..0.9, 0.0..0.1, 0.001..0.03, 0.001..0.006, 0.02..1.0, 0..7).prop_map(
        move |(share, undercut, chimney, wall, lift_share, kind)| {
            let radius = share * bore_radius;
            let lift = 2.0 * radius * lift_share;
            let pad_radius = radius + wall + 0.001;
            ToneHole {
                bore_radius,
                radius,
                inner_radius: if kind == 4 { radius * (1.0 + undercut) } else { radius },
                chimney,
                rim: if chimney <= wall + 0.0005 {
                    Rim::Flush { tube_outer_radius: bore_radius + wall }
                } else {
                    Rim::Free { wall }
                },
                cover: match kind {
                    0 => Cover::Closed,
                    1 => Cover::HangingPad { pad_radius, lift },
                    2 => Cover::Leaking { radius: 0.0005 * lift_share, length: 0.003 },
                    5 => Cover::Finger,
                    6 => Cover::LeakingFinger { radius: 0.0005 * lift_share, length: 0.003 },
                    _ => Cover::Open,
                },
            }
        },
    )
}

/// An instrument with a bore of up to four stretches, up to six holes from the top down, and
/// perhaps a bend and a post. Which holes are open is the test's choice.
pub fn instrument() -> impl Strategy<Value = Instrument> {
    let bore = (200.0..3000.0_f64, 8.0..50.0_f64, prop::collection::vec((0.1..1.0, 0.7..1.4), 0..4));
    let holes = prop::collection::vec(
        (0.15..0.97_f64, 0.15..0.9_f64, 1.0..20.0, prop::option::of((2.0..6.0, 0.05..0.8)), 0.0..0.5_f64),
        0..7,
    );
    let top = (0.0..40.0, prop::option::of(0.0..5.0), 0.0..35.0, 0.0..100.0, 1.0..8.0);
    let rest = (prop::option::of((0.3..0.7, 0.0..90.0_f64, 10.0..180.0_f64)), 0.1..0.9);
    (bore, holes, top, rest).prop_map(|((length_mm, top_mm, stretches), holes, top, (bend, post))| {
        let (chamber_ml, reed_ml, celsius, humidity, wall_mm) = top;
        let mut instrument = Instrument {
            name: "Random".into(),
            prototype: "P1".into(),
            drive: Drive::Reed,
            a4_hz: 440.0,
            written_above_sounding: 0,
            wall: Wall { thickness_mm: wall_mm, finish: Finish::Smooth },
            air: InsideAir { temperature_c: celsius, humidity_percent: humidity },
            air_is_measured: false,
            in_tune_at_c: None,
            mouthpiece: Some(Mouthpiece { chamber_ml, suits_bore_mm: None, reed_ml }),
            embouchure_mm: None,
            bore: bore_points(length_mm, top_mm, &stretches),
            holes: Vec::new(),
            leak_sites: vec![LeakSite { name: "post".into(), at_mm: post * length_mm, wall_mm }],
            bends: Vec::new(),
            fingerings: Vec::new(),
            keys: Vec::new(),
            goal: Goal::default(),
            workshop: Workshop { drills_mm: Vec::new(), measured_to: MeasuredTo::default() },
        };
        for (place, share, chimney_mm, pad, undercut) in holes {
            let at_mm = place * length_mm;
            let bore_mm = instrument.bore_at_mm(at_mm);
            let diameter_mm = share * bore_mm;
            instrument.holes.push(Hole {
                name: format!("h{}", instrument.holes.len()),
                at_mm,
                diameter_mm,
                chimney_mm,
                pad: pad.map(|(wider, lift)| Pad {
                    diameter_mm: diameter_mm + wider,
                    lift_mm: lift * diameter_mm,
                }),
                rim_mm: 1.5,
                undercut_mm: undercut * (bore_mm - diameter_mm).min(1.0),
                vent: false,
                drilled: true,
                measured_again: false,
                angle_deg: 0.0,
                finger: pad.is_none(),
            });
        }
        instrument.holes.sort_by(|a, b| a.at_mm.total_cmp(&b.at_mm));
        if let Some((place, radius_mm, angle_deg)) = bend {
            let at_mm = place * length_mm;
            let tightest_mm = 0.5 * instrument.bore_at_mm(at_mm) + 1.0;
            let radius_mm = if radius_mm < 20.0 { 0.0 } else { f64::max(radius_mm, tightest_mm) };
            let half_mm = 0.5 * radius_mm * angle_deg.to_radians();
            if at_mm > half_mm && at_mm + half_mm < length_mm {
                instrument.bends.push(Bend { at_mm, radius_mm, angle_deg });
            }
        }
        instrument
    })
}

/// Stretches end at rising places; each is a cylinder, a cone or begins with a change of diameter.
fn bore_points(length_mm: f64, top_mm: f64, stretches: &[(f64, f64)]) -> Vec<BorePoint> {
    let mut points = vec![BorePoint { at_mm: 0.0, diameter_mm: top_mm }];
    let mut diameter_mm = top_mm;
    let total: f64 = stretches.iter().map(|stretch| stretch.0).sum::<f64>() + 0.3;
    let mut at_mm = 0.0;
    for (index, (share, ratio)) in stretches.iter().enumerate() {
        at_mm += share / total * length_mm;
        if index % 2 == 1 {
            points.push(BorePoint { at_mm, diameter_mm });
        }
        diameter_mm *= ratio;
        points.push(BorePoint { at_mm, diameter_mm });
    }
    points.push(BorePoint { at_mm: length_mm, diameter_mm });
    points
}

/// Holes `first` and all below it: a fingering without a fork. With none left, all are closed.
pub fn opened_from(instrument: &Instrument, first: usize) -> Vec<usize> {
    (first..instrument.holes.len()).collect()
}

/// The indices of the holes that the bits of `mask` open.
pub fn opened(instrument: &Instrument, mask: u8) -> Vec<usize> {
    (0..instrument.holes.len()).filter(|hole| mask >> hole & 1 == 1).collect()
}
