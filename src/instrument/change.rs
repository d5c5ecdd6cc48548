//! Changes to try before cutting, as the maker types them: `h2.diameter+=0.5`, `mouthpiece.out=2`.
//!
//! Reads them against the names of one instrument; `alter` carries them out. Must not know air columns,
//! files or the terminal.

use std::fmt;

use super::check_names::RESERVED;
use super::column::LeakPlace;
use super::model::Instrument;
use super::problem::quoted;
use super::spelling::{folded, nearest};

/// One change that names something the instrument has.
#[derive(Debug, Clone, PartialEq)]
pub struct Change {
    /// As the maker typed it.
    pub written: String,
    /// What changes.
    pub target: Target,
    /// How.
    pub operation: Operation,
}

/// What a change can be about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Target {
    /// One measure of a hole: index into [`Instrument::holes`].
    Hole(usize, HoleMeasure),
    /// Length taken off at the open end, mm.
    EndTrim,
    /// Length taken off at the top, mm.
    TopTrim,
    /// How far the mouthpiece is pulled out from where it stands, mm; negative pushes it in. The gap is filled
    /// with a ring of the same bore.
    MouthpieceOut,
    /// The mouthpiece's chamber, ml.
    Chamber,
    /// The reed's give, ml.
    Reed,
    /// An air jet's end correction, mm of bore.
    Embouchure,
    /// The air inside, °C.
    Temperature,
    /// A leak's equivalent diameter, mm.
    Leak(LeakPlace),
}

/// A measure of a hole, mm.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)] // each is its own word
pub enum HoleMeasure {
    At,
    Diameter,
    Chimney,
    Lift,
    Pad,
    Undercut,
}

impl HoleMeasure {
    /// Every measure with the word that means it in a change.
    pub const WORDS: [(&'static str, HoleMeasure); 6] = [
        ("at", HoleMeasure::At),
        ("diameter", HoleMeasure::Diameter),
        ("chimney", HoleMeasure::Chimney),
        ("lift", HoleMeasure::Lift),
        ("pad", HoleMeasure::Pad),
        ("undercut", HoleMeasure::Undercut),
    ];
}

/// What a change does with the value that is there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Operation {
    /// `=`: this value from now on. For a trim, this much comes off.
    Set(f64),
    /// `+=` and `-=`: this much more (less when negative).
    Add(f64),
    /// `=off`: the part is taken off. Only pads are.
    Off,
}

/// Why a change can't be tried, in the maker's words.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ChangeError {
    /// No `=` in it.
    #[error("{} is no change\n  Write one like h2.diameter=9, h2.diameter+=0.5 or end.trim=2.", quoted(.written))]
    NoChange {
        /// As typed.
        written: String,
    },
    /// A name without a measure behind it.
    #[error("{} doesn't say what changes\n  Write one of: {right}.", quoted(.written))]
    NoMeasure {
        /// As typed.
        written: String,
        /// What can be changed there.
        right: String,
    },
    /// A name that the file doesn't have.
    #[error("{}: the file has nothing called {}\n  {to_do}", quoted(.written), quoted(.name))]
    UnknownName {
        /// As typed.
        written: String,
        /// The unknown name.
        name: String,
        /// The nearest name, or all of them.
        to_do: String,
    },
    /// A measure that the part doesn't have.
    #[error("{}: {} can't be changed there\n  {to_do}", quoted(.written), quoted(.measure))]
    UnknownMeasure {
        /// As typed.
        written: String,
        /// The unknown measure.
        measure: String,
        /// The nearest one, and all right ones.
        to_do: String,
    },
    /// No number behind the sign.
    #[error("{}: {} is no number\n  {to_do}", quoted(.written), quoted(.number))]
    NotANumber {
        /// As typed.
        written: String,
        /// What stands where the number should.
        number: String,
        /// How to write it.
        to_do: String,
    },
    /// `off` where nothing comes off, or with `+=`.
    #[error("{}: {what}\n  Only a pad can be off, with a single =, like h5.pad=off.", quoted(.written))]
    NotOff {
        /// As typed.
        written: String,
        /// Why it can't be off.
        what: &'static str,
    },
    /// A value that nothing can have.
    #[error("{} would make it {value}, but {limits}\n  Choose another value.", quoted(.written))]
    Impossible {
        /// As typed.
        written: String,
        /// The value with its unit.
        value: String,
        /// What is possible.
        limits: String,
    },
    /// Something that the instrument doesn't have.
    #[error("{}: {missing}\n  {to_do}", quoted(.written))]
    Missing {
        /// As typed.
        written: String,
        /// What is not there.
        missing: String,
        /// What to do.
        to_do: String,
    },
    /// A trim that cuts away what must stay.
    #[error("{}: {what}\n  Take less off.", quoted(.written))]
    CutsAway {
        /// As typed.
        written: String,
        /// What would go.
        what: String,
    },
    /// A mouthpiece that would be pushed into what must stay.
    #[error("{}: {what}\n  Push it in less far.", quoted(.written))]
    PushesInto {
        /// As typed.
        written: String,
        /// What it would reach.
        what: String,
    },
}

