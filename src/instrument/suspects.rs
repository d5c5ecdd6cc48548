//! Which single slip in the file would bring notes home that are far off: tried on copies of the instrument.
//!
//! Must not know what is done about it.

use std::ops::RangeInclusive;

use super::column::playing_hz;
use super::model::{Instrument, Mouthpiece};
use super::sanity::{Doubt, LengthUnit};
use super::section_mouthpiece::CHAMBER;
use super::sections::PLACE;
use super::slips::slips_mm;
use crate::units::cents_between;

/// A note that is brought this near is mended, cents: mouthpiece, reed and air leave as much open.
const NEAR_CENTS: f64 = 75.0;
/// A note that was no farther off may get worse by this much, cents.
const WORSE_CENTS: f64 = 10.0;
/// What mends all notes at once leaves no more than this share of their mean distance: a shift mends many a thing a little.
const LEFT_SHARE: f64 = 0.35;
/// Notes that are called otherwise than they sound are off by whole semitones to this, cents.
const SEMITONE_CENTS: f64 = 40.0;
/// A zero that is nearer than this to the right one is no slip but a measuring error, mm.
const LEAST_SHIFT_MM: f64 = 10.0;
/// A number that was meant lies no farther from where the note wants it than this share of the length to it.
const SLIP_SHARE: f64 = 0.04;
/// What is left of doubt in a whole predicted instrument with its reed, cents (our choice).
const DOUBT_CENTS: f64 = 20.0;
/// How long a chamber is, counted as bore, in widths of the bore: a usual one is no slip (common practice, no source).
const USUAL_CHAMBERS: RangeInclusive<f64> = 0.4..=8.0;
const MM3_PER_ML: f64 = 1000.0;
/// Rounds of halving; the last is finer than a millimetre on any tube.
const HALVINGS: usize = 16;
/// Holes that are tried for one note: those that it opens, from the mouthpiece down.
const MOST_HOLES: usize = 12;
/// Powers of ten by which a volume may be wrong: a point set wrong, mm³ or litres for ml.
const VOLUME_FACTORS: [f64; 6] = [1e-3, 1e3, 0.1, 10.0, 0.01, 100.0];

/// The notes of an instrument, and which of them can't be so.
pub(super) struct Suspects {
    instrument: Instrument,
    /// Fingerings that can be predicted, with their cents.
    heard: Vec<(usize, f64)>,
    /// Those that can't be so.
    pub(super) far: Vec<(usize, f64)>,
}

impl Suspects {
    pub(super) fn new(instrument: &Instrument, heard: &[(usize, f64)], far: &[(usize, f64)]) -> Suspects {
        let mut far = far.to_vec();
        far.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
        Suspects { instrument: instrument.clone(), heard: heard.to_vec(), far }
    }

    fn is_far(&self, fingering: usize) -> bool {
        self.far.iter().any(|(far, _)| *far == fingering)
    }

    /// How far each note may be off afterwards, cents.
    fn bound_cents(&self, fingering: usize, cents: f64) -> f64 {
        let now = cents.abs();
        if self.is_far(fingering) { NEAR_CENTS.min(0.5 * now) } else { NEAR_CENTS.max(now + WORSE_CENTS) }
    }

    /// Mean square of what `changed` leaves, cents²; `None` where any note stays or becomes far off.
    fn all_near(&self, changed: &Instrument) -> Option<f64> {
        let mut sum = 0.0;
        // The farthest first: most changes fail there.
        let others = self.heard.iter().filter(|(fingering, _)| !self.is_far(*fingering));
        for &(fingering, now) in self.far.iter().chain(others) {
            let cents = cents(changed, fingering)?;
            if cents.abs() > self.bound_cents(fingering, now) {
                return None;
            }
            sum += cents * cents;
        }
        Some(sum / self.heard.len() as f64)
    }

    fn mean_square(&self) -> f64 {
        self.heard.iter().map(|(_, cents)| cents * cents).sum::<f64>() / self.heard.len().max(1) as f64
    }

    fn is_near(&self, changed: &Instrument, &(fingering, now): &(usize, f64)) -> bool {
        cents(changed, fingering).is_some_and(|cents| cents.abs() <= self.bound_cents(fingering, now))
    }

    /// The far notes that `changed` mends; empty where it spoils another.
    fn mended(&self, changed: &Instrument) -> Vec<(usize, f64)> {
        let is_near = |note: &(usize, f64)| self.is_near(changed, note);
        let mended: Vec<(usize, f64)> = self.far.iter().copied().filter(is_near).collect();
        let others = || self.heard.iter().filter(|(fingering, _)| !self.is_far(*fingering));
        if mended.is_empty() || !others().all(is_near) { Vec::new() } else { mended }
    }
}

