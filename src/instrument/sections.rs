//! Gives the entries of the file their meaning: section by section into the plain data.
//!
//! Notes what is missing, unknown, of the wrong kind or out of limits; whether the parts fit
//! together is for `check`. Must not know TOML.

use super::counts::{COUNTED, MOST_SIZES};
use super::drill_series::{SERIES, series_mm};
use super::entries::{Kind, Table, Value};
use super::file::FORMAT;
use super::keys::{AIR, BEND, BORE, INSTRUMENT, LEAK_SITE, MEASURED_TO, ROOT, Section, WALL, WORKSHOP};
use super::model::{
    Bend, BorePoint, Drive, Finish, InsideAir, Instrument, LeakSite, MeasuredTo, Wall, Workshop,
};
use super::problem::{Problems, Span, plain, quoted};
use super::reader::{Limits, Reader};
use super::spelling::nearest;
use super::{section_fingering, section_goal, section_hole, section_key, section_mouthpiece};
use crate::units::STANDARD_A4_HZ;

/// Entries of one list that are read at all, so that a slip can't stall the program. Those beyond what an instrument
/// can have are read for their names, or fingerings would seem to open holes that are not there.
const MOST_READ: usize = 2000;

// Limits: what no instrument can exceed (common practice, no source).
pub(crate) const PLACE: Limits = Limits::between("a place on the tube", 0.0, 20_000.0, "mm");
pub(crate) const WALL_THICKNESS: Limits = Limits::above("the thickness of a wall", 0.0, 200.0, "mm");
pub(crate) const BORE_DIAMETER: Limits = Limits::between("the diameter of a bore", 1.0, 500.0, "mm");
const A4: Limits = Limits::between("the frequency of A4", 300.0, 600.0, "Hz");
pub(crate) const TEMPERATURE: Limits = Limits::between("the air inside an instrument", -10.0, 45.0, "°C");
const HUMIDITY: Limits = Limits::between("humidity", 0.0, 100.0, "percent");
const BEND_RADIUS: Limits = Limits::between("the radius of a bend", 0.0, 2000.0, "mm");
const BEND_ANGLE: Limits = Limits::above("the angle of a bend", 0.0, 360.0, "degrees");
const DRILL: Limits = Limits::above("the diameter of a drill", 0.0, 200.0, "mm");
const MEASURED: Limits = Limits::above("an error of measuring", 0.0, 20.0, "mm");

/// Whether the file is of a newer format than this program reads; if so, says it.
pub(crate) fn is_newer_format(root: &Table, problems: &mut Problems<'_>) -> bool {
    let Some(Value { span, kind: Kind::Number { value, whole: true } }) = root.get("format") else {
        return false;
    };
    let newer = *value > f64::from(FORMAT);
    if newer {
        problems.add(
            span,
            format!("the file has format {}, and this program reads up to format {FORMAT}", plain(*value)),
            "Use a newer borescribe for this file.",
        );
    }
    newer
}

/// Reads every section. What could not be read is a stand-in, and its problem is noted.
pub(crate) fn read(root: &Table, problems: &mut Problems<'_>) -> Instrument {
    read_format(root, problems);
    let (name, prototype, drive, a4_hz, written_above_sounding) = read_heading(root, problems);
    let wall = read_wall(root, problems);
    let holes = section_hole::read(root, problems);
    let (mouthpiece, embouchure_mm) = section_mouthpiece::read(root, drive, problems);
    let (air, air_is_measured, in_tune_at_c) = read_air(root, problems);
    Instrument {
        name,
        prototype,
        drive,
        a4_hz,
        written_above_sounding,
        wall,
        air,
        air_is_measured,
        in_tune_at_c,
        mouthpiece,
        embouchure_mm,
        bore: read_bore(root, problems),
        leak_sites: read_leak_sites(root, problems),
        bends: read_bends(root, problems),
        fingerings: section_fingering::read(root, &holes, problems),
        holes,
        keys: section_key::read(root, problems),
        goal: section_goal::read(root, problems),
        workshop: read_workshop(root, problems),
    }
}

