//! Names that the program can't tell apart, can't type or needs for itself.
//!
//! Must not know geometry.

use std::collections::HashMap;

use super::entries::{Kind, Table, Value};
use super::model::Instrument;
use super::problem::{Problems, Span, quoted};
use super::spelling::folded;

/// Words that mean a part of the instrument in a change like `end.trim=2`, or the room's silence.
pub const RESERVED: [&str; 7] = ["bore", "top", "end", "air", "leak", "mouthpiece", "room"];

/// Longest name; file names are made of it.
const LONGEST: usize = 60;

/// Notes every name that can't stay.
pub(crate) fn check(instrument: &Instrument, root: &Table, problems: &mut Problems<'_>) {
    check_heading(instrument, root, problems);
    check_parts(instrument, root, problems);
    check_fingerings(instrument, root, problems);
    check_keys(instrument, root, problems);
}

/// Keys have names of their own: no change names one.
fn check_keys(instrument: &Instrument, root: &Table, problems: &mut Problems<'_>) {
    let mut seen = HashMap::new();
    for (index, key) in instrument.keys.iter().enumerate() {
        let place = root.place_in_list("key", index, "name");
        if named_with_text(root, "key", index) {
            check_letters("key", &key.name, "", &place, problems);
        }
        refuse_namesakes(&mut seen, "key", &key.name, place, problems);
    }
}

fn check_heading(instrument: &Instrument, root: &Table, problems: &mut Problems<'_>) {
    let name_place = root.place_in_table("instrument", "name");
    if is_given(root, "name") && instrument.name.trim().is_empty() {
        problems.add(&name_place, "the instrument has no name", "Write its name between the quotes.");
    } else if instrument.name.chars().any(char::is_control) {
        problems.add(
            &name_place,
            "the instrument's name holds a line break or another control character",
            "Write it in one line, without tabs.",
        );
    }
    if is_given(root, "prototype") {
        let place = root.place_in_table("instrument", "prototype");
        check_letters("the prototype", &instrument.prototype, "", &place, problems);
    }
}

/// Whether `[instrument]` has this key at all; without it, that is noted already.
fn is_given(root: &Table, key: &str) -> bool {
    let heading = root.get("instrument").map(|value| &value.kind);
    matches!(heading, Some(Kind::Table(table))
        if table.get(key).is_some_and(|value| matches!(value.kind, Kind::Text(_))))
}

/// Holes and leak sites share one set of names: a change or a cut names either.
fn check_parts(instrument: &Instrument, root: &Table, problems: &mut Problems<'_>) {
    let holes = instrument.holes.iter().enumerate().map(|(index, hole)| ("hole", "hole", index, &hole.name));
    let sites = instrument
        .leak_sites
        .iter()
        .enumerate()
        .map(|(index, site)| ("leak_site", "leak site", index, &site.name));
    let mut seen = HashMap::new();
    for (section, kind, index, name) in holes.chain(sites) {
        let place = root.place_in_list(section, index, "name");
        if !named_with_text(root, section, index) {
            continue;
        }
        check_letters(kind, name, "", &place, problems);
        check_reserved(kind, name, &place, problems);
        refuse_namesakes(&mut seen, kind, name, place, problems);
    }
}

fn check_fingerings(instrument: &Instrument, root: &Table, problems: &mut Problems<'_>) {
    let mut seen = HashMap::new();
    for (index, fingering) in instrument.fingerings.iter().enumerate() {
        let place = root.place_in_list("fingering", index, "name");
        if !named_with_text(root, "fingering", index) {
            continue;
        }
        check_letters("fingering", &fingering.name, "#♯♭", &place, problems);
        check_reserved("fingering", &fingering.name, &place, problems);
        let room_take = folded(&fingering.name);
        if room_take.strip_prefix("room").is_some_and(|rest| rest.starts_with(['-', '_', ' '])) {
            problems.add(
                &place,
                format!("fingering {} is called like a take of the silent room", quoted(&fingering.name)),
                "Give it a name that does not begin with room.",
            );
        }
        refuse_namesakes(&mut seen, "fingering", &fingering.name, place, problems);
    }
}

/// Whether the entry has a name at all; without one, that is noted already.
fn named_with_text(root: &Table, section: &str, index: usize) -> bool {
    let entry = match root.get(section) {
        Some(Value { kind: Kind::List(entries), .. }) => entries.get(index),
        other => other,
    };
    match entry.map(|value| &value.kind) {
        Some(Kind::Table(table)) => {
            table.get("name").is_some_and(|value| matches!(value.kind, Kind::Text(_)))
        }
        _ => false,
    }
}

fn check_letters(kind: &str, name: &str, extra: &str, place: &Span, problems: &mut Problems<'_>) {
    let signs = if extra.is_empty() { "- and _" } else { "# ♯ ♭, - and _" };
    let to_do = format!("Use letters, digits, {signs}; spaces only inside.");
    let refused = name.chars().find(|c| !(c.is_alphanumeric() || "-_ ".contains(*c) || extra.contains(*c)));
    if name.trim().is_empty() {
        problems.add(place, format!("{kind}: the name is empty"), to_do);
    } else if let Some(sign) = refused {
        problems.add(place, format!("{kind} {}: a name can't hold {}", quoted(name), shown(sign)), to_do);
    } else if name.trim() != name {
        problems.add(
            place,
            format!("{kind} {}: the name begins or ends with a space", quoted(name)),
            "Delete the space.",
        );
    } else if name.chars().count() > LONGEST {
        problems.add(
            place,
            format!("{kind} {}: the name is longer than {LONGEST} characters", quoted(name)),
            "Shorten it; files are called after it.",
        );
    }
}

fn shown(sign: char) -> String {
    if sign.is_control() {
        "a tab, a line break or another control character".into()
    } else {
        format!("\"{sign}\"")
    }
}

fn check_reserved(kind: &str, name: &str, place: &Span, problems: &mut Problems<'_>) {
    if RESERVED.contains(&folded(name).as_str()) {
        problems.add(
            place,
            format!("{kind} {}: this word means a part of every instrument", quoted(name)),
            format!("Choose another name; kept for the program are {}.", RESERVED.join(", ")),
        );
    }
}

fn refuse_namesakes(
    seen: &mut HashMap<String, (&'static str, String, usize)>,
    kind: &'static str,
    name: &str,
    place: Span,
    problems: &mut Problems<'_>,
) {
    if name.trim().is_empty() {
        return;
    }
    let line = problems.line_of(place.start);
    let Some((other_kind, other, other_line)) = seen.get(&folded(name)) else {
        seen.insert(folded(name), (kind, name.to_string(), line));
        return;
    };
    let what = if other == name {
        format!("{kind} {} has the same name as the {other_kind} in line {other_line}", quoted(name))
    } else {
        format!(
            "{kind} {} and the {other_kind} {} in line {other_line} differ only in case or the sign for \
             sharp or flat",
            quoted(name),
            quoted(other)
        )
    };
    problems.add(&place, what, "Give one of the two another name.");
}
