//! Which key serves which hole at the least cost over all holes: an exact assignment (H. W. Kuhn, Naval Res. Logist. 2 (1955)
//! 83; from memory), so that it doesn't depend on the order of the file.
//!
//! A key out of whose reach the hole lies costs the cents that the hole then misses; a pad that covers less than the hole is
//! wished costs as a size off the maker's does, one that covers more a quarter of it. The cost grows with the square, so
//! sizes cross over nowhere: of two keys that reach both of two holes, the larger goes to the larger one, and of holes
//! that are wished alike to the lower one. Must not know how the layout is solved.

use pathfinding::kuhn_munkres::kuhn_munkres_min;
use pathfinding::matrix::Matrix;

use super::limits::{HeldByKey, Limits, SizeRange, drills_mm};
use super::wishes::SIZE_SHARE;
use crate::instrument::bench_limits::{LEAST_LIFT_SHARE, covered_mm, round_the_tube_mm};
use crate::instrument::column::{embouchure_mm, mouthpiece_length_mm};
use crate::instrument::model::{Drive, Hole, Instrument, Key, Pad};
use crate::instrument::problem::plain;

/// A key that makes its note miss by more is worth less than none, cents (our choice).
const NO_KEY_CENTS: f64 = 100.0;
/// A vent off its place by this share of its distance from the top is as good as none (our choice; that one vent serves many
/// notes shows that its place matters little).
const VENT_OFF_SHARE: f64 = 0.5;
/// A pad wider than needed costs this share of one that is too small by as much (our choice).
const SPARE_SHARE: f64 = 0.25;
/// The lowest hole counts as wished wider than the highest by this share: holes should grow toward the bell.
const GROWTH: f64 = 0.1;
/// Cents that a length makes, times that length: 1200 / ln 2.
const CENTS: f64 = 1731.23;
/// So many keys that are left over are named with the reason why they don't serve a hole, the nearest first.
const MOST_REASONS: usize = 3;
/// Costs are whole numbers of this many to a cent².
const FINENESS: f64 = 1000.0;
/// More than all holes without a key together.
const IMPOSSIBLE: i64 = 1_000_000_000_000;

/// The keys of a box beside the holes of a layout.
pub(super) struct Matching<'a> {
    /// Every hole where it would like to lie, at the size that it is wished.
    layout: Instrument,
    limits: &'a Limits,
    /// The same limits with every hole held by a key, so that its pad counts to the last tenth.
    held: Limits,
    drills_mm: Vec<f64>,
    /// Holes from the top down.
    order: Vec<usize>,
}

