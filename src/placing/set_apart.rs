//! Notes that no layout meets together with the others: found, and taken out of the sum as far as they must be, so
//! that nothing else is drawn after them.
//!
//! Two kinds. A note that hangs on a kept hole or a kept end counts next to nothing. Of two registers that share
//! their holes but lie oddly far apart, beside the other pairs, one is asked for only as far as the other pairs
//! give it: vent and bore widen the twelfths smoothly along the scale, so that what stands out is the wish.
//! Must not know how a layout is solved.

use super::limits::Limits;
use super::unmet::hangs_on_what_is_kept;
use crate::instrument::model::{Fingering, Instrument};
use crate::instrument::prediction::{PredictedNote, predict};
use crate::instrument::twelfth::same_holes_below;

/// A note that is stopped is taken out when it is farther off than this, cents: less is spread without harm.
const STOPPED_CENTS: f64 = 10.0;
/// What a note counts that is taken out: enough to place a hole that nothing else needs.
const LEAST_WEIGHT: f64 = 0.01;
/// A pair may lie this far off the line through its neighbours, cents; at either end of the register, where the
/// vent's effect bends, and where there are too few pairs to tell, more (from our own tables of vents, no source).
const ODD_CENTS: f64 = 5.0;
const ODD_AT_END_CENTS: f64 = 25.0;
const ODD_AMONG_FEW_CENTS: f64 = 20.0;
/// Fewer pairs than this make no line.
const FEWEST_FOR_A_LINE: usize = 4;

/// A note that is asked for only as far as the other pairs of its register give it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct OddOne {
    /// Index into [`Instrument::fingerings`].
    pub(super) fingering: usize,
    /// The note that shares its holes.
    pub(super) partner: usize,
    /// How far what is asked for lies above what is wanted, cents.
    pub(super) moved_cents: f64,
}

/// The worst note that is stopped and still counts; `None` when there is none. `notes` are told against what is wanted.
pub(super) fn stopped(layout: &Instrument, limits: &Limits, notes: &[PredictedNote]) -> Option<usize> {
    let counts = |fingering: usize| limits.weight(fingering) > LEAST_WEIGHT;
    let off = |note: &PredictedNote| note.cents().map_or(f64::INFINITY, f64::abs);
    let is_stopped = |note: &&PredictedNote| {
        if off(note) < STOPPED_CENTS || !counts(note.fingering) {
            return false;
        }
        // A vent that may move can still help an upper note, unless the lower note of its holes is stopped as well.
        let helped = layout.fingerings[note.fingering]
            .open
            .iter()
            .any(|&hole| layout.holes[hole].vent && limits.may_move(hole));
        if helped {
            return same_holes_below(layout, notes, note).is_some_and(|below| !counts(below.fingering));
        }
        hangs_on_what_is_kept(layout, limits, note.fingering)
    };
    notes.iter().filter(is_stopped).max_by(|a, b| off(a).total_cmp(&off(b))).map(|note| note.fingering)
}

/// The same limits with a note that counts next to nothing.
pub(super) fn without(limits: &Limits, fingering: usize) -> Limits {
    let mut fewer = limits.clone();
    fewer.weights.push((fingering, LEAST_WEIGHT));
    fewer
}

/// Every note that stands out of its register; `wanted` is what the maker asked for.
pub(super) fn odd_ones(layout: &Instrument, wanted: &[Fingering], limits: &Limits) -> Vec<OddOne> {
    let as_wanted = Instrument { fingerings: wanted.to_vec(), ..layout.clone() };
    let notes = predict(&as_wanted);
    let highest = wanted.iter().map(|fingering| fingering.register).max().unwrap_or(1);
    (2..=highest).flat_map(|register| odd_in(&as_wanted, &notes, register, limits)).collect()
}

fn odd_in(instrument: &Instrument, notes: &[PredictedNote], register: usize, limits: &Limits) -> Vec<OddOne> {
    let uppers = notes.iter().filter(|note| instrument.fingerings[note.fingering].register == register);
    let mut pairs: Vec<Pair> = uppers
        .filter_map(|upper| {
            let lower = same_holes_below(instrument, notes, upper)?;
            let along = f64::from(instrument.fingerings[lower.fingering].note.midi);
            let apart_cents = upper.cents()? - lower.cents()?;
            let counts = limits.weight(upper.fingering).min(limits.weight(lower.fingering));
            (counts > LEAST_WEIGHT).then_some(Pair {
                upper: upper.fingering,
                lower: lower.fingering,
                along,
                apart_cents,
            })
        })
        .collect();
    pairs.sort_by(|a, b| a.along.total_cmp(&b.along));
    let points: Vec<[f64; 2]> = pairs.iter().map(|pair| [pair.along, pair.apart_cents]).collect();
    outliers(&points)
        .into_iter()
        .map(|(index, expected_cents)| {
            let Pair { upper, lower, apart_cents, .. } = pairs[index];
            let beyond_cents = apart_cents - expected_cents;
            // What counts less gives way; of two alike the upper note.
            if limits.weight(upper) > limits.weight(lower) {
                OddOne { fingering: lower, partner: upper, moved_cents: -beyond_cents }
            } else {
                OddOne { fingering: upper, partner: lower, moved_cents: beyond_cents }
            }
        })
        .collect()
}

