//! Which bench test, measurement or repeat is worth its time: the candidates, and what each would bring.
//!
//! Must not know words, files or the terminal.

use crate::diagnosis::beliefs::decisions::{LEAST_SHOWN_CENTS, MOST_CLOSED, SHARED_PART_FROM};
use crate::diagnosis::beliefs::{
    FURTHER_PLACE_MINUTES, MEASURE_MINUTES, PRESS_MINUTES, TAKE_MINUTES, TEST_FROM, TEST_OVERHEAD_MINUTES,
};
use crate::diagnosis::causes::catalogue::Cause;
use crate::diagnosis::decide::prospect::{Play, Prospect, Worth};
use crate::diagnosis::takes::condition::{Found, FoundPlace};
use crate::diagnosis::takes::evidence::{Evidence, NoteEvidence};
use crate::diagnosis::weigh::explain::Weighing;
use crate::instrument::column::LeakPlace;
use crate::instrument::model::{Hole, Instrument};
use crate::instrument::sanity::Question;

/// Fingerings that are played in a test.
const MOST_NOTES: usize = 3;
/// Takes of each that are weighed up.
const TAKES: [usize; 2] = [1, 2];
/// At most this many tests are offered.
const MOST_TESTS: usize = 3;

/// Something to find out before anything is decided.
#[derive(Debug, Clone, PartialEq)]
pub enum BenchTest {
    /// Takes to play.
    Play {
        /// What and under which condition.
        play: Play,
        /// Why.
        why: Why,
    },
    /// Measures to take again, in the spelling of `try`: `h5.diameter`.
    Measure {
        /// The measures.
        what: Vec<String>,
        /// What they belong to.
        of: Measured,
    },
    /// A question about the file, before anything else.
    Answer {
        /// The measures that it is about.
        what: Vec<String>,
        /// What is asked.
        question: Question,
    },
}

/// What is to be measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measured {
    /// A hole.
    Hole(usize),
    /// How warm the air is.
    Air,
    /// The bore at both ends and between.
    Bore,
}

/// Why takes are wanted.
#[derive(Debug, Clone, PartialEq)]
pub enum Why {
    /// They show whether it leaks at the places that are closed.
    ShowsLeak(Shows),
    /// The explanations disagree about these notes.
    Disputed {
        /// How often the right cause is known then.
        right: f64,
    },
    /// These notes did not speak as wanted, or their takes were lost.
    DidNotSpeak,
    /// A cut must not rest on one take.
    BeforeACut,
}

/// What a test of a leak shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shows {
    /// The note that shows it most.
    pub fingering: usize,
    /// By how much it falls (negative) or rises if it leaks there, cents.
    pub moves_cents: f64,
    /// Within how many cents it stays if not: the scatter of the takes.
    pub stays_cents: f64,
    /// How often the right cause is known then.
    pub right: f64,
}

/// A test with its net worth.
#[derive(Debug, Clone, PartialEq)]
struct Valued {
    test: BenchTest,
    minutes: f64,
    of_leaks: bool,
}

impl Valued {
    /// What is left of the minutes that a test saves when those that it takes are off.
    fn new(test: BenchTest, saves_minutes: f64, takes_minutes: f64) -> Valued {
        let of_leaks = matches!(test, BenchTest::Play { why: Why::ShowsLeak(_), .. });
        Valued { test, minutes: saves_minutes - takes_minutes - TEST_OVERHEAD_MINUTES, of_leaks }
    }
}

/// What could be found out.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Tests {
    /// Tests that bring more than they take, best first.
    pub worthwhile: Vec<BenchTest>,
    /// The best test for a leak, to be made before anything is set or cut while a leak is likely.
    pub before_work: Option<BenchTest>,
}

