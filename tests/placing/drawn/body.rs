//! A body that can be made: a tube, a mouthpiece and holes that meet their notes. What is asked of `place` is drawn
//! round it, so that a plan has an answer.

use borescribe::instrument::column::playing_hz;
use borescribe::instrument::file::parse;
use borescribe::instrument::model::Instrument;
use borescribe::units::{Note, cents_between};

use super::dice::Dice;

/// How large a plan may become.
#[derive(Debug, Clone, Copy)]
pub struct Most {
    pub holes: usize,
    pub fingerings: usize,
}

/// What closes the tone holes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ClosedBy {
    Pads,
    Fingers,
    Unsaid,
}

/// A fingering of a body: what it is wanted to sound and the holes that it opens.
#[derive(Debug, Clone)]
pub struct Wanted {
    pub name: String,
    pub note: Note,
    pub open: Vec<usize>,
    pub register: usize,
}

/// A body with what it plays.
pub struct Body {
    /// Every hole in its place and drilled; without fingerings.
    pub instrument: Instrument,
    pub closed_by: ClosedBy,
    pub fingerings: Vec<Wanted>,
}

/// Speed of sound for first guesses, mm/s; about that of 20 °C.
const SPEED: f64 = 343_000.0;
/// Wall that stays between neighbours here at least, mm.
const LEAST_WALL_MM: f64 = 2.0;
/// How far off a note of a higher register may be when it is wanted, cents: a little, or as much as a bad idea is.
const NEAR_CENTS: [f64; 2] = [50.0, 120.0];

/// From `least` up to `most`, each ratio as likely as the other.
pub fn between(dice: &mut Dice, least: f64, most: f64) -> f64 {
    least * (most / least).powf(unit(dice))
}

/// From 0 to 1.
pub fn unit(dice: &mut Dice) -> f64 {
    dice.below(1_000_001) as f64 / 1e6
}

/// To a tenth.
pub fn tenth(mm: f64) -> f64 {
    (mm * 10.0).round() / 10.0
}

impl Body {
    /// Draws a body; `None` when what was drawn has no sound at its lowest note.
    pub fn drawn(dice: &mut Dice, most: Most) -> Option<Body> {
        let reed = !dice.chance(15);
        let lowest_hz = between(dice, if reed { 12.0 } else { 60.0 }, 400.0);
        let lowest = Note::nearest(lowest_hz, 440.0).0;
        let guess_mm = SPEED / (if reed { 4.0 } else { 2.0 } * lowest.hz(440.0));
        let top_mm = tenth(between(dice, (guess_mm / 200.0).max(10.0), (guess_mm / 14.0).clamp(10.5, 60.0)));
        let end_mm =
            if dice.chance(25) { tenth((top_mm * between(dice, 1.05, 2.0)).min(60.0)) } else { top_mm };
        let wall_mm = tenth(between(dice, 1.5, 6.0));
        let mut text = format!(
            "format = 1\n[instrument]\nname = \"Drawn\"\nprototype = \"P1\"\ndrive = \"{}\"\n[wall]\nthickness_mm = \
             {wall_mm}\n[mouthpiece]\n",
            if reed { "reed" } else { "air-jet" }
        );
        let section_ml = 1e-3 * 0.25 * std::f64::consts::PI * top_mm * top_mm;
        if reed {
            let chamber_ml = tenth(section_ml * (0.05 * guess_mm).min(between(dice, 10.0, 80.0)));
            text += &format!("chamber_ml = {chamber_ml}\n");
        } else if dice.chance(50) {
            text += &format!("embouchure_mm = {}\n", tenth(between(dice, 1.2, 3.0) * top_mm));
        }
        text += &format!(
            "[[bore]]\nat_mm = 0\ndiameter_mm = {top_mm}\n[[bore]]\nat_mm = {}\ndiameter_mm = {end_mm}\n",
            tenth(guess_mm)
        );
        let mut instrument = parse(&text).ok()?;
        for _ in 0..4 {
            let cents = cents_between(playing_hz(&instrument, &[], 1, &[])?, lowest.hz(440.0));
            let end = instrument.bore.last_mut()?;
            end.at_mm = tenth(end.at_mm * 2_f64.powf(cents / 1200.0));
        }
        let closed_by = match dice.below(3) {
            0 => ClosedBy::Pads,
            1 if top_mm <= 24.0 => ClosedBy::Fingers,
            _ => ClosedBy::Unsaid,
        };
        let mut body = Body { instrument, closed_by, fingerings: Vec::new() };
        body.drill(dice, lowest, most);
        body.add_forks(dice, most);
        if dice.chance(65) {
            body.add_higher_register(dice, most);
        }
        body.fingerings.truncate(most.fingerings);
        Some(body)
    }

