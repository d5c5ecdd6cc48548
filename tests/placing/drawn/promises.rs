//! What `place` promises of a plan, held against what it wrote.

use std::path::Path;
use std::time::Duration;

use borescribe::instrument::bench_limits::{covered_mm, widest_in_bore_mm};
use borescribe::instrument::file::{load, parse};
use borescribe::instrument::model::{Hole, Instrument};
use borescribe::units::{cents_between, shift_by_cents};
use serde_json::Value;

use super::plan::{Asked, Plan};
use super::run::{Ran, run};

/// No plan takes longer on one core.
pub const LONGEST: Duration = Duration::from_secs(10);
/// … nor more memory, bytes.
pub const MOST_BYTES: u64 = 200_000_000;
/// What `place` told and what `predict` tells of its file differ by less, cents.
const SAME_CENTS: f64 = 0.01;
/// … with a room's temperature, since the air inside follows from the length of the tube: `place` goes by the length of
/// its first guess, which a compromise between notes moves by some millimetres, and a centimetre is a tenth of a cent.
const SAME_IN_A_ROOM_CENTS: f64 = 0.2;
/// Numbers of a file are rounded to less than this, mm.
const ROUNDED_MM: f64 = 1e-6;
/// A note nearer than this is met, cents.
const MET_CENTS: f64 = 2.0;

/// What came of a plan.
pub struct Outcome {
    pub placed: Ran,
    /// The first line of a refusal.
    pub refused: Option<String>,
    pub broken: Vec<String>,
    /// Notes farther off than [`MET_CENTS`], and how far the farthest is, cents.
    pub off: (usize, f64),
}

/// Places the plan with `program` in `folder` and holds every promise.
pub fn hold(program: &Path, folder: &Path, plan: &Plan, longest: Duration) -> Outcome {
    std::fs::write(folder.join("plan.toml"), &plan.text).unwrap();
    let mut arguments = ["place", "plan.toml", "--json", "--out", "out.toml"].map(str::to_string).to_vec();
    arguments.extend(plan.options.iter().cloned());
    let placed = run(program, folder, &arguments, longest);
    let mut outcome = Outcome { placed, refused: None, broken: Vec::new(), off: (0, 0.0) };
    let placed = &outcome.placed;
    let mut broken = Vec::new();
    if placed.cpu > LONGEST {
        broken.push(format!("took {:.1} s of one core", placed.cpu.as_secs_f64()));
    }
    if placed.most_bytes > MOST_BYTES {
        broken.push(format!("took {} MB", placed.most_bytes / 1_000_000));
    }
    match placed.code {
        Some(0) => {
            let told: Value = serde_json::from_str(&placed.stdout).unwrap();
            let before = parse(&plan.text).unwrap();
            let after = load(&folder.join("out.toml")).unwrap();
            broken.extend(limits_broken(&before, &after, &plan.asked));
            broken.extend(drills_broken(&told, &after, &plan.asked));
            broken.extend(words_missing(&told));
            let predicted = predicted(program, folder, &plan.asked, longest);
            broken.extend(not_reproduced(&told, &predicted, [&before, &after], &plan.asked));
            broken.extend(silent_warnings(&told, &predicted));
            let far = cents(&told).into_iter().filter(|cents| *cents > MET_CENTS);
            outcome.off = far.fold((0, 0.0), |(count, most), cents| (count + 1, cents.max(most)));
        }
        Some(_) => {
            let line = placed.stderr.lines().find(|line| !line.starts_with("borescribe: a first guess"));
            outcome.refused = Some(line.unwrap_or_default().to_string());
            if placed.stderr.contains("panicked")
                || !placed.stderr.contains(". ") && !placed.stderr.ends_with(".\n")
            {
                broken.push(format!("refused without a sentence: {}", placed.stderr));
            }
        }
        None => broken.push("was stopped".to_string()),
    }
    outcome.broken = broken;
    outcome
}

fn predicted(program: &Path, folder: &Path, asked: &Asked, longest: Duration) -> Value {
    let mut arguments = ["predict", "out.toml", "--json"].map(str::to_string).to_vec();
    arguments.extend(asked.room_c.iter().flat_map(|room_c| ["--room".to_string(), room_c.to_string()]));
    let ran = run(program, folder, &arguments, longest);
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    serde_json::from_str(&ran.stdout).unwrap()
}

fn list<'v>(told: &'v Value, key: &str) -> &'v [Value] {
    told[key].as_array().unwrap()
}

fn cents(told: &Value) -> Vec<f64> {
    list(told, "fingerings").iter().map(|note| note["cents"].as_f64().map_or(9_999.0, f64::abs)).collect()
}

