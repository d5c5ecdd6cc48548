//! What is really there: faults, and everything in which instrument and player differ from what the program assumes.

use borescribe::acoustics::blown::blown_hz;
use borescribe::acoustics::resonance::describe;
use borescribe::diagnosis::beliefs::{MATERIAL_CENTS, MATERIAL_DB};
use borescribe::diagnosis::causes::catalogue::{Cause, Plan, plans, with_cause};
use borescribe::instrument::column::{Leak, LeakPlace, column, playing_hz, reed_give_ml};
use borescribe::instrument::model::Instrument;
use borescribe::units::cents_between;

use super::chance::Chance;

/// One standard deviation of what all notes lie off the prediction, cents.
const OFFSET_CENTS: f64 = 5.0;
/// How strongly leaks act beside what is computed, least and most.
const LEAK_STRENGTH: (f64, f64) = (0.5, 2.0);
/// One standard deviation of the height of all holes, in hole radii, and of the reed's give as a share of it.
const HOLE_HEIGHT_RADII: f64 = 0.15;
const REED_SHARE: f64 = 0.3;
/// Standard deviation of the error that changes slowly over the scale, cents.
const SMOOTH_CENTS: f64 = 2.0;

/// A resonance that a leak moves by more than this is gone, and another one is taken for it, cents.
const LOST_CENTS: f64 = 400.0;

/// A fault that was drawn.
#[derive(Debug, Clone, Copy)]
pub struct Fault {
    pub cause: Cause,
    pub amount: f64,
}

/// Draws none, one or two faults as the program's prior has them: each explanation as likely as the product of its
/// causes' odds, 1 for none. A size is drawn from the stretch that its step of the catalogue stands for.
pub fn draw_faults(file: &Instrument, chance: &mut Chance) -> Vec<Fault> {
    let plans = plans(file);
    let odds: f64 = plans.iter().map(|plan| plan.odds).sum();
    let squares: f64 = plans.iter().map(|plan| plan.odds * plan.odds).sum();
    let pairs = 0.5 * (odds * odds - squares);
    let count = chance.index([1.0, odds, pairs].into_iter());
    let mut drawn: Vec<usize> = Vec::new();
    while drawn.len() < count {
        drawn = (0..count).map(|_| chance.index(plans.iter().map(|plan| plan.odds))).collect();
        drawn.dedup();
    }
    drawn.iter().map(|&plan| draw_size(&plans[plan], chance)).collect()
}

fn draw_size(plan: &Plan, chance: &mut Chance) -> Fault {
    let step = chance.index(plan.sizes.iter().map(|size| size.1));
    let at = |index: usize| plan.sizes.get(index).map_or(plan.sizes[step].0, |size| size.0);
    let low = 0.5 * (at(step.wrapping_sub(1)) + at(step));
    let high = 0.5 * (at(step) + at(step + 1));
    Fault { cause: plan.cause, amount: chance.between(low, high) }
}

/// Body, player and room of one session.
pub struct World {
    /// The body with its faults but leaks and stuck pads, as careful calipers would find it.
    measurable: Instrument,
    /// The same with everything in which the prediction's formulas are wrong.
    body: Instrument,
    /// The file as it was first written, with which a fault is compared to see whether it matters.
    file: Instrument,
    pub faults: Vec<Fault>,
    /// How strongly the notes are blown, as a share of usual blowing.
    blowing: f64,
    leak_strength: f64,
    offset_cents: f64,
    /// Size and phase of the slow waves, each of its own length in octaves.
    waves: Vec<(f64, f64, f64)>,
}

/// A note as it would sound, before the player scatters.
#[derive(Debug, Clone, Copy)]
pub struct Sounding {
    pub hz: f64,
    /// How much lower its resonance is than without leaks, dB (≤ 0).
    pub lower_db: f64,
}

