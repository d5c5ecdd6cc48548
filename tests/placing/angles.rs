//! Holes at other angles round the tube: the wall between them, and where the paper strip shows them.

use std::f64::consts::PI;

use borescribe::instrument::advice::geometry_warnings;
use borescribe::instrument::bench_limits::{apart_mm, pairs_that_may_meet};
use borescribe::instrument::model::{Hole, Instrument};
use borescribe::placing::limits::Limits;
use borescribe::placing::place::place;

use crate::bench::Bench;
use crate::bodies::second_body;

/// Bore 24 mm and wall 3 mm.
const OUTSIDE_MM: f64 = 30.0;

fn planned() -> Instrument {
    let mut instrument = second_body().instrument();
    instrument.holes.iter_mut().for_each(|hole| hole.drilled = false);
    instrument
}

#[test]
fn holes_at_different_angles_are_as_far_apart_as_over_the_outside_of_the_tube() {
    let body = planned();
    let hole = |at_mm: f64, angle_deg: f64| Hole { at_mm, angle_deg, ..body.holes[0].clone() };
    let apart = |a: &Hole, b: &Hole| apart_mm(&body, a, b);
    assert_eq!(apart(&hole(500.0, 0.0), &hole(520.0, 0.0)), 20.0);
    assert!((apart(&hole(500.0, -90.0), &hole(500.0, 90.0)) - 0.5 * PI * OUTSIDE_MM).abs() < 1e-9);
    // The short way round, over the back.
    assert!((apart(&hole(500.0, -170.0), &hole(500.0, 170.0)) - PI * OUTSIDE_MM * 20.0 / 360.0).abs() < 1e-9);
    // Three along and four round make five: 4 mm round a tube of 30 mm are 15.28°.
    assert!((apart(&hole(500.0, 0.0), &hole(503.0, 360.0 * 4.0 / (PI * OUTSIDE_MM))) - 5.0).abs() < 1e-9);
}

#[test]
fn on_one_line_only_neighbours_may_meet_and_round_the_tube_any_two() {
    let mut body = planned();
    assert_eq!(pairs_that_may_meet(&body, &[0, 1, 2]), [[0, 1], [1, 2]]);
    body.holes[1].angle_deg = 90.0;
    assert_eq!(pairs_that_may_meet(&body, &[0, 1, 2]), [[0, 1], [0, 2], [1, 2]]);
}

#[test]
fn two_holes_on_one_line_that_meet_past_one_that_lies_aside_are_warned_of() {
    let mut body = planned();
    let at_mm = body.holes[1].at_mm;
    for (hole, by_mm) in [(0, -5.0), (2, 5.0)] {
        body.holes[hole].at_mm = at_mm + by_mm;
    }
    body.holes[1].angle_deg = 120.0;
    let close: Vec<String> = geometry_warnings(&body)
        .into_iter()
        .filter(|warning| warning.code == "holes-too-close")
        .map(|warning| warning.text)
        .collect();
    assert_eq!(close.len(), 1, "{close:?}");
    assert!(close[0].starts_with("h1 and h3 have no wall"), "{close:?}");
}

#[test]
fn a_hole_turned_aside_needs_less_room_along_the_tube() {
    let mut body = planned();
    let free = place(&body, &Limits { keep_sizes: true, ..Limits::default() }, &|_| {}).unwrap().after;
    let along_mm = |body: &Instrument, upper: usize| body.holes[upper + 1].at_mm - body.holes[upper].at_mm;
    let upper = (0..7).min_by(|&a, &b| along_mm(&free, a).total_cmp(&along_mm(&free, b))).unwrap();
    // More wall than the nearest two have, by as much as a hole is wide.
    let wall_mm = along_mm(&free, upper);
    let limits = Limits { least_wall_mm: Some(wall_mm), keep_sizes: true, ..Limits::default() };
    let held_along_mm = |body: &Instrument| {
        let laid = place(body, &limits, &|_| {}).unwrap().after;
        let (one, other) = (&laid.holes[upper], &laid.holes[upper + 1]);
        let left_mm = apart_mm(&laid, one, other) - 0.5 * (one.diameter_mm + other.diameter_mm);
        assert!(left_mm > wall_mm - 0.1, "{left_mm} {wall_mm}");
        along_mm(&laid, upper)
    };
    let in_line_mm = held_along_mm(&body);
    body.holes[upper + 1].angle_deg = 120.0;
    let aside_mm = held_along_mm(&body);
    assert!(aside_mm < in_line_mm - 5.0, "{aside_mm} {in_line_mm}");
}