impl fmt::Display for Change {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.written)
    }
}

/// Reads one change. Names are compared as everywhere: case doesn't matter, `♯` is `#`.
///
/// # Errors
/// [`ChangeError`] for text that is no change and for names, measures and numbers that are none.
pub fn parse(instrument: &Instrument, text: &str) -> Result<Change, ChangeError> {
    let written = text.trim().to_string();
    let no_change = || ChangeError::NoChange { written: written.clone() };
    let plain_signs = written.replace('−', "-");
    let (before, number_text) = plain_signs.split_once('=').ok_or_else(no_change)?;
    let (place, sign) = match before.as_bytes().last() {
        Some(b'+') => (before.strip_suffix('+').unwrap_or(before), Some(1.0)),
        Some(b'-') => (before.strip_suffix('-').unwrap_or(before), Some(-1.0)),
        _ => (before, None),
    };
    if place.trim().is_empty() {
        return Err(no_change());
    }
    let target = target(instrument, place.trim(), &written)?;
    let operation = operation(target, sign, number_text.trim(), &written)?;
    Ok(Change { written, target, operation })
}

/// What is done with the value that is there; `sign` of `+=` and `-=`.
fn operation(target: Target, sign: Option<f64>, text: &str, written: &str) -> Result<Operation, ChangeError> {
    let is_pad = matches!(target, Target::Hole(_, HoleMeasure::Pad));
    if folded(text) == "off" {
        let refused = |what| Err(ChangeError::NotOff { written: written.to_string(), what });
        return match sign {
            _ if !is_pad => refused("this can't be off"),
            Some(_) => refused("a part is either off or not"),
            None => Ok(Operation::Off),
        };
    }
    let value = number(text, written, is_pad)?;
    Ok(sign.map_or(Operation::Set(value), |sign| Operation::Add(sign * value)))
}

fn target(instrument: &Instrument, place: &str, written: &str) -> Result<Target, ChangeError> {
    let (name, measure) = place.split_once('.').map_or((place, ""), |(n, m)| (n.trim(), m.trim()));
    let fixed: &[(&str, Target)] = match folded(name).as_str() {
        "end" => &[("trim", Target::EndTrim)],
        "top" => &[("trim", Target::TopTrim)],
        "mouthpiece" => &[
            ("out", Target::MouthpieceOut),
            ("chamber", Target::Chamber),
            ("reed", Target::Reed),
            ("embouchure", Target::Embouchure),
        ],
        "air" => &[("temperature", Target::Temperature)],
        "leak" => return leak(instrument, measure, written),
        _ => {
            let Some(hole) = hole_called(instrument, name) else {
                return Err(no_such_part(instrument, name, written));
            };
            let measures = HoleMeasure::WORDS.map(|(word, measure)| (word, Target::Hole(hole, measure)));
            return one_of(&measures, &instrument.holes[hole].name, measure, written);
        }
    };
    one_of(fixed, &folded(name), measure, written)
}

/// The target that `measure` means, out of those that `name` has.
fn one_of(known: &[(&str, Target)], name: &str, measure: &str, written: &str) -> Result<Target, ChangeError> {
    if let Some((_, target)) = known.iter().find(|(word, _)| folded(measure) == *word) {
        return Ok(*target);
    }
    let right = known.iter().map(|(word, _)| format!("{name}.{word}")).collect::<Vec<_>>().join(", ");
    let written = written.to_string();
    if measure.is_empty() {
        return Err(ChangeError::NoMeasure { written, right });
    }
    // The file's own keys are a likely slip: diameter_mm, pad_lift_mm.
    let bare = folded(measure);
    let bare = bare.strip_suffix("_mm").or(bare.strip_suffix("_ml")).unwrap_or(&bare);
    let bare = bare.strip_prefix("pad_").unwrap_or(bare);
    let guess = nearest(bare, known.iter().map(|(word, _)| *word));
    let meant = guess.map_or_else(String::new, |word| format!("Did you mean {name}.{word}? "));
    let to_do = format!("{meant}What can be changed: {right}.");
    Err(ChangeError::UnknownMeasure { written, measure: measure.to_string(), to_do })
}

