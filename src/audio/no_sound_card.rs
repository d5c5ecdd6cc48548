//! Stands in for `sound_card.rs` where the program is built without it, and says what to do.

use super::capture::{Block, CaptureError, Input};

/// Refuses.
///
/// # Errors
/// Always [`CaptureError::NotBuiltIn`].
pub fn inputs() -> Result<Vec<Input>, CaptureError> {
    Err(CaptureError::NotBuiltIn)
}

/// A sound card that can't be opened.
pub enum SoundCard {}

impl SoundCard {
    /// Refuses.
    ///
    /// # Errors
    /// Always [`CaptureError::NotBuiltIn`].
    pub fn open(_wanted: Option<&str>) -> Result<SoundCard, CaptureError> {
        Err(CaptureError::NotBuiltIn)
    }

    /// Samples per second.
    #[must_use]
    pub fn rate_hz(&self) -> u32 {
        match *self {}
    }

    /// Begins to listen.
    ///
    /// # Errors
    /// None: there is no such card.
    pub fn listen(&self) -> Result<Listening, CaptureError> {
        match *self {}
    }
}

/// A card that can't be listened to.
pub enum Listening {}

impl Listening {
    /// Waits for sound.
    ///
    /// # Errors
    /// None: there is no such card.
    pub fn read(&mut self, _frames: usize) -> Result<Block, CaptureError> {
        match *self {}
    }
    /// Gives up a card.
    pub fn abandon(self) {
        match self {}
    }
}
