//! The keys of the instrument file, and what an unknown key was meant to be.
//!
//! Must not know the values that the keys hold.

use super::spelling::nearest;

/// A table of the file with the keys that it may hold.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Section {
    /// As the maker writes its head.
    pub(crate) head: &'static str,
    pub(crate) keys: &'static [&'static str],
}

pub(crate) const ROOT: Section = Section {
    head: "the file",
    keys: &[
        "format",
        "instrument",
        "wall",
        "air",
        "mouthpiece",
        "bore",
        "hole",
        "leak_site",
        "bend",
        "fingering",
        "key",
        "goal",
        "workshop",
    ],
};
pub(crate) const INSTRUMENT: Section = Section {
    head: "[instrument]",
    keys: &["name", "prototype", "drive", "a4_hz", "written_above_sounding"],
};
pub(crate) const WALL: Section = Section { head: "[wall]", keys: &["thickness_mm", "finish"] };
pub(crate) const AIR: Section =
    Section { head: "[air]", keys: &["temperature_c", "humidity_percent", "measured", "in_tune_at_c"] };
pub(crate) const MOUTHPIECE: Section =
    Section { head: "[mouthpiece]", keys: &["chamber_ml", "suits_bore_mm", "reed_ml", "embouchure_mm"] };
pub(crate) const BORE: Section = Section { head: "[[bore]]", keys: &["at_mm", "diameter_mm"] };
pub(crate) const HOLE: Section = Section {
    head: "[[hole]]",
    keys: &[
        "name",
        "at_mm",
        "diameter_mm",
        "chimney_mm",
        "pad_diameter_mm",
        "pad_lift_mm",
        "closed_by",
        "rim_mm",
        "undercut_mm",
        "angle_deg",
        "vent",
        "drilled",
        "measured_again",
    ],
};
pub(crate) const LEAK_SITE: Section = Section { head: "[[leak_site]]", keys: &["name", "at_mm", "wall_mm"] };
pub(crate) const BEND: Section = Section { head: "[[bend]]", keys: &["at_mm", "radius_mm", "angle_deg"] };
pub(crate) const FINGERING: Section = Section {
    head: "[[fingering]]",
    keys: &["name", "note", "open", "register", "cents", "weight", "leave"],
};
pub(crate) const KEY: Section = Section {
    head: "[[key]]",
    keys: &["name", "pad_diameter_mm", "from_mm", "to_mm", "angle_deg", "lift_mm", "count", "vent"],
};
pub(crate) const GOAL: Section =
    Section { head: "[goal]", keys: &["within_cents", "second_register_weight"] };
pub(crate) const WORKSHOP: Section =
    Section { head: "[workshop]", keys: &["drills", "drills_mm", "measured_to_mm"] };
pub(crate) const MEASURED_TO: Section =
    Section { head: "measured_to_mm", keys: &["place", "diameter", "chimney", "lift", "bore"] };

const SECTIONS: [Section; 13] = [
    INSTRUMENT,
    WALL,
    AIR,
    MOUTHPIECE,
    BORE,
    HOLE,
    LEAK_SITE,
    BEND,
    FINGERING,
    KEY,
    GOAL,
    WORKSHOP,
    MEASURED_TO,
];

/// Endings of keys that name the file's units.
const UNITS: [&str; 7] = ["mm", "ml", "hz", "c", "deg", "percent", "cents"];

/// Other units that a maker may write behind a key, the file's unit, and how to get there.
const OTHER_UNITS: [(&str, &str, &str); 17] = [
    ("cm", "mm", "1 cm is 10 mm"),
    ("m", "mm", "1 m is 1000 mm"),
    ("in", "mm", "1 in is 25.4 mm"),
    ("inch", "mm", "1 in is 25.4 mm"),
    ("inches", "mm", "1 in is 25.4 mm"),
    ("ft", "mm", "1 ft is 304.8 mm"),
    ("thou", "mm", "1 thou is 0.0254 mm"),
    ("cc", "ml", "1 cc is 1 ml"),
    ("cm3", "ml", "1 cm³ is 1 ml"),
    ("mm3", "ml", "1000 mm³ are 1 ml"),
    ("l", "ml", "1 l is 1000 ml"),
    ("g", "ml", "1 g of water is 1 ml"),
    ("f", "c", "take 32 off and divide by 1.8"),
    ("k", "c", "take 273.15 off"),
    ("khz", "hz", "1 kHz is 1000 Hz"),
    ("rad", "deg", "1 rad is 57.2958 degrees"),
    ("degrees", "deg", "they are the same"),
];

