//! From a take to its [`Measurement`]: the order of work, and nothing else.
//!
//! Must not know the instrument: a measurement that knew what to expect would find it.

use super::band::Band;
use super::comb::{Candidate, Comb};
use super::hum::Hum;
use super::level::Level;
use super::measurement::{Measurement, Partial, Undertone};
use super::orders::Orders;
use super::peaks::Peaks;
use super::room::RoomSound;
use super::spectrum::MeanSpectrum;
use super::steady::{Steady, steady};
use super::track::{MeanPitch, Track, Voice};
use super::undertones::{Search, TOP_ORDER};
use crate::audio::take::Take;
use crate::units::cents_between;

/// What the user may say about a take before it is measured.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Settings {
    /// Pitch that is hoped for, hertz: decides between octaves, never moves the result.
    pub expect_hz: Option<f64>,
    /// Measure from here on, seconds from the start of the file.
    pub from_s: Option<f64>,
    /// Measure up to here, seconds from the start of the file.
    pub to_s: Option<f64>,
}

/// Partials up to here take part, hertz: above, low reeds have little but noise.
const NEEDED_HZ: f64 = 4400.0;
/// Length of the frames that candidates are looked for in, seconds: ten periods at 12 Hz.
const FRAME_S: f64 = 0.8;
/// An expected pitch may be this far off.
const EXPECTED_WITHIN_CENTS: f64 = 250.0;
/// Partials used for the pitch: so many at most, those that say most.
const MOST_VOICES: usize = 48;
/// Among them the loudest, whatever they say.
const LOUDEST_VOICES: usize = 12;
/// Their highest number and frequency: beyond, a hundredth of a cent is not worth the time.
const HIGHEST_VOICE: usize = 125;
const LOW_NOTE_TOP_HZ: f64 = 1600.0;

/// Measures one take.
#[must_use]
pub fn measure(take: &Take, settings: &Settings, room: Option<&RoomSound>) -> Measurement {
    let nothing = Measurement::default();
    let from_s = settings.from_s.unwrap_or(0.0).max(0.0);
    let to_s = settings.to_s.unwrap_or(f64::INFINITY).min(take.seconds());
    if to_s - from_s < 0.02 {
        return nothing;
    }
    let start = (from_s * take.rate_hz) as usize;
    let end = ((to_s * take.rate_hz) as usize).min(take.samples.len());
    let mut band = Band::of(take.samples.get(start..end).unwrap_or_default(), take.rate_hz, NEEDED_HZ);
    let hum = Hum::take_out(&mut band);
    let level = Level::of(&band);
    let Some((sounding_from, sounding_to)) = loudest_stretch(&level) else { return nothing };
    let (full_from, full_to) = level.full((sounding_from, sounding_to));
    let part = band.part(full_from, full_to);
    let spectrum = MeanSpectrum::of(part, band.rate_hz, FRAME_S);
    let peaks = Peaks::of(&spectrum, 8.0, band.top_hz());
    let comb = Comb::new(&peaks, spectrum.resolution_hz);
    let Some((candidate, expectation_decided)) = choose(&comb, settings.expect_hz) else { return nothing };
    let hz = candidate.hz;
    let voices = voices(&peaks, &spectrum, hz);
    let needed_hz = voices.iter().map(|v| v.n as f64 * hz).fold(0.0, f64::max) * 1.05 + 2.0 * hz;
    let slow = Band::of(&band.samples, band.rate_hz, needed_hz);
    let reach_s = 0.25;
    let followed =
        Track::follow(&slow, (sounding_from - reach_s).max(0.0), sounding_to + reach_s, hz, &voices);
    let Some(track) = followed else { return nothing };
    let Some(Steady { first, last, pitch }) = steady(&track) else { return nothing };
    let partials = partials(&track, first, last, pitch.hz);
    let own_room = room_of_take(&band, &level, (sounding_from, sounding_to));
    let undertones = undertones(&band, &track, first, &pitch, &hum, room.unwrap_or(&own_room));
    Measurement {
        partials,
        undertones,
        level_dbfs: Some(level_dbfs(take, from_s + track.at_s(first), from_s + track.at_s(last))),
        pitch_hz: Some(pitch.hz),
        sd_cents: Some(pitch.sd_cents),
        wander_cents: Some(pitch.wander_cents),
        confidence: candidate.clearness,
        steady_s: Some((from_s + track.at_s(first), from_s + track.at_s(last))),
        expectation_decided,
        ..nothing
    }
}

fn loudest_stretch(level: &Level) -> Option<(f64, f64)> {
    level.sounding().into_iter().max_by(|a, b| level.energy(a.0, a.1).total_cmp(&level.energy(b.0, b.1)))
}

/// Mean level of each partial over the steady part.
fn partials(track: &Track, first: usize, last: usize, hz: f64) -> Vec<Partial> {
    let mean = |powers: &[f64]| -> f64 {
        let part = powers.get(first..=last).unwrap_or_default();
        part.iter().sum::<f64>() / part.len().max(1) as f64
    };
    let powers: Vec<(usize, f64)> = track.powers.iter().map(|(n, p)| (*n, mean(p))).collect();
    let strongest = powers.iter().fold(f64::MIN_POSITIVE, |m, p| m.max(p.1));
    powers
        .into_iter()
        .map(|(n, power)| Partial { n, hz: n as f64 * hz, db: 10.0 * (power / strongest).log10() })
        .collect()
}

