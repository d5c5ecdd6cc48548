//! Weights that mean what they say: the quick form of `cargo run --release --example calibration`.

#[path = "../../scripts/calibration/mod.rs"]
mod simulation;

use simulation::session::{Said, Session, played};
use simulation::tally::{bands, brier};

/// Sessions, as many as a core plays in less than twenty seconds.
const SESSIONS: u64 = 60;
const SEED: u64 = 1;
/// Bands are held to an interval this many standard deviations wide. Twelve bands are looked at: if all weights were
/// honest, one 95 % interval or so would miss by chance alone, but one of twelve at 2.86 only one time in twenty
/// (0.05/12, two-sided).
const TWELVE_AT_ONCE: f64 = 2.86;

/// What is said with 90 % or more is known to be too sure: of 98 and 99 % that were said, 87 and 92 % were so in 800
/// sessions (docs/accuracy.md). That band is held to those figures instead, so that it grows no worse unseen.
const SURE_FROM: f64 = 0.9;
const SURE_AND_SO: [f64; 2] = [0.87, 0.92];

#[test]
fn up_to_nine_in_ten_what_is_said_is_how_often_it_is_so_at_the_first_check_and_after_tests() {
    let sessions: Vec<Session> = (0..SESSIONS).map(|case| played(SEED, case, 4)).collect();
    let sound = sessions.iter().filter(|session| session.causes.is_empty()).count();
    assert!((5..50).contains(&sound), "{sound} sound instruments: nothing to tell apart");
    assert!(sessions.iter().any(|session| session.tests > 0), "no test was ever asked for");
    holds("first check", &sessions, SURE_AND_SO[0], |session| &session.first);
    holds("after tests", &sessions, SURE_AND_SO[1], |session| &session.last);
}

fn holds(title: &str, sessions: &[Session], sure_and_so: f64, findings: impl Fn(&Session) -> &Vec<Said>) {
    let all: Vec<Said> = sessions.iter().flat_map(|session| findings(session).clone()).collect();
    assert!(all.len() >= 150, "{title}: {} findings only", all.len());
    let table: Vec<String> = bands(&all).iter().map(|band| band.row()).collect();
    let surely_wrong: Vec<String> = sessions
        .iter()
        .flat_map(|session| findings(session).iter().map(move |said| (session, said)))
        .filter(|(_, said)| said.weight >= SURE_FROM && !said.happened)
        .map(|(session, said)| format!("{:?} at {:.2}: {}", said.cause, said.weight, session.world))
        .collect();
    for band in bands(&all) {
        let expected = if band.weights.0 >= SURE_FROM { sure_and_so } else { band.said };
        assert!(
            band.holds(expected, TWELVE_AT_ONCE),
            "{title}:\n{}\n{}",
            table.join("\n"),
            surely_wrong.join("\n")
        );
    }
    let (score, constant) = brier(&all);
    // The program's long runs hold it to two thirds (docs/accuracy.md); so few sessions scatter by a fifteenth.
    assert!(
        score <= (2.0 / 3.0 + 2.0 / 15.0) * constant,
        "{title}: Brier score {score:.4}, best constant {constant:.4}"
    );
}