/// The tables of a list like `[[hole]]`, each with the place of its head.
pub(crate) fn tables<'a>(
    root: &'a Table,
    key: &str,
    section: Section,
    problems: &mut Problems<'_>,
) -> Vec<(&'a Table, Span)> {
    let Some(value) = root.get(key) else { return Vec::new() };
    let head = section.head;
    let items = match &value.kind {
        Kind::List(items) => items.as_slice(),
        Kind::Table(table) => {
            problems.add(
                &value.span,
                format!("[{key}] has single brackets, but there can be several"),
                format!("Write {head} with double brackets."),
            );
            return vec![(table, value.span.clone())];
        }
        _ => {
            problems.add(
                &value.span,
                format!("{key} must be a list of tables, but it is {}", value.described()),
                format!("Write each entry under its own head {head}."),
            );
            return Vec::new();
        }
    };
    if let Some(counted) = COUNTED.iter().find(|counted| counted.key == key)
        && let Some(beyond) = items.get(counted.most)
    {
        problems.add(
            &beyond.span,
            format!(
                "there are {} entries {head}; an instrument can have at most {}",
                items.len(),
                counted.most
            ),
            counted.to_do,
        );
    }
    let mut found = Vec::new();
    for item in items.iter().take(MOST_READ) {
        match &item.kind {
            Kind::Table(table) => found.push((table, item.span.clone())),
            _ => {
                problems.add(
                    &item.span,
                    format!("an entry of {key} must be a table, but it is {}", item.described()),
                    format!("Write each entry under its own head {head}."),
                );
                return Vec::new();
            }
        }
    }
    found
}

/// A table that is there once, like `[air]`.
pub(crate) fn table<'a>(
    root: &'a Table,
    key: &str,
    section: Section,
    problems: &mut Problems<'_>,
) -> Option<(&'a Table, Span)> {
    let value = root.get(key)?;
    let head = section.head;
    match &value.kind {
        Kind::Table(table) => Some((table, value.span.clone())),
        Kind::List(items) => {
            problems.add(
                &value.span,
                format!("[[{key}]] has double brackets, but there is only one"),
                format!("Write {head} with single brackets, once."),
            );
            match items.first() {
                Some(Value { kind: Kind::Table(table), span }) => Some((table, span.clone())),
                _ => None,
            }
        }
        _ => {
            problems.add(
                &value.span,
                format!("{key} must be a table, but it is {}", value.described()),
                format!("Write {head} on a line of its own, and its keys below."),
            );
            None
        }
    }
}

fn read_format(root: &Table, problems: &mut Problems<'_>) {
    let mut reader = Reader::new(root, 0..0, ROOT, "the file".to_string(), problems);
    let to_do = format!("Write format = {FORMAT} as the first line.");
    match reader.given("format") {
        None => reader.problem(&(0..0), "format is missing, so the version is not known", to_do),
        Some(value) => match value.kind {
            Kind::Number { value: number, whole: true } if number == f64::from(FORMAT) => {}
            Kind::Number { value: number, whole: true } => {
                let what = format!("there is no format {}", plain(number));
                reader.problem(&value.span, what, to_do);
            }
            _ => reader.wrong_kind(value, "format", "a whole number", to_do),
        },
    }
}

fn read_heading(root: &Table, problems: &mut Problems<'_>) -> (String, String, Drive, f64, i32) {
    let Some((table, head)) = table(root, "instrument", INSTRUMENT, problems) else {
        if root.get("instrument").is_none() {
            problems.add(
                &(0..0),
                "the table [instrument] is missing",
                "Add [instrument] with name, prototype and drive.",
            );
        }
        return (String::new(), String::new(), Drive::Reed, STANDARD_A4_HZ, 0);
    };
    let mut reader = Reader::new(table, head, INSTRUMENT, "[instrument]".to_string(), problems);
    let name = reader.text("name", "Reed Bunting").unwrap_or_default().to_string();
    let prototype = reader.text("prototype", "P1").unwrap_or_default().to_string();
    let drives = [("reed", Drive::Reed), ("air-jet", Drive::AirJet)];
    let drive = match reader.text("drive", "reed") {
        Some(word) => choice(&mut reader, "drive", word, &drives).unwrap_or(Drive::Reed),
        None => Drive::Reed,
    };
    let a4_hz = reader.number_or("a4_hz", STANDARD_A4_HZ, &A4);
    let written = reader.whole_or("written_above_sounding", 0, "written minus sounding pitch", -60..=60);
    (name, prototype, drive, a4_hz, written)
}

