//! The great-bass chalumeau "Bittern" of the samples, as geometry for tests.

use borescribe::instrument::model::{
    BorePoint, Drive, Fingering, Finish, Goal, Hole, InsideAir, Instrument, LeakSite, MeasuredTo, Mouthpiece,
    Pad, Wall, Workshop,
};

/// Prototype 2 as it should be: bore 24 mm, eight keyed holes, a vent (index 8), 24 °C.
pub fn bittern() -> Instrument {
    let holes = [
        (461.0, 10.0),
        (544.0, 11.0),
        (578.0, 12.0),
        (665.0, 13.0),
        (762.0, 14.0),
        (875.0, 15.0),
        (931.0, 16.0),
        (1058.0, 17.0),
    ];
    let mut all: Vec<Hole> = holes
        .iter()
        .enumerate()
        .map(|(i, &(at_mm, diameter_mm))| Hole {
            name: format!("h{}", i + 1),
            at_mm,
            diameter_mm,
            chimney_mm: 6.0,
            pad: Some(Pad { diameter_mm: diameter_mm + 6.0, lift_mm: 0.35 * diameter_mm }),
            rim_mm: 1.5,
            undercut_mm: 0.0,
            vent: false,
            drilled: true,
            measured_again: false,
            angle_deg: 0.0,
            finger: false,
        })
        .collect();
    all.push(Hole {
        name: "v".into(),
        at_mm: 230.0,
        diameter_mm: 2.0,
        chimney_mm: 10.0,
        pad: None,
        vent: true,
        ..all[0].clone()
    });
    let notes = ["C2", "D2", "E2", "F2", "G2", "A2", "B2", "C3", "D3"];
    let upper = ["G3", "A3", "B3", "C4", "D4", "E4", "F#4", "G4", "A4"];
    let fingering = |name: &str, count: usize, register: usize| Fingering {
        name: name.into(),
        note: name.parse().unwrap(),
        open: (8 - count..8).chain((register == 2).then_some(8)).collect(),
        register,
        cents: 0.0,
        weight: 1.0,
        leave: false,
    };
    let fingerings =
        (0..9).map(|i| fingering(notes[i], i, 1)).chain((0..9).map(|i| fingering(upper[i], i, 2))).collect();
    let posts = [
        ("p1", 120.0),
        ("p2", 205.0),
        ("p3", 300.0),
        ("p4", 505.0),
        ("p5", 700.0),
        ("p6", 990.0),
        ("low", 1150.0),
    ];
    Instrument {
        name: "Bittern".into(),
        prototype: "P2".into(),
        drive: Drive::Reed,
        a4_hz: 440.0,
        written_above_sounding: 0,
        wall: Wall { thickness_mm: 3.0, finish: Finish::Smooth },
        air: InsideAir { temperature_c: 24.0, humidity_percent: 60.0 },
        air_is_measured: false,
        in_tune_at_c: None,
        mouthpiece: Some(Mouthpiece {
            chamber_ml: 31.0,
            suits_bore_mm: Some([22.0, 25.0]),
            reed_ml: Some(2.0),
        }),
        embouchure_mm: None,
        bore: vec![
            BorePoint { at_mm: 0.0, diameter_mm: 24.0 },
            BorePoint { at_mm: 1217.0, diameter_mm: 24.0 },
        ],
        holes: all,
        leak_sites: posts
            .iter()
            .map(|&(name, at_mm)| LeakSite { name: name.into(), at_mm, wall_mm: 3.0 })
            .collect(),
        bends: Vec::new(),
        fingerings,
        keys: Vec::new(),
        goal: Goal::default(),
        workshop: Workshop { drills_mm: Vec::new(), measured_to: MeasuredTo::default() },
    }
}