    /// Holes from the lowest up, each where its note is in tune.
    fn drill(&mut self, dice: &mut Dice, lowest: Note, most: Most) {
        let above_wall_mm =
            if self.closed_by == ClosedBy::Pads { tenth(between(dice, 1.0, 6.0)) } else { 0.0 };
        let is_large = dice.chance(40);
        let count = 1 + dice.below(if is_large { most.holes } else { most.holes.min(14) } as u64) as usize;
        let share = between(dice, 0.27, if count > 14 { 0.36 } else { 0.6 });
        let mut midi = lowest.midi;
        self.want(lowest, Vec::new(), 1);
        while self.instrument.holes.len() < count {
            midi += if count > 14 { 1 } else { *dice.one_of(&[1, 1, 2, 2, 2, 3]) };
            let before = self.instrument.holes.len();
            if !self.add_hole(dice, share, above_wall_mm, Note { midi }) {
                self.instrument.holes.truncate(before);
                break;
            }
            self.want(Note { midi }, (0..=before).rev().collect(), 1);
        }
    }

    fn add_hole(&mut self, dice: &mut Dice, share: f64, above_wall_mm: f64, note: Note) -> bool {
        let body = &mut self.instrument;
        let hz = note.hz(440.0);
        let (limit_mm, own) =
            (body.holes.last().map_or(body.length_mm(), |hole| hole.at_mm), body.holes.len());
        let below_mm = body.holes.last().map_or(0.0, |hole| 0.5 * hole.diameter_mm);
        let size_mm = 0.5 * (2.0 * body.bore_at_mm(limit_mm) * share * between(dice, 0.85, 1.15)).round();
        let mut text = format!(
            "name = \"h{}\"\nat_mm = 1\ndiameter_mm = {size_mm}\nchimney_mm = {}\n",
            own + 1,
            tenth(body.wall.thickness_mm + above_wall_mm)
        );
        match self.closed_by {
            ClosedBy::Pads => {
                let pad_mm = tenth(size_mm + 5.0 + 4.0 * unit(dice));
                let lift_mm = tenth(size_mm * between(dice, 0.25, 0.5));
                text += &format!("pad_diameter_mm = {pad_mm}\npad_lift_mm = {lift_mm}\n");
            }
            ClosedBy::Fingers => text += "closed_by = \"finger\"\n",
            ClosedBy::Unsaid => {}
        }
        let Some(hole) = one_hole(&text) else { return false };
        let mut at_mm = 0.94 * limit_mm;
        body.holes.push(hole);
        let open: Vec<usize> = (0..=own).collect();
        for _ in 0..8 {
            body.holes[own].at_mm = at_mm;
            let Some(sounds_hz) = playing_hz(body, &open, 1, &[]) else { return false };
            at_mm *= 2_f64.powf(cents_between(sounds_hz, hz) / 1200.0);
            if at_mm > limit_mm || at_mm < 0.05 * body.length_mm() {
                return false;
            }
        }
        body.holes[own].at_mm = tenth(at_mm);
        at_mm + 0.5 * size_mm + below_mm + LEAST_WALL_MM < limit_mm && at_mm > size_mm
    }

    /// Forks: of the open holes one or two below the highest are closed again.
    fn add_forks(&mut self, dice: &mut Dice, most: Most) {
        let holes = self.instrument.holes.len();
        let room = most.fingerings.saturating_sub(self.fingerings.len());
        if holes < 3 || !dice.chance(35) {
            return;
        }
        for _ in 0..(1 + dice.below(1 + holes as u64 / 3) as usize).min(room) {
            let highest = 2 + dice.below(holes as u64 - 2) as usize;
            let closed = 1 + dice.below(2) as usize;
            let open: Vec<usize> =
                (0..=highest).rev().filter(|&hole| hole == highest || hole + closed < highest).collect();
            let Some(hz) = playing_hz(&self.instrument, &open, 1, &[]) else { continue };
            self.want(Note::nearest(hz, 440.0).0, open, 1);
        }
    }

