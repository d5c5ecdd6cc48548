//! Places holes so that the fingerings meet their targets: a first guess from the lowest note up, then places,
//! sizes, drills and vents by least squares over all notes.
//!
//! Must not know recordings, files or the terminal.

use super::compromise::{Split, settled, splits};
use super::error::PlaceError;
use super::first_drill::{FirstDrill, first_drills, missing};
use super::first_guess::first_guess;
use super::fit::least_squares;
use super::keys::{Fitted, KeyPlan, fitted, warnings as key_warnings};
use super::limits::{Limits, check, drills_mm};
use super::scatter::scatter;
use super::task::{Task, choose_pads};
use super::tuning::{LOST_CENTS, Tuning, felt};
use super::unmet::unmet;
use super::wishes::{Wishes, from_the_top};
use crate::instrument::advice::{Warning, warnings};
use crate::instrument::alter::trim_end;
use crate::instrument::lattice::fingering_cutoff_hz;
use crate::instrument::model::Instrument;
use crate::instrument::prediction::{PredictedNote, predict};
use crate::instrument::vent::vented_notes;

/// Most tables of slopes for one solution; it takes four to eight.
const ROUNDS: usize = 25;
/// … and after one drill was taken.
const ROUNDS_AFTER_SNAP: usize = 3;
/// A vent that leaves the lower resonance this far short of where it is harmless counts as a note one cent off
/// (our choice: pitch first, and every size is told with its undertones).
const UNDERTONE_CENTS_PER_CENT: f64 = 150.0;
/// Sizes of a vent that are tried differ by this factor at least: its strength goes as the square.
const VENT_SIZES_APART: f64 = 1.18;

/// What is going on, for the maker who waits.
pub type Progress<'a> = &'a dyn Fn(&str);

/// A layout and what it does.
#[derive(Debug, Clone, PartialEq)]
pub struct Placed {
    /// The instrument as it was.
    pub before: Instrument,
    /// The instrument with the holes where they go, to their last size, planned unless kept.
    pub after: Instrument,
    /// Holes that kept place and size.
    pub kept: Vec<usize>,
    /// What each hole is opened to first, one a hole in the file's order, mm; `None` for vents and kept holes.
    pub first_drills_mm: Vec<Option<f64>>,
    /// The same of the holes whose first drill the maker does not have.
    pub missing_drills: Vec<FirstDrill>,
    /// Every fingering, in the file's order.
    pub notes: Vec<PlacedNote>,
    /// Nine of ten notes lie nearer than this to what is told here when drilled and measured as usual, cents.
    pub spread_cents: f64,
    /// Fingerings that are left off because two registers share their holes.
    pub splits: Vec<Split>,
    /// Sizes that were tried for vents, nearest to the file's first.
    pub vents: Vec<TriedVent>,
    /// Which key of the box closes which hole.
    pub keys: KeyPlan,
    /// What could not be met and why, and what else the maker should know.
    pub warnings: Vec<Warning>,
}

impl Placed {
    /// The instrument as the planned file has it: with the compromise between registers as what is wanted.
    #[must_use]
    pub fn planned(&self) -> Instrument {
        let fingerings = settled(self.after.fingerings.clone(), &self.splits);
        Instrument { fingerings, ..self.after.clone() }
    }
}

/// A size that was tried for a vent, with every place solved anew.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TriedVent {
    /// Index into [`Instrument::holes`].
    pub hole: usize,
    /// Size, mm.
    pub diameter_mm: f64,
    /// How far the notes are off, root mean square, cents.
    pub off_cents: f64,
    /// How many notes may sound with an undertone.
    pub undertones: usize,
}

/// One fingering of a layout.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlacedNote {
    /// Index into [`Instrument::fingerings`].
    pub fingering: usize,
    /// Cents from the target; `None` without a resonance.
    pub cents: Option<f64>,
    /// The same with every hole as its first drill leaves it.
    pub at_first_cents: Option<f64>,
    /// What it sounds then, hertz.
    pub at_first_hz: Option<f64>,
    /// Nine bodies of ten lie nearer than this to `cents`.
    pub spread_cents: Option<f64>,
    /// Cutoff of the open holes, hertz.
    pub cutoff_hz: Option<f64>,
}

