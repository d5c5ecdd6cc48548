//! Checks against what others published: each names its source beside the value, and says whether the
//! value was read in the source, read in a secondary source, or is from memory. Values that we computed
//! ourselves live in `tests/regression`.
//!
//! What is known to be published and can't be checked here: how far a whole instrument by transfer matrices lies
//! from finite elements (at most 10 cents: A. Lefebvre, thesis, McGill 2010, abstract read), the compressed modes of
//! real clarinets (J. Backus 1974, abstract read), and the computed holes of a clarinet (C. J. Nederveen, Acustica
//! 14 (1964), summary read), because their geometry was not to be had; the fit for round flanges of da Silva et al. (2012),
//! whose coefficients were not to be had; radiation of one hole into the next (A. Lefebvre et al. 2013, abstract
//! read), which the program leaves out; blowing pressures and thresholds of reeds, which it does not compute.

mod air;
mod bends;
#[path = "../common/mod.rs"]
mod common;
mod ends;
mod holes;
mod lattice;
mod leaks;
mod line;
mod pitch;
mod placing;
mod tubes;
