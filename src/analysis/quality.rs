//! Whether a take can be trusted, in the maker's words.
//!
//! Every limit says where it comes from; those that are ours alone say so. Must not know how the
//! figures were found.

use super::measurement::{Trouble, TroubleCode};

/// What is known of a take when it is judged.
#[derive(Debug, Clone, Default)]
pub struct Evidence {
    /// True when a note was found.
    pub voiced: bool,
    /// Largest sample of the file, full scale 1.
    pub peak: f64,
    /// Share of the steady part's samples on flat tops.
    pub flat_share: f64,
    /// Hum under the tone, dB.
    pub hum_db: Option<f64>,
    /// Its mains frequency, hertz.
    pub mains_hz: f64,
    /// Tone over background, dB.
    pub tone_over_noise_db: f64,
    /// How far the background after the note is below that before it, dB.
    pub background_drop_db: Option<f64>,
    /// Time in which the sound would die away by 60 dB after the note, seconds.
    pub decay_s: Option<f64>,
    /// Below this the recording has lost sound, hertz.
    pub low_corner_hz: Option<f64>,
    /// The note, hertz.
    pub hz: f64,
    /// Length of the steady part, seconds.
    pub steady_s: f64,
    /// The note's own spread, cents.
    pub wander_cents: f64,
    /// Where the steady part begins and ends, seconds from the start of the file.
    pub used_s: (f64, f64),
    /// Another note in the take: its pitch in hertz, and where it begins in the file, seconds.
    pub other: Option<(f64, f64)>,
    /// An octave or twelfth over the note that is slurred to or from it and measured with it: its pitch in hertz,
    /// and where it begins in the file, seconds.
    pub slurred: Option<(f64, f64)>,
    /// The note sounds at the very beginning or end of the file.
    pub runs_off: bool,
    /// Damage that the decoder met.
    pub damage: Option<String>,
    /// A coding that throws sound away.
    pub lossy: Option<String>,
    /// Undertones are told though there was no silence to compare with.
    pub room_unknown: bool,
}

/// Flat tops in one sample of a thousand.
const CLIPPED_SHARE: f64 = 0.001;
/// 40 dB under full scale: half the range of a 16-bit file is unused (our choice).
const QUIET_PEAK: f64 = 0.01;
/// Hum within 30 dB of the tone is as strong as the undertones that are looked for (our choice).
const HUM_DB: f64 = -30.0;
/// Background within 20 dB of the tone.
const NOISE_DB: f64 = 20.0;
/// Automatic gain turns down while a note sounds: what is 6 dB quieter after it than before was
/// turned down by half (our choice).
const PUMPING_DB: f64 = 6.0;
/// A furnished room dies away in half a second (common practice, no source); a
/// second blurs one note into the next.
const REVERB_S: f64 = 1.0;
/// The steady part should last for half a second and twelve periods, or single breaths count.
const SHORT_S: f64 = 0.5;
const SHORT_PERIODS: f64 = 12.0;
/// A practised player holds a note within 1 to 4 cents; twice that is no steady note.
const UNSTEADY_CENTS: f64 = 8.0;

