//! Least squares within bounds: the only place of this room that solves linear systems.
//!
//! Must not know what the numbers mean.

use nalgebra::{DMatrix, DVector};

/// What is to be made small.
pub(super) trait Misfit {
    /// The rows whose squares are summed, at `values`; always as many.
    fn rows(&self, values: &[f64]) -> Vec<f64>;
    /// How each row (outer) moves with each value (inner), at `values` where the rows are `rows`.
    fn slopes(&self, values: &[f64], rows: &[f64]) -> Vec<Vec<f64>>;
}

/// Where the values may lie, and how far one round may carry them.
pub(super) struct Bounds {
    /// Lowest, one each.
    pub(super) least: Vec<f64>,
    /// Highest, one each.
    pub(super) most: Vec<f64>,
    /// Farthest in one round, one each.
    pub(super) stride: Vec<f64>,
}

/// How long a solution is looked for.
#[derive(Debug, Clone, Copy)]
pub(super) struct Effort {
    /// Most tables of slopes.
    pub(super) rounds: usize,
    /// A table that gains less than this share is the last.
    pub(super) last_share: f64,
}

/// Damping at the start, and how it grows and shrinks (usual values, no source).
const FIRST_DAMPING: f64 = 1e-4;
const HARDER: f64 = 8.0;
const EASIER: f64 = 0.15;
/// Beyond this damping a round goes nowhere.
const STUCK: f64 = 1e9;
/// A round that gains less than this much is the last.
const GAIN: f64 = 1e-7;
/// A step on a corrected table that gains less than this share asks for a new one, and so do this many steps.
const SLOW_SHARE: f64 = 1e-3;
const STEPS_A_TABLE: usize = 8;

/// Levenberg–Marquardt within bounds (D. W. Marquardt, J. SIAM 11 (1963) 431; from memory): values that lie on
/// a bound and want to leave it are held there for the round. Between two tables of slopes
/// the table is corrected by what a step has shown (C. G. Broyden, Math. Comp. 19 (1965) 577; from memory), since a
/// table costs as much as twenty and more steps. A solution is never taken for the last on a corrected table.
pub(super) fn least_squares(
    misfit: &dyn Misfit,
    start: &[f64],
    bounds: &Bounds,
    Effort { rounds, last_share }: Effort,
) -> Vec<f64> {
    let inside = |value: f64, i: usize| value.max(bounds.least[i]).min(bounds.most[i].max(bounds.least[i]));
    let mut values: Vec<f64> = start.iter().enumerate().map(|(i, &value)| inside(value, i)).collect();
    let mut rows = misfit.rows(&values);
    let mut damping = FIRST_DAMPING;
    for _ in 0..rounds {
        let at_table = square_sum(&rows);
        let mut slopes = misfit.slopes(&values, &rows);
        let (mut is_corrected, mut steps_left) = (false, STEPS_A_TABLE);
        loop {
            let before = square_sum(&rows);
            let step = damped_step(&slopes, &rows, &values, bounds, damping);
            let next: Vec<f64> =
                values.iter().zip(&step).enumerate().map(|(i, (value, by))| inside(value + by, i)).collect();
            let next_rows = misfit.rows(&next);
            let gain = before - square_sum(&next_rows);
            if gain > 0.0 {
                correct(&mut slopes, &values, &next, &rows, &next_rows);
                (values, rows) = (next, next_rows);
                damping *= EASIER;
                is_corrected = true;
                steps_left -= 1;
                if gain < SLOW_SHARE * before || steps_left == 0 {
                    break;
                }
            } else if is_corrected {
                break;
            } else {
                damping *= HARDER;
                if damping > STUCK {
                    return values;
                }
            }
        }
        let gain = at_table - square_sum(&rows);
        if gain < last_share * at_table || gain < GAIN {
            break;
        }
    }
    values
}

/// Corrects a table of slopes so that it tells the step that was made.
fn correct(slopes: &mut [Vec<f64>], from: &[f64], to: &[f64], rows_from: &[f64], rows_to: &[f64]) {
    let step: Vec<f64> = to.iter().zip(from).map(|(to, from)| to - from).collect();
    let length = square_sum(&step);
    if length == 0.0 {
        return;
    }
    for (slope, (before, after)) in slopes.iter_mut().zip(rows_from.iter().zip(rows_to)) {
        let told: f64 = slope.iter().zip(&step).map(|(slope, by)| slope * by).sum();
        let missed = (after - before - told) / length;
        slope.iter_mut().zip(&step).for_each(|(slope, by)| *slope += missed * by);
    }
}

/// What is left of rows once values with known slopes have moved as serves best, bounds aside.
pub(super) struct Leftover {
    slopes: DMatrix<f64>,
    /// From rows to the best move.
    answer: DMatrix<f64>,
}

