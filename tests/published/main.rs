//! Checks against what others published: each names its source beside the value, and says whether the
//! value was read in the source, read in a secondary source, or is from memory. Values that we computed
//! ourselves live in `tests/regression`.

mod air;
mod ends;
mod holes;
mod lattice;
mod line;
mod pitch;