/// Two fingerings of the same holes.
struct Pair {
    upper: usize,
    lower: usize,
    /// Where it stands in the scale, semitones.
    along: f64,
    /// How much farther apart they lie than wanted, cents.
    apart_cents: f64,
}

/// The points that stand out of a smooth row, each with the height that the others expect there.
fn outliers(points: &[[f64; 2]]) -> Vec<(usize, f64)> {
    if points.len() < FEWEST_FOR_A_LINE {
        let heights = points.iter().map(|point| point[1]);
        let usual = if points.len() < 2 {
            0.0
        } else {
            heights.min_by(|a, b| a.abs().total_cmp(&b.abs())).unwrap_or(0.0)
        };
        let far = |index: &usize| (points[*index][1] - usual).abs() > ODD_AMONG_FEW_CENTS;
        return (0..points.len()).filter(far).map(|index| (index, usual)).collect();
    }
    let mut kept: Vec<usize> = (0..points.len()).collect();
    let mut found = Vec::new();
    while kept.len() >= FEWEST_FOR_A_LINE && 3 * found.len() < points.len() {
        // The one without which the rest runs smoothest; its neighbours only seem to stand out.
        let rest = |out: usize| kept.iter().copied().filter(|&index| index != out).collect::<Vec<usize>>();
        let roughness = |out: usize| -> f64 {
            let rest = rest(out);
            rest.iter().map(|&index| (points[index][1] - expected(points, &rest, index)).powi(2)).sum()
        };
        let Some(odd) = kept.iter().copied().min_by(|&a, &b| roughness(a).total_cmp(&roughness(b))) else {
            break;
        };
        let is_end = kept.first() == Some(&odd) || kept.last() == Some(&odd);
        let most = if is_end { ODD_AT_END_CENTS } else { ODD_CENTS };
        if (points[odd][1] - expected(points, &kept, odd)).abs() <= most {
            break;
        }
        kept = rest(odd);
        found.push(odd);
    }
    found.into_iter().map(|index| (index, expected(points, &kept, index))).collect()
}

/// The height at a point by the line through its neighbours among `others`, or through the nearest two at an end.
fn expected(points: &[[f64; 2]], others: &[usize], index: usize) -> f64 {
    let below: Vec<usize> = others.iter().copied().filter(|&other| other < index).collect();
    let above: Vec<usize> = others.iter().copied().filter(|&other| other > index).collect();
    let (a, b) = match (below.as_slice(), above.as_slice()) {
        ([.., a], [b, ..]) | ([.., a, b], []) | ([], [a, b, ..]) => (points[*a], points[*b]),
        ([a], []) | ([], [a]) => return points[*a][1],
        ([], []) => return points[index][1],
    };
    let run = b[0] - a[0];
    if run.abs() < 1e-9 {
        0.5 * (a[1] + b[1])
    } else {
        a[1] + (points[index][0] - a[0]) * (b[1] - a[1]) / run
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(heights: &[f64]) -> Vec<[f64; 2]> {
        heights.iter().enumerate().map(|(index, &height)| [index as f64, height]).collect()
    }

    #[test]
    fn what_stands_out_is_found_wherever_it_is_and_nothing_beside_it() {
        for odd in 0..7 {
            let mut heights: Vec<f64> = (0..7).map(|index| 20.0 - 2.0 * f64::from(index)).collect();
            let smooth = heights[odd];
            heights[odd] -= 40.0;
            let found = outliers(&row(&heights));
            assert_eq!(found.len(), 1, "{odd} {found:?}");
            assert!(found[0].0 == odd && (found[0].1 - smooth).abs() < 1e-9, "{odd} {found:?}");
        }
    }

    #[test]
    fn the_bend_that_a_vent_makes_at_both_ends_of_its_register_is_no_odd_note() {
        // Our own tables of one vent on a tube of 24 mm, wide and off its place.
        for heights in [
            [40.0, 26.0, 15.0, 12.0, 5.0, 3.0, 3.0, 7.0, 4.0],
            [28.0, 15.0, 6.0, 5.0, 1.0, 3.0, 8.0, 15.0, 14.0],
            [17.0, 7.0, 1.0, 2.0, 3.0, 9.0, 18.0, 26.0, 26.0],
        ] {
            assert!(outliers(&row(&heights)).is_empty(), "{:?}", outliers(&row(&heights)));
        }
    }

    #[test]
    fn of_a_few_pairs_the_one_that_lies_nearest_tells_what_is_usual() {
        assert_eq!(outliers(&row(&[3.0, 60.0])), [(1, 3.0)]);
        assert_eq!(outliers(&row(&[-70.0])), [(0, 0.0)]);
        assert!(outliers(&row(&[12.0, 4.0, 9.0])).is_empty() && outliers(&[]).is_empty());
    }
}
