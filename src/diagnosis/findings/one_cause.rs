//! One cause at a time: what it would make of every note, what is left then, and which notes speak for it and
//! which against.
//!
//! Must not know cuts, files or the terminal.

use crate::diagnosis::beliefs::findings::SPEAKS;
use crate::diagnosis::causes::catalogue::Cause;
use crate::diagnosis::findings::cause_names::{Asked, cause_name};
use crate::diagnosis::findings::ranking::{Finding, Weighed, finding, healthy};
use crate::diagnosis::weigh::lists::minus;
use crate::instrument::model::Instrument;

/// At most this many notes are named on each side.
const MOST_NAMED: usize = 6;
/// Beyond this many times nobody counts.
const COUNTLESS: f64 = 1000.0;

/// One cause with all notes.
#[derive(Debug, Clone, PartialEq)]
pub struct Account {
    /// The cause; `None` when nothing is wrong.
    pub cause: Option<Cause>,
    /// What a finding of this cause alone would say, with its weight, however light.
    pub finding: Finding,
    /// The compared notes, in the file's order.
    pub notes: Vec<NoteAccount>,
    /// How much likelier how clearly the notes spoke makes the cause, natural logarithm; 0 for most causes.
    pub spoke: f64,
    /// For `healthy`: the heaviest cause, which it is set against.
    pub rival: Option<Cause>,
}

/// One note under one cause.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NoteAccount {
    /// Index into [`Instrument::fingerings`].
    pub fingering: usize,
    /// Measured above predicted, cents.
    pub measured_cents: f64,
    /// What the cause at its likeliest size would do to the note, cents.
    pub cause_cents: f64,
    /// What player, reed, air and model, which all notes share, would still have to do, cents.
    pub shared_cents: f64,
    /// What neither makes up for, cents.
    pub left_cents: f64,
    /// How much likelier this note makes the cause at this size, beside nothing wrong, natural logarithm. The notes'
    /// figures add up to that of all notes together.
    pub speaks: f64,
}

/// Every cause that was weighed, in falling weight, with `healthy` as the last, as the notes were blown
/// more likely than not; `healthy_log_speaking` the log chance of how the notes spoke when
/// nothing is wrong.
#[must_use]
pub fn accounts(weighed: &Weighed<'_>, healthy_log_speaking: f64) -> Vec<Account> {
    let blowing = weighed.blowing();
    let unexplained_cents =
        minus(&weighed.noise.offsets_cents, &weighed.noise.expected_cents(blowing.usual()));
    let root = weighed.gaussian.inverse_root();
    let weights = &weighed.posterior.weights;
    let mut order: Vec<usize> = (0..weights.len()).collect();
    order.sort_by(|&a, &b| weights[b].total_cmp(&weights[a]));
    let mut all: Vec<Account> = order
        .into_iter()
        .map(|candidate| {
            let shift = weighed.typical(candidate);
            Account {
                cause: Some(weighed.candidates[candidate].cause),
                finding: finding(weighed, candidate, &[]),
                notes: notes(weighed, &unexplained_cents, shift.cents(blowing), &root),
                spoke: shift.log_speaking - healthy_log_speaking,
                rival: None,
            }
        })
        .collect();
    let heaviest = all.first();
    let mut under_none = notes(weighed, &unexplained_cents, &vec![0.0; unexplained_cents.len()], &root);
    for (note, rival) in under_none.iter_mut().zip(heaviest.iter().flat_map(|account| &account.notes)) {
        note.speaks = -rival.speaks;
    }
    all.push(Account {
        cause: None,
        finding: healthy(weighed),
        notes: under_none,
        spoke: heaviest.map_or(0.0, |account| -account.spoke),
        rival: heaviest.and_then(|account| account.cause),
    });
    all
}

impl Asked {
    /// The accounts that were asked for, in falling weight; none where no note could be compared.
    #[must_use]
    pub fn among<'a>(&self, accounts: &'a [Account]) -> Vec<&'a Account> {
        let (causes, most) = match self {
            Asked::Healthy => return accounts.iter().filter(|account| account.cause.is_none()).collect(),
            Asked::All(causes) => (causes, causes.len()),
            Asked::Heaviest(causes) => (causes, 1),
        };
        let is_one = |account: &&Account| account.cause.is_some_and(|cause| causes.contains(&cause));
        accounts.iter().filter(is_one).take(most).collect()
    }
}

