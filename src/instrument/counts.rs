//! How many of each thing an instrument can have: the one place where these limits stand.
//!
//! The largest low reeds have about 30 holes, 70 fingerings, 100 places that may leak, and a bore measured at 100
//! points (common practice, no source). The limits leave room above that, and below them every command comes to its
//! end: what a check computes grows with the product of the first three and with the length of the list of pieces
//! that holes and bore points cut the tube into. `docs/instrument-file.md` tells them to the maker.

/// A list of the file with the number of entries that it may have.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Counted {
    /// Its key in the file, as in `[[hole]]`.
    pub key: &'static str,
    /// The most entries.
    pub most: usize,
    /// What to do when there are more.
    pub(crate) to_do: &'static str,
}

/// Tone holes and vents.
pub const HOLES: Counted = Counted {
    key: "hole",
    most: 40,
    to_do: "Keep the holes that a fingering opens, and put # before the lines of others.",
};
/// Fingerings.
pub const FINGERINGS: Counted = Counted {
    key: "fingering",
    most: 80,
    to_do: "Keep the fingerings that you play, and put the rest into a second file for the same body.",
};
/// Posts, joints and other places that may leak.
pub const LEAK_SITES: Counted = Counted {
    key: "leak_site",
    most: 120,
    to_do: "Give places that lie within 10 mm of each other one name, and leave out those that can't leak.",
};
/// Points of the bore.
pub const BORE_POINTS: Counted = Counted {
    key: "bore",
    most: 120,
    to_do: "Leave out points that lie on a straight line between their neighbours.",
};
/// Bends of a folded tube.
pub const BENDS: Counted = Counted {
    key: "bend",
    most: 40,
    to_do: "Write bends that follow each other without a straight piece as one.",
};

/// Keys in the box, those that are alike counted one by one.
pub const KEYS: Counted = Counted {
    key: "key",
    most: 40,
    to_do: "Keep the keys that may serve this body; it has no more holes than that.",
};

/// All of them.
pub const COUNTED: [Counted; 6] = [HOLES, FINGERINGS, LEAK_SITES, BORE_POINTS, BENDS, KEYS];

/// Drills that one workshop has, and pads that are at hand.
pub const MOST_SIZES: usize = 200;

/// Wishes of one kind that can be given when holes are placed: reaches, sizes, weights.
pub const MOST_WISHES: usize = 100;