/// The meaning of one word out of a few; `None` after a problem.
pub(crate) fn choice<T: Copy>(
    reader: &mut Reader<'_, '_>,
    key: &str,
    word: &str,
    words: &[(&str, T)],
) -> Option<T> {
    if let Some((_, meaning)) = words.iter().find(|(known, _)| *known == word) {
        return Some(*meaning);
    }
    let known: Vec<&str> = words.iter().map(|(known, _)| *known).collect();
    let to_do = match nearest(word, known.iter().copied()) {
        Some(meant) => format!("Did you mean \"{meant}\"?"),
        None => format!("Write one of: \"{}\".", known.join("\", \"")),
    };
    let span = reader.given(key).map_or(0..0, |value| value.span.clone());
    reader.problem(&span, format!("{key} can't be {}", quoted(word)), to_do);
    None
}

fn read_wall(root: &Table, problems: &mut Problems<'_>) -> Wall {
    // Three millimetres: a usual tube (common practice, no source).
    let mut wall = Wall { thickness_mm: 3.0, finish: Finish::Smooth };
    let Some((table, head)) = table(root, "wall", WALL, problems) else { return wall };
    let mut reader = Reader::new(table, head, WALL, "[wall]".to_string(), problems);
    wall.thickness_mm = reader.number_or("thickness_mm", wall.thickness_mm, &WALL_THICKNESS);
    let finishes =
        [("smooth", Finish::Smooth), ("oiled wood", Finish::OiledWood), ("raw wood", Finish::RawWood)];
    if let Some(word) = reader.text_if_given("finish", "smooth") {
        wall.finish = choice(&mut reader, "finish", word, &finishes).unwrap_or(wall.finish);
    }
    wall
}

fn read_air(root: &Table, problems: &mut Problems<'_>) -> (InsideAir, bool, Option<f64>) {
    // Played warm in a room of about 20 °C (common practice, no source).
    let mut air = InsideAir { temperature_c: 24.0, humidity_percent: 60.0 };
    let Some((table, head)) = table(root, "air", AIR, problems) else { return (air, false, None) };
    let mut reader = Reader::new(table, head, AIR, "[air]".to_string(), problems);
    air.temperature_c = reader.number_or("temperature_c", air.temperature_c, &TEMPERATURE);
    air.humidity_percent = reader.number_or("humidity_percent", air.humidity_percent, &HUMIDITY);
    let is_measured = reader.flag_or("measured", false);
    let in_tune_at_c = reader.number_if_given("in_tune_at_c", &TEMPERATURE);
    (air, is_measured, in_tune_at_c)
}

fn read_bore(root: &Table, problems: &mut Problems<'_>) -> Vec<BorePoint> {
    let mut points = Vec::new();
    for (index, (table, head)) in tables(root, "bore", BORE, problems).into_iter().enumerate() {
        let mut reader = Reader::new(table, head, BORE, format!("bore point {}", index + 1), problems);
        points.push(BorePoint {
            at_mm: reader.number("at_mm", &PLACE),
            diameter_mm: reader.number("diameter_mm", &BORE_DIAMETER),
        });
    }
    points
}

fn read_leak_sites(root: &Table, problems: &mut Problems<'_>) -> Vec<LeakSite> {
    let mut sites = Vec::new();
    for (index, (table, head)) in tables(root, "leak_site", LEAK_SITE, problems).into_iter().enumerate() {
        let who = called("leak site", table, index);
        let mut reader = Reader::new(table, head, LEAK_SITE, who, problems);
        sites.push(LeakSite {
            name: reader.text("name", "post 1").unwrap_or_default().to_string(),
            at_mm: reader.number("at_mm", &PLACE),
            wall_mm: reader.number("wall_mm", &WALL_THICKNESS),
        });
    }
    sites
}

