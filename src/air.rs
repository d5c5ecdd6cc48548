//! The air inside the instrument.