/// What to do about a `key` that `section` does not know.
pub(crate) fn advice(key: &str, section: Section) -> String {
    let lower = key.to_lowercase();
    if let Some(advice) = other_unit(&lower, section) {
        return advice;
    }
    if section.head == ROOT.head
        && let Some(table) = ROOT.keys.iter().find(|known| lower == format!("{known}s"))
    {
        return format!("Did you mean {table}? One head for each: [[{table}]].");
    }
    if key == "format" {
        return "Write it as the first line, above every table.".to_string();
    }
    // lift_mm under a hole is its pad_lift_mm, although keys have a lift_mm of their own.
    if let Some(known) = section.keys.iter().find(|known| known.ends_with(&format!("_{lower}"))) {
        return format!("Did you mean {known}?");
    }
    if let Some(home) = SECTIONS.iter().find(|other| other.keys.contains(&key)) {
        return format!("It belongs in {}.", home.head);
    }
    if let Some(known) = nearest(key, section.keys.iter().copied()) {
        return format!("Did you mean {known}?");
    }
    format!("Delete it, or put # before it. Known here: {}.", section.keys.join(", "))
}

/// Advice for a known key with another unit behind it, or with none.
fn other_unit(lower: &str, section: Section) -> Option<String> {
    let known_as = |stem: &str, unit: &str| {
        let wanted = format!("{stem}_{unit}");
        section.keys.iter().find(|known| **known == wanted)
    };
    if let Some((stem, ending)) = lower.rsplit_once('_')
        && let Some((unit, how, known)) = OTHER_UNITS
            .iter()
            .filter(|(other, _, _)| *other == ending)
            .find_map(|(_, unit, how)| known_as(stem, unit).map(|known| (unit, how, known)))
    {
        return Some(format!("{} Use {known}: {how}.", unit_rule(unit)));
    }
    let (unit, known) = UNITS.iter().find_map(|unit| known_as(lower, unit).map(|known| (unit, known)))?;
    Some(format!("{} Did you mean {known}?", unit_rule(unit)))
}

fn unit_rule(unit: &str) -> &'static str {
    match unit {
        "mm" => "Lengths are in mm.",
        "ml" => "Volumes are in ml.",
        "c" => "Temperatures are in °C.",
        "hz" => "Frequencies are in Hz.",
        "deg" => "Angles are in degrees.",
        "cents" => "Intervals are in cents.",
        _ => "Humidity is in percent.",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_in_another_unit_are_told_the_unit_of_the_file() {
        for (key, section, advice_expected) in [
            ("diameter_cm", HOLE, "Lengths are in mm. Use diameter_mm: 1 cm is 10 mm."),
            ("at_in", BORE, "Lengths are in mm. Use at_mm: 1 in is 25.4 mm."),
            ("pad_lift", HOLE, "Lengths are in mm. Did you mean pad_lift_mm?"),
            ("chamber_cc", MOUTHPIECE, "Volumes are in ml. Use chamber_ml: 1 cc is 1 ml."),
            (
                "temperature_f",
                AIR,
                "Temperatures are in °C. Use temperature_c: take 32 off and divide by 1.8.",
            ),
        ] {
            assert_eq!(advice(key, section), advice_expected, "{key}");
        }
    }

    #[test]
    fn unknown_keys_are_led_to_the_nearest_or_to_their_table() {
        for (key, section, advice_expected) in [
            ("diamter_mm", HOLE, "Did you mean diameter_mm?"),
            ("lift_mm", HOLE, "Did you mean pad_lift_mm?"),
            ("a4_hz", WALL, "It belongs in [instrument]."),
            ("holes", ROOT, "Did you mean hole? One head for each: [[hole]]."),
            ("diameter_mm", KEY, "Did you mean pad_diameter_mm?"),
            ("form_mm", KEY, "Did you mean from_mm?"),
            ("keys", ROOT, "Did you mean key? One head for each: [[key]]."),
            ("to_mm", HOLE, "It belongs in [[key]]."),
            ("colour", BORE, "Delete it, or put # before it. Known here: at_mm, diameter_mm."),
        ] {
            assert_eq!(advice(key, section), advice_expected, "{key}");
        }
    }
}