fn leak(instrument: &Instrument, name: &str, written: &str) -> Result<Target, ChangeError> {
    match place_called(instrument, name) {
        Some(place) => Ok(Target::Leak(place)),
        None if name.is_empty() => {
            let right = "leak. and the name of a hole or leak site, like leak.h1=0.8".to_string();
            Err(ChangeError::NoMeasure { written: written.to_string(), right })
        }
        None => {
            let places = place_names(instrument);
            let to_do = match nearest(name, places.iter().copied()) {
                Some(meant) => format!("Did you mean leak.{meant}?"),
                None if places.is_empty() => "It has neither holes nor leak sites that could leak.".into(),
                None => format!("What may leak: {}.", places.join(", ")),
            };
            Err(ChangeError::UnknownName { written: written.to_string(), name: name.to_string(), to_do })
        }
    }
}

/// The hole or leak site of this name, in any case.
#[must_use]
pub fn place_called(instrument: &Instrument, name: &str) -> Option<LeakPlace> {
    let site = || instrument.leak_sites.iter().position(|site| folded(&site.name) == folded(name));
    hole_called(instrument, name).map(LeakPlace::Hole).or_else(|| site().map(LeakPlace::Site))
}

/// The name of a place that may leak; empty for one that the instrument lacks.
#[must_use]
pub fn place_name(instrument: &Instrument, place: LeakPlace) -> &str {
    let name = match place {
        LeakPlace::Hole(index) => instrument.holes.get(index).map(|hole| &hole.name),
        LeakPlace::Site(index) => instrument.leak_sites.get(index).map(|site| &site.name),
    };
    name.map_or("", String::as_str)
}

/// The change that stops a leak: `leak.v=0`.
#[must_use]
pub fn leak_stopped(instrument: &Instrument, place: LeakPlace) -> String {
    format!("leak.{}=0", place_name(instrument, place))
}

/// Everything that could leak, by name.
#[must_use]
pub fn place_names(instrument: &Instrument) -> Vec<&str> {
    let holes = instrument.holes.iter().map(|hole| hole.name.as_str());
    holes.chain(instrument.leak_sites.iter().map(|site| site.name.as_str())).collect()
}

fn hole_called(instrument: &Instrument, name: &str) -> Option<usize> {
    instrument.holes.iter().position(|hole| folded(&hole.name) == folded(name))
}

fn no_such_part(instrument: &Instrument, name: &str, written: &str) -> ChangeError {
    let written = written.to_string();
    if let Some(site) = instrument.leak_sites.iter().find(|site| folded(&site.name) == folded(name)) {
        let missing = format!("{} is a leak site, and all it can do is leak", site.name);
        let to_do = format!("Write leak.{}=0.8 for a leak like a hole of 0.8 mm.", site.name);
        return ChangeError::Missing { written, missing, to_do };
    }
    // Words that no change begins with, though no hole may be called so.
    let parts = RESERVED.iter().copied().filter(|word| !["bore", "room"].contains(word));
    let names: Vec<&str> = instrument.holes.iter().map(|hole| hole.name.as_str()).chain(parts).collect();
    let to_do = match nearest(name, names.iter().copied()) {
        Some(meant) => format!("Did you mean {meant}?"),
        None => format!("What can be changed: {}.", names.join(", ")),
    };
    ChangeError::UnknownName { written, name: name.to_string(), to_do }
}

fn number(text: &str, written: &str, or_off: bool) -> Result<f64, ChangeError> {
    if let Some(value) = text.parse::<f64>().ok().filter(|value| value.is_finite()) {
        return Ok(value);
    }
    let with_point = text.replace(',', ".");
    let to_do = if with_point != text && with_point.parse::<f64>().is_ok() {
        format!("The decimal sign is a point: {with_point}.")
    } else if or_off {
        "Write its diameter in mm, or off to take the pad off.".to_string()
    } else {
        "Write a number without a unit: millimetres, millilitres for a volume, °C for air.".to_string()
    };
    Err(ChangeError::NotANumber { written: written.to_string(), number: text.to_string(), to_do })
}
