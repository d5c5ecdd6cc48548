//! Reads the fingerings of the file: their notes, and the holes that they open.
//!
//! Must not know the geometry of the holes.

use std::collections::HashMap;

use super::entries::{Kind, Table, Value};
use super::keys::FINGERING;
use super::model::{Fingering, Hole};
use super::problem::{Problems, quoted};
use super::reader::{Limits, Reader};
use super::sections::{called, tables};
use super::spelling::{folded, nearest};
use crate::units::Note;

/// A wanted offset; beyond two semitones the note itself would be named (our choice).
const CENTS: Limits = Limits::between("a wanted offset", -200.0, 200.0, "cents");
/// How much a note matters; 0 leaves it out of the aim (our choice).
const WEIGHT: Limits = Limits::between("the weight of a note", 0.0, 100.0, "");

/// The note that stands in for one that could not be read.
const STAND_IN: Note = Note { midi: 69 };

/// Reads every `[[fingering]]`, in the order of the file.
pub(crate) fn read(root: &Table, holes: &[Hole], problems: &mut Problems<'_>) -> Vec<Fingering> {
    let mut by_name = HashMap::new();
    for (index, hole) in holes.iter().enumerate() {
        // The first of two namesakes; that there are two is noted elsewhere.
        by_name.entry(hole.name.as_str()).or_insert(index);
    }
    let sites = site_names(root);
    let mut fingerings = Vec::new();
    for (index, (table, head)) in tables(root, "fingering", FINGERING, problems).into_iter().enumerate() {
        let mut reader = Reader::new(table, head, FINGERING, called("fingering", table, index), problems);
        let name = reader.text("name", "D2");
        fingerings.push(Fingering {
            name: name.unwrap_or_default().to_string(),
            note: read_note(&mut reader, name),
            open: read_open(&mut reader, &by_name, &sites),
            register: reader.whole_or("register", 1, "a register", 1..=12).unsigned_abs() as usize,
            cents: reader.number_or("cents", 0.0, &CENTS),
            weight: reader.number_or("weight", 1.0, &WEIGHT),
            leave: reader.flag_or("leave", false),
        });
    }
    fingerings
}

fn site_names(root: &Table) -> Vec<String> {
    let Some(Value { kind: Kind::List(sites), .. }) = root.get("leak_site") else { return Vec::new() };
    let name = |site: &Value| match &site.kind {
        Kind::Table(table) => match &table.get("name")?.kind {
            Kind::Text(name) => Some(folded(name)),
            _ => None,
        },
        _ => None,
    };
    sites.iter().filter_map(name).collect()
}

fn read_note(reader: &mut Reader<'_, '_>, name: Option<&str>) -> Note {
    const EXAMPLES: &str = "a letter, a sharp or flat, and the octave, like D2, F#2 or Bb-1";
    if reader.given("note").is_some() {
        let Some(text) = reader.text_if_given("note", "D2") else { return STAND_IN };
        return text.parse().unwrap_or_else(|_| {
            let span = reader.given("note").map_or(0..0, |value| value.span.clone());
            reader.problem(&span, format!("{} is no note", quoted(text)), format!("Write {EXAMPLES}."));
            STAND_IN
        });
    }
    let Some(name) = name else { return STAND_IN };
    name.parse().unwrap_or_else(|_| {
        let span = reader.given("name").map_or(0..0, |value| value.span.clone());
        reader.problem(
            &span,
            "the name is no note, and the wanted note is not given",
            format!("Add note = with the wanted note: {EXAMPLES}."),
        );
        STAND_IN
    })
}

fn read_open(reader: &mut Reader<'_, '_>, by_name: &HashMap<&str, usize>, sites: &[String]) -> Vec<usize> {
    let mut open = Vec::new();
    for item in reader.list("open", "[\"h1\", \"h2\"]") {
        let Kind::Text(name) = &item.kind else {
            let to_do = "Write the names of the open holes, like open = [\"h1\", \"h2\"].".to_string();
            reader.wrong_kind(item, "a hole in open", "text in quotes", to_do);
            continue;
        };
        match by_name.get(name.as_str()) {
            Some(hole) if open.contains(hole) => reader.problem(
                &item.span,
                format!("it opens hole {} twice", quoted(name)),
                "Delete one of the two, or name the hole that was meant.",
            ),
            Some(hole) => open.push(*hole),
            None => {
                let to_do = unknown_hole_advice(name, by_name, sites);
                reader.problem(&item.span, format!("there is no hole {}", quoted(name)), to_do);
            }
        }
    }
    open
}

fn unknown_hole_advice(name: &str, by_name: &HashMap<&str, usize>, sites: &[String]) -> String {
    if sites.contains(&folded(name)) {
        return "It is a leak site, and no fingering opens one. Name a [[hole]].".to_string();
    }
    let mut names: Vec<(usize, &str)> =
        by_name.iter().map(|(name, index)| (*index, *name)).filter(|(_, name)| !name.is_empty()).collect();
    names.sort_unstable();
    match nearest(name, names.iter().map(|(_, name)| *name)) {
        Some(meant) => format!("Did you mean {}?", quoted(meant)),
        None if names.is_empty() => "The file has no [[hole]] yet: add it, or write open = [].".to_string(),
        None => {
            let known: Vec<String> = names.iter().take(30).map(|(_, name)| quoted(name)).collect();
            format!("The holes of the file are {}.", known.join(", "))
        }
    }
}
