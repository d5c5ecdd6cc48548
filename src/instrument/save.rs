//! Writes a changed copy of an instrument file, with the maker's comments and order kept.
//!
//! The only file that knows how to edit TOML in place. Must not know pitch or the terminal.

use std::fs::OpenOptions;
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

use toml_edit::{DocumentMut, InlineTable, Item, Table, TableLike, Value, value};

use super::alter::{Altered, Step};
use super::change::{HoleMeasure, Target};
use super::file::{parse, read_text};
use super::model::{BorePoint, Hole, Instrument};
use super::problem::FileError;

/// Why a changed copy was not written.
#[derive(Debug, thiserror::Error)]
pub enum SaveError {
    /// The original can't be read any more.
    #[error("{0}")]
    Original(#[from] FileError),
    /// Something is there already.
    #[error("{} is already there, and nothing is written over it\n  Choose another name.", path.display())]
    Exists {
        /// The file.
        path: PathBuf,
    },
    /// The disk or the system says no.
    #[error("{} can't be written: {source}\n  Check that the folder is there and that you may write in it.", path.display())]
    Unwritable {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// The changed geometry can't be an instrument.
    #[error("the changed instrument can't be saved: {what}\n  {to_do}")]
    Impossible {
        /// What is wrong with it.
        what: String,
        /// What to do.
        to_do: String,
    },
}

/// Writes the file `original` of `instrument` with `steps` carried out to the new file `copy`. Leaks are
/// faults, no geometry, and are not written.
///
/// # Errors
/// [`SaveError`]; then nothing is left behind at `copy`.
pub fn save_changed(
    original: &Path,
    instrument: &Instrument,
    steps: &[Step],
    copy: &Path,
) -> Result<(), SaveError> {
    write_new(copy, &changed_text(&read_text(original)?, instrument, steps)?)
}

/// Writes the file `original` of `before` with everything in it that `after` has otherwise to the new file
/// `copy`: places and sizes, what is only planned, tube, mouthpiece, names, notes and cents of fingerings. Both have the
/// same holes, sites, bends and fingerings.
///
/// # Errors
/// [`SaveError`]; then nothing is left behind at `copy`.
pub fn save_layout(
    original: &Path,
    before: &Instrument,
    after: &Instrument,
    copy: &Path,
) -> Result<(), SaveError> {
    write_new(copy, &layout_text(&read_text(original)?, before, after)?)
}

/// Whether [`save_layout`] could write this layout.
///
/// # Errors
/// [`SaveError::Impossible`] when it would be refused as an instrument file.
pub fn check_layout(original: &Path, before: &Instrument, after: &Instrument) -> Result<(), SaveError> {
    layout_text(&read_text(original)?, before, after).map(|_| ())
}

fn write_new(copy: &Path, text: &str) -> Result<(), SaveError> {
    let unwritable = |source: std::io::Error| match source.kind() {
        ErrorKind::AlreadyExists => SaveError::Exists { path: copy.to_path_buf() },
        _ => SaveError::Unwritable { path: copy.to_path_buf(), source },
    };
    let mut file = OpenOptions::new().write(true).create_new(true).open(copy).map_err(unwritable)?;
    let written = file.write_all(text.as_bytes()).and_then(|()| file.sync_all());
    written.map_err(|source| {
        // Half a file would look like a whole one.
        let _ = std::fs::remove_file(copy);
        SaveError::Unwritable { path: copy.to_path_buf(), source }
    })
}

/// The text of the file of `instrument` with `steps` carried out.
///
/// # Errors
/// [`SaveError::Impossible`] when the result would be refused as an instrument file.
pub fn changed_text(text: &str, instrument: &Instrument, steps: &[Step]) -> Result<String, SaveError> {
    edited(text, "Change it so that it fits, or try it without --save.", |document| {
        let mut now = Altered::unchanged(instrument);
        for step in steps {
            let next = now.after(step, 1.0);
            write_step(document, step.target, &now.instrument, &next.instrument);
            now = next;
        }
    })
}

/// The text of the file of `before` with everything that `after` has otherwise.
///
/// # Errors
/// [`SaveError::Impossible`] when the result would be refused as an instrument file.
pub fn layout_text(text: &str, before: &Instrument, after: &Instrument) -> Result<String, SaveError> {
    edited(text, "Choose another size for the new body.", |document| write_layout(document, before, after))
}

/// The text after `edit`, checked, with its mark and its line ends as they were.
pub(super) fn edited(
    text: &str,
    to_do: &str,
    edit: impl FnOnce(&mut DocumentMut),
) -> Result<String, SaveError> {
    let mut document = editable(text, "Check the original file.")?;
    edit(&mut document);
    let changed = document.to_string();
    parse(&changed).map_err(|problems| {
        let first = problems.into_iter().next();
        SaveError::Impossible {
            what: first.as_ref().map(|problem| problem.what.clone()).unwrap_or_default(),
            to_do: to_do.to_string(),
        }
    })?;
    Ok(as_typed(changed, text))
}

/// A text that can be edited: without its byte order mark, its lines ended as TOML ends them.
///
/// # Errors
/// [`SaveError::Impossible`] with `to_do` when it is no TOML.
pub(super) fn editable(text: &str, to_do: &str) -> Result<DocumentMut, SaveError> {
    let bare = text.strip_prefix(MARK).unwrap_or(text);
    bare.replace("\r\n", "\n").parse().map_err(|_: toml_edit::TomlError| {
        // Told in the words of the one that reads such files.
        let first = parse(text).err().and_then(|problems| problems.into_iter().next());
        let what = first.map_or_else(
            || "its text can't be read".to_string(),
            |problem| format!("line {}: {}", problem.line, problem.what),
        );
        SaveError::Impossible { what, to_do: to_do.to_string() }
    })
}

/// The edited text with the mark and the line ends that `text` has.
pub(super) fn as_typed(edited: String, text: &str) -> String {
    let edited = if text.contains("\r\n") { edited.replace('\n', "\r\n") } else { edited };
    let mark = if text.starts_with(MARK) { "\u{feff}" } else { "" };
    format!("{mark}{edited}")
}

/// The byte order mark that some editors put before a text.
const MARK: char = '\u{feff}';

/// The text of an instrument file with another prototype's name in it, everything else as it was. Example
/// marks may be left in it.
///
/// # Errors
/// [`SaveError::Impossible`] when the text is no TOML.
pub fn with_prototype(text: &str, prototype: &str) -> Result<String, SaveError> {
    let mut document = editable(text, "Check the original file.")?;
    let table = document.entry("instrument").or_insert_with(|| Item::Table(Table::new()));
    if let Some(table) = table.as_table_like_mut() {
        replace(table, "prototype", prototype.into());
    }
    Ok(as_typed(document.to_string(), text))
}

fn write_step(document: &mut DocumentMut, target: Target, before: &Instrument, after: &Instrument) {
    match target {
        Target::Hole(index, HoleMeasure::Pad) if after.holes.get(index).is_some_and(|h| h.pad.is_none()) => {
            edit_in_list(document, "hole", index, |table| {
                table.remove("pad_diameter_mm");
                table.remove("pad_lift_mm");
            });
        }
        Target::Hole(index, measure) => {
            let Some(hole) = after.holes.get(index) else { return };
            let (key, mm) = match measure {
                HoleMeasure::At => ("at_mm", Some(hole.at_mm)),
                HoleMeasure::Diameter => ("diameter_mm", Some(hole.diameter_mm)),
                HoleMeasure::Chimney => ("chimney_mm", Some(hole.chimney_mm)),
                HoleMeasure::Undercut => ("undercut_mm", Some(hole.undercut_mm)),
                HoleMeasure::Lift => ("pad_lift_mm", hole.pad.map(|pad| pad.lift_mm)),
                HoleMeasure::Pad => ("pad_diameter_mm", hole.pad.map(|pad| pad.diameter_mm)),
            };
            if let Some(mm) = mm {
                set_in_list(document, "hole", index, key, mm);
                if measure != HoleMeasure::Pad {
                    edit_in_list(document, "hole", index, |table| set_flag(table, "measured_again"));
                }
            }
        }
        Target::EndTrim => write_bore(document, before.bore.len(), &after.bore, false),
        Target::TopTrim | Target::MouthpieceOut => {
            write_bore(document, before.bore.len(), &after.bore, true);
            for (index, hole) in after.holes.iter().enumerate() {
                set_in_list(document, "hole", index, "at_mm", hole.at_mm);
            }
            for (index, site) in after.leak_sites.iter().enumerate() {
                set_in_list(document, "leak_site", index, "at_mm", site.at_mm);
            }
            for (index, bend) in after.bends.iter().enumerate() {
                set_in_list(document, "bend", index, "at_mm", bend.at_mm);
            }
        }
        Target::Chamber | Target::Reed => {
            let mouthpiece = after.mouthpiece;
            let (key, ml) = match target {
                Target::Chamber => ("chamber_ml", mouthpiece.map(|m| m.chamber_ml)),
                _ => ("reed_ml", mouthpiece.and_then(|m| m.reed_ml)),
            };
            if let Some(ml) = ml {
                set_in_table(document, "mouthpiece", key, ml);
            }
        }
        Target::Embouchure => {
            if let Some(mm) = after.embouchure_mm {
                set_in_table(document, "mouthpiece", "embouchure_mm", mm);
            }
        }
        Target::Temperature => {
            set_in_table(document, "air", "temperature_c", after.air.temperature_c);
            if let Some(table) = document.get_mut("air").and_then(Item::as_table_like_mut) {
                set_flag(table, "measured");
            }
            if let Some(in_tune_at_c) = after.in_tune_at_c {
                set_in_table(document, "air", "in_tune_at_c", in_tune_at_c);
            }
        }
        Target::Leak(_) => {}
    }
}

fn write_layout(document: &mut DocumentMut, before: &Instrument, after: &Instrument) {
    write_bore(document, before.bore.len(), &after.bore, false);
    for (index, (old, new)) in before.holes.iter().zip(&after.holes).enumerate() {
        let pad = |hole: &Hole| hole.pad.map_or([f64::NAN; 2], |pad| [pad.diameter_mm, pad.lift_mm]);
        for (key, old_mm, new_mm) in [
            ("at_mm", old.at_mm, new.at_mm),
            ("diameter_mm", old.diameter_mm, new.diameter_mm),
            ("chimney_mm", old.chimney_mm, new.chimney_mm),
            ("pad_diameter_mm", pad(old)[0], pad(new)[0]),
            ("pad_lift_mm", pad(old)[1], pad(new)[1]),
            ("undercut_mm", old.undercut_mm, new.undercut_mm),
            ("angle_deg", old.angle_deg, new.angle_deg),
        ] {
            if old_mm != new_mm && !new_mm.is_nan() {
                set_in_list(document, "hole", index, key, new_mm);
            }
        }
        if old.drilled != new.drilled {
            edit_in_list(document, "hole", index, |table| replace(table, "drilled", new.drilled.into()));
        }
    }
    for (index, site) in after.leak_sites.iter().enumerate() {
        set_in_list(document, "leak_site", index, "at_mm", site.at_mm);
        set_in_list(document, "leak_site", index, "wall_mm", site.wall_mm);
    }
    for (index, bend) in after.bends.iter().enumerate() {
        set_in_list(document, "bend", index, "at_mm", bend.at_mm);
    }
    if before.wall.thickness_mm != after.wall.thickness_mm {
        set_in_table(document, "wall", "thickness_mm", after.wall.thickness_mm);
    }
    if let (Some(old), Some(new)) = (before.mouthpiece, after.mouthpiece) {
        set_in_table(document, "mouthpiece", "chamber_ml", new.chamber_ml);
        if let Some(reed_ml) = new.reed_ml.filter(|_| old.reed_ml != new.reed_ml) {
            set_in_table(document, "mouthpiece", "reed_ml", reed_ml);
        }
        let table = document.get_mut("mouthpiece").and_then(Item::as_table_like_mut);
        if let (Some(table), None) = (table, new.suits_bore_mm) {
            table.remove("suits_bore_mm");
        }
    }
    for (index, (old, new)) in before.fingerings.iter().zip(&after.fingerings).enumerate() {
        edit_in_list(document, "fingering", index, |table| {
            if old.name != new.name {
                replace(table, "name", new.name.as_str().into());
            }
            if old.note != new.note && (table.contains_key("note") || new.name.parse() != Ok(new.note)) {
                replace(table, "note", new.note.to_string().into());
            }
            if old.cents != new.cents {
                set(table, "cents", new.cents);
            }
        });
    }
}

/// Makes the list of bore points as long as `points` and writes them. The point at the cut keeps the
/// comments of the end that it takes the place of.
pub(super) fn write_bore(document: &mut DocumentMut, count: usize, points: &[BorePoint], at_top: bool) {
    let Some(list) = document.get_mut("bore") else { return };
    for surplus in (points.len()..count).rev() {
        let gone = if at_top { 1 } else { surplus - 1 };
        match list {
            Item::ArrayOfTables(tables) => {
                tables.remove(gone);
            }
            Item::Value(Value::Array(tables)) => {
                tables.remove(gone);
            }
            _ => {}
        }
    }
    for more in count..points.len() {
        let place = if at_top { 1 } else { more };
        match list {
            Item::ArrayOfTables(tables) => {
                let mut all: Vec<Table> = tables.iter().cloned().collect();
                let mut added = Table::new();
                // The same position as its neighbour: written straight after it.
                added.set_position(all.get(place - 1).and_then(Table::position));
                all.insert(place.min(all.len()), added);
                tables.clear();
                all.into_iter().for_each(|table| tables.push(table));
            }
            Item::Value(Value::Array(tables)) => tables.insert(place.min(tables.len()), InlineTable::new()),
            _ => {}
        }
    }
    for (index, point) in points.iter().enumerate() {
        set_in_list(document, "bore", index, "at_mm", point.at_mm);
        set_in_list(document, "bore", index, "diameter_mm", point.diameter_mm);
    }
}

fn set_in_list(document: &mut DocumentMut, list: &str, index: usize, key: &str, number: f64) {
    edit_in_list(document, list, index, |table| set(table, key, number));
}

pub(super) fn edit_in_list(
    document: &mut DocumentMut,
    list: &str,
    index: usize,
    edit: impl FnOnce(&mut dyn TableLike),
) {
    let entry = document.get_mut(list).and_then(|list| list.get_mut(index));
    if let Some(table) = entry.and_then(Item::as_table_like_mut) {
        edit(table);
    }
}

fn set_in_table(document: &mut DocumentMut, name: &str, key: &str, number: f64) {
    let table = document.entry(name).or_insert_with(|| Item::Table(Table::new()));
    if let Some(table) = table.as_table_like_mut() {
        set(table, key, number);
    }
}

/// Writes a number where the old one stands, with the spaces and the comment around it.
pub(super) fn set(table: &mut dyn TableLike, key: &str, number: f64) {
    let number = (number * 1e6).round() / 1e6;
    // What is not changed stays as it was typed.
    if table.get(key).and_then(Item::as_value).and_then(as_number) != Some(number) {
        replace(table, key, number.into());
    }
}

/// Writes that something holds.
fn set_flag(table: &mut dyn TableLike, key: &str) {
    if table.get(key).and_then(Item::as_bool) != Some(true) {
        replace(table, key, true.into());
    }
}

/// Writes a value where the old one stands, with the spaces and the comment around it.
pub(super) fn replace(table: &mut dyn TableLike, key: &str, new: Value) {
    match table.get_mut(key).and_then(Item::as_value_mut) {
        Some(old) => {
            let decor = old.decor().clone();
            *old = new;
            *old.decor_mut() = decor;
        }
        None => {
            table.insert(key, value(new));
        }
    }
}

pub(super) fn as_number(value: &Value) -> Option<f64> {
    value.as_float().or(value.as_integer().map(|whole| whole as f64))
}