impl World {
    pub fn draw(file: &Instrument, faults: Vec<Fault>, usual: bool, chance: &mut Chance) -> World {
        let blowing = if usual { chance.between(0.6, 1.4) } else { 0.0 };
        // Three sines with random phases: half of the sum of their squared sizes is the variance.
        let wave_cents = SMOOTH_CENTS * (2.0_f64 / 3.0).sqrt();
        let measurable = measurable(file, &faults, chance);
        World {
            body: as_it_acts(&measurable, chance),
            measurable,
            file: file.clone(),
            faults,
            blowing,
            leak_strength: chance.log_between(LEAK_STRENGTH.0, LEAK_STRENGTH.1),
            offset_cents: OFFSET_CENTS * chance.normal(),
            waves: [0.8, 1.6, 3.2]
                .map(|octaves| (wave_cents * chance.normal(), chance.between(0.0, 6.3), octaves))
                .to_vec(),
        }
    }

    /// Faults and errors of the prediction in a line.
    pub fn described(&self) -> String {
        let is_lump = self.body.mouthpiece.is_some_and(|mouthpiece| mouthpiece.chamber_ml == 0.0);
        format!(
            "{:?}, blowing {:.2}, leaks times {:.2}, offset {:.1} cents, lumped chamber {is_lump}",
            self.faults, self.blowing, self.leak_strength, self.offset_cents
        )
    }

    /// A fingering with nothing leaking at `closed`; `None` where its resonance is lost.
    pub fn sounds(&self, fingering: usize, closed: &[LeakPlace]) -> Option<Sounding> {
        let known = &self.file.fingerings[fingering];
        let open = self.open(fingering);
        let leaks: Vec<Leak> = self
            .faults
            .iter()
            .filter_map(leak)
            .filter(|leak| !closed.contains(&leak.place))
            .filter(|leak| !matches!(leak.place, LeakPlace::Hole(hole) if open.contains(&hole)))
            .collect();
        let (tight_hz, height) = self.blown(&self.body, &open, known.register, &[])?;
        let (leaking_hz, lower) = match leaks.is_empty() {
            true => (tight_hz, height),
            false => self.blown(&self.body, &open, known.register, &leaks)?,
        };
        let computed_cents = cents_between(leaking_hz, tight_hz);
        if computed_cents.abs() > LOST_CENTS {
            return None;
        }
        let by_leaks = self.leak_strength * computed_cents;
        let octaves = (tight_hz / 100.0).log2();
        let wave = |(cents, phase, length): &(f64, f64, f64)| {
            cents * (phase + 2.0 * std::f64::consts::PI * octaves / length).sin()
        };
        let cents = by_leaks + self.offset_cents + self.waves.iter().map(wave).sum::<f64>();
        Some(Sounding {
            hz: tight_hz * (cents / 1200.0).exp2(),
            lower_db: (20.0 * (lower / height).log10()).min(0.0),
        })
    }

    fn open(&self, fingering: usize) -> Vec<usize> {
        let stuck = |hole: &usize| self.faults.iter().any(|fault| fault.cause == Cause::StuckShut(*hole));
        self.file.fingerings[fingering].open.iter().copied().filter(|hole| !stuck(hole)).collect()
    }

    /// Where a note sounds, hertz, and how high its resonance is.
    fn blown(
        &self,
        body: &Instrument,
        open: &[usize],
        register: usize,
        leaks: &[Leak],
    ) -> Option<(f64, f64)> {
        let soft_hz = playing_hz(body, open, register, leaks)?;
        let column = column(body, open, leaks);
        let drawn_cents = cents_between(blown_hz(&column, soft_hz), soft_hz);
        let hz = soft_hz * (self.blowing * drawn_cents / 1200.0).exp2();
        Some((hz, describe(&column, soft_hz).magnitude))
    }

    /// The faults that matter: those that alone move a note, soft or blown as usual, or weaken it, by as much as a maker
    /// would call a fault.
    pub fn material(&self) -> Vec<Cause> {
        self.faults.iter().filter(|fault| self.is_material(fault)).map(|fault| fault.cause).collect()
    }