/// Places the holes of `instrument` within `limits`.
///
/// # Errors
/// [`PlaceError`] for limits that nothing can meet.
pub fn place(instrument: &Instrument, limits: &Limits, progress: Progress<'_>) -> Result<Placed, PlaceError> {
    let Fitted { instrument: with_keys, limits, plan } = fitted(instrument, limits)?;
    let (before, instrument, limits) = (instrument, &with_keys, &limits);
    progress("a first guess, from the lowest note up");
    let mut layout = begun(instrument, limits)?;
    choose_pads(&mut layout, limits);
    progress("places");
    layout = solved(&Task::of_places(&layout, limits), false, ROUNDS);
    let sizes = |vent: bool| -> Vec<usize> {
        let is_one = |&hole: &usize| limits.may_resize(hole) && instrument.holes[hole].vent == vent;
        (0..instrument.holes.len()).filter(is_one).collect()
    };
    let (vents, mut open_sizes) = (sizes(true), sizes(false));
    let mut tried;
    (layout, tried) = with_vents(layout, limits, &vents, progress);
    if !open_sizes.is_empty() {
        progress("sizes");
        layout = solved(&Task::of_places(&layout, limits).with_sizes(&open_sizes), true, ROUNDS);
        layout = snapped(layout, limits, &mut open_sizes, progress);
        (layout, tried) = with_vents(layout, limits, &vents, progress);
    }
    progress("places once more");
    layout = rounded(solved(&Task::of_places(&layout, limits), false, ROUNDS));
    progress("how drilling and measuring errors scatter the notes");
    Ok(told(before, layout, limits, tried, plan))
}

/// The layout that [`place`] begins with: every note near its target, whatever places the file has.
///
/// # Errors
/// [`PlaceError`] for limits that nothing can meet.
pub fn begun(instrument: &Instrument, limits: &Limits) -> Result<Instrument, PlaceError> {
    check(instrument, limits)?;
    first_guess(&limits.sized(instrument), limits)
}

/// Places to a hundredth of a millimetre, so that the file says what was computed with.
fn rounded(mut layout: Instrument) -> Instrument {
    let hundredth = |mm: f64| (mm * 100.0).round() / 100.0;
    layout.holes.iter_mut().for_each(|hole| hole.at_mm = hundredth(hole.at_mm));
    let trim_mm = layout.length_mm() - hundredth(layout.length_mm());
    trim_end(&mut layout, trim_mm);
    if let Some(end) = layout.bore.last_mut() {
        end.at_mm = hundredth(end.at_mm);
    }
    layout
}

/// The layout that fits a task best.
fn solved(task: &Task<'_>, tone: bool, rounds: usize) -> Instrument {
    let order = from_the_top(&task.instrument);
    let wishes = Wishes { limits: task.limits, order, wanted: task.instrument.clone(), tone };
    let tuning = Tuning { task, wishes: &wishes };
    let start = task.values(&task.instrument);
    task.with_values(&least_squares(&tuning, &start, &task.bounds(), rounds))
}

/// Takes a drill for one hole after the other, the one that fits its drill worst first, and lets the others
/// make up for it.
fn snapped(
    mut layout: Instrument,
    limits: &Limits,
    open_sizes: &mut Vec<usize>,
    progress: Progress<'_>,
) -> Instrument {
    let drills = drills_mm(&layout);
    let count = open_sizes.len();
    progress(&format!("drills for {count} holes"));
    while !open_sizes.is_empty() {
        let taken = count - open_sizes.len();
        // A few holes are done before anybody wonders.
        if taken > 0 && taken.is_multiple_of(10) {
            progress(&format!("drills: {taken} of {count} holes have theirs"));
        }
        let nearest = |hole: usize| {
            let mm = layout.holes[hole].diameter_mm;
            let fitting = limits.sizes(&layout, &layout.holes[hole]).drills(&drills);
            fitting.into_iter().min_by(|a, b| (a - mm).abs().total_cmp(&(b - mm).abs())).unwrap_or(mm)
        };
        let misfit = |hole: usize| (nearest(hole) - layout.holes[hole].diameter_mm).abs();
        let worst = (0..open_sizes.len())
            .max_by(|&a, &b| misfit(open_sizes[a]).total_cmp(&misfit(open_sizes[b])))
            .map(|place| open_sizes[place]);
        let Some(worst) = worst else { break };
        let was_off_mm = misfit(worst);
        layout.holes[worst].diameter_mm = nearest(worst);
        open_sizes.retain(|&hole| hole != worst);
        choose_pads(&mut layout, limits);
        // A size that was its drill's already moves nothing.
        if was_off_mm > 1e-3 && !open_sizes.is_empty() {
            let task = Task::of_places(&layout, limits).with_sizes(open_sizes);
            layout = solved(&task, true, ROUNDS_AFTER_SNAP);
        }
    }
    layout
}

