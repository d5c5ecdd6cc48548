//! Which partials of a note are followed.
//!
//! Must not know how they are followed.

use super::peaks::Peaks;
use super::spectrum::MeanSpectrum;
use super::track::Voice;

/// Partials followed: so many at most.
const MOST_VOICES: usize = 64;
/// Among them the loudest, whatever they say.
const LOUDEST_VOICES: usize = 12;
/// Highest number and frequency: beyond, a hundredth of a cent is not worth the time.
const HIGHEST_VOICE: usize = 180;
const LOW_NOTE_TOP_HZ: f64 = 2200.0;

/// The partials to follow: those that say most about the pitch (largest `n² a²` over the noise),
/// and the loudest, that levels are told against.
pub fn choose(peaks: &Peaks, spectrum: &MeanSpectrum, hz: f64) -> Vec<Voice> {
    let top_hz = (spectrum.top_hz() * 0.8).min(LOW_NOTE_TOP_HZ.max(40.0 * hz));
    let count = ((top_hz / hz) as usize).clamp(1, HIGHEST_VOICE);
    let mut heard: Vec<(f64, Voice)> = (1..=count)
        .filter_map(|n| {
            let tooth_hz = n as f64 * hz;
            let tolerance_hz = (0.2 * hz).min(spectrum.resolution_hz.max(0.01 * tooth_hz));
            let peak = peaks.near(tooth_hz, tolerance_hz)?;
            let noise = peaks.background_at(tooth_hz) / spectrum.resolution_hz;
            Some((peak.power, Voice { n, noise }))
        })
        .collect();
    heard.sort_by(|a, b| b.0.total_cmp(&a.0));
    let rest = heard.split_off(heard.len().min(LOUDEST_VOICES));
    let mut voices: Vec<Voice> = heard.into_iter().map(|(_, voice)| voice).collect();
    let says = |(power, v): &(f64, Voice)| (v.n * v.n) as f64 * power / v.noise;
    let mut rest = rest;
    rest.sort_by(|a, b| says(b).total_cmp(&says(a)));
    voices.extend(rest.into_iter().map(|(_, voice)| voice).take(MOST_VOICES - LOUDEST_VOICES));
    voices.sort_by_key(|v| v.n);
    voices
}