/// The tests that bring more than they take, best first; those for leaks before all others, since a leak disturbs
/// everything else.
#[must_use]
pub fn worthwhile_tests(
    instrument: &Instrument,
    weighing: &Weighing,
    prospect: &Prospect<'_>,
    evidence: &Evidence,
    found: &[Found],
) -> Tests {
    let spread_cents = evidence.player_spread_cents;
    let mut valued: Vec<Valued> = Vec::new();
    for closed in places_to_close(instrument, weighing, found) {
        valued.extend(leak_test(prospect, closed, spread_cents));
    }
    let disputed: Vec<usize> = prospect.disputed().iter().map(|(fingering, _)| *fingering).collect();
    valued.extend(repeats(prospect, disputed));
    for hole in likely_holes(weighing) {
        valued.extend(repeats(prospect, prospect.notes_of(instrument, hole)));
    }
    valued.extend(measures(instrument, evidence, weighing, prospect));
    if !instrument.air_is_measured {
        let saves_minutes = prospect.worth_knowing(|cause| *cause == Cause::Air);
        valued.push(Valued::new(measure_air(), saves_minutes, MEASURE_MINUTES));
    }
    let of_leaks = valued.iter().filter(|test| test.of_leaks);
    let before_work =
        of_leaks.max_by(|a, b| a.minutes.total_cmp(&b.minutes)).map(|valued| valued.test.clone());
    valued.retain(|test| test.minutes > 0.0);
    valued.sort_by(|a, b| b.of_leaks.cmp(&a.of_leaks).then(b.minutes.total_cmp(&a.minutes)));
    valued.truncate(MOST_TESTS);
    Tests { worthwhile: valued.into_iter().map(|valued| valued.test).collect(), before_work }
}

/// Leaks that are likely enough, from the mouthpiece down, with their weights; what the maker found tight is not asked for
/// again.
fn likely_leaks(instrument: &Instrument, weighing: &Weighing, found: &[Found]) -> Vec<(LeakPlace, f64)> {
    let is_cleared = |place: LeakPlace| {
        [FoundPlace::Tight, FoundPlace::Unchanged]
            .iter()
            .any(|&what| found.contains(&Found::Place(place, what)))
    };
    let at_mm = |place: LeakPlace| match place {
        LeakPlace::Hole(hole) => instrument.holes[hole].at_mm,
        LeakPlace::Site(site) => instrument.leak_sites[site].at_mm,
    };
    let candidates = weighing.candidates.all.iter().zip(&weighing.posterior.weights);
    let mut leaks: Vec<(LeakPlace, f64)> = candidates
        .filter_map(|(candidate, &weight)| match candidate.cause {
            Cause::Leak(place) if weight >= TEST_FROM && !is_cleared(place) => Some((place, weight)),
            _ => None,
        })
        .collect();
    leaks.sort_by(|a, b| at_mm(a.0).total_cmp(&at_mm(b.0)));
    leaks
}

/// Single places, and neighbours whose leaks together are a good part of all.
fn places_to_close(instrument: &Instrument, weighing: &Weighing, found: &[Found]) -> Vec<Vec<LeakPlace>> {
    let leaks = likely_leaks(instrument, weighing, found);
    let total: f64 = leaks.iter().map(|leak| leak.1).sum();
    let mut all: Vec<Vec<LeakPlace>> = leaks.iter().map(|leak| vec![leak.0]).collect();
    for from in 0..leaks.len() {
        for to in (from + 2..=leaks.len()).take_while(|to| to - from <= MOST_CLOSED) {
            let part = leaks[from..to].iter().map(|leak| leak.1).sum::<f64>() / total;
            if part >= SHARED_PART_FROM {
                all.push(leaks[from..to].iter().map(|leak| leak.0).collect());
            }
        }
    }
    all
}

fn take_minutes(play: &Play) -> f64 {
    TAKE_MINUTES * (play.takes * play.fingerings.len()) as f64
}

