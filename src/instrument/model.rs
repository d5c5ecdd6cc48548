//! What the maker's file says, as plain data: lengths in millimetres, volumes in millilitres.
//!
//! Everything here has passed the file's checks. Must not know how a file is written nor how
//! an air column is computed.

use crate::units::Note;

/// One prototype of one instrument, as measured at the bench.
#[derive(Debug, Clone, PartialEq)]
pub struct Instrument {
    /// The maker's name for it.
    pub name: String,
    /// Which body, `P1` and so on.
    pub prototype: String,
    /// What makes it sound.
    pub drive: Drive,
    /// Frequency of A4 in hertz.
    pub a4_hz: f64,
    /// Written pitch minus sounding pitch in semitones.
    pub written_above_sounding: i32,
    /// The tube's wall.
    pub wall: Wall,
    /// The air in the instrument as played.
    pub air: InsideAir,
    /// Whether somebody measured how warm that air, or the room, is.
    pub air_is_measured: bool,
    /// The air in which it is to be in tune, °C, where the notes were played in other air; `None`: the same.
    pub in_tune_at_c: Option<f64>,
    /// The mouthpiece; `None` for an air jet.
    pub mouthpiece: Option<Mouthpiece>,
    /// An air jet's end correction as a length of bore in mm, when the maker has learnt it.
    pub embouchure_mm: Option<f64>,
    /// The bore from where the mouthpiece ends (0 mm) to the open end: two points or more in
    /// rising order, straight lines between; two at one place make a change of diameter.
    pub bore: Vec<BorePoint>,
    /// Holes in the order of the file.
    pub holes: Vec<Hole>,
    /// What may leak besides closed holes.
    pub leak_sites: Vec<LeakSite>,
    /// Bends of a folded tube.
    pub bends: Vec<Bend>,
    /// Fingerings in the order of the file.
    pub fingerings: Vec<Fingering>,
    /// Keys that lie in the box for a body that is still planned, in the order of the file.
    pub keys: Vec<Key>,
    /// What is good enough, and which notes matter more.
    pub goal: Goal,
    /// What the maker can do.
    pub workshop: Workshop,
}

/// What makes the air column sound.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Drive {
    /// A reed on a mouthpiece: closed at the top.
    Reed,
    /// A flute's air jet: open at the top.
    AirJet,
}

/// The tube's wall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wall {
    /// Thickness in mm.
    pub thickness_mm: f64,
    /// How smooth the inside is.
    pub finish: Finish,
}

/// How smooth and tight the inside of the wall is; see [`Finish::loss_factor`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Finish {
    /// Plastic, metal, varnished wood.
    Smooth,
    /// Oiled wood.
    OiledWood,
    /// Raw or damaged wood, bamboo.
    RawWood,
}

impl Finish {
    /// How much more the wall damps than smooth-wall theory says (common practice, no source).
    #[must_use]
    pub fn loss_factor(self) -> f64 {
        match self {
            Finish::Smooth => 1.05,
            Finish::OiledWood => 1.10,
            Finish::RawWood => 1.35,
        }
    }
}

/// The air in the instrument as played.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InsideAir {
    /// Temperature in °C.
    pub temperature_c: f64,
    /// Relative humidity in percent.
    pub humidity_percent: f64,
}

/// The mouthpiece.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mouthpiece {
    /// The water it holds in ml; 0 for a bare closed tube.
    pub chamber_ml: f64,
    /// Narrowest and widest bore it was made for, in mm.
    pub suits_bore_mm: Option<[f64; 2]>,
    /// The reed's give as a volume in ml, when the maker has learnt it.
    pub reed_ml: Option<f64>,
}

/// One measured point of the bore.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BorePoint {
    /// Distance from where the mouthpiece ends, mm.
    pub at_mm: f64,
    /// Inner diameter, mm.
    pub diameter_mm: f64,
}