/// Holes that are kept and an end that is kept, wall, reach, sizes and pads.
fn limits_broken(before: &Instrument, after: &Instrument, asked: &Asked) -> Vec<String> {
    let mut broken = Vec::new();
    for &kept in &asked.kept {
        let [was, is] = [before, after].map(|body| &body.holes[kept]);
        if (was.at_mm, was.diameter_mm, was.pad) != (is.at_mm, is.diameter_mm, is.pad) {
            broken.push(format!(
                "{} is kept and was {} mm wide at {}, is {} at {}",
                was.name, was.diameter_mm, was.at_mm, is.diameter_mm, is.at_mm
            ));
        }
    }
    if asked.keep_end && after.length_mm() != before.length_mm() {
        broken.push(format!(
            "the end is kept and went from {} to {} mm",
            before.length_mm(),
            after.length_mm()
        ));
    }
    for &(a, b, most_mm) in &asked.reaches {
        let apart_mm = (after.holes[a].at_mm - after.holes[b].at_mm).abs();
        if apart_mm > most_mm + ROUNDED_MM {
            broken.push(format!(
                "reach from {} to {}: {apart_mm:.2} mm, allowed {most_mm}",
                after.holes[b].name, after.holes[a].name
            ));
        }
    }
    broken.extend(walls_broken(after, asked));
    for (index, (was, is)) in before.holes.iter().zip(&after.holes).enumerate() {
        if !asked.kept.contains(&index) {
            broken.extend(size_broken(after, index, was, is, asked));
        }
    }
    broken
}

fn walls_broken(after: &Instrument, asked: &Asked) -> Vec<String> {
    let mut order: Vec<usize> = (0..after.holes.len()).collect();
    order.sort_by(|&a, &b| after.holes[a].at_mm.total_cmp(&after.holes[b].at_mm));
    let mut broken = Vec::new();
    for pair in order.windows(2).filter(|pair| !pair.iter().all(|hole| asked.kept.contains(hole))) {
        let (upper, lower) = (&after.holes[pair[0]], &after.holes[pair[1]]);
        let wanted_mm = asked.least_wall_mm.unwrap_or_else(|| upper.rim_mm.max(lower.rim_mm));
        let wall_mm = lower.at_mm - upper.at_mm - 0.5 * (upper.diameter_mm + lower.diameter_mm);
        if wall_mm < wanted_mm - ROUNDED_MM {
            broken
                .push(format!("wall from {} to {}: {wall_mm:.2} mm of {wanted_mm}", upper.name, lower.name));
        }
    }
    if let Some(last) = order.last().map(|&last| &after.holes[last]) {
        let left_mm = after.length_mm() - last.at_mm - 0.5 * last.diameter_mm - last.rim_mm;
        if left_mm < -ROUNDED_MM {
            broken.push(format!("{} reaches past the end by {:.2} mm", last.name, -left_mm));
        }
    }
    broken
}

fn size_broken(after: &Instrument, index: usize, was: &Hole, is: &Hole, asked: &Asked) -> Vec<String> {
    let mut broken = Vec::new();
    let mm = is.diameter_mm;
    if let Some(&(_, wanted_mm)) = asked.sizes_mm.iter().find(|(hole, _)| *hole == index) {
        if mm != wanted_mm {
            broken.push(format!("{} was to be {wanted_mm} mm and is {mm}", is.name));
        }
    } else if asked.keep_diameters {
        if mm != was.diameter_mm {
            broken.push(format!("{} was to stay {} mm and is {mm}", is.name, was.diameter_mm));
        }
    } else {
        if !asked.drills_mm.iter().any(|drill_mm| (drill_mm - mm).abs() < ROUNDED_MM) {
            broken.push(format!("{} is {mm} mm, which is no drill", is.name));
        }
        if !is.vent {
            let bore_mm = after.bore_at_mm(is.at_mm);
            let smallest_mm = asked.smallest_mm.unwrap_or((0.25 * bore_mm).min(was.diameter_mm));
            let widest_mm = asked.widest_mm.unwrap_or(f64::INFINITY).min(widest_in_bore_mm(after, is));
            if !(smallest_mm - ROUNDED_MM..=widest_mm + ROUNDED_MM).contains(&mm) {
                broken.push(format!("{} is {mm} mm, allowed {smallest_mm:.2} to {widest_mm:.2}", is.name));
            }
        }
    }
    let (Some(pad), Some(own)) = (is.pad, was.pad) else { return broken };
    let at_hand =
        |mm: f64| if asked.pads_mm.is_empty() { mm == own.diameter_mm } else { asked.pads_mm.contains(&mm) };
    if !at_hand(pad.diameter_mm) {
        broken.push(format!("{} has a pad of {} mm, which is not at hand", is.name, pad.diameter_mm));
    }
    let is_free = !asked.keep_diameters && !asked.sizes_mm.iter().any(|(hole, _)| *hole == index);
    let covered_mm = covered_mm(is).unwrap_or(f64::INFINITY).max(was.diameter_mm);
    if is_free && mm > covered_mm + ROUNDED_MM {
        broken.push(format!("{} is {mm} mm under a pad of {} mm", is.name, pad.diameter_mm));
    }
    broken
}