fn cents(instrument: &Instrument, fingering: usize) -> Option<f64> {
    let known = &instrument.fingerings[fingering];
    let hz = playing_hz(instrument, &known.open, known.register, &[])?;
    Some(cents_between(hz, instrument.target_hz(known)))
}

/// Whether the chamber is as long as chambers are, counted as bore.
fn is_usual(instrument: &Instrument, mouthpiece: &Mouthpiece) -> bool {
    let bore_mm = instrument.bore_at_mm(0.0);
    let length_mm = mouthpiece.chamber_ml * MM3_PER_ML / (0.25 * std::f64::consts::PI * bore_mm * bore_mm);
    USUAL_CHAMBERS.contains(&(length_mm / bore_mm)) || length_mm == 0.0
}

/// What alone brings all notes home, when it does so much better than they are.
pub(super) fn mended_as_a_whole(suspects: &Suspects) -> Option<Doubt> {
    let instrument = &suspects.instrument;
    let mut tried: Vec<(f64, Doubt)> = Vec::new();
    let mut hold = |left: Option<f64>, doubt: Doubt| tried.extend(left.map(|left| (left, doubt)));
    if let Some((left, semitones)) = suspects.whole_semitones() {
        hold(Some(left), Doubt::Interval { semitones });
    }
    for unit in LengthUnit::ALL.into_iter().filter(|unit| PLACE.allow(instrument.length_mm() * unit.mm())) {
        for all in [false, true] {
            hold(suspects.all_near(&in_unit(instrument, unit, all)), Doubt::Unit { unit, all });
        }
    }
    if let Some(mouthpiece) = instrument.mouthpiece.filter(|mouthpiece| !is_usual(instrument, mouthpiece)) {
        let likely = VOLUME_FACTORS.map(|times| mouthpiece.chamber_ml * times);
        for likely_ml in likely.into_iter().filter(|ml| CHAMBER.allow(*ml)) {
            let mut changed = instrument.clone();
            changed.mouthpiece.iter_mut().for_each(|mouthpiece| mouthpiece.chamber_ml = likely_ml);
            hold(suspects.all_near(&changed), Doubt::Chamber { likely_ml });
        }
    }
    hold(suspects.all_near(&from_the_other_end(instrument)), Doubt::OtherEnd);
    for with_end in [true, false] {
        if let Some(shift_mm) = suspects.shift_mm(with_end) {
            let left = suspects.all_near(&shifted(instrument, shift_mm, with_end));
            hold(left, Doubt::Zero { shift_mm, with_end });
        }
    }
    // What is left within the doubt of any prediction tells nothing; then the first, which has nothing to fit, is likelier.
    let beyond_doubt = |left: f64| left.max(DOUBT_CENTS * DOUBT_CENTS);
    let best = tried.into_iter().min_by(|a, b| beyond_doubt(a.0).total_cmp(&beyond_doubt(b.0)))?;
    (best.0 <= LEFT_SHARE.powi(2) * suspects.mean_square()).then_some(best.1)
}

impl Suspects {
    /// Whole semitones that all notes are off, and the mean square that is left, cents².
    fn whole_semitones(&self) -> Option<(f64, i32)> {
        let mut sorted: Vec<f64> = self.heard.iter().map(|(_, cents)| *cents).collect();
        sorted.sort_by(f64::total_cmp);
        let semitones = (sorted.get(sorted.len() / 2)? / 100.0).round();
        let left: Vec<f64> = sorted.iter().map(|cents| cents - 100.0 * semitones).collect();
        let fits = semitones != 0.0 && left.iter().all(|cents| cents.abs() <= SEMITONE_CENTS);
        let left = left.iter().map(|cents| cents * cents).sum::<f64>() / left.len() as f64;
        fits.then_some((left, semitones as i32))
    }

    /// By how much the zero lies too high so that notes are right on average, mm.
    fn shift_mm(&self, with_end: bool) -> Option<f64> {
        let instrument = &self.instrument;
        let moved = |with_end: bool| {
            let tube = with_end.then_some(instrument.length_mm());
            tube.into_iter().chain(instrument.holes.iter().filter(|hole| hole.drilled).map(|hole| hole.at_mm))
        };
        let (highest_mm, lowest_mm) =
            (moved(with_end).fold(f64::INFINITY, f64::min), moved(false).fold(0.0, f64::max));
        // No hole above the top, none beyond the end.
        let most_up_mm = 0.95 * highest_mm.min(instrument.length_mm());
        let most_down_mm =
            if with_end { 0.5 * instrument.length_mm() } else { 0.95 * (instrument.length_mm() - lowest_mm) };
        let mean = |shift_mm: f64| {
            let changed = shifted(instrument, shift_mm, with_end);
            let all: Option<Vec<f64>> =
                self.heard.iter().map(|(fingering, _)| cents(&changed, *fingering)).collect();
            all.map(|all| all.iter().sum::<f64>() / all.len().max(1) as f64)
        };
        let shift_mm = rising_to_nought(-most_down_mm, most_up_mm, mean)?;
        (shift_mm.abs() >= LEAST_SHIFT_MM).then_some(shift_mm)
    }
}

