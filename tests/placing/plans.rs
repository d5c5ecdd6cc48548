//! Plans of tubes that are not drilled yet, from a soprano to a body below 20 Hz.

use borescribe::instrument::file::parse;
use borescribe::instrument::model::Instrument;
use borescribe::units::Note;

/// A plain tube with one hole a note, a vent, and the twelfth above every note.
pub struct Plan {
    pub bore_mm: f64,
    pub length_mm: f64,
    pub chamber_ml: f64,
    pub wall_mm: f64,
    /// MIDI numbers of the lower register, rising; the first has every hole closed.
    pub notes: &'static [i32],
    /// From the top down.
    pub sizes_mm: &'static [f64],
    pub vent_mm: f64,
    pub has_pads: bool,
}

/// A contrabass of 24 mm with keys: eight tone holes and the vent.
pub const CONTRABASS: Plan = Plan {
    bore_mm: 24.0,
    length_mm: 2300.0,
    chamber_ml: 31.0,
    wall_mm: 3.0,
    notes: &[25, 27, 29, 30, 32, 34, 35, 37, 39],
    sizes_mm: &[10.0, 10.0, 11.0, 12.0, 12.0, 13.0, 14.0, 15.0],
    vent_mm: 2.0,
    has_pads: true,
};

/// A soprano of 14 mm, closed by fingers.
pub const SOPRANO: Plan = Plan {
    bore_mm: 14.0,
    length_mm: 500.0,
    chamber_ml: 5.0,
    wall_mm: 3.0,
    notes: &[53, 55, 57, 58, 60, 62, 64, 65],
    sizes_mm: &[6.0, 6.0, 7.0, 7.0, 8.0, 8.0, 9.0],
    vent_mm: 2.0,
    has_pads: false,
};

/// A body of 45 mm whose lowest note is D0, 18.4 Hz.
pub const BELOW_20_HZ: Plan = Plan {
    bore_mm: 45.0,
    length_mm: 4600.0,
    chamber_ml: 150.0,
    wall_mm: 4.0,
    notes: &[14, 16, 18, 19, 21, 23, 25],
    sizes_mm: &[20.0, 22.0, 24.0, 26.0, 28.0, 30.0],
    vent_mm: 4.0,
    has_pads: true,
};

impl Plan {
    pub fn text(&self) -> String {
        let Plan { bore_mm, length_mm, chamber_ml, wall_mm, vent_mm, .. } = *self;
        let mut text = format!(
            "format = 1\n[instrument]\nname = \"Plan\"\nprototype = \"P1\"\ndrive = \"reed\"\n[wall]\nthickness_mm = \
             {wall_mm}\n[mouthpiece]\nchamber_ml = {chamber_ml}\n[[bore]]\nat_mm = 0\ndiameter_mm = {bore_mm}\n[[bore]]\n\
             at_mm = {length_mm}\ndiameter_mm = {bore_mm}\n"
        );
        let holes = self.sizes_mm.len();
        for (index, size_mm) in self.sizes_mm.iter().enumerate() {
            let at_mm = length_mm * (0.35 + 0.55 * (index + 1) as f64 / holes as f64);
            let chimney_mm = wall_mm + if self.has_pads { 3.0 } else { 0.0 };
            text += &format!(
                "[[hole]]\nname = \"h{}\"\nat_mm = {at_mm:.0}\ndiameter_mm = {size_mm}\nchimney_mm = {chimney_mm}\n\
                 drilled = false\n",
                index + 1
            );
            if self.has_pads {
                text +=
                    &format!("pad_diameter_mm = {}\npad_lift_mm = {:.1}\n", size_mm + 7.0, 0.35 * size_mm);
            }
        }
        text += &format!(
            "[[hole]]\nname = \"v\"\nat_mm = {:.0}\ndiameter_mm = {vent_mm}\nchimney_mm = 10\nvent = true\ndrilled = false\n",
            0.2 * length_mm
        );
        if self.has_pads {
            text += "pad_diameter_mm = 10\npad_lift_mm = 2\n";
        }
        for (register, up) in [(1, 0), (2, 19)] {
            for (count, midi) in self.notes.iter().enumerate() {
                let note = Note { midi: midi + up };
                let mut open: Vec<String> =
                    (holes + 1 - count..=holes).map(|hole| format!("\"h{hole}\"")).collect();
                open.extend((register == 2).then(|| "\"v\"".to_string()));
                text += &format!(
                    "[[fingering]]\nname = \"{note} r{register}\"\nnote = \"{note}\"\nregister = {register}\nopen = [{}]\n",
                    open.join(", ")
                );
            }
        }
        text
    }

    pub fn instrument(&self) -> Instrument {
        parse(&self.text()).unwrap()
    }
}
