//! A plan drawn round a body that can be made: its file, and what is typed after `place`.

use std::fmt::Write;

use borescribe::instrument::drill_series::{SERIES, series_mm};
use borescribe::instrument::model::{Drive, Hole};

use super::body::{Body, ClosedBy, Most, between, tenth, unit};
use super::dice::Dice;

/// A plan.
pub struct Plan {
    /// The instrument file.
    pub text: String,
    /// What is typed after the file's name.
    pub options: Vec<String>,
    pub asked: Asked,
    pub holes: usize,
    pub fingerings: usize,
}

/// What was asked for, to be held against the answer.
#[derive(Debug, Default)]
pub struct Asked {
    /// Holes that stay as they are.
    pub kept: Vec<usize>,
    pub keep_end: bool,
    pub keep_diameters: bool,
    pub sizes_mm: Vec<(usize, f64)>,
    pub reaches: Vec<(usize, usize, f64)>,
    pub least_wall_mm: Option<f64>,
    pub smallest_mm: Option<f64>,
    pub widest_mm: Option<f64>,
    pub undersize_mm: Option<f64>,
    pub pads_mm: Vec<f64>,
    pub room_c: Option<f64>,
    /// Rising.
    pub drills_mm: Vec<f64>,
}

impl Plan {
    /// The plan of this seed.
    pub fn drawn(seed: u64, most: Most) -> Plan {
        // Mixed once, since neighbouring seeds would draw the same, one throw later.
        let mut dice = Dice::new(Dice::new(seed).below(u64::MAX));
        loop {
            // A tube that has no sound at all is no plan.
            if let Some(body) = Body::drawn(&mut dice, most).filter(|body| !body.instrument.holes.is_empty())
            {
                return round(&body, &mut dice);
            }
        }
    }
}

/// The plan round a body.
fn round(body: &Body, dice: &mut Dice) -> Plan {
    let instrument = &body.instrument;
    let holes = &instrument.holes;
    let mut asked = Asked { drills_mm: series_mm("metric-0.5").unwrap(), ..Asked::default() };
    let mut options: Vec<String> = Vec::new();
    // A percentage of plans has each of these.
    if dice.chance(25) {
        asked.keep_end = true;
        options.push("--keep-end".to_string());
    }
    if dice.chance(12) {
        asked.keep_diameters = true;
        options.push("--keep-diameters".to_string());
    }
    let drilled = if dice.chance(8) { dice.below(holes.len() as u64) as usize } else { 0 };
    if drilled > 0 {
        options.push("--keep-drilled".to_string());
        asked.kept.extend(0..drilled);
    }
    if dice.chance(20) && holes.len() > 1 {
        let hole = dice.below(holes.len() as u64) as usize;
        options.extend(["--fixed".to_string(), holes[hole].name.clone()]);
        asked.kept.push(hole);
    }
    draw_sizes(body, dice, &mut asked, &mut options);
    draw_rules(body, dice, &mut asked, &mut options);
    if dice.chance(20) {
        let fingering = dice.one_of(&body.fingerings);
        options.extend([
            "--weight".to_string(),
            fingering.name.clone(),
            format!("{}", (1 + dice.below(50)) as f64 / 10.0),
        ]);
    }
    if dice.chance(15) {
        let room_c = tenth(between(dice, 14.0, 28.0));
        asked.room_c = Some(room_c);
        options.extend(["--room".to_string(), room_c.to_string()]);
    }
    let text = text(body, dice, &asked, drilled);
    Plan { text, options, asked, holes: holes.len(), fingerings: body.fingerings.len() }
}