/// The numbers of an attribute of every element of one kind whose line holds `mark`.
fn numbers(page: &str, mark: &str, attribute: &str) -> Vec<f64> {
    let head = format!(" {attribute}=\"");
    let lines = page.lines().filter(|line| line.contains(mark));
    lines.filter_map(|line| line.split(&head).nth(1)?.split('"').next()?.parse().ok()).collect()
}

fn strips(turn: impl Fn(usize) -> f64, more: &[&str]) -> (Instrument, Vec<String>) {
    let mut text = second_body().text();
    for index in 0..8 {
        let head = format!("name = \"h{}\"\n", index + 1);
        assert!(text.contains(&head), "{text}");
        text = text.replacen(&head, &format!("{head}angle_deg = {}\n", turn(index)), 1);
    }
    let bench = Bench::with(&text);
    let arguments =
        [&["place", "instrument.toml", "-q", "--keep-diameters", "--out", "p.toml", "--strip", "s"], more]
            .concat();
    bench.run(&arguments);
    let plan = borescribe::instrument::file::load(&bench.path("p.toml")).unwrap();
    let page = |number: usize| std::fs::read_to_string(bench.path(&format!("s/strip-a4-{number}.svg"))).ok();
    (plan, (1..).map_while(page).collect())
}

/// Seen from the mouthpiece, the line of the finger holes up, clockwise is to the right. The strip is seen from outside with
/// the mouthpiece at the top: who looks at it faces the other way, so it is to the left.
#[test]
fn each_hole_stands_on_its_own_line_left_of_the_middle_when_turned_clockwise() {
    let turn = |index: usize| [0.0, 40.0, -25.5][index % 3];
    let (plan, pages) = strips(turn, &[]);
    // The sheet's margin, then half of the paper round the tube.
    let middle_mm = 12.0 + 0.5 * PI * OUTSIDE_MM;
    let mut drawn = 0;
    for (number, page) in pages.iter().enumerate() {
        for words in [">+40°</text>", ">0°</text>", ">-25.5°</text>"] {
            assert!(page.contains(words), "{words} on page {number}");
        }
        assert_eq!(page.matches("class=\"line\"").count(), 3);
        let from_mm = 223.0 * number as f64;
        let centres: Vec<(f64, f64)> =
            numbers(page, "<circle", "cx").into_iter().zip(numbers(page, "<circle", "cy")).collect();
        for hole in &plan.holes {
            for (x, _) in centres.iter().filter(|(_, y)| (y - 52.0 + from_mm - hole.at_mm).abs() < 0.02) {
                let wanted_mm = middle_mm - PI * OUTSIDE_MM * hole.angle_deg / 360.0;
                assert!((x - wanted_mm).abs() < 0.011, "{} {x} {wanted_mm}", hole.name);
                drawn += 1;
            }
        }
    }
    assert!(drawn >= plan.holes.len(), "{drawn}");
}

#[test]
fn every_hole_is_punched_once_on_all_strips_whatever_its_angle() {
    let (plan, pages) = strips(|index| 20.0 * index as f64 - 70.0, &[]);
    let crosses: usize = pages.iter().map(|page| page.matches("class=\"cross\"").count()).sum();
    assert_eq!(crosses, plan.holes.len());
}

#[test]
fn the_reach_of_a_hand_is_a_bracket_with_its_millimetres() {
    let (plan, pages) = strips(|_| 0.0, &["--reach", "h7", "h5", "180"]);
    let apart_mm = plan.holes[6].at_mm - plan.holes[4].at_mm;
    let words = format!(">h5 to h7: {apart_mm:.1} mm, reach 180</text>");
    assert!(pages.iter().any(|page| page.contains(&words)), "{words}");
    let arms: usize = pages.iter().map(|page| page.matches("h-3").count()).sum();
    let brackets = pages.iter().filter(|page| page.contains("class=\"reach\"")).count();
    // Two ends, drawn again where pages repeat.
    assert!(arms >= 2 && brackets >= 1, "{arms} {brackets}");
    assert!(!pages[0].contains("°</text>"), "one line needs no name");
}
