//! What can be known after a test: the likely explanations of the takes, what each remedy would cost under each of them,
//! and by how many minutes a test is expected to lessen that.
//!
//! The value of a test is what the best decision costs now, less what it is expected to cost once the result is known
//! (H. Raiffa & R. Schlaifer, *Applied Statistical Decision Theory*, 1961, preposterior analysis; from memory). Must not know
//! files, words or the terminal.

use crate::diagnosis::beliefs::{
    DRIFT_CENTS, MINUTES_A_BIT, MISSED_LEAK_MINUTES_A_CENT, MISSED_MINUTES_A_CENT, MISSED_MOST_MINUTES,
    SEAL_MINUTES,
};
use crate::diagnosis::causes::catalogue::Cause;
use crate::diagnosis::decide::random::Random;
use crate::diagnosis::decide::remedy::{Fault, Remedy, cost, largest_leak};
use crate::diagnosis::expectation::blowing::Blowing;
use crate::diagnosis::expectation::gaussian::Gaussian;
use crate::diagnosis::expectation::noise::Noise;
use crate::diagnosis::weigh::explain::Weighing;
use crate::instrument::column::LeakPlace;
use crate::instrument::model::Instrument;

/// Results of a test that are drawn.
const DRAWS: usize = 64;

/// One explanation as far as decisions go.
struct Case {
    weight: f64,
    evening: usize,
    /// Cause, the move of every fingering that was tried, cents, and what missing it costs, minutes.
    faults: Vec<Fault>,
    /// Inverse covariance times what the explanation leaves of the notes.
    solved: Vec<f64>,
    /// Cost of each remedy, minutes.
    costs: Vec<f64>,
    /// What is left to pay when every leak was found and sealed, minutes.
    search_cost: f64,
    /// Which of the places that may leak leaks most, by its number among them.
    leak: Option<usize>,
}

/// Takes that could be played: `takes` of each of the `fingerings`, with nothing leaking at `closed`.
#[derive(Debug, Clone, PartialEq)]
pub struct Play {
    /// Places that are closed meanwhile; none: the instrument as it is.
    pub closed: Vec<LeakPlace>,
    /// Fingerings.
    pub fingerings: Vec<usize>,
    /// Takes of each.
    pub takes: usize,
}

/// What a test is expected to bring.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Worth {
    /// Minutes that the best decision costs less once the result is known.
    pub saves_minutes: f64,
    /// How often the right remedy is chosen once the result is known.
    pub right: f64,
}

/// Everything that is needed to look ahead.
pub struct Prospect<'a> {
    noise: &'a Noise,
    weighing: &'a Weighing,
    cases: Vec<Case>,
    remedies: Vec<Remedy>,
    /// How many places may leak.
    places: usize,
}