    /// The next register on the same holes, with one vent or two.
    fn add_higher_register(&mut self, dice: &mut Dice, most: Most) {
        let body = &mut self.instrument;
        let lower = self.fingerings.clone();
        let vents = 1 + usize::from(dice.chance(20) && lower.len() > 5);
        let first_vent = body.holes.len();
        let highest_hole_mm = body.holes.iter().map(|hole| hole.at_mm).fold(body.length_mm(), f64::min);
        for vent in 0..vents {
            let share = (vent as f64 + 0.5) / vents as f64;
            let served = &lower[(share * lower.len() as f64) as usize];
            let Some(hz) = playing_hz(body, &served.open, 1, &[]) else { return };
            let guess_mm = tenth((SPEED / (12.0 * hz)).min(0.8 * highest_hole_mm) - 6.0 * vent as f64);
            let size_mm =
                0.5 * (2.0 * body.bore_at_mm(guess_mm) * between(dice, 0.06, 0.14)).round().max(2.0);
            let chimney_mm = tenth(body.wall.thickness_mm + 6.0 * unit(dice));
            let text = format!(
                "name = \"v{}\"\nat_mm = {guess_mm}\ndiameter_mm = {size_mm}\nchimney_mm = {chimney_mm}\nvent = true\n",
                vent + 1
            );
            if guess_mm < 3.0 * size_mm + 10.0 || body.holes.len() >= most.holes {
                return;
            }
            let Some(hole) = one_hole(&text) else { return };
            body.holes.push(hole);
        }
        let near_cents = NEAR_CENTS[usize::from(dice.chance(15))];
        let mut found = Vec::new();
        for (place, fingering) in lower.iter().enumerate() {
            let vent = first_vent + place * vents / lower.len();
            let mut open = fingering.open.clone();
            open.push(vent);
            let Some(hz) = playing_hz(body, &open, 2, &[]) else { continue };
            let (nearest, off_cents) = Note::nearest(hz, 440.0);
            // A twelfth where the air column nearly has one: that is what a maker asks for.
            let twelfth = Note { midi: fingering.note.midi + 19 };
            let far_cents = cents_between(hz, twelfth.hz(440.0)).abs();
            let note = if far_cents < near_cents { twelfth } else { nearest };
            if far_cents < near_cents || off_cents.abs() < near_cents {
                found.push((note, open));
            }
        }
        found.into_iter().for_each(|(note, open)| self.want(note, open, 2));
    }

    /// Adds a fingering, unless its note is below one that opens less, or it is there already.
    fn want(&mut self, note: Note, open: Vec<usize>, register: usize) {
        let tone = |open: &[usize]| -> Vec<usize> {
            open.iter().copied().filter(|&hole| !self.instrument.holes[hole].vent).collect()
        };
        let own = tone(&open);
        let within = |fewer: &[usize], more: &[usize]| fewer.iter().all(|hole| more.contains(hole));
        let contradicts = |other: &&Wanted| {
            let others = tone(&other.open);
            other.register == register
                && ((within(&others, &own) && other.note.midi >= note.midi)
                    || (within(&own, &others) && other.note.midi <= note.midi))
        };
        if self.fingerings.iter().find(contradicts).is_some() {
            return;
        }
        let name = format!("{note} n{}", self.fingerings.len() + 1);
        self.fingerings.push(Wanted { name, note, open, register });
    }
}

/// A hole as the reader makes it of its lines.
fn one_hole(lines: &str) -> Option<borescribe::instrument::model::Hole> {
    let tube = "format = 1\n[instrument]\nname = \"T\"\nprototype = \"P1\"\ndrive = \"reed\"\n[mouthpiece]\nchamber_ml = \
                1\n[[bore]]\nat_mm = 0\ndiameter_mm = 80\n[[bore]]\nat_mm = 9000\ndiameter_mm = 80\n";
    let lines = lines.replace("at_mm = 1\n", "at_mm = 100\n");
    parse(&format!("{tube}[[hole]]\n{lines}")).ok()?.holes.pop()
}