/// Closing these places, with the notes that would show it.
fn leak_test(prospect: &Prospect<'_>, closed: Vec<LeakPlace>, spread_cents: f64) -> Option<Valued> {
    let mut shown = prospect.shown_cents(&closed);
    shown.retain(|(_, cents)| cents.abs() >= LEAST_SHOWN_CENTS);
    shown.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
    shown.truncate(MOST_NOTES);
    let &(fingering, raised_cents) = shown.first()?;
    let fingerings: Vec<usize> = shown.iter().map(|(fingering, _)| *fingering).collect();
    let closing = PRESS_MINUTES + FURTHER_PLACE_MINUTES * (closed.len() - 1) as f64;
    let options = TAKES.into_iter().filter_map(|takes| {
        let play = Play { closed: closed.clone(), fingerings: fingerings.clone(), takes };
        let Worth { saves_minutes, right } = prospect.worth_playing(&play)?;
        let takes_minutes = closing + take_minutes(&play);
        let shows = Shows {
            fingering,
            moves_cents: -raised_cents,
            stays_cents: spread_cents * (1.0 + (takes as f64).recip()).sqrt(),
            right,
        };
        let test = BenchTest::Play { play, why: Why::ShowsLeak(shows) };
        Some(Valued::new(test, saves_minutes, takes_minutes))
    });
    options.max_by(|a, b| a.minutes.total_cmp(&b.minutes))
}

/// More ordinary takes of the first of these notes.
fn repeats(prospect: &Prospect<'_>, mut fingerings: Vec<usize>) -> Option<Valued> {
    fingerings.truncate(MOST_NOTES);
    let play = Play { closed: Vec::new(), fingerings, takes: 2 };
    let Worth { saves_minutes, right } = prospect.worth_playing(&play)?;
    let takes_minutes = take_minutes(&play);
    Some(Valued::new(BenchTest::Play { play, why: Why::Disputed { right } }, saves_minutes, takes_minutes))
}

/// Holes that may be otherwise than the file says, each once.
fn likely_holes(weighing: &Weighing) -> Vec<usize> {
    let candidates = weighing.candidates.all.iter().zip(&weighing.posterior.weights);
    let mut holes: Vec<usize> = candidates
        .filter(|(_, weight)| **weight >= TEST_FROM)
        .filter_map(|(candidate, _)| match candidate.cause {
            Cause::Hole(hole) | Cause::VentSize(hole) | Cause::VentPlace(hole) => Some(hole),
            _ => None,
        })
        .collect();
    holes.sort_unstable();
    holes.dedup();
    holes
}

/// Measuring a hole that may be wrong. What a note says once is heard again first: that takes half a minute.
fn measures(
    instrument: &Instrument,
    evidence: &Evidence,
    weighing: &Weighing,
    prospect: &Prospect<'_>,
) -> Vec<Valued> {
    let heard_once = |hole: usize| {
        let own = |note: &&NoteEvidence| instrument.first_open_hole(note.fingering) == Some(hole);
        evidence.notes.iter().filter(own).any(|note| note.used == 1)
    };
    likely_holes(weighing)
        .into_iter()
        .filter_map(|hole| instrument.holes.get(hole).map(|known| (hole, known)))
        .filter(|(hole, known)| !known.measured_again && !heard_once(*hole))
        .map(|(hole, known)| {
            let asked = |cause: &Cause| {
                matches!(cause, Cause::Hole(other) | Cause::VentSize(other) | Cause::VentPlace(other) if *other == hole)
            };
            Valued::new(measure(known, hole), prospect.worth_knowing(asked), MEASURE_MINUTES)
        })
        .collect()
}

/// To measure everything of a hole again.
#[must_use]
pub fn measure(hole: &Hole, index: usize) -> BenchTest {
    let mut what: Vec<String> =
        ["diameter", "at", "chimney"].iter().map(|measure| format!("{}.{measure}", hole.name)).collect();
    what.extend(hole.pad.map(|_| format!("{}.lift", hole.name)));
    BenchTest::Measure { what, of: Measured::Hole(index) }
}

/// To measure how warm the air is.
#[must_use]
pub fn measure_air() -> BenchTest {
    BenchTest::Measure { what: vec!["air.temperature".to_string()], of: Measured::Air }
}
