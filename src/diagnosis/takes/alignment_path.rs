//! The cheapest way of heard notes through the fingerings: dynamic programming over which note is
//! taken as which fingering, after H. Sakoe & S. Chiba, IEEE Trans. Acoust. Speech Signal Process. 26
//! (1978) 43 (from memory), with other steps: a repeat, a jump, a note left out.
//!
//! Costs are negative natural logarithms of how likely a thing is beside the likeliest; they are our
//! own choice, from how people play through a list: mostly on, sometimes again, seldom back.

use super::alignment::{Heard, jumped_to, own_cents};
use crate::diagnosis::beliefs::sequence::{
    BACK, FARTHEST_CENTS, JUMP, LEAVE, LEAVE_MEANT_NOTHING, LEAVE_NOTHING, LEAVE_SHORT, MISREAD,
    MISREAD_FACTORS, NEARLY, OFF_CENTS, PLANNED, REPEAT, REPEAT_CENTS, REPEAT_MOST, SKIP, SKIP_FIRST,
    SKIP_LAST, SKIP_MOST, START_AGAIN, STEP_BACK, TAKE_NOTHING, TAKE_SHORT,
};
use crate::instrument::model::Instrument;
use crate::instrument::prediction::PredictedNote;
use crate::units::cents_between;

/// At most so many notes in a row are left out between two taken ones.
const MOST_LEFT_OUT: usize = 12;

/// All that a way is judged by.
pub struct Costs<'a> {
    pub instrument: &'a Instrument,
    pub predicted: &'a [PredictedNote],
    /// The fingerings in the order that is tried.
    pub fingerings: &'a [usize],
    pub heard: &'a [Heard],
    /// Which of them were broken off at once.
    pub short: &'a [bool],
    /// What all notes are off together, cents.
    pub common_cents: f64,
}

/// The cheapest way.
pub struct Path {
    pub total: f64,
    /// What each heard note is taken as.
    pub taken: Vec<Option<usize>>,
}

/// Finds it.
pub fn cheapest(costs: &Costs) -> Path {
    let table = Table::of(costs);
    let forward = table.forward();
    let notes = costs.heard.len();
    let mut path = Path { total: table.left_between(0, notes), taken: vec![None; notes] };
    let mut at = None;
    for (i, row) in forward.iter().enumerate() {
        for (p, reached) in row.iter().enumerate() {
            let total = reached.0 + table.left_between(i + 1, notes) + table.end[p];
            if total < path.total {
                (path.total, at) = (total, Some((i, p)));
            }
        }
    }
    while let Some((i, p)) = at {
        path.taken[i] = Some(costs.fingerings[p]);
        at = forward[i][p].1;
    }
    path
}

/// For each taken note another fingering that it could nearly as well be.
pub fn nearly_as_cheap(costs: &Costs, path: &Path) -> Vec<Option<usize>> {
    let table = Table::of(costs);
    let (forward, backward) = (table.forward(), table.backward());
    path.taken
        .iter()
        .enumerate()
        .map(|(i, taken)| {
            let taken = (*taken)?;
            let through = |p: usize| forward[i][p].0 + backward[i][p];
            (0..costs.fingerings.len())
                .filter(|&p| costs.fingerings[p] != taken && through(p) < path.total + NEARLY)
                .min_by(|&a, &b| through(a).total_cmp(&through(b)))
                .map(|p| costs.fingerings[p])
        })
        .collect()
}

/// Costs laid out once for a way: the dynamic programming only adds them up.
struct Table<'a> {
    costs: &'a Costs<'a>,
    /// Note `i` taken as the fingering in place `p`.
    take: Vec<Vec<f64>>,
    /// Sums of leaving out the notes before the i-th.
    left: Vec<f64>,
    /// From place to another place.
    step: Vec<Vec<f64>>,
    start: Vec<f64>,
    end: Vec<f64>,
}

/// Cheapest cost so far, and the note and place before.
type Reached = (f64, Option<(usize, usize)>);

