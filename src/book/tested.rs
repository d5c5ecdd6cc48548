//! What the bench tests of a step did to each note: its pitch before and during the test, and whether it moved.
//!
//! Computed anew each time, never stored. Must not know causes or how it is printed.

use super::history::{Body, NoteTakes};
use super::log::Row;
use super::test::{TestFolder, TestRow};
use crate::analysis::measurement::player_spread;
use crate::units::cents_between;

/// One bench test.
#[derive(Debug, Clone, PartialEq)]
pub struct TestHistory {
    /// Its folder, `01`.
    pub test: String,
    /// What was changed, as the maker wrote it.
    pub changes: Vec<String>,
    /// When it was begun, UTC.
    pub when: String,
    /// The fingerings that were played during it, in the file's order.
    pub notes: Vec<TestedNote>,
    /// What it did.
    pub verdict: Verdict,
}

/// One fingering in a bench test.
#[derive(Debug, Clone, PartialEq)]
pub struct TestedNote {
    /// Its name.
    pub name: String,
    /// Mean pitch of the step's ordinary takes, hertz.
    pub before_hz: Option<f64>,
    /// Mean pitch of the test's takes, hertz.
    pub during_hz: Option<f64>,
    /// How far it moved, cents.
    pub change_cents: Option<f64>,
    /// Standard uncertainty of that, cents: the player's scatter and the takes' own.
    pub sd_cents: Option<f64>,
}

/// What a test did to the notes that were played in it.
#[derive(Debug, Clone, PartialEq)]
pub enum Verdict {
    /// A note moved by more than playing explains; the one for which that is surest.
    Moved {
        /// Its name.
        name: String,
        /// How far, cents.
        cents: f64,
        /// Standard uncertainty of that, cents.
        sd_cents: f64,
    },
    /// No note moved by more than playing explains.
    Stayed {
        /// How far any of them moved at most, or could have without being noticed, cents.
        within_cents: f64,
    },
    /// The takes do not say which.
    Unclear,
}

/// The bench tests of a step with what their takes measured; `ordinary` are the takes of the step's fingerings.
pub(super) fn tests(
    body: &Body,
    folders: &[TestFolder],
    rows: &[TestRow],
    ordinary: &[NoteTakes<'_>],
) -> Vec<TestHistory> {
    let played: Vec<Vec<NoteTakes<'_>>> =
        folders.iter().map(|test| body.takes(&of_test(test, rows))).collect();
    let all = ordinary.iter().chain(played.iter().flatten());
    let pitches = all.map(|note| note.own.iter().filter_map(|row| row.hz).collect());
    let spread_cents = player_spread(pitches).cents;
    folders
        .iter()
        .zip(&played)
        .map(|(test, during)| {
            let pairs = ordinary.iter().zip(during).filter(|(_, during)| !during.own.is_empty());
            let notes: Vec<TestedNote> =
                pairs.map(|(before, during)| tested(before, during, spread_cents)).collect();
            TestHistory {
                test: test.name().to_string(),
                changes: test.note().changes.clone(),
                when: test.note().when.clone(),
                verdict: verdict(&notes),
                notes,
            }
        })
        .collect()
}

/// The rows of a test: the last one of each take that still counts.
fn of_test<'a>(test: &TestFolder, rows: &'a [TestRow]) -> Vec<&'a Row> {
    let takes = test.takes();
    let mut latest: Vec<&Row> = Vec::new();
    for TestRow { row, .. } in rows {
        if takes.log_name(row.file.rsplit('/').next().unwrap_or_default()) != row.file
            || takes.is_aside(&row.file)
        {
            continue;
        }
        match latest.iter_mut().find(|known| known.file == row.file) {
            Some(known) => *known = row,
            None => latest.push(row),
        }
    }
    latest
}

