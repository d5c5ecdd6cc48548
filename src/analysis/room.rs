//! What a room sounds like while nothing is played: lines and noise that are not the note's.
//!
//! Must not know the note.

/// The sound of a room, measured from a take of its silence.
#[derive(Debug, Clone, PartialEq)]
pub struct RoomSound {}
