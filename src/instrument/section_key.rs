//! Reads the keys in the box: what the maker has to close the holes of a planned body.
//!
//! Must not know which hole a key goes to.

use super::counts::KEYS;
use super::entries::Table;
use super::keys::KEY;
use super::model::Key;
use super::problem::{Problems, plain};
use super::reader::Reader;
use super::section_hole::{ANGLE, PAD_DIAMETER, PAD_LIFT};
use super::sections::{PLACE, called, tables};

/// Reads every `[[key]]`, in the order of the file.
pub(crate) fn read(root: &Table, problems: &mut Problems<'_>) -> Vec<Key> {
    let mut keys = Vec::new();
    let mut total = 0;
    for (index, (table, head)) in tables(root, "key", KEY, problems).into_iter().enumerate() {
        let mut reader = Reader::new(table, head.clone(), KEY, called("key", table, index), problems);
        let name = reader.text_if_given("name", "k1").map(str::to_string);
        let most = i32::try_from(KEYS.most).unwrap_or(i32::MAX);
        let key = Key {
            name: name.unwrap_or_else(|| format!("key {}", index + 1)),
            pad_diameter_mm: reader.number("pad_diameter_mm", &PAD_DIAMETER),
            from_mm: reader.number_if_given("from_mm", &PLACE),
            to_mm: reader.number_if_given("to_mm", &PLACE),
            angle_deg: reader.number_if_given("angle_deg", &ANGLE),
            lift_mm: reader.number_if_given("lift_mm", &PAD_LIFT),
            count: reader.whole_or("count", 1, "how many keys are alike", 1..=most).unsigned_abs() as usize,
            vent: reader.flag_or("vent", false),
        };
        let at =
            |reader: &Reader<'_, '_>, key: &str| reader.given(key).map_or(head.clone(), |v| v.span.clone());
        if let (Some(from_mm), Some(to_mm)) = (key.from_mm, key.to_mm)
            && from_mm > to_mm
        {
            let what = format!("from_mm is {}, beyond to_mm, {}", plain(from_mm), plain(to_mm));
            let to_do = "from_mm is the end of its reach that is nearer the mouthpiece. Swap the two, or measure again.";
            reader.problem(&at(&reader, "from_mm"), what, to_do);
        }
        let before = total;
        total += key.count;
        // Too many entries are told already.
        if before <= KEYS.most && total > KEYS.most && index < KEYS.most {
            let what =
                format!("with this one there are {total} keys; an instrument can have at most {}", KEYS.most);
            reader.problem(&at(&reader, "count"), what, KEYS.to_do);
        }
        keys.push(key);
    }
    keys
}
