//! What a room sounds like while nothing is played: lines and noise that are not the note's.
//!
//! Must not know the note.

use super::band::Band;
use super::peaks::Peaks;
use super::spectrum::MeanSpectrum;
use crate::audio::take::Take;

/// Frames of the room's spectrum, seconds.
const FRAME_S: f64 = 2.0;
/// Shorter silences say nothing, seconds.
const LEAST_S: f64 = 0.15;
/// Frequencies looked at, hertz.
const NEEDED_HZ: f64 = 4400.0;

/// The sound of a room, measured from silence.
#[derive(Debug, Clone, Default)]
pub struct RoomSound {
    lines: Vec<(f64, f64)>,
    resolution_hz: f64,
}

impl RoomSound {
    /// From a take in which nothing is played.
    #[must_use]
    pub fn of(take: &Take) -> RoomSound {
        let band = Band::of(&take.samples, take.rate_hz, NEEDED_HZ);
        RoomSound::of_silence(&band.samples, band.rate_hz)
    }

    /// From the silence before or after a note.
    pub(super) fn of_silence(samples: &[f64], rate_hz: f64) -> RoomSound {
        if (samples.len() as f64) < LEAST_S * rate_hz {
            return RoomSound::default();
        }
        let spectrum = MeanSpectrum::of(samples, rate_hz, FRAME_S);
        let peaks = Peaks::of(&spectrum, 8.0, NEEDED_HZ);
        RoomSound {
            lines: peaks.peaks.iter().map(|p| (p.hz, p.power.sqrt())).collect(),
            resolution_hz: spectrum.resolution_hz,
        }
    }

    /// True when there was silence enough to measure.
    #[must_use]
    pub fn known(&self) -> bool {
        self.resolution_hz > 0.0
    }

    /// True when a line of at least half this amplitude stands in the room as well.
    #[must_use]
    pub fn holds(&self, hz: f64, resolution_hz: f64, amplitude: f64) -> bool {
        let within = resolution_hz.max(0.5 * self.resolution_hz);
        self.lines.iter().any(|(line, a)| (line - hz).abs() <= within && *a >= 0.5 * amplitude)
    }
}