impl<'a> Matching<'a> {
    /// `layout` has every hole where it would like to lie; `wished` has the sizes and pads that the maker gave.
    pub(super) fn new(layout: &Instrument, wished: &Instrument, limits: &'a Limits) -> Matching<'a> {
        let mut layout = layout.clone();
        for (hole, wished) in layout.holes.iter_mut().zip(&wished.holes) {
            *hole = Hole { at_mm: hole.at_mm, ..wished.clone() };
        }
        let anywhere = |hole: usize| HeldByKey { hole, key: String::new(), from_mm: None, to_mm: None };
        let keys = (0..layout.holes.len()).map(anywhere).collect();
        let held = Limits { keys, ..limits.clone() };
        let (drills_mm, order) = (drills_mm(&layout), layout.holes_from_the_top());
        Matching { layout, limits, held, drills_mm, order }
    }

    /// The key of each hole, an index into [`Instrument::keys`]; no two holes change places for it.
    pub(super) fn cheapest(&self) -> Vec<Option<usize>> {
        let (holes, keys) = (self.layout.holes.len(), self.layout.keys.len());
        let of_hole = |hole| (0..keys).map(|key| self.cost(hole, key).map_or(IMPOSSIBLE, whole)).collect();
        let mut costs: Vec<Vec<i64>> = (0..holes).map(of_hole).collect();
        // Ends: each round refuses a pair that was allowed before.
        loop {
            let chosen = self.cheapest_of(&costs);
            match self.out_of_order(&chosen) {
                Some((hole, key)) => costs[hole][key] = IMPOSSIBLE,
                None => return chosen,
            }
        }
    }

    /// The same by cost alone; `costs` has a row a hole.
    fn cheapest_of(&self, costs: &[Vec<i64>]) -> Vec<Option<usize>> {
        let holes = costs.len();
        // One column for each key of those that are alike, and one without a key for each hole.
        let alike = |(index, key): (usize, &Key)| std::iter::repeat_n(index, key.count.min(holes));
        let keys: Vec<usize> = self.layout.keys.iter().enumerate().flat_map(alike).collect();
        let weights = Matrix::from_fn(holes, keys.len() + holes, |(hole, column)| {
            keys.get(column).map_or(whole(NO_KEY_CENTS.powi(2)), |&key| costs[hole][key])
        });
        let (_, columns) = kuhn_munkres_min(&weights);
        columns.iter().map(|&column| keys.get(column).copied()).collect()
    }

    /// What a key costs at a hole, cents²; `None` when it can't serve it.
    fn cost(&self, hole: usize, key: usize) -> Option<f64> {
        let (of, place) = (&self.layout.keys[key], &self.layout.holes[hole]);
        if place.finger || !self.limits.may_move(hole) || place.vent != of.vent {
            return None;
        }
        self.size_under(hole, key).ok()?;
        let off_mm = outside_mm(of, place.at_mm);
        let top_mm = match self.layout.drive {
            Drive::Reed => mouthpiece_length_mm(&self.layout),
            Drive::AirJet => embouchure_mm(&self.layout),
        };
        let place_cents = if place.vent {
            NO_KEY_CENTS * off_mm / (VENT_OFF_SHARE * place.at_mm)
        } else {
            CENTS * off_mm / (place.at_mm + top_mm)
        };
        let lower = self.order.iter().position(|&index| index == hole).unwrap_or(0) as f64;
        let grown = 1.0 + GROWTH * lower / self.order.len() as f64;
        let short = (grown * place.diameter_mm / served_mm(&with_key(place, of))).ln() / SIZE_SHARE;
        let size_cents = if short > 0.0 { short } else { SPARE_SHARE * short };
        let cost = place_cents.powi(2) + size_cents.powi(2);
        (cost < NO_KEY_CENTS.powi(2)).then_some(cost)
    }

    /// The size that the hole starts from under the key, mm.
    ///
    /// # Errors
    /// Why the key can't serve it, in the maker's words.
    pub(super) fn size_under(&self, hole: usize, key: usize) -> Result<f64, String> {
        let key = &self.layout.keys[key];
        let name = the_key(key);
        let hole_mm = |mm: f64| plain((mm * 10.0).round() / 10.0);
        let covered = with_key(&self.layout.holes[hole], key);
        let length_mm = self.layout.length_mm();
        if let Some(from_mm) = key.from_mm.filter(|mm| mm + 0.5 * covered.diameter_mm >= length_mm) {
            return Err(format!(
                "{name} begins at {} mm, and the tube ends at {length_mm:.0} mm",
                plain(from_mm)
            ));
        }
        let wished_mm = covered.diameter_mm;
        let most_mm = served_mm(&covered);
        if !self.limits.may_resize(hole) {
            let covered_mm = covered_mm(&covered).unwrap_or(0.0);
            let why = || {
                let (most, wished) = (hole_mm(covered_mm), hole_mm(wished_mm));
                format!("{name} covers {most} mm, and the hole is to have {wished}")
            };
            return if covered_mm >= wished_mm - 1e-9 { Ok(wished_mm) } else { Err(why()) };
        }
        let range @ SizeRange { smallest_mm, widest_mm, .. } = self.held.sizes(&self.layout, &covered);
        if most_mm < smallest_mm {
            let least = hole_mm(smallest_mm);
            return Err(format!(
                "{name} serves {} mm at most, and the hole needs {least} at least",
                hole_mm(most_mm)
            ));
        }
        if range.drills(&self.drills_mm).is_empty() {
            let (least, most) = (hole_mm(smallest_mm), hole_mm(widest_mm));
            return Err(format!(
                "{name} needs a hole of {least} to {most} mm, and none of your drills makes one"
            ));
        }
        Ok(wished_mm.clamp(smallest_mm, widest_mm.max(smallest_mm)))
    }

    /// Why none of the keys in `left` serves the hole.
    pub(super) fn why_none(&self, hole: usize, left: &[usize]) -> String {
        let place = &self.layout.holes[hole];
        let (kind, kinds) = if place.vent { ("vent key", "vent keys") } else { ("tone key", "tone keys") };
        let of_kind: Vec<&Key> = self.layout.keys.iter().filter(|key| key.vent == place.vent).collect();
        if of_kind.is_empty() {
            return format!("the box has no {kind}");
        }
        let mut of_left: Vec<usize> =
            left.iter().copied().filter(|&key| self.layout.keys[key].vent == place.vent).collect();
        if of_left.is_empty() {
            let total: usize = of_kind.iter().map(|key| key.count).sum();
            let are = if total == 1 { format!("{kind} is") } else { format!("{kinds} are") };
            return format!("your {total} {are} at other holes");
        }
        let off_mm = |key: usize| outside_mm(&self.layout.keys[key], place.at_mm);
        of_left.sort_by(|&a, &b| off_mm(a).total_cmp(&off_mm(b)));
        let more = of_left.len().saturating_sub(MOST_REASONS);
        let reasons: Vec<String> =
            of_left.iter().take(MOST_REASONS).map(|&key| self.why_not(hole, key)).collect();
        let others =
            if more > 0 { format!("; nor does any of the {more} other kinds") } else { String::new() };
        format!("{}{others}", reasons.join("; "))
    }

    fn why_not(&self, hole: usize, key: usize) -> String {
        if let Err(why) = self.size_under(hole, key) {
            return why;
        }
        let (of, place) = (&self.layout.keys[key], &self.layout.holes[hole]);
        if outside_mm(of, place.at_mm) > 0.0 {
            return format!(
                "{} reaches {}, and the hole goes to {:.0} mm",
                the_key(of),
                span(of),
                place.at_mm
            );
        }
        if self.cost(hole, key).is_none() {
            let most = plain((10.0 * served_mm(&with_key(place, of))).round() / 10.0);
            return format!(
                "{} serves {most} mm at most, too far from {} mm",
                the_key(of),
                plain(place.diameter_mm)
            );
        }
        format!("with {} it could not keep its place among its neighbours", the_key(of))
    }

    /// A hole and its key that leave no room for all holes in their order, the costliest of those that are in the way.
    fn out_of_order(&self, chosen: &[Option<usize>]) -> Option<(usize, usize)> {
        let tone = self.order.iter().copied().filter(|&hole| !self.layout.holes[hole].vent);
        let mut passed: Vec<(usize, f64, Hole)> = Vec::new();
        for index in tone {
            let mut hole = self.layout.holes[index].clone();
            let (mut from_mm, mut to_mm) = (0.0, f64::INFINITY);
            if let Some(key) = chosen[index] {
                let of = &self.layout.keys[key];
                hole = Hole {
                    diameter_mm: self.size_under(index, key).unwrap_or(hole.diameter_mm),
                    ..with_key(&hole, of)
                };
                (from_mm, to_mm) = (of.from_mm.unwrap_or(from_mm), of.to_mm.unwrap_or(to_mm));
            } else if !self.limits.may_move(index) {
                (from_mm, to_mm) = (hole.at_mm, hole.at_mm);
            }
            let after = passed.iter().map(|(_, at_mm, upper)| at_mm + self.along_mm(upper, &hole));
            let least_mm = after.fold(from_mm, f64::max);
            passed.push((index, least_mm, hole));
            if least_mm > to_mm + 1e-9 {
                let keyed = passed.iter().filter_map(|(hole, ..)| Some((*hole, chosen[*hole]?)));
                let cost = |&(hole, key): &(usize, usize)| self.cost(hole, key).unwrap_or(f64::INFINITY);
                return keyed.max_by(|a, b| cost(a).total_cmp(&cost(b)));
            }
        }
        None
    }

    /// How far down the tube a hole must lie from an upper one for the wall between them, mm.
    fn along_mm(&self, upper: &Hole, lower: &Hole) -> f64 {
        let needed_mm =
            0.5 * (upper.diameter_mm + lower.diameter_mm) + self.limits.wall_between_mm(upper, lower);
        let round_mm = round_the_tube_mm(&self.layout, upper, lower);
        (needed_mm.powi(2) - round_mm.powi(2)).max(0.0).sqrt()
    }
}

/// What a key is called in a sentence.
pub(super) fn the_key(key: &Key) -> String {
    if key.name.starts_with("key ") { key.name.clone() } else { format!("the key {}", key.name) }
}

/// Where the key reaches, in words.
pub(super) fn span(key: &Key) -> String {
    match (key.from_mm, key.to_mm) {
        (Some(from_mm), Some(to_mm)) => format!("from {} to {} mm", plain(from_mm), plain(to_mm)),
        (Some(from_mm), None) => format!("from {} mm on", plain(from_mm)),
        (None, Some(to_mm)) => format!("only to {} mm", plain(to_mm)),
        (None, None) => "everywhere".to_string(),
    }
}

/// The hole under this key: its pad, and its angle where it has one. A key that doesn't say how far it opens opens as the
/// file has the hole's pad, else as far as the widest hole under it needs.
pub(super) fn with_key(hole: &Hole, key: &Key) -> Hole {
    let diameter_mm = key.pad_diameter_mm;
    let angle_deg = key.angle_deg.unwrap_or(hole.angle_deg);
    let lift_mm = key.lift_mm.or(hole.pad.map(|pad| pad.lift_mm));
    let mut under = Hole { angle_deg, pad: Some(Pad { diameter_mm, lift_mm: 1.0 }), ..hole.clone() };
    let enough_mm = LEAST_LIFT_SHARE * covered_mm(&under).map_or(diameter_mm, |mm| mm.max(0.1 * diameter_mm));
    under.pad = Some(Pad { diameter_mm, lift_mm: lift_mm.unwrap_or(enough_mm) });
    under
}

/// The widest hole that the pad over this one serves, mm: it covers it with its overlap, and opens a third of it.
pub(super) fn served_mm(hole: &Hole) -> f64 {
    let opened_mm = hole.pad.map_or(f64::INFINITY, |pad| pad.lift_mm / LEAST_LIFT_SHARE);
    covered_mm(hole).unwrap_or(0.0).min(opened_mm).max(0.01)
}

/// How far a place is out of the key's reach, mm.
fn outside_mm(key: &Key, at_mm: f64) -> f64 {
    let above_mm = key.from_mm.map_or(0.0, |mm| mm - at_mm);
    let below_mm = key.to_mm.map_or(0.0, |mm| at_mm - mm);
    above_mm.max(below_mm).max(0.0)
}

fn whole(cost: f64) -> i64 {
    (FINENESS * cost).round() as i64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::instrument::file::parse;

    const HEAD: &str = "format = 1\n[instrument]\nname = \"x\"\nprototype = \"P1\"\ndrive = \"reed\"\n[mouthpiece]\nchamber_ml \
        = 31\n[[bore]]\nat_mm = 0\ndiameter_mm = 24\n[[bore]]\nat_mm = 1500\ndiameter_mm = 24\n";

    /// Holes by place and size, keys by the pad and where they reach.
    fn bench(holes: &[(f64, f64)], keys: &[(f64, f64, f64)]) -> Instrument {
        let mut text = HEAD.to_string();
        for (index, (at_mm, mm)) in holes.iter().enumerate() {
            text += &format!(
                "[[hole]]\nname = \"h{index}\"\nat_mm = {at_mm}\ndiameter_mm = {mm}\nchimney_mm = 6\n"
            );
        }
        for (pad_mm, from_mm, to_mm) in keys {
            text += &format!("[[key]]\npad_diameter_mm = {pad_mm}\nfrom_mm = {from_mm}\nto_mm = {to_mm}\n");
        }
        parse(&text).unwrap()
    }

    fn chosen(holes: &[(f64, f64)], keys: &[(f64, f64, f64)]) -> Vec<Option<usize>> {
        let instrument = bench(holes, keys);
        Matching::new(&instrument, &instrument, &Limits::default()).cheapest()
    }

    const ANYWHERE: (f64, f64) = (0.0, 1500.0);

    #[test]
    fn of_keys_that_reach_everywhere_the_larger_goes_to_the_larger_or_the_lower_hole() {
        let key = |pad_mm: f64| (pad_mm, ANYWHERE.0, ANYWHERE.1);
        assert_eq!(chosen(&[(500.0, 14.0), (700.0, 8.0)], &[key(13.0), key(19.0)]), [Some(1), Some(0)]);
        assert_eq!(chosen(&[(700.0, 10.0), (500.0, 10.0)], &[key(14.5), key(16.0)]), [Some(1), Some(0)]);
    }

    #[test]
    fn a_key_in_reach_is_taken_before_one_of_the_right_size_out_of_reach() {
        assert_eq!(chosen(&[(500.0, 10.0)], &[(15.0, 530.0, 600.0), (18.0, 400.0, 600.0)]), [Some(1)]);
    }

    #[test]
    fn keys_that_leave_no_room_for_both_holes_are_not_both_taken() {
        let taken = chosen(&[(500.0, 10.0), (520.0, 10.0)], &[(16.0, 505.0, 506.0), (16.0, 510.0, 511.0)]);
        assert_eq!(taken.iter().flatten().count(), 1, "{taken:?}");
    }

    #[test]
    fn no_other_choice_costs_less() {
        let holes = [(420.0, 9.0), (480.0, 10.0), (560.0, 12.0)];
        let keys = [(14.0, 380.0, 500.0), (16.5, 430.0, 470.0), (18.0, 450.0, 700.0), (15.0, 540.0, 600.0)];
        let instrument = bench(&holes, &keys);
        let limits = Limits::default();
        let matching = Matching::new(&instrument, &instrument, &limits);
        let none = NO_KEY_CENTS.powi(2);
        let price = |choice: &[Option<usize>]| -> Option<f64> {
            choice
                .iter()
                .enumerate()
                .map(|(hole, key)| key.map_or(Some(none), |key| matching.cost(hole, key)))
                .sum()
        };
        let own = price(&matching.cheapest()).unwrap();
        let any = || (0..=keys.len()).map(|key| (key < keys.len()).then_some(key));
        for choice in any().flat_map(|a| any().flat_map(move |b| any().map(move |c| [a, b, c]))) {
            let taken: Vec<usize> = choice.iter().flatten().copied().collect();
            let once = (0..keys.len()).all(|key| taken.iter().filter(|&&other| other == key).count() < 2);
            if let Some(cost) = price(&choice).filter(|_| once) {
                assert!(cost >= own - 1e-2, "{choice:?} {cost} {own}");
            }
        }
    }
}