/// Drills, pads and what sizes may be.
fn draw_sizes(body: &Body, dice: &mut Dice, asked: &mut Asked, options: &mut Vec<String>) {
    let instrument = &body.instrument;
    let tone: Vec<(usize, &Hole)> =
        instrument.holes.iter().enumerate().filter(|(_, hole)| !hole.vent).collect();
    let series = match dice.below(10) {
        0..4 => None,
        4..6 => series_mm("inch-64ths"),
        6 => series_mm("number"),
        _ => {
            let mut list: Vec<f64> =
                (0..8 + dice.below(40)).map(|_| tenth(between(dice, 0.8, 40.0))).collect();
            list.sort_by(f64::total_cmp);
            list.dedup();
            Some(list)
        }
    };
    // A workshop that has a drill near every wish.
    let serves = |drills: &[f64]| {
        instrument
            .holes
            .iter()
            .all(|hole| drills.iter().any(|mm| (0.85..1.0).contains(&(mm / hole.diameter_mm))))
    };
    if let Some(series) = series.filter(|drills| serves(drills)) {
        asked.drills_mm = series;
    }
    let least_mm = tone.iter().map(|(_, hole)| hole.diameter_mm).fold(f64::INFINITY, f64::min);
    let most_mm = tone.iter().map(|(_, hole)| hole.diameter_mm).fold(0.0, f64::max);
    if dice.chance(12) {
        let mm = tenth(least_mm * between(dice, 0.5, 0.8));
        asked.smallest_mm = Some(mm);
        options.extend(["--smallest".to_string(), mm.to_string()]);
    }
    if dice.chance(12) {
        let mm = tenth(most_mm * between(dice, 1.0, 1.4) + 0.1);
        asked.widest_mm = Some(mm);
        options.extend(["--widest".to_string(), mm.to_string()]);
    }
    if dice.chance(15) {
        let (index, hole) = tone[dice.below(tone.len() as u64) as usize];
        let mm = tenth(hole.diameter_mm * between(dice, 0.8, 1.0));
        if !asked.kept.contains(&index) {
            asked.sizes_mm.push((index, mm));
            options.extend(["--size".to_string(), hole.name.clone(), mm.to_string()]);
        }
    }
    if body.closed_by == ClosedBy::Pads && dice.chance(35) {
        let step_mm = 0.5 * (1 + dice.below(6)) as f64;
        let least_mm = tenth(least_mm + 5.0);
        let pads = (0..20).map(|n| tenth(least_mm + f64::from(n) * step_mm));
        asked.pads_mm = pads.take_while(|mm| *mm < most_mm + 7.0 + step_mm).collect();
        let list: Vec<String> = asked.pads_mm.iter().map(f64::to_string).collect();
        options.extend(["--pads".to_string(), list.join(",")]);
    }
    if dice.chance(10) {
        let mm = tenth(0.3 * least_mm * unit(dice));
        asked.undersize_mm = Some(mm);
        options.extend(["--undersize".to_string(), mm.to_string()]);
    }
}

/// What keeps holes apart and together.
fn draw_rules(body: &Body, dice: &mut Dice, asked: &mut Asked, options: &mut Vec<String>) {
    let holes = &body.instrument.holes;
    let tone = holes.iter().filter(|hole| !hole.vent).count();
    let wall_mm = |upper: &Hole, lower: &Hole| {
        lower.at_mm - upper.at_mm - 0.5 * (lower.diameter_mm + upper.diameter_mm)
    };
    // The lowest hole is the first.
    let room_mm = holes[..tone].windows(2).map(|pair| wall_mm(&pair[1], &pair[0])).fold(20.0, f64::min);
    if dice.chance(15) {
        let mm = tenth(between(dice, 0.4, 6.0).min(0.6 * room_mm));
        asked.least_wall_mm = Some(mm);
        options.extend(["--least-wall".to_string(), mm.to_string()]);
    }
    if tone < 2 || !dice.chance(25) {
        return;
    }
    for _ in 0..1 + dice.below(2) {
        let lower = dice.below(tone as u64 - 1) as usize;
        let upper = (lower + 1 + dice.below(3) as usize).min(tone - 1);
        if [lower, upper].iter().all(|hole| asked.kept.contains(hole)) {
            continue;
        }
        // What the holes from one to the other take, even at their widest, has room in any hand that is asked for.
        let taken_mm: f64 = holes[lower..=upper].iter().map(|hole| 1.4 * hole.diameter_mm + 6.0).sum();
        let mm = tenth(((holes[lower].at_mm - holes[upper].at_mm) * between(dice, 0.8, 1.4)).max(taken_mm));
        asked.reaches.push((lower, upper, mm));
        let names = [&holes[upper].name, &holes[lower].name].map(String::clone);
        options.push("--reach".to_string());
        options.extend(names);
        options.push(mm.to_string());
    }
}