fn undertones(
    band: &Band,
    track: &Track,
    first: usize,
    pitch: &MeanPitch,
    hum: &Hum,
    room: &RoomSound,
) -> Vec<Undertone> {
    let slow = Band::of(&band.samples, band.rate_hz, (TOP_ORDER + 0.5) * pitch.hz);
    let Some(orders) = Orders::of(&slow, track, first, &pitch.cycles, TOP_ORDER + 0.5) else {
        return Vec::new();
    };
    let last = first + pitch.cycles.len() - 1;
    let mean_power = |p: &[f64]| p.get(first..=last).map_or(0.0, |p| p.iter().sum::<f64>() / p.len() as f64);
    let strongest = track.powers.iter().map(|(_, p)| mean_power(p)).fold(0.0, f64::max).sqrt();
    Search { orders: &orders, hz: pitch.hz, strongest, hum, room }.run()
}

/// The longer of the silences before and after the note.
fn room_of_take(band: &Band, level: &Level, sounding: (f64, f64)) -> RoomSound {
    let (before, after) = level.silences(sounding);
    let longer = if before.1 - before.0 >= after.1 - after.0 { before } else { after };
    RoomSound::of_silence(band.part(longer.0, longer.1), band.rate_hz)
}

/// Mean level between two times of the file, dB re a mean square of 1.
fn level_dbfs(take: &Take, from_s: f64, to_s: f64) -> f64 {
    let (from, to) = ((from_s * take.rate_hz) as usize, (to_s * take.rate_hz) as usize);
    let part = take.samples.get(from..to.min(take.samples.len())).unwrap_or_default();
    10.0 * (part.iter().map(|s| s * s).sum::<f64>() / part.len().max(1) as f64).max(1e-20).log10()
}

/// The note, and whether the expectation changed the choice.
fn choose(comb: &Comb, expect_hz: Option<f64>) -> Option<(Candidate, bool)> {
    let blind = comb.best()?;
    let Some(expect_hz) = expect_hz else { return Some((blind, false)) };
    if cents_between(blind.hz, expect_hz).abs() <= EXPECTED_WITHIN_CENTS {
        return Some((blind, false));
    }
    match comb.near(expect_hz, EXPECTED_WITHIN_CENTS) {
        Some(near) if near.worth > blind.worth / 4.0 => Some((near, true)),
        _ => Some((blind, false)),
    }
}

/// The partials to follow: those that say most about the pitch (largest `n² a²` over the noise),
/// and the loudest, that levels are told against.
fn voices(peaks: &Peaks, spectrum: &MeanSpectrum, hz: f64) -> Vec<Voice> {
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

#[cfg(test)]
mod debug {
    use super::*;
    #[test]
    fn show() {
        let Ok(path) = std::env::var("TAKE") else { return };
        let take = crate::audio::decode::read(std::path::Path::new(&path)).unwrap();
        let mut band = Band::of(&take.samples, take.rate_hz, NEEDED_HZ);
        println!("{:?}", Hum::take_out(&mut band));
        let level = Level::of(&band);
        println!("{:?}", level.sounding());
        let (a, b) = level.full(loudest_stretch(&level).unwrap());
        let spectrum = MeanSpectrum::of(band.part(a, b), band.rate_hz, FRAME_S);
        let peaks = Peaks::of(&spectrum, 8.0, band.top_hz());
        for p in peaks.peaks.iter().take(40) {
            println!("{:.2} {:.1} dB  over {:.1}", p.hz, 10.0 * p.power.log10(), 10.0 * p.over_background.log10());
        }
        println!("{} peaks", peaks.peaks.len());
        let comb = Comb::new(&peaks, spectrum.resolution_hz);
        println!("{:?}", comb.best());
        let c = comb.best().unwrap();
        let voices = voices(&peaks, &spectrum, c.hz);
        let slow = Band::of(&band.samples, band.rate_hz, voices.iter().map(|v| v.n as f64 * c.hz).fold(0.0, f64::max) * 1.05 + 2.0 * c.hz);
        let (f, t) = loudest_stretch(&level).unwrap();
        println!("voices {:?}", voices.iter().map(|v| v.n).collect::<Vec<_>>());
        if let Some(track) = Track::follow(&slow, f - 0.25, t + 0.25, c.hz, &voices) {
            let st = steady(&track).unwrap(); let (a, b) = (st.first, st.last);
            let m = track.mean_pitch(0, track.gain.len() - 1).unwrap();
            println!("steady {:?} hop {} base {}", (a, b), track.hop_s, track.base_hz);
            for i in 0..m.hz_track.len() { println!("TR {:.3} {:.2} cents {:.2} dB raw {:.2}", track.at_s(i), cents_between(m.hz_track[i], c.hz), 20.0 * track.gain[i].abs().log10(), cents_between(c.hz + (track.cycles[i + 1] - track.cycles[i]) / track.hop_s, c.hz)); }
            println!("{:?}", track.mean_pitch(a, b).map(|m| (m.hz, m.sd_cents, m.wander_cents)));
        }
        if let Ok(hz) = std::env::var("HZ") { let hz: f64 = hz.parse().unwrap();
            println!("{:?} {}", comb.near(hz, 30.0), comb.explained(hz)); comb.show(hz, 2); comb.show(hz, 3); }
    }
}
