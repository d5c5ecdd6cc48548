//! Stands in for `sound_card.rs` where the program is built without it, and says what to do.

use super::capture::{CaptureError, Recorded};

/// A sound card that can't be opened.
pub enum SoundCard {}

impl SoundCard {
    /// Refuses.
    ///
    /// # Errors
    /// Always [`CaptureError::NotBuiltIn`].
    pub fn open() -> Result<SoundCard, CaptureError> {
        Err(CaptureError::NotBuiltIn)
    }

    /// What is recorded from.
    #[must_use]
    pub fn describe(&self) -> String {
        match *self {}
    }

    /// Records `seconds` of sound.
    ///
    /// # Errors
    /// None: there is no such card.
    pub fn record(&self, _seconds: f64) -> Result<Recorded, CaptureError> {
        match *self {}
    }
}