/// All troubles, worst first.
#[must_use]
pub fn troubles(e: &Evidence) -> Vec<Trouble> {
    let mut found = Vec::new();
    let mut say = |code, text: String| found.push(Trouble { code, text });
    if !e.voiced {
        say(TroubleCode::Silent, "no note is heard. Check the microphone and record it again".into());
    }
    if let Some(damage) = &e.damage {
        say(
            TroubleCode::CutOff,
            format!("{damage}. What is there was measured; record it again if it matters"),
        );
    }
    if e.peak < QUIET_PEAK {
        let under = -20.0 * e.peak.max(1e-6).log10();
        say(
            TroubleCode::TooQuiet,
            format!("the loudest sample is {under:.0} dB under full scale. Turn the input up or go nearer"),
        );
    }
    if !e.voiced {
        if e.hum_db.is_some() {
            say(TroubleCode::Hum, format!("there is only {:.0} Hz mains hum. {HUM_REMEDY}", e.mains_hz));
        }
        return found;
    }
    if e.flat_share >= CLIPPED_SHARE {
        let percent = 100.0 * e.flat_share;
        say(
            TroubleCode::Clipped,
            format!(
                "{percent:.1} % of the note is cut off flat. Turn the input down until the loudest note peaks 6 to 12 dB under full scale"
            ),
        );
    }
    if let Some((other_hz, at_s)) = e.other {
        let (from_s, to_s) = e.used_s;
        say(
            TroubleCode::SeveralNotes,
            format!(
                "more than one note sounds here. Used is {:.1} Hz from {from_s:.1} to {to_s:.1} s, because most sound is in it; another, about {other_hz:.1} Hz, begins at {at_s:.1} s. Save one note a file; to measure the other one, give its part with --from and --to; a recording of many fingerings goes to check --one-take",
                e.hz
            ),
        );
    } else if let Some((other_hz, at_s)) = e.slurred {
        say(
            TroubleCode::SeveralNotes,
            format!(
                "more than one note sounds here: {:.1} Hz and, from {at_s:.1} s on, about {other_hz:.1} Hz, slurred, and measured as one. Save one note a file; to measure one of them, give its part with --from and --to; a recording of many fingerings goes to check --one-take",
                e.hz
            ),
        );
    }
    if e.tone_over_noise_db < NOISE_DB {
        let db = e.tone_over_noise_db.max(0.0);
        say(
            TroubleCode::Noise,
            format!(
                "the background is only {db:.0} dB under the note. Stop fans, shut the window, go nearer"
            ),
        );
    }
    if let Some(db) = e.hum_db.filter(|db| *db > HUM_DB) {
        let under = -db;
        say(
            TroubleCode::Hum,
            format!("{:.0} Hz mains hum lies {under:.0} dB under the note. {HUM_REMEDY}", e.mains_hz),
        );
    }
    if e.background_drop_db.is_some_and(|db| db > PUMPING_DB) {
        say(
            TroubleCode::Pumping,
            "the recorder changes its gain by itself. Switch automatic gain and noise suppression off".into(),
        );
    }
    if e.steady_s < SHORT_S || e.steady_s * e.hz < SHORT_PERIODS {
        say(
            TroubleCode::TooShort,
            format!("only {:.2} s are steady. Hold the note for 5 to 8 seconds", e.steady_s),
        );
    }
    if e.wander_cents > UNSTEADY_CENTS {
        say(
            TroubleCode::Unsteady,
            format!(
                "the pitch wanders by {:.0} cents. Play a straight tone, without vibrato, as it wants to sit",
                e.wander_cents
            ),
        );
    }
    if e.runs_off && e.damage.is_none() {
        say(
            TroubleCode::CutOff,
            "the note is still sounding where the recording begins or ends. Leave a second of silence on both sides".into(),
        );
    }
    if let Some(s) = e.decay_s.filter(|s| *s > REVERB_S) {
        say(
            TroubleCode::Reverb,
            format!("the sound takes {s:.1} s to die away. Hang up blankets or go nearer"),
        );
    }
    if let Some(corner) = e.low_corner_hz.filter(|corner| *corner > e.hz) {
        say(
            TroubleCode::LowCut,
            format!(
                "sound below about {corner:.0} Hz is cut off, and the note's own partials with it. The pitch is right; undertones and the level of low partials are not. Use a microphone or setting without low cut"
            ),
        );
    }
    if let Some(codec) = &e.lossy {
        say(
            TroubleCode::Lossy,
            format!(
                "the file's coding ({codec}) throws sound away. Pitch is right; weak undertones may be missing. Record as WAV or FLAC"
            ),
        );
    }
    if e.room_unknown {
        say(
            TroubleCode::RoomUnknown,
            "there is no silence in the take to tell the room's own tones from undertones. Leave a second of silence before the note, or give a take of the room with --room".into(),
        );
    }
    found
}

const HUM_REMEDY: &str = "Move away from transformers and chargers, or run from the battery";