/// Moves are held back by this share of the steepest slope's square: values that no row feels stay.
const HOLD_SHARE: f64 = 1e-6;

impl Leftover {
    /// `slopes`: each row (outer) with each value (inner).
    pub(super) fn of(slopes: &[Vec<f64>]) -> Leftover {
        let values = slopes.first().map_or(0, Vec::len);
        let slopes = DMatrix::from_fn(slopes.len(), values, |row, value| slopes[row][value]);
        let mut normal = slopes.transpose() * &slopes;
        let steepest = (0..values).map(|value| normal[(value, value)]).fold(0.0, f64::max);
        for value in 0..values {
            normal[(value, value)] += HOLD_SHARE * steepest + 1e-12;
        }
        let answer = normal.cholesky().map_or_else(
            || DMatrix::zeros(values, slopes.nrows()),
            |factor| factor.solve(&slopes.transpose()),
        );
        Leftover { slopes, answer }
    }

    /// How the values move for these rows, and the rows that remain; rows that are not given are 0.
    pub(super) fn of_rows(&self, rows: &[f64]) -> (Vec<f64>, Vec<f64>) {
        let rows = DVector::from_fn(self.slopes.nrows(), |row, _| rows.get(row).copied().unwrap_or(0.0));
        let moves = -(&self.answer * &rows);
        let left = rows + &self.slopes * &moves;
        (moves.as_slice().to_vec(), left.as_slice().to_vec())
    }

    /// How much the row that feels a value most moves with it.
    pub(super) fn steepest(&self, value: usize) -> f64 {
        self.slopes.column(value).amax()
    }
}

fn square_sum(rows: &[f64]) -> f64 {
    rows.iter().map(|row| row * row).sum()
}

fn damped_step(slopes: &[Vec<f64>], rows: &[f64], values: &[f64], bounds: &Bounds, damping: f64) -> Vec<f64> {
    let count = values.len();
    let pull: Vec<f64> =
        (0..count).map(|i| slopes.iter().zip(rows).map(|(slope, row)| -slope[i] * row).sum()).collect();
    let free: Vec<usize> = (0..count)
        .filter(|&i| {
            let at_least = values[i] <= bounds.least[i] && pull[i] < 0.0;
            let at_most = values[i] >= bounds.most[i] && pull[i] > 0.0;
            !(at_least || at_most || bounds.least[i] >= bounds.most[i])
        })
        .collect();
    let mut normal = DMatrix::from_fn(free.len(), free.len(), |a, b| {
        slopes.iter().map(|slope| slope[free[a]] * slope[free[b]]).sum()
    });
    for a in 0..free.len() {
        let own: f64 = normal[(a, a)];
        normal[(a, a)] = own * (1.0 + damping) + 1e-12;
    }
    let wanted = DVector::from_iterator(free.len(), free.iter().map(|&i| pull[i]));
    let mut step = vec![0.0; count];
    if let Some(solved) = normal.cholesky().map(|factor| factor.solve(&wanted)) {
        for (&i, by) in free.iter().zip(solved.iter()) {
            step[i] = *by;
        }
    }
    // The direction is kept; only the length is cut.
    let too_long = step.iter().zip(&bounds.stride).map(|(by, stride)| by.abs() / stride).fold(1.0, f64::max);
    step.iter_mut().for_each(|by| *by /= too_long);
    step
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Distances from a wanted point, the second weighed ten times.
    struct Point([f64; 2]);

    impl Misfit for Point {
        fn rows(&self, values: &[f64]) -> Vec<f64> {
            vec![values[0] - self.0[0], 10.0 * (values[1] - self.0[1])]
        }
        fn slopes(&self, _: &[f64], _: &[f64]) -> Vec<Vec<f64>> {
            vec![vec![1.0, 0.0], vec![0.0, 10.0]]
        }
    }

    fn fitted(wanted: [f64; 2]) -> Vec<f64> {
        let bounds = Bounds { least: vec![0.0, 0.0], most: vec![5.0, 5.0], stride: vec![2.0, 2.0] };
        least_squares(&Point(wanted), &[1.0, 1.0], &bounds, Effort { rounds: 50, last_share: 1e-5 })
    }

    #[test]
    fn a_point_within_the_bounds_is_reached() {
        let found = fitted([4.5, 3.0]);
        assert!((found[0] - 4.5).abs() < 1e-3 && (found[1] - 3.0).abs() < 1e-4, "{found:?}");
    }

    #[test]
    fn a_point_beyond_a_bound_is_met_on_the_bound_without_harm_to_the_others() {
        let found = fitted([9.0, -2.0]);
        assert!((found[0] - 5.0).abs() < 1e-6 && found[1].abs() < 1e-6, "{found:?}");
    }
}
