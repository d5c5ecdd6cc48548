//! What can't be placed or carried over, in the maker's words.
//!
//! Must not know how holes are placed.

use crate::instrument::problem::{plain, quoted};

/// Why holes can't be placed, in the maker's words.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PlaceError {
    /// No hole in the file.
    #[error(
        "the file has no [[hole]] to place\n  Write one for each hole that you plan, with drilled = false; a rough guess \
         of at_mm and diameter_mm is enough. Then name the holes in the fingerings' open = [...]."
    )]
    NoHoles,
    /// No fingering in the file.
    #[error(
        "the file has no [[fingering]], so no note says where the holes go\n  Write one for each note that you want, with \
         the holes that it opens."
    )]
    NoFingerings,
    /// Nothing is free.
    #[error(
        "everything is kept, so there is nothing to place\n  Leave at least one hole or the open end free."
    )]
    NothingFree,
    /// A name that the file lacks.
    #[error("{option} {}: the file has no {kind} of that name\n  {to_do}", quoted(.name))]
    UnknownName {
        /// The option that it was given with.
        option: &'static str,
        /// Hole or fingering.
        kind: &'static str,
        /// As typed.
        name: String,
        /// The nearest name, or all of them.
        to_do: String,
    },
    /// More wishes of one kind than any layout has.
    #[error("{option} is given {given} times; at most {most} are read\n  Keep those that matter.")]
    TooMany {
        /// The option.
        option: &'static str,
        /// How often it was given.
        given: usize,
        /// How often it can be.
        most: usize,
    },
    /// A number that can't be.
    #[error("{option} {}: {right}", quoted(.written))]
    BadNumber {
        /// The option that it was given with.
        option: &'static str,
        /// As typed.
        written: String,
        /// What is possible.
        right: &'static str,
    },
    /// A reach that the holes themselves don't fit into.
    #[error(
        "{from} and {to} can't lie within {} mm: with the holes between them they take {} mm at their smallest\n  Allow \
         more reach or smaller holes, or put a key on one of them.", plain(*.most_mm), plain(*.needed_mm)
    )]
    ImpossibleReach {
        /// One hole.
        from: String,
        /// The other.
        to: String,
        /// What was allowed, mm.
        most_mm: f64,
        /// What the holes take, mm.
        needed_mm: f64,
    },
    /// A reach between two holes that stay farther apart.
    #[error(
        "{from} and {to} are both kept, and lie {} mm apart: they can't come within {} mm\n  Allow that much reach, leave \
         one of them free, or put a key on it.", plain(*.apart_mm), plain(*.most_mm)
    )]
    KeptApart {
        /// One hole.
        from: String,
        /// The other.
        to: String,
        /// What was allowed, mm.
        most_mm: f64,
        /// How far apart they are, mm.
        apart_mm: f64,
    },
    /// One hole named twice.
    #[error("--reach: {hole} is named twice\n  Name the two holes that one hand must reach.")]
    SameHole {
        /// The hole.
        hole: String,
    },
    /// No size between the limits.
    #[error("{hole}: it must be at least {} mm and at most {} mm ({why})\n  Change one of the two.",
        plain(*.smallest_mm), plain(*.widest_mm))]
    NoSize {
        /// The hole.
        hole: String,
        /// Lower limit, mm.
        smallest_mm: f64,
        /// Upper limit, mm.
        widest_mm: f64,
        /// Where the upper limit comes from.
        why: &'static str,
    },
    /// No drill between the limits.
    #[error(
        "{hole}: none of your drills lies between {} and {} mm ({why})\n  Add drills to [workshop], choose other limits, or \
         keep the sizes with --keep-diameters.", plain(*.smallest_mm), plain(*.widest_mm)
    )]
    NoDrill {
        /// The hole.
        hole: String,
        /// Lower limit, mm.
        smallest_mm: f64,
        /// Upper limit, mm.
        widest_mm: f64,
        /// Where the upper limit comes from.
        why: &'static str,
    },
    /// More holes open, lower note wanted.
    #[error(
        "{higher} is to sound lower than {lower}, but opens the same holes and more ({more})\n  Opening a hole never \
         lowers a note. Check the two notes and their open holes."
    )]
    OutOfOrder {
        /// The fingering with more open holes.
        higher: String,
        /// The fingering with fewer.
        lower: String,
        /// The holes that only the first opens.
        more: String,
    },
    /// A note that no place of the hole gives.
    #[error(
        "{hole} can't be placed for {fingering}: {what}\n  Check the note, the length of the tube and the mouthpiece's \
         chamber."
    )]
    OutOfTube {
        /// The hole.
        hole: String,
        /// The fingering.
        fingering: String,
        /// What was found.
        what: &'static str,
    },
    /// A layout that can't be carried to the wanted size.
    #[error("{what}\n  {to_do}")]
    CannotCarry {
        /// What is wrong.
        what: String,
        /// What to do.
        to_do: &'static str,
    },
}