/// A tone hole or register vent.
#[derive(Debug, Clone, PartialEq)]
pub struct Hole {
    /// Its name in the file.
    pub name: String,
    /// Centre of the hole, mm from where the mouthpiece ends.
    pub at_mm: f64,
    /// Diameter at the rim, mm.
    pub diameter_mm: f64,
    /// Height from the bore's surface (at its crest) to the outer rim, mm.
    pub chimney_mm: f64,
    /// The pad that hangs over it when open.
    pub pad: Option<Pad>,
    /// True when a fingertip closes it; false for a flat lid, which is reckoned with when the file doesn't say.
    pub finger: bool,
    /// Width of the rim that the pad closes on, mm.
    pub rim_mm: f64,
    /// How much wider the hole is at the bore than at the rim, mm.
    pub undercut_mm: f64,
    /// Where it lies round the tube, degrees from the line of the finger holes, -180 to 180; positive is clockwise
    /// seen from the mouthpiece. No note depends on it.
    pub angle_deg: f64,
    /// True for a register vent.
    pub vent: bool,
    /// False while it is only planned.
    pub drilled: bool,
    /// True when size, place and chimney were measured a second time with care, so that they are hardly ever wrong.
    pub measured_again: bool,
}

/// A pad over an open hole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pad {
    /// Diameter of the pad, mm.
    pub diameter_mm: f64,
    /// Gap from rim to pad when open, mm.
    pub lift_mm: f64,
}

/// A key with its pad that is at hand for a planned body. It closes one hole; of those that are alike there may be several.
#[derive(Debug, Clone, PartialEq)]
pub struct Key {
    /// Its name in the file; `key 1` and so on where the file has none.
    pub name: String,
    /// Diameter of its pad or cup, mm.
    pub pad_diameter_mm: f64,
    /// The nearest to the mouthpiece that its hole may lie, centre, mm from where the mouthpiece ends.
    pub from_mm: Option<f64>,
    /// The farthest from the mouthpiece that its hole may lie.
    pub to_mm: Option<f64>,
    /// Where its hole lies round the tube, as [`Hole::angle_deg`]; `None`: on the hole's own line.
    pub angle_deg: Option<f64>,
    /// How far it opens, mm.
    pub lift_mm: Option<f64>,
    /// How many there are.
    pub count: usize,
    /// True for a key of a register vent.
    pub vent: bool,
}

/// A post hole, joint or other place that may leak.
#[derive(Debug, Clone, PartialEq)]
pub struct LeakSite {
    /// Its name in the file.
    pub name: String,
    /// Distance from where the mouthpiece ends, mm.
    pub at_mm: f64,
    /// Length of the channel through the wall, mm.
    pub wall_mm: f64,
}

/// A bend of a folded tube, centred at `at_mm` along the tube's middle line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bend {
    /// Middle of the bend, mm from where the mouthpiece ends.
    pub at_mm: f64,
    /// Radius of the middle line, mm; 0 for a mitred elbow.
    pub radius_mm: f64,
    /// Angle turned, degrees.
    pub angle_deg: f64,
}

/// Which holes are open, and the note that is wanted.
#[derive(Debug, Clone, PartialEq)]
pub struct Fingering {
    /// Its name in the file; takes are called after it.
    pub name: String,
    /// The target note, sounding.
    pub note: Note,
    /// Indices into [`Instrument::holes`] of the holes that are open.
    pub open: Vec<usize>,
    /// Which resonance is meant to sound, from 1.
    pub register: usize,
    /// Wanted offset from equal temperament, cents.
    pub cents: f64,
    /// How much this note matters in the aim over all notes, 0 to 100; 1 as a rule.
    pub weight: f64,
    /// True when nothing may be cut for the sake of this note.
    pub leave: bool,
}

/// What the maker calls in tune.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Goal {
    /// A note this near its target is good enough, cents.
    pub within_cents: f64,
    /// How much a note of the second register matters beside one of the first, 0 to 10.
    pub second_register_weight: f64,
}

impl Default for Goal {
    /// Five cents, about what a listener notices between notes that follow one another (common practice, no
    /// source); upper notes count half, since lips bend them more easily (our choice).
    fn default() -> Self {
        Goal { within_cents: 5.0, second_register_weight: 0.5 }
    }
}

