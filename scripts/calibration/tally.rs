//! What was said against what happened: bands of weight with intervals, and the Brier score.

use super::session::Said;

/// Bands of what was said, as probabilities.
pub const BANDS: [(f64, f64); 6] = [(0.0, 0.1), (0.1, 0.3), (0.3, 0.5), (0.5, 0.7), (0.7, 0.9), (0.9, 1.0)];

/// Findings whose weight lies in one band.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// Least and largest weight.
    pub weights: (f64, f64),
    pub count: usize,
    /// Mean weight.
    pub said: f64,
    /// Share of them that were right.
    pub happened: f64,
    /// Its 95 % interval.
    pub interval: (f64, f64),
}

/// Standard deviations of a 95 % interval.
const Z_95: f64 = 1.96;

impl Band {
    /// Whether the interval of what happened, `z` standard deviations wide, holds this probability.
    pub fn holds(&self, probability: f64, z: f64) -> bool {
        let (low, high) = wilson(self.happened, self.count, z);
        (low..=high).contains(&probability)
    }

    /// A row of the table.
    pub fn row(&self) -> String {
        let percent = |share: f64| 100.0 * share;
        format!(
            "  {:>3.0}-{:<3.0} %  {:>6}  {:>4.0} %  {:>6.0} %     {:>3.0} to {:>3.0} %{}",
            percent(self.weights.0),
            percent(self.weights.1),
            self.count,
            percent(self.said),
            percent(self.happened),
            percent(self.interval.0),
            percent(self.interval.1),
            if self.holds(self.said, Z_95) { "" } else { "  misses" },
        )
    }
}

/// Counts the bands that hold any finding.
pub fn bands(all: &[Said]) -> Vec<Band> {
    BANDS
        .iter()
        .filter_map(|&(low, high)| {
            let inside = |said: &&Said| said.weight >= low && (said.weight < high || high >= 1.0);
            let own: Vec<&Said> = all.iter().filter(inside).collect();
            let count = own.len();
            (count > 0).then(|| {
                let right = own.iter().filter(|said| said.happened).count();
                Band {
                    weights: (low, high),
                    count,
                    said: own.iter().map(|said| said.weight).sum::<f64>() / count as f64,
                    happened: right as f64 / count as f64,
                    interval: wilson(right as f64 / count as f64, count, Z_95),
                }
            })
        })
        .collect()
}

/// Interval of a share of `count`, `z` standard deviations wide: the score interval (E. B. Wilson, J. Am. Stat. Assoc. 22
/// (1927) 209; from memory).
fn wilson(share: f64, count: usize, z: f64) -> (f64, f64) {
    let n = count as f64;
    let middle = (share + z * z / (2.0 * n)) / (1.0 + z * z / n);
    let half = z / (1.0 + z * z / n) * (share * (1.0 - share) / n + z * z / (4.0 * n * n)).sqrt();
    ((middle - half).max(0.0), (middle + half).min(1.0))
}

/// Mean squared difference of weight and outcome, and the same of the best constant, the share of all that happened
/// (G. W. Brier, Mon. Weather Rev. 78 (1950) 1; from memory).
pub fn brier(all: &[Said]) -> (f64, f64) {
    let outcome = |said: &Said| if said.happened { 1.0 } else { 0.0 };
    let n = all.len().max(1) as f64;
    let share = all.iter().map(outcome).sum::<f64>() / n;
    let score = all.iter().map(|said| (said.weight - outcome(said)).powi(2)).sum::<f64>() / n;
    (score, share * (1.0 - share))
}