/// First drills: at hand or named as missing, and never far under size.
fn drills_broken(told: &Value, after: &Instrument, asked: &Asked) -> Vec<String> {
    let mut broken = Vec::new();
    for (hole, is) in list(told, "holes").iter().zip(&after.holes) {
        let Some(first_mm) = hole["first_drill_mm"].as_f64() else { continue };
        let left_mm = is.diameter_mm - first_mm;
        // A size that is bought for it comes in tenths.
        let most_mm = (0.2 * is.diameter_mm).min(1.5) + 0.1;
        if asked.undersize_mm.is_none() && !(0.0..=most_mm).contains(&left_mm) {
            broken.push(format!("{} is begun at {first_mm} for {} mm", is.name, is.diameter_mm));
        }
        let at_hand = asked.drills_mm.iter().any(|mm| (mm - first_mm).abs() < ROUNDED_MM);
        if at_hand == (hole["first_drill_missing"] == true) {
            broken.push(format!("{}: whether a drill of {first_mm} mm is there is told wrongly", is.name));
        }
    }
    broken
}

/// Notes that are off and that no warning names.
fn words_missing(told: &Value) -> Vec<String> {
    let words: String =
        list(told, "warnings").iter().map(|warning| warning["text"].as_str().unwrap()).collect();
    let unnamed = |note: &&Value| {
        note["cents"].as_f64().is_none_or(|cents| cents.abs() > MET_CENTS)
            && !words.contains(note["name"].as_str().unwrap())
    };
    list(told, "fingerings")
        .iter()
        .filter(unnamed)
        .map(|note| format!("{} is {} cents off, and nothing says so", note["name"], note["cents"]))
        .collect()
}

/// Notes that `predict` tells otherwise than `place` did.
fn not_reproduced(
    told: &Value,
    predicted: &Value,
    [before, after]: [&Instrument; 2],
    asked: &Asked,
) -> Option<String> {
    let same_cents = if asked.room_c.is_some() { SAME_IN_A_ROOM_CENTS } else { SAME_CENTS };
    let notes = list(told, "fingerings").iter().zip(list(predicted, "fingerings"));
    let apart_cents = notes.enumerate().map(|(index, (promised, later))| {
        // A compromise between two registers moves what the file wants.
        let [wanted_hz, planned_hz] = [before, after].map(|body| body.target_hz(&body.fingerings[index]));
        let promised_hz = promised["cents"].as_f64().map(|cents| shift_by_cents(wanted_hz, cents));
        // A note that can be played on the body as it is has beside it what it will be.
        let key = if later["playable"] == true { "finished_cents" } else { "cents" };
        let later_cents = later[key].as_f64().or_else(|| later["cents"].as_f64());
        match (promised_hz, later_cents.map(|cents| shift_by_cents(planned_hz, cents))) {
            (Some(promised_hz), Some(later_hz)) => cents_between(later_hz, promised_hz).abs(),
            (None, None) => 0.0,
            _ => f64::INFINITY,
        }
    });
    let apart_cents: Vec<f64> = apart_cents.filter(|cents| *cents > same_cents).collect();
    let most_cents = apart_cents.iter().copied().fold(0.0, f64::max);
    (!apart_cents.is_empty()).then(|| {
        format!(
            "{} notes are predicted otherwise than told, by up to {most_cents:.3} cents",
            apart_cents.len()
        )
    })
}

/// What `predict` warns of and `place` did not.
fn silent_warnings(told: &Value, predicted: &Value) -> Vec<String> {
    // A number on the edge between two roundings may be told as either.
    let words = |warning: &Value| -> Vec<String> {
        let text = warning["text"].as_str().unwrap();
        let is_no_number =
            |word: &&str| !word.trim_start_matches('(').starts_with(|c: char| c.is_ascii_digit());
        text.split_whitespace().filter(is_no_number).map(str::to_string).collect()
    };
    let known: Vec<Vec<String>> = list(told, "warnings").iter().map(words).collect();
    let new = list(predicted, "warnings").iter().filter(|warning| !known.contains(&words(warning)));
    new.map(|warning| format!("predict warns and place did not: {}: {}", warning["code"], warning["text"]))
        .collect()
}