/// What the maker can do at the bench.
#[derive(Debug, Clone, PartialEq)]
pub struct Workshop {
    /// Drill diameters at hand in mm, rising; empty when the file does not say.
    pub drills_mm: Vec<f64>,
    /// How well things were measured.
    pub measured_to: MeasuredTo,
}

/// How well the maker measures: one standard deviation, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeasuredTo {
    /// Places of holes.
    pub place_mm: f64,
    /// Diameters of holes.
    pub diameter_mm: f64,
    /// Heights of chimneys.
    pub chimney_mm: f64,
    /// Lifts of pads.
    pub lift_mm: f64,
    /// Diameter of the bore.
    pub bore_mm: f64,
}

impl Default for MeasuredTo {
    /// Calipers and a steel rule (common practice, no source).
    fn default() -> Self {
        MeasuredTo { place_mm: 0.5, diameter_mm: 0.1, chimney_mm: 0.3, lift_mm: 0.3, bore_mm: 0.1 }
    }
}

impl Instrument {
    /// Length of the tube from where the mouthpiece ends, mm.
    #[must_use]
    pub fn length_mm(&self) -> f64 {
        self.bore.last().map_or(0.0, |point| point.at_mm)
    }

    /// Takes the measured temperature of the air, °C, for that of the takes; it is to be in tune in the air it had before.
    pub fn measure_air(&mut self, temperature_c: f64) {
        self.in_tune_at_c = self.in_tune_at_c.or(Some(self.air.temperature_c));
        self.air.temperature_c = temperature_c;
        self.air_is_measured = true;
    }

    /// Target frequency of a fingering, hertz.
    #[must_use]
    pub fn target_hz(&self, fingering: &Fingering) -> f64 {
        crate::units::shift_by_cents(fingering.note.hz(self.a4_hz), fingering.cents)
    }

    /// Whether every hole that the fingering opens is drilled.
    #[must_use]
    pub fn playable(&self, fingering: &Fingering) -> bool {
        fingering.open.iter().all(|&hole| self.holes[hole].drilled)
    }

    /// The instrument with every planned hole drilled.
    #[must_use]
    pub fn finished(&self) -> Instrument {
        let mut finished = self.clone();
        finished.holes.iter_mut().for_each(|hole| hole.drilled = true);
        finished
    }

    /// The open tone hole of a fingering that is nearest the mouthpiece: the one whose note this is. `None`:
    /// all closed, or no such fingering.
    #[must_use]
    pub fn first_open_hole(&self, fingering: usize) -> Option<usize> {
        let open = self.fingerings.get(fingering).map(|f| f.open.as_slice()).unwrap_or_default();
        open.iter()
            .copied()
            .filter(|&hole| !self.holes[hole].vent)
            .min_by(|&a, &b| self.holes[a].at_mm.total_cmp(&self.holes[b].at_mm))
    }

    /// The holes (indices into [`Instrument::holes`]) from the top down.
    #[must_use]
    pub fn holes_from_the_top(&self) -> Vec<usize> {
        let mut order: Vec<usize> = (0..self.holes.len()).collect();
        order.sort_by(|&a, &b| self.holes[a].at_mm.total_cmp(&self.holes[b].at_mm));
        order
    }

    /// Diameter of the bore at `at_mm`, mm; clamped to the ends. At a change of diameter, the side
    /// nearer the mouthpiece.
    #[must_use]
    pub fn bore_at_mm(&self, at_mm: f64) -> f64 {
        let Some(first) = self.bore.first() else { return 0.0 };
        if at_mm <= first.at_mm {
            return first.diameter_mm;
        }
        for pair in self.bore.windows(2) {
            let (a, b) = (pair[0], pair[1]);
            if at_mm <= b.at_mm && b.at_mm > a.at_mm {
                let share = (at_mm - a.at_mm) / (b.at_mm - a.at_mm);
                return a.diameter_mm + share * (b.diameter_mm - a.diameter_mm);
            }
        }
        self.bore.last().map_or(first.diameter_mm, |point| point.diameter_mm)
    }
}
