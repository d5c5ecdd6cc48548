//! How strongly the player blows: a soft note sounds on its resonance, a usual one is drawn off it by the
//! higher resonances, and so are the marks that a cause leaves on it.
//!
//! Must not know instruments, causes or takes.

use crate::diagnosis::beliefs::expectation::SOFT_SHARE;

/// How an evening's notes were blown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Blowing {
    /// Hardly more than makes them speak.
    Soft,
    /// In the middle of the reed's quiet range.
    Usual,
}

impl Blowing {
    /// Share of what usual blowing does.
    #[must_use]
    pub fn usual(self) -> f64 {
        match self {
            Blowing::Soft => 0.0,
            Blowing::Usual => 1.0,
        }
    }

    /// Both, with what is believed of them beforehand.
    #[must_use]
    pub fn with_shares() -> [(Blowing, f64); 2] {
        [(Blowing::Soft, SOFT_SHARE), (Blowing::Usual, 1.0 - SOFT_SHARE)]
    }
}