/// Tries the drills for each vent and keeps the one that serves best: in tune first, then clear of undertones.
fn with_vents(
    mut layout: Instrument,
    limits: &Limits,
    vents: &[usize],
    progress: Progress<'_>,
) -> (Instrument, Vec<TriedVent>) {
    let mut told = Vec::new();
    for &vent in vents {
        let own_mm = layout.holes[vent].diameter_mm;
        let sizes =
            spread_out(&limits.sizes(&layout, &layout.holes[vent]).drills(&drills_mm(&layout)), own_mm);
        progress(&format!("{} sizes for {}", sizes.len(), layout.holes[vent].name));
        let mut best: Option<(f64, Instrument)> = None;
        for diameter_mm in sizes {
            let mut tried = layout.clone();
            tried.holes[vent].diameter_mm = diameter_mm;
            let tried = solved(&Task::of_places(&tried, limits), false, ROUNDS);
            let (price, off_cents, undertones) = price(&tried, limits);
            told.push(TriedVent { hole: vent, diameter_mm, off_cents, undertones });
            if best.as_ref().is_none_or(|(least, _)| price < *least) {
                best = Some((price, tried));
            }
        }
        if let Some((_, best)) = best {
            layout = best;
        }
    }
    (layout, told)
}

/// Of rising sizes the one nearest to `own_mm`, and from it up and down those that differ enough from the last.
fn spread_out(sizes_mm: &[f64], own_mm: f64) -> Vec<f64> {
    let apart = |mm: f64| (mm / own_mm).ln().abs();
    let Some(nearest) =
        (0..sizes_mm.len()).min_by(|&a, &b| apart(sizes_mm[a]).total_cmp(&apart(sizes_mm[b])))
    else {
        return Vec::new();
    };
    let mut chosen = vec![sizes_mm[nearest]];
    let (below, above) = (sizes_mm[..nearest].iter().rev(), sizes_mm[nearest..].iter());
    for side in [below.copied().collect::<Vec<f64>>(), above.copied().collect()] {
        let mut last_mm = sizes_mm[nearest];
        for mm in side {
            if (mm / last_mm).ln().abs() > VENT_SIZES_APART.ln() {
                chosen.push(mm);
                last_mm = mm;
            }
        }
    }
    chosen
}

/// What a layout costs with this vent, cents²; how far its notes are off, cents; how many may have an undertone.
fn price(instrument: &Instrument, limits: &Limits) -> (f64, f64, usize) {
    let notes = predict(instrument);
    let off = |note: &PredictedNote| note.cents().unwrap_or(LOST_CENTS);
    let pitch: f64 = notes.iter().map(|note| (limits.weight(note.fingering) * felt(off(note))).powi(2)).sum();
    let off_cents = (notes.iter().map(|note| off(note).powi(2)).sum::<f64>() / notes.len() as f64).sqrt();
    let vented = vented_notes(instrument, &notes);
    let undertones: f64 =
        vented.iter().map(|note| (note.lacking_cents() / UNDERTONE_CENTS_PER_CENT).powi(2)).sum();
    (pitch + undertones, off_cents, vented.iter().filter(|note| note.lower_stays()).count())
}