impl<'a> Prospect<'a> {
    /// Sets up the cases.
    #[must_use]
    pub fn new(noise: &'a Noise, weighing: &'a Weighing) -> Prospect<'a> {
        let mut remedies = vec![Remedy::Leave];
        for candidate in &weighing.candidates.all {
            let remedy = Remedy::of(candidate.cause);
            if !remedies.contains(&remedy) {
                remedies.push(remedy);
            }
        }
        let places: Vec<LeakPlace> = weighing
            .candidates
            .all
            .iter()
            .filter_map(|candidate| match candidate.cause {
                Cause::Leak(place) => Some(place),
                _ => None,
            })
            .collect();
        let sample = &weighing.posterior.sample;
        let cases = sample
            .iter()
            .map(|explanation| {
                let evening = &weighing.evenings[explanation.evening];
                let mut left = evening.cents.clone();
                let mut faults = Vec::new();
                for &(candidate, shift) in &explanation.causes {
                    let candidate = &weighing.candidates.all[candidate];
                    let shift = &candidate.shifts[shift];
                    for (rest, cents) in left.iter_mut().zip(shift.cents(evening.blowing)) {
                        *rest -= cents;
                    }
                    let a_cent = match candidate.cause {
                        Cause::Leak(_) => MISSED_LEAK_MINUTES_A_CENT,
                        _ => MISSED_MINUTES_A_CENT,
                    };
                    let minutes = (a_cent * shift.most_cents()).min(MISSED_MOST_MINUTES);
                    let moves = shift.fingering_cents(evening.blowing).to_vec();
                    faults.push((candidate.cause, moves, minutes));
                }
                let costs = remedies.iter().map(|remedy| cost(*remedy, &faults)).collect();
                let largest_leak = largest_leak(&faults);
                let of_leak = |fault: &&Fault| matches!(fault.0, Cause::Leak(_));
                let others = faults.iter().filter(|fault| !of_leak(fault)).map(|fault| fault.2).sum::<f64>();
                let seals = SEAL_MINUTES * faults.iter().filter(of_leak).count() as f64;
                Case {
                    weight: explanation.weight,
                    evening: explanation.evening,
                    solved: evening.noise.unwhiten(&evening.noise.whiten(&left)),
                    faults,
                    costs,
                    search_cost: others + seals,
                    leak: largest_leak.and_then(|place| places.iter().position(|known| *known == place)),
                }
            })
            .collect();
        Prospect { noise, weighing, cases, remedies, places: places.len() }
    }

    /// The remedy that costs least as things stand, when nothing more is tested.
    #[must_use]
    pub fn best(&self) -> Remedy {
        self.cheapest_under(&self.weights()).0
    }

    /// Whether a fingering was measured on the instrument as it is, so that a test of it can be compared.
    fn is_measured(&self, fingering: usize) -> bool {
        self.noise.fingerings[..self.noise.ordinary()].contains(&fingering)
    }

    fn weights(&self) -> Vec<f64> {
        self.cases.iter().map(|case| case.weight).collect()
    }

    /// What the best way on is expected to cost, minutes: the cheapest remedy now, or to go on testing for leaks.
    fn least_minutes(&self, weights: &[f64]) -> f64 {
        let remedy = self.cheapest_under(weights).1;
        remedy.min(self.search_minutes(weights, weights.iter().sum()))
    }

    /// The remedy that is expected to cost least when nothing more is tested, and what it costs, minutes.
    fn cheapest_under(&self, weights: &[f64]) -> (Remedy, f64) {
        let total: f64 = weights.iter().sum();
        let expected = |index: usize| -> f64 {
            self.cases.iter().zip(weights).map(|(case, weight)| weight * case.costs[index]).sum::<f64>()
                / total
        };
        let costs = self.remedies.iter().enumerate().map(|(index, remedy)| (*remedy, expected(index)));
        costs.min_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or((Remedy::Leave, 0.0))
    }

    /// What it is expected to cost to go on testing for leaks: minutes for each bit that is not known of where it leaks, if
    /// anywhere (C. E. Shannon, Bell Syst. Tech. J. 27 (1948) 379: the entropy is the least number of yes-or-no answers), and
    /// sealing where it does.
    fn search_minutes(&self, weights: &[f64], total: f64) -> f64 {
        let mut shares = vec![0.0; self.places + 1];
        let mut minutes = 0.0;
        for (case, weight) in self.cases.iter().zip(weights) {
            let share = weight / total;
            minutes += share * case.search_cost;
            shares[case.leak.unwrap_or(self.places)] += share;
        }
        let bits = |share: f64| if share > 0.0 { -share * share.log2() } else { 0.0 };
        minutes + MINUTES_A_BIT * shares.into_iter().map(bits).sum::<f64>()
    }

    /// Expected largest move of each fingering by leaks at `places`, cents, while one of them leaks: what a test there shows.
    #[must_use]
    pub fn shown_cents(&self, places: &[LeakPlace]) -> Vec<(usize, f64)> {
        let is_one = |cause: &Cause| matches!(cause, Cause::Leak(place) if places.contains(place));
        let leaking: f64 =
            self.cases.iter().filter(|case| case.has(is_one)).map(|case| case.weight).sum::<f64>().max(1e-9);
        let fingerings = self.weighing.candidates.fingerings.iter().enumerate();
        fingerings
            .filter(|(_, fingering)| self.is_measured(**fingering))
            .map(|(index, &fingering)| {
                let moved = |case: &Case| {
                    let own = case.faults.iter().filter(|fault| is_one(&fault.0));
                    own.map(|fault| fault.1[index]).sum::<f64>()
                };
                let mean = self.cases.iter().map(|case| case.weight * moved(case)).sum::<f64>() / leaking;
                (fingering, mean)
            })
            .collect()
    }

    /// The measured fingerings whose note a hole is.
    #[must_use]
    pub fn notes_of(&self, instrument: &Instrument, hole: usize) -> Vec<usize> {
        let ordinary = self.noise.fingerings[..self.noise.ordinary()].iter().copied();
        ordinary.filter(|&fingering| instrument.first_open_hole(fingering) == Some(hole)).collect()
    }

    /// The fingerings about which the explanations disagree most, with the deviation of what they say, cents.
    #[must_use]
    pub fn disputed(&self) -> Vec<(usize, f64)> {
        let fingerings = self.weighing.candidates.fingerings.iter().enumerate();
        let mut disputed: Vec<(usize, f64)> = fingerings
            .filter(|(_, fingering)| self.is_measured(**fingering))
            .map(|(index, &fingering)| {
                let moved = |case: &Case| case.faults.iter().map(|fault| fault.1[index]).sum::<f64>();
                let mean: f64 = self.cases.iter().map(|case| case.weight * moved(case)).sum();
                let square = |case: &Case| case.weight * (moved(case) - mean).powi(2);
                (fingering, self.cases.iter().map(square).sum::<f64>().sqrt())
            })
            .collect();
        disputed.sort_by(|a, b| b.1.total_cmp(&a.1));
        disputed
    }

    /// What it would save, minutes, to know for certain whether a cause that `asked` names is at work.
    #[must_use]
    pub fn worth_knowing(&self, asked: impl Fn(&Cause) -> bool) -> f64 {
        let mut after = 0.0;
        for at_work in [true, false] {
            let weights: Vec<f64> = self
                .cases
                .iter()
                .map(|case| if case.has(&asked) == at_work { case.weight } else { 0.0 })
                .collect();
            let share: f64 = weights.iter().sum();
            if share <= 0.0 {
                continue;
            }
            after += share * self.least_minutes(&weights);
        }
        self.least_minutes(&self.weights()) - after
    }

    /// What it would bring to play these takes; `None` where a fingering was not measured before.
    #[must_use]
    pub fn worth_playing(&self, play: &Play) -> Option<Worth> {
        let ordinary = &self.noise.fingerings[..self.noise.ordinary()];
        let notes: Option<Vec<usize>> =
            play.fingerings.iter().map(|f| ordinary.iter().position(|known| known == f)).collect();
        let notes = notes.filter(|notes| !notes.is_empty())?;
        let by_evening: Vec<Outlook> = (0..self.weighing.evenings.len())
            .map(|evening| self.outlook(evening, &notes, play))
            .collect::<Option<_>>()?;
        let means: Vec<Vec<f64>> =
            self.cases.iter().map(|case| self.mean(case, &by_evening[case.evening], play, &notes)).collect();
        let now = self.least_minutes(&self.weights());
        let whitened: Vec<Vec<f64>> = self
            .cases
            .iter()
            .zip(&means)
            .map(|(case, mean)| by_evening[case.evening].noise.whiten(mean))
            .collect();
        let own: Vec<Remedy> = self.cases.iter().map(|case| self.cheapest(&case.costs)).collect();
        let mut random = Random::new();
        let (mut after, mut right) = (0.0, 0.0);
        for draw in 0..DRAWS {
            let truth = self.case_at((draw as f64 + 0.5) / DRAWS as f64);
            let noise = &by_evening[self.cases[truth].evening].noise;
            let normal: Vec<f64> = notes.iter().map(|_| random.normal()).collect();
            let result: Vec<f64> =
                means[truth].iter().zip(noise.colour(&normal)).map(|(mean, off)| mean + off).collect();
            let results: Vec<Vec<f64>> =
                by_evening.iter().map(|outlook| outlook.noise.whiten(&result)).collect();
            let logs: Vec<f64> = self
                .cases
                .iter()
                .zip(&whitened)
                .map(|(case, mean)| {
                    let squares = results[case.evening].iter().zip(mean).map(|(a, b)| (a - b) * (a - b));
                    case.weight.ln() - 0.5 * squares.sum::<f64>() - by_evening[case.evening].log_volume
                })
                .collect();
            let largest = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            let weights: Vec<f64> = logs.iter().map(|log| (log - largest).exp()).collect();
            after += self.least_minutes(&weights) / DRAWS as f64;
            let chosen = self.cheapest_under(&weights).0;
            right += if chosen == own[truth] { 1.0 / DRAWS as f64 } else { 0.0 };
        }
        Some(Worth { saves_minutes: now - after, right })
    }

    /// The remedy with the lowest of these costs.
    fn cheapest(&self, costs: &[f64]) -> Remedy {
        let each = self.remedies.iter().zip(costs);
        each.min_by(|a, b| a.1.total_cmp(b.1)).map_or(Remedy::Leave, |(remedy, _)| *remedy)
    }

    /// How the new takes may scatter in one evening, once the takes so far are known.
    fn outlook(&self, evening: usize, notes: &[usize], play: &Play) -> Option<Outlook> {
        let evening = &self.weighing.evenings[evening];
        let known: Vec<Vec<f64>> = notes.iter().map(|&note| self.noise.instrument[note].clone()).collect();
        let whitened: Vec<Vec<f64>> = known.iter().map(|row| evening.noise.whiten(row)).collect();
        let drift = if play.closed.is_empty() { 0.0 } else { DRIFT_CENTS * DRIFT_CENTS };
        let own = evening.spread_cents.powi(2) / play.takes.max(1) as f64;
        let covariance: Vec<Vec<f64>> = (0..notes.len())
            .map(|i| {
                let cell = |j: usize| {
                    let explained: f64 = whitened[i].iter().zip(&whitened[j]).map(|(a, b)| a * b).sum();
                    let scatter = if i == j { own } else { 0.0 };
                    known[i][notes[j]] + drift + scatter - explained
                };
                (0..notes.len()).map(cell).collect()
            })
            .collect();
        let noise = Gaussian::new(&covariance)?;
        Some(Outlook { log_volume: noise.log_volume(), noise, known })
    }

    /// What an explanation expects of the new takes, cents above the prediction.
    fn mean(&self, case: &Case, outlook: &Outlook, play: &Play, notes: &[usize]) -> Vec<f64> {
        let usual = self.weighing.evenings[case.evening].blowing;
        let drawn = |note: usize| match usual {
            Blowing::Soft => 0.0,
            Blowing::Usual => self.noise.drawn_cents[note],
        };
        let acts = |cause: &Cause| !matches!(cause, Cause::Leak(place) if play.closed.contains(place));
        notes
            .iter()
            .zip(&play.fingerings)
            .zip(&outlook.known)
            .map(|((&note, fingering), known)| {
                let shared: f64 = known.iter().zip(&case.solved).map(|(k, s)| k * s).sum();
                let index = self.weighing.candidates.fingerings.iter().position(|f| f == fingering);
                let at_work = case.faults.iter().filter(|fault| acts(&fault.0));
                let caused: f64 = index.map_or(0.0, |index| at_work.map(|fault| fault.1[index]).sum());
                shared + drawn(note) + self.noise.learnt_cents[note] + caused
            })
            .collect()
    }

    /// The case at this share of the whole weight.
    fn case_at(&self, share: f64) -> usize {
        let mut below = 0.0;
        for (index, case) in self.cases.iter().enumerate() {
            below += case.weight;
            if below >= share {
                return index;
            }
        }
        self.cases.len().saturating_sub(1)
    }
}

/// How new takes may scatter, and how they hang together with the takes so far.
struct Outlook {
    noise: Gaussian,
    log_volume: f64,
    known: Vec<Vec<f64>>,
}

impl Case {
    fn has(&self, is_one: impl Fn(&Cause) -> bool) -> bool {
        self.faults.iter().any(|fault| is_one(&fault.0))
    }
}