/// The file: holes that stay lie in their places, the others anywhere near.
fn text(body: &Body, dice: &mut Dice, asked: &Asked, drilled: usize) -> String {
    let instrument = &body.instrument;
    let mut text = String::from("format = 1\n[instrument]\nname = \"Drawn\"\nprototype = \"P1\"\n");
    let reed = instrument.drive == Drive::Reed;
    writeln!(text, "drive = \"{}\"", if reed { "reed" } else { "air-jet" }).unwrap();
    writeln!(text, "[wall]\nthickness_mm = {}", instrument.wall.thickness_mm).unwrap();
    if let Some(mouthpiece) = instrument.mouthpiece {
        writeln!(text, "[mouthpiece]\nchamber_ml = {}", mouthpiece.chamber_ml).unwrap();
    } else if let Some(mm) = instrument.embouchure_mm {
        writeln!(text, "[mouthpiece]\nembouchure_mm = {mm}").unwrap();
    }
    match SERIES.iter().find(|name| series_mm(name).as_ref() == Some(&asked.drills_mm)) {
        Some(&"metric-0.5") => {}
        Some(name) => writeln!(text, "[workshop]\ndrills = \"{name}\"").unwrap(),
        None => writeln!(text, "[workshop]\ndrills_mm = {:?}", asked.drills_mm).unwrap(),
    }
    if dice.chance(25) {
        let (within, weight) = (1 + dice.below(15), dice.below(20) as f64 / 10.0);
        writeln!(text, "[goal]\nwithin_cents = {within}\nsecond_register_weight = {weight}").unwrap();
    }
    let stretch = if asked.keep_end || !asked.kept.is_empty() { 1.0 } else { between(dice, 0.9, 1.25) };
    for (index, point) in instrument.bore.iter().enumerate() {
        let at_mm = if index == 0 { 0.0 } else { tenth(point.at_mm * stretch) };
        writeln!(text, "[[bore]]\nat_mm = {at_mm}\ndiameter_mm = {}", point.diameter_mm).unwrap();
    }
    let order = if dice.chance(50) { 1.0 } else { 0.9 };
    for (index, hole) in instrument.holes.iter().enumerate() {
        let at_mm = if asked.kept.contains(&index) { hole.at_mm } else { tenth(hole.at_mm * order) };
        let at_mm = at_mm.max(0.6 * hole.diameter_mm);
        writeln!(
            text,
            "[[hole]]\nname = \"{}\"\nat_mm = {at_mm}\ndiameter_mm = {}\nchimney_mm = {}\nvent = {}\ndrilled = {}",
            hole.name,
            hole.diameter_mm,
            hole.chimney_mm,
            hole.vent,
            index < drilled
        )
        .unwrap();
        if let Some(pad) = hole.pad {
            let (mm, lift_mm) = (pad.diameter_mm, pad.lift_mm);
            writeln!(text, "pad_diameter_mm = {mm}\npad_lift_mm = {lift_mm}").unwrap();
        }
        if body.closed_by == ClosedBy::Fingers && !hole.vent {
            text.push_str("closed_by = \"finger\"\n");
        }
    }
    for fingering in &body.fingerings {
        let open: Vec<&str> =
            fingering.open.iter().map(|&hole| instrument.holes[hole].name.as_str()).collect();
        let (name, note, register) = (&fingering.name, fingering.note, fingering.register);
        writeln!(
            text,
            "[[fingering]]\nname = \"{name}\"\nnote = \"{note}\"\nopen = {open:?}\nregister = {register}"
        )
        .unwrap();
        if dice.chance(8) {
            writeln!(text, "cents = {}", dice.below(17) as f64 - 8.0).unwrap();
        }
        if dice.chance(8) {
            writeln!(text, "weight = {}", dice.below(50) as f64 / 10.0).unwrap();
        }
    }
    text
}