/// Everything there is to tell of a finished layout.
fn told(
    before: &Instrument,
    layout: Instrument,
    limits: &Limits,
    vents: Vec<TriedVent>,
    keys: KeyPlan,
) -> Placed {
    let notes = predict(&layout);
    let hz: Vec<Option<f64>> = notes.iter().map(|note| note.predicted_hz).collect();
    let scatter = scatter(&layout, limits, &hz);
    let holes = 0..layout.holes.len();
    let first = first_drills(&layout, limits);
    let mut first_drills_mm: Vec<Option<f64>> = vec![None; layout.holes.len()];
    let mut at_first = layout.clone();
    for drill in &first {
        first_drills_mm[drill.hole] = Some(drill.size_mm);
        at_first.holes[drill.hole].diameter_mm = drill.size_mm;
    }
    let at_first = predict(&at_first);
    let placed_notes = notes
        .iter()
        .map(|note| PlacedNote {
            fingering: note.fingering,
            cents: note.cents(),
            at_first_cents: at_first.get(note.fingering).and_then(PredictedNote::cents),
            at_first_hz: at_first.get(note.fingering).and_then(|note| note.predicted_hz),
            spread_cents: scatter.notes_cents.get(note.fingering).copied().flatten(),
            cutoff_hz: fingering_cutoff_hz(&layout, note.fingering),
        })
        .collect();
    let kept: Vec<usize> = holes.filter(|&hole| !limits.may_move(hole)).collect();
    let mut found = unmet(&layout, limits, &notes);
    found.extend(warnings(&layout, &notes));
    found.extend(missing(&layout, &first));
    found.extend(key_warnings(before, &layout, &keys));
    found.extend(of_this_body(before, &layout, limits));
    let splits = splits(&layout, limits, &notes);
    let mut after = layout;
    for (index, hole) in after.holes.iter_mut().enumerate() {
        hole.drilled = kept.contains(&index) && before.holes[index].drilled;
    }
    Placed {
        before: before.clone(),
        after,
        kept,
        first_drills_mm,
        missing_drills: first.into_iter().filter(|drill| !drill.at_hand).collect(),
        notes: placed_notes,
        spread_cents: scatter.all_cents,
        splits,
        vents,
        keys,
        warnings: found,
    }
}

/// What the maker should know of tube and holes that are there already.
fn of_this_body(before: &Instrument, layout: &Instrument, limits: &Limits) -> Vec<Warning> {
    let mut found = Vec::new();
    let longer_mm = layout.length_mm() - before.length_mm();
    if longer_mm > 0.5 {
        found.push(Warning {
            code: "tube-too-short",
            text: format!(
                "The tube must be {:.1} mm long, longer than the {:.1} mm so far. Take a longer tube, or keep the length \
                 with --keep-end and live with a sharp lowest note.",
                layout.length_mm(),
                before.length_mm()
            ),
        });
    }
    let moved: Vec<&str> = before
        .holes
        .iter()
        .enumerate()
        .filter(|(index, hole)| hole.drilled && limits.may_move(*index))
        .map(|(_, hole)| hole.name.as_str())
        .collect();
    if !moved.is_empty() {
        found.push(Warning {
            code: "already-drilled",
            text: format!(
                "The file has these holes as drilled: {}. Their new places are for a new body. To place only what is \
                 still to be drilled, add --keep-drilled.",
                moved.join(", ")
            ),
        });
    }
    if !layout.bends.is_empty() {
        found.push(Warning {
            code: "folded-tube",
            text: "The tube is folded: distances run along its middle line, and bends stay where they are. Lay a tape \
                   along the middle line, and mark each straight piece from its own end."
                .to_string(),
        });
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn vents_are_tried_from_the_files_own_size_up_and_down() {
        let halves: Vec<f64> = (2..=12).map(|halves| 0.5 * f64::from(halves)).collect();
        assert_eq!(spread_out(&halves, 2.1), [2.0, 1.5, 1.0, 2.5, 3.0, 4.0, 5.0, 6.0]);
        assert_eq!(spread_out(&[1.2], 9.0), [1.2]);
        assert!(spread_out(&[], 2.0).is_empty());
    }
}
