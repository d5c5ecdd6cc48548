//! Places holes so that the fingerings meet their targets: a first guess from the lowest note up, then places,
//! sizes, drills and vents by least squares over all notes.
//!
//! Must not know recordings, files or the terminal.

use super::compromise::{Split, settled, splits};
use super::error::PlaceError;
use super::first_drill::{FirstDrill, first_drills, missing};
use super::first_guess::first_guess;
use super::fit::Effort;
use super::keys::{Fitted, KeyPlan, fitted, warnings as key_warnings};
use super::limits::{Limits, check, drills_mm};
use super::scatter::scatter;
use super::second_vent::{SecondVent, second_vent};
use super::set_apart::OddOne;
use super::solve::{ON_THE_WAY, relieved, solved, with_last_places, with_places};
use super::task::{Task, choose_pads};
use super::unmet::unmet;
use super::vent_scan::Price;
use super::vents::{
    FirstVents, SIZES_OF_LARGE, TriedVent, VentTrade, Vented, first_vents, holding, is_large, movable,
    trades, with_vents,
};
use crate::instrument::advice::{Warning, warnings};
use crate::instrument::alter::trim_end;
use crate::instrument::lattice::fingering_cutoff_hz;
use crate::instrument::model::Instrument;
use crate::instrument::prediction::{PredictedNote, predict};

/// Tables of slopes for one solution after one drill was taken.
const AFTER_A_DRILL: Effort = Effort { rounds: 1, ..ON_THE_WAY };
/// Drills are taken in so many turns at most: one hole a turn where there are no more.
const SNAPS: usize = 8;
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
    /// Sizes that were tried for vents, those that serve best where they are in tune first.
    pub vents: Vec<TriedVent>,
    /// Every upper note that opens a vent: what it does, and what it would do if pitch alone had chosen the vent.
    pub vent_trades: Vec<VentTrade>,
    /// What a second vent would do beside each vent that can't serve all its notes.
    pub second_vents: Vec<SecondVent>,
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
    let maker = limits.sized(&with_keys);
    let own_mm = maker.holes.iter().map(|hole| hole.diameter_mm).collect();
    let (before, instrument, limits) = (instrument, &with_keys, &Limits { own_mm, ..limits });
    progress("a first guess, from the lowest note up");
    let mut layout = begun(instrument, limits)?;
    choose_pads(&mut layout, limits);
    progress("places");
    let wanted = &instrument.fingerings;
    let sum = relieved(with_places(&layout, limits), wanted, limits);
    let vents = movable(instrument, limits);
    let is_open = |&hole: &usize| limits.may_resize(hole) && !instrument.holes[hole].vent;
    let open_sizes: Vec<usize> = (0..instrument.holes.len()).filter(is_open).collect();
    let held = holding(limits, &vents);
    progress("place and size of vents");
    let first = first_vents(&sum.layout, &sum.limits, &vents, &open_sizes);
    let Begun { mut layout, counted, mut by_pitch } =
        begun_with(&first, |vents| with_sizes(vents, &maker, &held, &open_sizes));
    if !open_sizes.is_empty() {
        layout = snapped(layout, &maker, &counted, &mut open_sizes.clone(), progress);
    }
    let counted = Limits { fixed: limits.fixed.clone(), ..counted };
    let Vented { mut layout, tried } = with_vents(layout, &counted, &vents, progress);
    progress("places once more");
    let sum = relieved(layout, wanted, &held);
    layout = rounded(with_last_places(&sum.layout, &sum.limits));
    for body in [&mut layout, &mut by_pitch] {
        body.fingerings.clone_from(wanted);
    }
    progress("whether a second vent would help");
    let second_vents = vents.iter().filter_map(|&vent| second_vent(&layout, limits, vent)).collect();
    progress("how drilling and measuring errors scatter the notes");
    Ok(told(before, layout, limits, Found { tried, by_pitch, odd: sum.odd, keys: plan, second_vents }))
}

/// The layout that drills are chosen for.
struct Begun {
    layout: Instrument,
    /// The limits with what still counts.
    counted: Limits,
    /// The layout that pitch alone would have.
    by_pitch: Instrument,
}

