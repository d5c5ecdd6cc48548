//! Measures of one instrument file that are carried into earlier copies of it, because they were measured better.
//!
//! Works key by key, so that everything else in a copy stays as it was. Must not know steps or pitch.

use toml_edit::{DocumentMut, Item, Table, TableLike, Value, value};

use super::keys::{BEND, HOLE, WALL};
use super::model::BorePoint;
use super::save::{SaveError, as_number, editable, edited, replace, write_bore};

/// Tables whose keys are measures of the body; of the first and the last not all of them are.
const TABLES: [(&str, &[&str]); 3] = [
    ("instrument", &["drive"]),
    ("wall", WALL.keys),
    ("mouthpiece", &["chamber_ml", "reed_ml", "embouchure_mm"]),
];
/// What is advised when a copy can't be changed this way.
const BY_HAND: &str = "Put this copy right by hand.";

/// Where a measure stands.
#[derive(Debug, Clone, PartialEq)]
enum Place {
    Table(&'static str, &'static str),
    Hole(String, &'static str),
    Bend(usize, &'static str),
    Bore,
}

/// What stands there.
#[derive(Debug, Clone)]
enum Measure {
    One(Option<Value>),
    Points(Vec<BorePoint>),
}

impl PartialEq for Measure {
    /// Numbers are compared as numbers: `12` is `12.0`.
    fn eq(&self, other: &Measure) -> bool {
        match (self, other) {
            (Measure::One(Some(one)), Measure::One(Some(other))) => {
                match (as_number(one), as_number(other)) {
                    (Some(one), Some(other)) => one == other,
                    _ => one.to_string().trim() == other.to_string().trim(),
                }
            }
            (Measure::One(one), Measure::One(other)) => one.is_none() && other.is_none(),
            (Measure::Points(one), Measure::Points(other)) => one == other,
            _ => false,
        }
    }
}

/// The measures that one file has otherwise than another.
#[derive(Debug)]
pub struct Remeasured {
    changed: Vec<(Place, Measure, Measure)>,
}

impl Remeasured {
    /// What `new` has otherwise than `old`, in holes and bends that both have.
    ///
    /// # Errors
    /// [`SaveError::Impossible`] when one of them is no TOML.
    pub fn between(old: &str, new: &str) -> Result<Remeasured, SaveError> {
        let (old, new) = (editable(old, BY_HAND)?, editable(new, BY_HAND)?);
        let names: Vec<String> = hole_names(&old).into_iter().flatten().collect();
        let tables = TABLES.iter().flat_map(|(table, keys)| keys.iter().map(|key| Place::Table(table, key)));
        // Everything of a hole is a measure of it, or says how well it is known; only its name is not.
        let of_hole = HOLE.keys.iter().filter(|key| **key != "name");
        let holes = names.iter().flat_map(|name| of_hole.clone().map(|key| Place::Hole(name.clone(), key)));
        let bends =
            (0..count(&old, "bend")).flat_map(|bend| BEND.keys.iter().map(move |key| Place::Bend(bend, key)));
        let changed = tables.chain(holes).chain(bends).chain([Place::Bore]).filter_map(|place| {
            let (before, now) = (measure(&old, &place)?, measure(&new, &place)?);
            (before != now).then_some((place, before, now))
        });
        Ok(Remeasured { changed: changed.collect() })
    }

    /// Whether nothing is left that changed.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.changed.is_empty()
    }

    /// Forgets the measures that `copy` has otherwise than the old file: there the part was not yet as it is now.
    ///
    /// # Errors
    /// [`SaveError::Impossible`] when it is no TOML.
    pub fn keep_those_of(&mut self, copy: &str) -> Result<(), SaveError> {
        let copy = editable(copy, BY_HAND)?;
        self.changed.retain(|(place, old, _)| measure(&copy, place).as_ref() == Some(old));
        Ok(())
    }

    /// The text of `copy` with the new measures in it.
    ///
    /// # Errors
    /// [`SaveError::Impossible`] when the result would be refused as an instrument file.
    pub fn carried_into(&self, copy: &str) -> Result<String, SaveError> {
        edited(copy, BY_HAND, |document| {
            for (place, _, new) in &self.changed {
                write(document, place, new);
            }
        })
    }
}

/// How many tables a list has.
pub(super) fn count(document: &DocumentMut, list: &str) -> usize {
    match document.get(list) {
        Some(Item::ArrayOfTables(tables)) => tables.len(),
        Some(Item::Value(Value::Array(tables))) => tables.len(),
        _ => 0,
    }
}

fn entry<'d>(document: &'d DocumentMut, list: &str, index: usize) -> Option<&'d dyn TableLike> {
    document.get(list)?.get(index)?.as_table_like()
}

/// Names of the holes, in the file's order.
fn hole_names(document: &DocumentMut) -> Vec<Option<String>> {
    let name = |index| Some(entry(document, "hole", index)?.get("name")?.as_str()?.to_string());
    (0..count(document, "hole")).map(name).collect()
}

fn hole_called(document: &DocumentMut, name: &str) -> Option<usize> {
    hole_names(document).iter().position(|known| known.as_deref() == Some(name))
}

