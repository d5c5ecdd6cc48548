//! Bodies of the great-bass chalumeau Bittern, as numbers from which instrument files are written.

use borescribe::instrument::file::parse;
use borescribe::instrument::model::Instrument;

/// Notes of both registers, lowest first, and how many of h8 … h1 are open.
pub const FIRST: [&str; 9] = ["C2", "D2", "E2", "F2", "G2", "A2", "B2", "C3", "D3"];
pub const SECOND: [&str; 9] = ["G3", "A3", "B3", "C4", "D4", "E4", "F#4", "G4", "A4"];

/// One body of the instrument, as numbers from which its file is written.
#[derive(Clone)]
pub struct Body {
    pub prototype: &'static str,
    /// Place and diameter along the bore.
    pub bore: Vec<(f64, f64)>,
    pub wall: f64,
    pub chimney: f64,
    pub holes: Vec<(f64, f64)>,
    /// Lift of h2's pad when it is not as the others.
    pub h2_lift: Option<f64>,
    pub vent: (f64, f64, f64),
    pub sites: Vec<(&'static str, f64)>,
    pub celsius: f64,
}

impl Body {
    pub fn text(&self) -> String {
        let mut text = format!(
            "# Bittern, as measured.\nformat = 1\n[instrument]\nname = \"Bittern\"\nprototype = \"{}\"\ndrive = \"reed\"\n\
             [wall]\nthickness_mm = {:.1}\n[air]\ntemperature_c = {:.1}\n\
             [mouthpiece]\nchamber_ml = 31.0\nreed_ml = 2.0\nsuits_bore_mm = [22.0, 25.0]\n",
            self.prototype, self.wall, self.celsius
        );
        for (at, diameter) in &self.bore {
            text.push_str(&format!("[[bore]]\nat_mm = {at:.2}\ndiameter_mm = {diameter:.2}\n"));
        }
        for (index, (at, diameter)) in self.holes.iter().enumerate() {
            let lift = self.h2_lift.filter(|_| index == 1).unwrap_or(0.35 * diameter);
            text.push_str(&format!(
                "[[hole]]\nname = \"h{}\"\nat_mm = {at:.1}\ndiameter_mm = {diameter:.1}\nchimney_mm = {:.1}\n\
                 pad_diameter_mm = {:.1}\npad_lift_mm = {lift:.3}\n",
                index + 1,
                self.chimney,
                diameter + 6.0
            ));
        }
        let (at, diameter, tube) = self.vent;
        text.push_str(&format!(
            "[[hole]]\nname = \"v\"\nat_mm = {at:.1}\ndiameter_mm = {diameter:.1}\nchimney_mm = {tube:.1}\nvent = true\n"
        ));
        for (name, at) in &self.sites {
            text.push_str(&format!("[[leak_site]]\nname = \"{name}\"\nat_mm = {at:.1}\nwall_mm = 3.0\n"));
        }
        for (register, names) in [(1, FIRST), (2, SECOND)] {
            for (count, name) in names.iter().enumerate() {
                let mut open: Vec<String> = (0..count).map(|i| format!("\"h{}\"", 8 - i)).collect();
                open.extend((register == 2).then(|| "\"v\"".to_string()));
                text.push_str(&format!(
                    "[[fingering]]\nname = \"{name}\"\nregister = {register}\nopen = [{}]\n",
                    open.join(", ")
                ));
            }
        }
        text
    }

    pub fn instrument(&self) -> Instrument {
        parse(&self.text()).unwrap()
    }
}

pub fn second_body() -> Body {
    let places = [461.0, 544.0, 578.0, 665.0, 762.0, 875.0, 931.0, 1058.0];
    let sizes = [10.0, 11.0, 12.0, 13.0, 14.0, 15.0, 16.0, 17.0];
    Body {
        prototype: "P2",
        bore: vec![(0.0, 24.0), (1217.0, 24.0)],
        wall: 3.0,
        chimney: 6.0,
        holes: places.into_iter().zip(sizes).collect(),
        h2_lift: None,
        vent: (230.0, 2.0, 10.0),
        sites: vec![("p1", 120.0), ("p2", 205.0), ("p3", 300.0), ("p4", 505.0), ("p5", 700.0), ("p6", 990.0)],
        celsius: 24.0,
    }
}

pub fn third_body() -> Body {
    let places = [462.0, 545.0, 579.0, 666.0, 762.0, 874.0, 930.0, 1057.0];
    let sizes = [11.0, 12.0, 13.0, 14.0, 15.0, 16.0, 17.0, 18.0];
    Body {
        prototype: "P3",
        bore: vec![(0.0, 24.0), (1216.0, 24.0)],
        wall: 3.0,
        chimney: 8.0,
        holes: places.into_iter().zip(sizes).collect(),
        h2_lift: None,
        vent: (230.0, 2.0, 12.0),
        sites: vec![("joint 505", 505.0), ("joint 900", 900.0)],
        celsius: 24.0,
    }
}