    fn is_material(&self, fault: &Fault) -> bool {
        let changed = with_cause(&self.file, fault.cause, fault.amount);
        let strength = if leak(fault).is_some() { self.leak_strength } else { 1.0 };
        self.file.fingerings.iter().any(|fingering| {
            let stuck = |hole: &usize| fault.cause == Cause::StuckShut(*hole);
            let open: Vec<usize> = fingering.open.iter().copied().filter(|hole| !stuck(hole)).collect();
            let leaks: Vec<Leak> = leak(fault)
                .filter(|leak| !matches!(leak.place, LeakPlace::Hole(hole) if open.contains(&hole)))
                .into_iter()
                .collect();
            let note = |body: &Instrument, open: &[usize], leaks: &[Leak]| {
                let soft_hz = playing_hz(body, open, fingering.register, leaks)?;
                let column = column(body, open, leaks);
                Some((soft_hz, blown_hz(&column, soft_hz), describe(&column, soft_hz).magnitude))
            };
            let (Some(sound), Some(faulty)) =
                (note(&self.file, &fingering.open, &[]), note(&changed, &open, &leaks))
            else {
                return true;
            };
            let moved = cents_between(faulty.0, sound.0).abs().max(cents_between(faulty.1, sound.1).abs());
            let lower_db = 20.0 * (faulty.2 / sound.2).log10();
            strength * moved >= MATERIAL_CENTS || (!leaks.is_empty() && lower_db <= MATERIAL_DB)
        })
    }

    /// Measures a hole with care: the file gets its true size and place, give or take what calipers leave, and nothing
    /// that was wrong with them is a fault against the file any more.
    pub fn measure_hole(&mut self, file: &mut Instrument, hole: usize, chance: &mut Chance) {
        let (known, real) = (&mut file.holes[hole], &self.measurable.holes[hole]);
        known.diameter_mm = real.diameter_mm + 0.05 * chance.normal();
        known.at_mm = real.at_mm + 0.3 * chance.normal();
        known.chimney_mm = real.chimney_mm + 0.3 * chance.normal();
        known.measured_again = true;
        self.faults.retain(|fault| {
            !matches!(fault.cause, Cause::Hole(other) | Cause::VentSize(other) | Cause::VentPlace(other) if other == hole)
        });
    }

    /// Measures the air inside, within half a degree.
    pub fn measure_air(&mut self, file: &mut Instrument, chance: &mut Chance) {
        file.measure_air(self.body.air.temperature_c + 0.5 * chance.normal());
        self.faults.retain(|fault| fault.cause != Cause::Air);
    }
}

/// The file with its faults and with what the maker measured wrong, each by the file's own figures.
fn measurable(file: &Instrument, faults: &[Fault], chance: &mut Chance) -> Instrument {
    let mut body =
        faults.iter().fold(file.clone(), |body, fault| with_cause(&body, fault.cause, fault.amount));
    let to = file.workshop.measured_to;
    for hole in &mut body.holes {
        hole.at_mm += to.place_mm * chance.normal();
        hole.diameter_mm += to.diameter_mm * chance.normal();
        hole.chimney_mm = (hole.chimney_mm + to.chimney_mm * chance.normal()).max(0.5);
        if let Some(pad) = hole.pad.as_mut() {
            pad.lift_mm = (pad.lift_mm + to.lift_mm * chance.normal()).max(0.3);
        }
    }
    if let Some(end) = body.bore.last_mut() {
        end.at_mm += to.place_mm * chance.normal();
    }
    body
}

/// A body as it acts: with the errors of the formulas for holes and reed, and in half of the worlds with a chamber that
/// is a lump of air at the top, where the prediction takes it as bore.
fn as_it_acts(measurable: &Instrument, chance: &mut Chance) -> Instrument {
    let mut body = measurable.clone();
    let height_radii = HOLE_HEIGHT_RADII * chance.normal();
    for hole in body.holes.iter_mut().filter(|hole| !hole.vent) {
        hole.chimney_mm = (hole.chimney_mm + height_radii * 0.5 * hole.diameter_mm).max(0.5);
    }
    let give_ml = reed_give_ml(&body) * (1.0 + REED_SHARE * chance.normal()).max(0.2);
    let is_lump = chance.happens(0.5);
    if let Some(mouthpiece) = body.mouthpiece.as_mut() {
        mouthpiece.reed_ml = Some(give_ml);
        if is_lump {
            mouthpiece.reed_ml = Some(give_ml + mouthpiece.chamber_ml);
            mouthpiece.chamber_ml = 0.0;
        }
    }
    body
}

fn leak(fault: &Fault) -> Option<Leak> {
    match fault.cause {
        Cause::Leak(place) => Some(Leak { place, diameter_mm: fault.amount }),
        _ => None,
    }
}