/// Where a value that rises from `low` to `high` is 0; `None` where it isn't between. Where there is no value, the note is
/// too high to sound.
fn rising_to_nought(low: f64, high: f64, value: impl Fn(f64) -> Option<f64>) -> Option<f64> {
    let is_below = |at: f64| value(at).is_some_and(|value| value < 0.0);
    if low >= high || !is_below(low) || is_below(high) {
        return None;
    }
    let (mut low, mut high) = (low, high);
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if is_below(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(0.5 * (low + high))
}

/// All places taken `shift_mm` nearer to the mouthpiece.
fn shifted(instrument: &Instrument, shift_mm: f64, with_end: bool) -> Instrument {
    let mut changed = instrument.clone();
    changed.holes.iter_mut().for_each(|hole| hole.at_mm -= shift_mm);
    if with_end {
        changed.bore.iter_mut().skip(1).for_each(|point| point.at_mm = (point.at_mm - shift_mm).max(0.0));
    }
    changed
}

fn from_the_other_end(instrument: &Instrument) -> Instrument {
    let mut changed = instrument.clone();
    let length_mm = instrument.length_mm();
    changed.holes.iter_mut().for_each(|hole| hole.at_mm = length_mm - hole.at_mm);
    changed
}

fn in_unit(instrument: &Instrument, unit: LengthUnit, all: bool) -> Instrument {
    let mut changed = instrument.clone();
    let times = unit.mm();
    changed.bore.iter_mut().for_each(|point| point.at_mm *= times);
    changed.holes.iter_mut().for_each(|hole| hole.at_mm *= times);
    if all {
        changed.bore.iter_mut().for_each(|point| point.diameter_mm *= times);
        changed.wall.thickness_mm *= times;
        for hole in &mut changed.holes {
            hole.diameter_mm *= times;
            hole.chimney_mm *= times;
            hole.undercut_mm *= times;
            hole.rim_mm *= times;
            if let Some(pad) = hole.pad.as_mut() {
                pad.diameter_mm *= times;
                pad.lift_mm *= times;
            }
        }
    }
    changed
}

/// One measure taken otherwise, and the note for whose sake.
struct Change {
    doubt: Doubt,
    changed: Instrument,
    fingering: usize,
}

/// The one measure that mends most of the far notes and spoils none, and the notes that it mends. They are far no longer:
/// what is left is asked about the instrument as it is meant.
pub(super) fn mended_by_one_measure(suspects: &mut Suspects) -> Option<(Doubt, Vec<(usize, f64)>)> {
    let mut best: Option<(Vec<(usize, f64)>, Change)> = None;
    for change in suspects.single_changes() {
        // Most changes fail here, and cost no more.
        if !suspects.far.iter().any(|far| far.0 == change.fingering && suspects.is_near(&change.changed, far))
        {
            continue;
        }
        let mended = suspects.mended(&change.changed);
        if mended.len() > best.as_ref().map_or(0, |best| best.0.len()) {
            best = Some((mended, change));
        }
    }
    let (mended, Change { doubt, changed, .. }) = best?;
    suspects.far.retain(|note| !mended.contains(note));
    suspects.heard.iter_mut().for_each(|note| note.1 = cents(&changed, note.0).unwrap_or(note.1));
    let heard = suspects.heard.clone();
    suspects.far.iter_mut().for_each(|far| {
        far.1 = heard.iter().find(|note| note.0 == far.0).map_or(far.1, |note| note.1);
    });
    suspects.instrument = changed;
    Some((doubt, mended))
}

impl Suspects {
    /// The changes of one measure that the farthest note offers: two places swapped, one hole or the open end elsewhere;
    /// of those that mend as much, the first is the likeliest.
    fn single_changes(&self) -> Vec<Change> {
        let Some(&(fingering, _)) = self.far.first() else { return Vec::new() };
        let instrument = &self.instrument;
        let known = &instrument.fingerings[fingering];
        let mut opened: Vec<usize> = known.open.clone();
        opened.sort_by(|&a, &b| instrument.holes[a].at_mm.total_cmp(&instrument.holes[b].at_mm));
        opened.truncate(MOST_HOLES);
        let mut changes = Vec::new();
        for &hole in opened.iter().filter(|&&hole| !instrument.holes[hole].vent) {
            let others = (0..instrument.holes.len()).filter(|other| !instrument.holes[*other].vent);
            // A hole that this note opens as well would change nothing.
            for other in others.filter(|other| !known.open.contains(other)).take(MOST_HOLES) {
                let mut changed = instrument.clone();
                let places = [hole, other].map(|index| instrument.holes[index].at_mm);
                [changed.holes[hole].at_mm, changed.holes[other].at_mm] = [places[1], places[0]];
                changes.push(Change { doubt: Doubt::Swapped { holes: [hole, other] }, changed, fingering });
            }
        }
        for &hole in &opened {
            changes.extend(self.elsewhere(hole));
        }
        if instrument.first_open_hole(fingering).is_none() {
            changes.extend(self.other_end(fingering));
        }
        changes
    }

    /// The far note that hangs on `hole` most: the lowest that opens it, where it is the uppermost open hole.
    fn own_note(&self, hole: usize) -> Option<usize> {
        let fingerings = &self.instrument.fingerings;
        let far = self.far.iter().map(|(fingering, _)| *fingering);
        let opening = far.filter(|&fingering| fingerings[fingering].open.contains(&hole));
        let hz = |fingering: &usize| self.instrument.target_hz(&fingerings[*fingering]);
        opening.min_by(|a, b| hz(a).total_cmp(&hz(b)))
    }

    /// One hole where its own note wants it, or at the number that was likely meant. What a vent does is told by no place
    /// alone, so only slips of its number are tried.
    fn elsewhere(&self, hole: usize) -> Vec<Change> {
        let instrument = &self.instrument;
        let Some(fingering) = self.own_note(hole) else { return Vec::new() };
        let (at_mm, length_mm) = (instrument.holes[hole].at_mm, instrument.length_mm());
        let radius_mm = 0.5 * instrument.holes[hole].diameter_mm;
        let moved = |mm: f64| {
            let mut changed = instrument.clone();
            changed.holes[hole].at_mm = mm;
            changed
        };
        let fits = |mm: f64| mm > radius_mm && mm < length_mm - radius_mm;
        let doubt =
            |wanted_mm: Option<f64>, likely_mm: Option<f64>| Doubt::Hole { hole, wanted_mm, likely_mm };
        if instrument.holes[hole].vent {
            let slips = slips_mm(at_mm).into_iter().filter(|mm| fits(*mm));
            return slips
                .map(|mm| Change { doubt: doubt(None, Some(mm)), changed: moved(mm), fingering })
                .collect();
        }
        let falls = |up_mm: f64| cents(&moved(length_mm - radius_mm - up_mm), fingering);
        let room_mm = length_mm - 2.0 * radius_mm;
        let Some(up_mm) = rising_to_nought(0.0, room_mm, falls) else { return Vec::new() };
        let wanted_mm = length_mm - radius_mm - up_mm;
        let likely_mm = nearest_slip(at_mm, wanted_mm).filter(|mm| fits(*mm));
        let changed = moved(likely_mm.unwrap_or(wanted_mm));
        vec![Change { doubt: doubt(Some(wanted_mm), likely_mm), changed, fingering }]
    }

    /// The open end where the note of the closed tube wants it.
    fn other_end(&self, fingering: usize) -> Vec<Change> {
        let instrument = &self.instrument;
        let length_mm = instrument.length_mm();
        let last_mm =
            instrument.holes.iter().map(|hole| hole.at_mm + 0.5 * hole.diameter_mm).fold(0.0, f64::max);
        let before_mm = instrument.bore.iter().rev().nth(1).map_or(0.0, |point| point.at_mm);
        let least_mm = last_mm.max(before_mm) + 1.0;
        let most_mm = (12.0 * length_mm).min(PLACE.most);
        let moved = |mm: f64| {
            let mut changed = instrument.clone();
            changed.bore.iter_mut().last().into_iter().for_each(|end| end.at_mm = mm);
            changed
        };
        let shorter = |by_mm: f64| cents(&moved(most_mm - by_mm), fingering);
        let Some(by_mm) = rising_to_nought(0.0, most_mm - least_mm, shorter) else { return Vec::new() };
        let wanted_mm = most_mm - by_mm;
        let likely_mm = nearest_slip(length_mm, wanted_mm).filter(|mm| *mm > least_mm);
        let changed = moved(likely_mm.unwrap_or(wanted_mm));
        vec![Change { doubt: Doubt::End { wanted_mm, likely_mm }, changed, fingering }]
    }
}

/// Of the numbers that a slip of the pen could have turned into `written_mm`, the one nearest to `wanted_mm`.
fn nearest_slip(written_mm: f64, wanted_mm: f64) -> Option<f64> {
    let apart = |mm: &f64| (mm - wanted_mm).abs();
    let slips = slips_mm(written_mm).into_iter().filter(|mm| apart(mm) <= SLIP_SHARE * wanted_mm);
    slips.min_by(|a, b| apart(a).total_cmp(&apart(b)))
}