fn read_bends(root: &Table, problems: &mut Problems<'_>) -> Vec<Bend> {
    let mut bends = Vec::new();
    for (index, (table, head)) in tables(root, "bend", BEND, problems).into_iter().enumerate() {
        let mut reader = Reader::new(table, head, BEND, format!("bend {}", index + 1), problems);
        bends.push(Bend {
            at_mm: reader.number("at_mm", &PLACE),
            radius_mm: reader.number("radius_mm", &BEND_RADIUS),
            angle_deg: reader.number("angle_deg", &BEND_ANGLE),
        });
    }
    bends
}

/// What messages call an entry of a list: by its name, or by its number when it has none.
pub(crate) fn called(kind: &str, table: &Table, index: usize) -> String {
    match table.get("name").map(|value| &value.kind) {
        Some(Kind::Text(name)) if !name.trim().is_empty() => format!("{kind} {}", quoted(name)),
        _ => format!("{kind} {}", index + 1),
    }
}

fn read_workshop(root: &Table, problems: &mut Problems<'_>) -> Workshop {
    let mut workshop = Workshop { drills_mm: Vec::new(), measured_to: MeasuredTo::default() };
    let Some((table, head)) = table(root, "workshop", WORKSHOP, problems) else { return workshop };
    let mut reader = Reader::new(table, head, WORKSHOP, "[workshop]".to_string(), problems);
    workshop.drills_mm = read_drills(&mut reader);
    let Some(value) = table.get("measured_to_mm") else { return workshop };
    if let Kind::Table(errors) = &value.kind {
        workshop.measured_to = read_measured_to(errors, value.span.clone(), problems);
    } else {
        let mm = reader.number_of(value, "measured_to_mm", &MEASURED);
        workshop.measured_to =
            MeasuredTo { place_mm: mm, diameter_mm: mm, chimney_mm: mm, lift_mm: mm, bore_mm: mm };
    }
    workshop
}

fn read_drills(reader: &mut Reader<'_, '_>) -> Vec<f64> {
    let written = reader.list("drills_mm", "[6.0, 6.5, 7.0]");
    if let Some(beyond) = written.get(MOST_SIZES) {
        let what = format!("drills_mm has {} drills; at most {MOST_SIZES} are read", written.len());
        reader.problem(&beyond.span, what, "Keep those that you drill holes of an instrument with.");
    }
    let mut drills_mm: Vec<f64> =
        written.iter().take(MOST_SIZES).map(|item| reader.number_of(item, "drills_mm", &DRILL)).collect();
    drills_mm.sort_by(f64::total_cmp);
    drills_mm.dedup();
    let Some(name) = reader.text_if_given("drills", "metric-0.5") else { return drills_mm };
    if reader.given("drills_mm").is_some() {
        let span = reader.given("drills").map_or(0..0, |value| value.span.clone());
        reader.problem(&span, "drills and drills_mm are both given", "Keep the one that is true.");
    }
    let series: Vec<(&str, &str)> = SERIES.iter().map(|name| (*name, *name)).collect();
    choice(reader, "drills", name, &series).and_then(series_mm).unwrap_or(drills_mm)
}

fn read_measured_to(table: &Table, head: Span, problems: &mut Problems<'_>) -> MeasuredTo {
    let usual = MeasuredTo::default();
    let mut reader = Reader::new(table, head, MEASURED_TO, "measured_to_mm".to_string(), problems);
    MeasuredTo {
        place_mm: reader.number_or("place", usual.place_mm, &MEASURED),
        diameter_mm: reader.number_or("diameter", usual.diameter_mm, &MEASURED),
        chimney_mm: reader.number_or("chimney", usual.chimney_mm, &MEASURED),
        lift_mm: reader.number_or("lift", usual.lift_mm, &MEASURED),
        bore_mm: reader.number_or("bore", usual.bore_mm, &MEASURED),
    }
}