/// What stands at a place; `None` where the file has no such part.
fn measure(document: &DocumentMut, place: &Place) -> Option<Measure> {
    let one =
        |table: &dyn TableLike, key: &str| Measure::One(table.get(key).and_then(Item::as_value).cloned());
    Some(match place {
        Place::Table(table, key) => match document.get(table).and_then(Item::as_table_like) {
            Some(table) => one(table, key),
            None => Measure::One(None),
        },
        Place::Hole(name, key) => one(entry(document, "hole", hole_called(document, name)?)?, key),
        Place::Bend(index, key) => one(entry(document, "bend", *index)?, key),
        Place::Bore => {
            let point = |index| {
                let table = entry(document, "bore", index)?;
                let mm = |key| table.get(key).and_then(Item::as_value).and_then(as_number);
                Some(BorePoint { at_mm: mm("at_mm")?, diameter_mm: mm("diameter_mm")? })
            };
            Measure::Points((0..count(document, "bore")).map(point).collect::<Option<_>>()?)
        }
    })
}

fn write(document: &mut DocumentMut, place: &Place, new: &Measure) {
    let new = match new {
        Measure::Points(points) => {
            let old = count(document, "bore");
            return write_bore(document, old, points, false);
        }
        Measure::One(new) => new,
    };
    let (item, key) = match place {
        Place::Table(table, key) => {
            if document.get(table).is_none() {
                document.insert(table, Item::Table(Table::new()));
            }
            (document.get_mut(table), *key)
        }
        Place::Hole(name, key) => {
            let index = hole_called(document, name);
            let list = document.get_mut("hole");
            (index.zip(list).and_then(|(index, list)| list.get_mut(index)), *key)
        }
        Place::Bend(index, key) => (document.get_mut("bend").and_then(|list| list.get_mut(*index)), *key),
        Place::Bore => return,
    };
    let Some(table) = item.and_then(Item::as_table_like_mut) else { return };
    match new {
        None => {
            table.remove(key);
        }
        Some(new) => {
            let plain = bare(new);
            if table.contains_key(key) {
                replace(table, key, plain);
            } else {
                table.insert(key, value(plain));
            }
        }
    }
}

/// A value without the spaces and the comment that stand around it in its own file.
fn bare(of: &Value) -> Value {
    let mut plain = of.clone();
    plain.decor_mut().clear();
    plain
}

#[cfg(test)]
mod tests {
    use super::*;

    const OLD: &str = "format = 1\n[instrument]\nname = \"Tube\"\nprototype = \"P1\"\ndrive = \"reed\"\n[mouthpiece]\nchamber_ml = 12.5 # water\n\
        [[bore]]\nat_mm = 0\ndiameter_mm = 20.0\n[[bore]]\nat_mm = 1180.0\ndiameter_mm = 20.0\n\
        [[hole]]\nname = \"h1\"\nat_mm = 1040.0\ndiameter_mm = 12.0 # drill 12\nchimney_mm = 3.0\nundercut_mm = 0.5\n\
        [[hole]]\nname = \"h2\"\nat_mm = 900.0\ndiameter_mm = 11.0\nchimney_mm = 3.0\n";

    #[test]
    fn only_what_changed_is_carried_and_the_rest_of_the_copy_stays() {
        let new = OLD
            .replace("12.0 # drill 12", "12.4")
            .replace("1180.0", "1181")
            .replace("undercut_mm = 0.5\n", "");
        let remeasured = Remeasured::between(OLD, &new).unwrap();
        let copy = OLD.replace("11.0", "10.5 # then").replace("chamber_ml = 12.5", "chamber_ml = 12");
        let carried = remeasured.carried_into(&copy).unwrap();
        let wanted = copy.replace("12.0 # drill 12", "12.4 # drill 12").replace("1180.0", "1181.0");
        assert_eq!(carried, wanted.replace("undercut_mm = 0.5\n", ""));
        assert!(Remeasured::between(OLD, OLD).unwrap().is_empty());
    }

    #[test]
    fn a_copy_from_before_the_part_was_cut_keeps_its_measure() {
        let new = OLD.replace("12.0", "12.4").replace("11.0", "11.2");
        let mut remeasured = Remeasured::between(OLD, &new).unwrap();
        let earlier = OLD.replace("12.0", "10.0");
        remeasured.keep_those_of(&earlier).unwrap();
        assert_eq!(remeasured.carried_into(&earlier).unwrap(), earlier.replace("11.0", "11.2"));
        remeasured.keep_those_of(&new).unwrap();
        assert!(remeasured.is_empty());
    }

    #[test]
    fn a_key_that_is_new_is_added_and_numbers_are_compared_as_numbers() {
        let new = OLD.replace("diameter_mm = 11.0", "diameter_mm = 11\nrim_mm = 1.5");
        let carried = Remeasured::between(OLD, &new).unwrap().carried_into(OLD).unwrap();
        assert!(carried.contains("rim_mm = 1.5") && carried.contains("diameter_mm = 11.0"), "{carried}");
    }
}