impl<'a> Table<'a> {
    fn of(costs: &'a Costs<'a>) -> Table<'a> {
        let places = costs.fingerings.len();
        let mut left = vec![0.0];
        for note in 0..costs.heard.len() {
            left.push(left[note] + costs.leaving(note));
        }
        // Playable fingerings before each place.
        let mut before = vec![0.0];
        for &fingering in costs.fingerings {
            let playable = if costs.playable(fingering) { 1.0 } else { 0.0 };
            before.push(before[before.len() - 1] + playable);
        }
        let skipped = |from: usize, to: usize, each: f64| (each * (before[to] - before[from])).min(SKIP_MOST);
        let first = (0..places).find(|&p| costs.playable(costs.fingerings[p])).unwrap_or(0);
        let step_cost = |from: usize, to: usize| match to.cmp(&from) {
            std::cmp::Ordering::Greater => skipped(from + 1, to, SKIP),
            _ if before[from] - before[to] <= 1.0 => STEP_BACK,
            _ if to == first => START_AGAIN,
            _ => BACK,
        };
        Table {
            take: (0..costs.heard.len())
                .map(|note| costs.fingerings.iter().map(|&f| costs.taking(note, f)).collect())
                .collect(),
            left,
            step: (0..places).map(|from| (0..places).map(|to| step_cost(from, to)).collect()).collect(),
            start: (0..places).map(|p| skipped(0, p, SKIP_FIRST)).collect(),
            end: (0..places).map(|p| skipped(p + 1, places, SKIP_LAST)).collect(),
            costs,
        }
    }

    /// Leaving out the notes from `from` up to before `to`.
    fn left_between(&self, from: usize, to: usize) -> f64 {
        self.left[to] - self.left[from]
    }

    /// From a taken note `i` to the next taken one `j` of the same fingering.
    fn again(&self, i: usize, j: usize) -> f64 {
        REPEAT + self.costs.repeat(i, j) + self.left_between(i + 1, j)
    }

    /// For each note and place, the cheapest way there.
    fn forward(&self) -> Vec<Vec<Reached>> {
        let (notes, places) = (self.costs.heard.len(), self.costs.fingerings.len());
        let mut reached: Vec<Vec<Reached>> = Vec::with_capacity(notes);
        // From note i on to each other place, whenever the next note is taken.
        let mut onward: Vec<Vec<Reached>> = Vec::with_capacity(notes);
        for j in 0..notes {
            let earlier = j.saturating_sub(MOST_LEFT_OUT + 1)..j;
            let mut row: Vec<Reached> = Vec::with_capacity(places);
            for q in 0..places {
                let mut best: Reached = (self.left_between(0, j) + self.start[q], None);
                for i in earlier.clone() {
                    let (moved, from) = onward[i][q];
                    let other = (moved + self.left_between(i + 1, j), from);
                    let same = (reached[i][q].0 + self.again(i, j), Some((i, q)));
                    best = [other, same].into_iter().fold(best, |a, b| if b.0 < a.0 { b } else { a });
                }
                row.push((best.0 + self.take[j][q], best.1));
            }
            onward.push((0..places).map(|q| self.cheapest_onward(j, q, &row)).collect());
            reached.push(row);
        }
        reached
    }

    fn cheapest_onward(&self, note: usize, to: usize, row: &[Reached]) -> Reached {
        let mut best: Reached = (f64::INFINITY, None);
        for from in (0..row.len()).filter(|from| *from != to) {
            let cost = row[from].0 + self.step[from][to];
            if cost < best.0 {
                best = (cost, Some((note, from)));
            }
        }
        best
    }

    /// Cheapest cost of all that comes after note `i` in place `p`.
    fn backward(&self) -> Vec<Vec<f64>> {
        let (notes, places) = (self.costs.heard.len(), self.costs.fingerings.len());
        let mut rest = vec![vec![0.0; places]; notes];
        // From each other place to note j.
        let mut onward = vec![vec![f64::INFINITY; places]; notes];
        for i in (0..notes).rev() {
            for p in 0..places {
                let mut best = self.left_between(i + 1, notes) + self.end[p];
                for j in i + 1..notes.min(i + 2 + MOST_LEFT_OUT) {
                    let other = onward[j][p] + self.left_between(i + 1, j);
                    let same = self.again(i, j) + self.take[j][p] + rest[j][p];
                    best = best.min(other).min(same);
                }
                rest[i][p] = best;
            }
            let from = |p: usize| {
                let costs = (0..places).filter(|q| *q != p);
                costs.map(|q| self.step[p][q] + self.take[i][q] + rest[i][q]).fold(f64::INFINITY, f64::min)
            };
            onward[i] = (0..places).map(from).collect();
        }
        rest
    }
}

impl Costs<'_> {
    fn playable(&self, fingering: usize) -> bool {
        self.instrument.playable(&self.instrument.fingerings[fingering])
    }

    fn leaving(&self, note: usize) -> f64 {
        let heard = &self.heard[note];
        match heard.hz {
            None if heard.meant => LEAVE_MEANT_NOTHING,
            None => LEAVE_NOTHING,
            Some(_) if self.short[note] => LEAVE_SHORT,
            Some(_) => LEAVE,
        }
    }

    /// A note taken as a fingering, wherever that stands.
    fn taking(&self, note: usize, fingering: usize) -> f64 {
        let heard = &self.heard[note];
        let planned = if self.playable(fingering) { 0.0 } else { PLANNED };
        if heard.hz.is_none() {
            return if heard.meant { TAKE_NOTHING + planned } else { f64::INFINITY };
        }
        let short = if self.short[note] { TAKE_SHORT } else { 0.0 };
        self.misfit(heard, fingering) + short + planned
    }

    fn misfit(&self, heard: &Heard, fingering: usize) -> f64 {
        let predicted = &self.predicted[fingering];
        let Some(cents) = own_cents(heard, predicted).map(|cents| cents - self.common_cents) else {
            // The column has no such resonance: nothing to compare with.
            return LEAVE;
        };
        let far = |cents: f64| 1.5 * (0.5 * (cents / OFF_CENTS).powi(2)).ln_1p();
        let own = if cents.abs() <= FARTHEST_CENTS { far(cents) } else { f64::INFINITY };
        let register = self.instrument.fingerings[fingering].register;
        let jumped =
            jumped_to(heard, predicted, register, self.common_cents).map_or(f64::INFINITY, |number| {
                let resonance_hz = predicted.resonances[number - 1].hz;
                JUMP + heard.hz.map_or(0.0, |hz| far(cents_between(hz, resonance_hz) - self.common_cents))
            });
        let misread = MISREAD_FACTORS
            .iter()
            .map(|factor| MISREAD + far(cents - 1200.0 * factor.log2()))
            .fold(f64::INFINITY, f64::min);
        own.min(jumped).min(misread)
    }

    /// How unlike two takes of one fingering are.
    fn repeat(&self, i: usize, j: usize) -> f64 {
        match (self.heard[i].hz, self.heard[j].hz) {
            (Some(a), Some(b)) => (cents_between(b, a) / REPEAT_CENTS).powi(2).ln_1p().min(REPEAT_MOST),
            _ => 0.0,
        }
    }
}