fn tested(before: &NoteTakes<'_>, during: &NoteTakes<'_>, spread_cents: f64) -> TestedNote {
    let (before_hz, during_hz) = (mean_hz(&before.own), mean_hz(&during.own));
    let change_cents = during_hz.zip(before_hz).map(|(during, before)| cents_between(during, before));
    let variance = mean_variance(&before.own, spread_cents) + mean_variance(&during.own, spread_cents);
    TestedNote {
        name: before.name.to_string(),
        before_hz,
        during_hz,
        change_cents,
        sd_cents: change_cents.map(|_| variance.sqrt()),
    }
}

/// Mean pitch, taken in cents.
fn mean_hz(rows: &[&Row]) -> Option<f64> {
    let logarithms: Vec<f64> = rows.iter().filter_map(|row| row.hz).map(f64::ln).collect();
    (!logarithms.is_empty()).then(|| (logarithms.iter().sum::<f64>() / logarithms.len() as f64).exp())
}

/// Variance of the mean of these takes, cents²: the player's spread and what each take is unsure of by itself.
fn mean_variance(rows: &[&Row], spread_cents: f64) -> f64 {
    let own: f64 = rows.iter().map(|row| spread_cents.powi(2) + row.sd_cents.unwrap_or(0.0).powi(2)).sum();
    own / (rows.len().max(1) as f64).powi(2)
}

/// Moved when a note lies so far out that chance does it in less than one test of twenty, stayed when chance does it
/// in one of three. The more notes, the farther the farthest of them lies by chance: √(z² + 2 ln n) is a little more
/// than Bonferroni's correction asks for (our choice of form and of both shares).
fn verdict(notes: &[TestedNote]) -> Verdict {
    let told: Vec<(&str, f64, f64)> = notes
        .iter()
        .filter_map(|note| Some((note.name.as_str(), note.change_cents?, note.sd_cents?)))
        .collect();
    let score = |(_, cents, sd): &(&str, f64, f64)| (cents / sd).abs();
    let Some(&(name, cents, sd_cents)) = told.iter().max_by(|a, b| score(a).total_cmp(&score(b))) else {
        return Verdict::Unclear;
    };
    let limit = |alone: f64| (alone * alone + 2.0 * (told.len() as f64).ln()).sqrt();
    let farthest = (cents / sd_cents).abs();
    if farthest > limit(1.96) {
        Verdict::Moved { name: name.to_string(), cents, sd_cents }
    } else if farthest <= limit(1.0) {
        let within = told.iter().map(|(_, cents, sd)| cents.abs().max(*sd)).fold(0.0, f64::max);
        Verdict::Stayed { within_cents: within }
    } else {
        Verdict::Unclear
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn note(name: &str, change_cents: f64, sd_cents: f64) -> TestedNote {
        TestedNote {
            name: name.into(),
            before_hz: Some(100.0),
            during_hz: Some(100.0),
            change_cents: Some(change_cents),
            sd_cents: Some(sd_cents),
        }
    }

    #[test]
    fn a_note_far_outside_the_players_scatter_has_moved_and_the_surest_one_is_named() {
        let notes = [note("C2", -20.0, 4.2), note("D2", 3.0, 4.2)];
        assert_eq!(verdict(&notes), Verdict::Moved { name: "C2".into(), cents: -20.0, sd_cents: 4.2 });
    }

    #[test]
    fn within_the_players_scatter_all_have_stayed_and_between_it_is_unclear() {
        assert_eq!(verdict(&[note("C2", 3.0, 4.2)]), Verdict::Stayed { within_cents: 4.2 });
        assert_eq!(verdict(&[note("C2", 6.5, 4.2)]), Verdict::Unclear);
        assert_eq!(verdict(&[]), Verdict::Unclear);
    }

    #[test]
    fn the_farthest_of_many_notes_may_lie_farther_out_by_chance() {
        let mut notes: Vec<TestedNote> = (0..20).map(|_| note("C2", 1.0, 4.0)).collect();
        notes[3].change_cents = Some(9.0);
        assert_eq!(verdict(&notes), Verdict::Stayed { within_cents: 9.0 });
        assert!(matches!(verdict(&notes[3..4]), Verdict::Moved { .. }));
    }
}