fn notes(
    weighed: &Weighed<'_>,
    unexplained_cents: &[f64],
    shift: &[f64],
    inverse_root: &[Vec<f64>],
) -> Vec<NoteAccount> {
    let noise = weighed.noise;
    let rest: Vec<f64> = unexplained_cents.iter().zip(shift).map(|(offset, cause)| offset - cause).collect();
    let shared = weighed.gaussian.conditional_mean(&noise.common, &rest);
    let (offsets, marks) = (times(inverse_root, unexplained_cents), times(inverse_root, shift));
    (0..noise.ordinary())
        .map(|i| {
            let left_cents = rest[i] - shared[i];
            NoteAccount {
                fingering: noise.fingerings[i],
                measured_cents: noise.offsets_cents[i],
                cause_cents: shift[i],
                shared_cents: noise.offsets_cents[i] - shift[i] - left_cents,
                left_cents,
                // The log ratio of all notes is y·s − s·s/2 of the whitened figures: a sum over the notes.
                speaks: marks[i] * (offsets[i] - 0.5 * marks[i]),
            }
        })
        .collect()
}

fn times(matrix: &[Vec<f64>], values: &[f64]) -> Vec<f64> {
    matrix.iter().map(|row| row.iter().zip(values).map(|(a, b)| a * b).sum()).collect()
}

/// What a note says of a cause.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Says {
    /// It makes it likelier.
    For,
    /// It makes it unlikelier.
    Against,
    /// It hardly tells.
    Little,
}

impl NoteAccount {
    /// Whether the note speaks for or against the cause.
    #[must_use]
    pub fn says(&self) -> Says {
        match self.speaks {
            speaks if speaks >= SPEAKS => Says::For,
            speaks if speaks <= -SPEAKS => Says::Against,
            _ => Says::Little,
        }
    }
}

impl Account {
    /// How many times better the notes fit the cause at its likeliest size than nothing wrong (for `healthy`: than its
    /// rival), pitch and speaking together, without the prior odds of either.
    #[must_use]
    pub fn times_likelier(&self) -> f64 {
        (self.spoke + self.notes.iter().map(|note| note.speaks).sum::<f64>()).exp()
    }

    /// Which notes speak for it and which against, in a sentence or two.
    #[must_use]
    pub fn verdict(&self, instrument: &Instrument) -> String {
        let named = |says: Says| {
            let mut notes: Vec<&NoteAccount> = self.notes.iter().filter(|note| note.says() == says).collect();
            notes.sort_by(|a, b| b.speaks.abs().total_cmp(&a.speaks.abs()));
            let more = notes.len().saturating_sub(MOST_NAMED);
            notes.truncate(MOST_NAMED);
            notes.sort_by_key(|note| note.fingering);
            let mut names: Vec<String> =
                notes.iter().map(|note| instrument.fingerings[note.fingering].name.clone()).collect();
            names.extend((more > 0).then(|| format!("{more} more")));
            (!names.is_empty()).then(|| names.join(", "))
        };
        let notes = match (named(Says::For), named(Says::Against)) {
            (Some(pro), Some(contra)) => format!("For it: {pro}. Against it: {contra}."),
            (Some(pro), None) => format!("For it: {pro}. Against it: no single note."),
            (None, Some(contra)) => format!("For it: no single note. Against it: {contra}."),
            (None, None) => "No single note says much for it or against it.".to_string(),
        };
        let spoke = match self.spoke {
            spoke if spoke >= SPEAKS => " How clearly the notes spoke is for it as well.",
            spoke if spoke <= -SPEAKS => " How clearly the notes spoke is against it.",
            _ => "",
        };
        format!("{notes}{spoke} {}", self.all_together(instrument))
    }

    fn all_together(&self, instrument: &Instrument) -> String {
        let other = self
            .rival
            .map_or_else(|| "a healthy instrument".to_string(), |rival| cause_name(instrument, rival));
        let told = |times: f64| {
            if times >= COUNTLESS {
                format!("more than {COUNTLESS:.0} times")
            } else if times >= 10.0 {
                format!("{times:.0} times")
            } else {
                format!("{times:.1} times")
            }
        };
        let times = self.times_likelier();
        let fits = match times {
            times if times >= 1.1 => format!("All together fit it {} better than {other}", told(times)),
            times if times <= 1.0 / 1.1 => format!("All together fit {other} {} better", told(times.recip())),
            _ => format!("All together fit it as well as {other}"),
        };
        format!("{fits}, without counting how rare such a fault is.")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn note(fingering: usize, speaks: f64) -> NoteAccount {
        NoteAccount {
            fingering,
            measured_cents: 0.0,
            cause_cents: 0.0,
            shared_cents: 0.0,
            left_cents: 0.0,
            speaks,
        }
    }

    #[test]
    fn a_note_that_hardly_tells_is_on_neither_side() {
        assert_eq!([0.39, -0.39, 0.0].map(|speaks| note(0, speaks).says()), [Says::Little; 3]);
        assert_eq!(note(0, 0.41).says(), Says::For);
        assert_eq!(note(0, -2.0).says(), Says::Against);
    }
}