/// With the vents that cost least, or those of pitch alone where these turn out to cost less once all is solved.
fn begun_with(first: &FirstVents, solve: impl Fn(&Instrument) -> (Instrument, Limits)) -> Begun {
    let (layout, counted) = solve(&first.speaking);
    if first.in_tune == first.speaking || is_large(&first.speaking) {
        return Begun { by_pitch: layout.clone(), layout, counted };
    }
    let (by_pitch, counted_by_pitch) = solve(&first.in_tune);
    let price = |layout: &Instrument, counted: &Limits| Price::of(layout, counted).whole();
    if price(&by_pitch, &counted_by_pitch) < price(&layout, &counted) {
        return Begun { layout: by_pitch.clone(), counted: counted_by_pitch, by_pitch };
    }
    Begun { layout, counted, by_pitch }
}

/// Places and sizes for these vents, with the limits that still count.
fn with_sizes(
    vents: &Instrument,
    maker: &Instrument,
    held: &Limits,
    open_sizes: &[usize],
) -> (Instrument, Limits) {
    // Another vent sets the registers apart otherwise, so that other notes may have to be left out.
    let sum = relieved(with_places(vents, held), &maker.fingerings, held);
    if open_sizes.is_empty() {
        return (sum.layout, sum.limits);
    }
    let task = Task::of_places(&sum.layout, &sum.limits).with_sizes(open_sizes);
    (solved(&task, Some(maker), ON_THE_WAY), sum.limits)
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

/// Takes a drill for a few holes at a time, those that fit their drills worst first, and lets the others make up for
/// it.
fn snapped(
    mut layout: Instrument,
    maker: &Instrument,
    limits: &Limits,
    open_sizes: &mut Vec<usize>,
    progress: Progress<'_>,
) -> Instrument {
    let drills = drills_mm(&layout);
    let count = open_sizes.len();
    progress(&format!("drills for {count} holes"));
    let at_once = count.div_ceil(SNAPS).max(1);
    while !open_sizes.is_empty() {
        let nearest = |hole: usize| {
            let mm = layout.holes[hole].diameter_mm;
            let near = |sizes: &[f64]| {
                sizes.iter().copied().min_by(|a, b| (a - mm).abs().total_cmp(&(b - mm).abs()))
            };
            // In a taper the range moves with the hole: a drill beside it is better than none.
            let fitting = limits.sizes(&layout, &layout.holes[hole]).drills(&drills);
            near(&fitting).or_else(|| near(&drills)).unwrap_or(mm)
        };
        let mut by_misfit: Vec<(f64, usize, f64)> = open_sizes
            .iter()
            .map(|&hole| ((nearest(hole) - layout.holes[hole].diameter_mm).abs(), hole, nearest(hole)))
            .collect();
        by_misfit.sort_by(|a, b| b.0.total_cmp(&a.0));
        let worst = &by_misfit[..at_once.min(by_misfit.len())];
        for &(_, hole, drill_mm) in worst {
            layout.holes[hole].diameter_mm = drill_mm;
            open_sizes.retain(|&open| open != hole);
        }
        choose_pads(&mut layout, limits);
        // A size that was its drill's already moves nothing.
        if worst.iter().any(|(was_off_mm, ..)| *was_off_mm > 1e-3) && !open_sizes.is_empty() {
            let task = Task::of_places(&layout, limits).with_sizes(open_sizes);
            layout = solved(&task, Some(maker), AFTER_A_DRILL);
        }
    }
    layout
}

/// What was found on the way.
struct Found {
    tried: Vec<TriedVent>,
    by_pitch: Instrument,
    odd: Vec<OddOne>,
    keys: KeyPlan,
    second_vents: Vec<SecondVent>,
}

/// Everything there is to tell of a finished layout.
fn told(before: &Instrument, layout: Instrument, limits: &Limits, found: Found) -> Placed {
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
    let mut told = unmet(&layout, limits, &notes, &found.odd);
    told.extend(warnings(&layout, &notes));
    told.extend(missing(&layout, &first));
    told.extend(key_warnings(before, &layout, &found.keys));
    told.extend(of_this_body(before, &layout, limits));
    let vent_trades = trades(&layout, &found.by_pitch);
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
        vents: found.tried,
        vent_trades,
        second_vents: found.second_vents,
        keys: found.keys,
        warnings: told,
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
    if is_large(layout) && layout.holes.iter().any(|hole| hole.vent) {
        found.push(Warning {
            code: "large-plan",
            text: format!(
                "The plan is large ({} holes, {} fingerings). So that it is placed in seconds, only the {SIZES_OF_LARGE} \
                 sizes of each vent nearest to the file's were tried; no second vent was looked for, nor what pitch alone \
                 would have. Try other sizes with --size.",
                layout.holes.len(),
                layout.fingerings.len()
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
