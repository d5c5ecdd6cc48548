//! The recordings of the sample instrument "Bittern", simulated: what was played at each bench step, and
//! how it sounded in the room.
//!
//! Computed: the pitch of every note and how high its resonance stands, by the library's own air column
//! from the true geometry. That is the step's `instrument.toml` with the fault added that its maker does
//! not know of.
//!
//! Invented, to sound plausible and no more: the player's scatter and offset, the reed's spectrum, levels,
//! attack, drift, breath, the room, the microphone, and how strong an undertone is. So these recordings show
//! how the program works. They say nothing about how exact it is: never quote accuracy from them.
//!
//! Everything follows from fixed seeds: the same program makes the same bytes.

use std::f64::consts::TAU;

use borescribe::acoustics::column::Column;
use borescribe::acoustics::resonance::{Resonance, resonances};
use borescribe::instrument::column::{Leak, LeakPlace, column, highest_hz};
use borescribe::instrument::model::Instrument;
use borescribe::units::shift_by_cents;

/// Samples per second: enough for partials up to 10 kHz, and small files.
pub const RATE_HZ: u32 = 24_000;

/// Silence before and after the note, and the note with attack and release, seconds.
const SILENCE_S: f64 = 0.35;
const NOTE_S: f64 = 2.0;

/// One player's scatter from take to take, cents (common practice: 2 to 5; no source).
const PLAYER_SD_CENTS: f64 = 2.2;
/// Slow wandering within a note, cents either way.
const DRIFT_CENTS: f64 = 0.8;
/// A note starts this far under its pitch …
const ATTACK_BEND_CENTS: f64 = 6.0;
/// … and settles with this time constant, seconds.
const ATTACK_BEND_S: f64 = 0.04;

/// Level of a note that speaks well, RMS relative to full scale.
const NOTE_RMS: f64 = 0.1;
/// The room, 48 dB below it, and the breath, 44 dB below.
const ROOM_RMS: f64 = 0.0004;
const BREATH_RMS: f64 = 0.00063;
/// Low passes at these corners, each half as strong as the one before, add up to noise that rises by 3 dB an
/// octave downwards, hertz.
const ROOM_CORNERS_HZ: [f64; 5] = [16.0, 64.0, 256.0, 1024.0, 4096.0];
/// The microphone falls below this frequency, 12 dB an octave, hertz.
const MICROPHONE_LOW_HZ: f64 = 50.0;

/// The reed's flow falls as 1/n, and twice as steeply again above this frequency, hertz.
const REED_DARK_HZ: f64 = 900.0;
/// Between its resonances the column still takes this much of ρc/S from the reed.
const BETWEEN_RESONANCES: f64 = 1.0;
/// Highest partial, hertz.
const HIGHEST_PARTIAL_HZ: f64 = 9_000.0;

/// Where the first register sounds along under the second, level of the line at a third of the note
/// against the strongest partial, dB. It gets less as the vent comes nearer to where the note wants it.
const UNDERTONES_DB: [(&str, f64); 3] = [("G3", -18.0), ("A3", -22.0), ("B3", -26.0)];
/// The line at two thirds is weaker by, dB.
const TWO_THIRDS_DB: f64 = -9.0;

/// A bench step: its folder, and what its maker does not know.
pub struct Step {
    /// Folder below `samples/bittern/P2`.
    pub folder: &'static str,
    /// Player, reed and the day's air together, cents.
    common_cents: f64,
    /// Sites that leak: name and diameter in mm.
    leak: Option<(&'static str, f64)>,
    /// A hole that is not as the file says: name and true diameter in mm.
    hole: Option<(&'static str, f64)>,
}

/// The steps, in their order.
pub const STEPS: [Step; 3] = [
    Step { folder: "01-drilled", common_cents: 2.0, leak: None, hole: None },
    Step { folder: "02-trimmed-opened", common_cents: 3.0, leak: Some(("p3", 0.6)), hole: None },
    Step { folder: "03-p3-sealed", common_cents: 1.0, leak: None, hole: Some(("h5", 16.0)) },
];

/// The recording of fingering number `fingering` of the step's instrument file, full scale ±1.
///
/// # Panics
/// When the file lacks the hole or site that the step's fault needs, or the note has no resonance.
pub fn take(step: &Step, file: &Instrument, fingering: usize) -> Vec<f64> {
    let name = file.fingerings[fingering].name.as_str();
    let mut dice = Dice::new(&format!("Bittern P2 {} {name}", step.folder));
    let note = Note::of(step, file, fingering, &mut dice);
    let mut samples = note.tone(name, &mut dice);
    add_breath(&mut samples, &note, &mut dice);
    add_room(&mut samples, &mut dice);
    samples
}

/// The instrument as it really is, and what leaks.
fn truth(step: &Step, file: &Instrument) -> (Instrument, Vec<Leak>) {
    let mut instrument = file.clone();
    if let Some((name, diameter_mm)) = step.hole {
        let hole = instrument.holes.iter_mut().find(|hole| hole.name == name);
        hole.expect("the hole is in the file").diameter_mm = diameter_mm;
    }
    let leak = step.leak.map(|(name, diameter_mm)| {
        let site = file.leak_sites.iter().position(|site| site.name == name);
        Leak { place: LeakPlace::Site(site.expect("the site is in the file")), diameter_mm }
    });
    (instrument, leak.into_iter().collect())
}

/// A note before it is played.
struct Note {
    /// Steady pitch, hertz.
    hz: f64,
    /// The air column that it sounds in.
    column: Column,
    /// How much of its resonance's height is left by leaks, 0 to 1.
    strength: f64,
    /// Attack and release, seconds.
    attack_s: f64,
    release_s: f64,
    /// Phases of the two slow waves of its drift, radians.
    drift_phases: [f64; 2],
}

impl Note {
    fn of(step: &Step, file: &Instrument, fingering: usize, dice: &mut Dice) -> Note {
        let (instrument, leaks) = truth(step, file);
        let (open, register) = (&file.fingerings[fingering].open, file.fingerings[fingering].register);
        let resonance =
            |column: &Column| -> Resonance { resonances(column, register, highest_hz(column))[register - 1] };
        let column = column(&instrument, open, &leaks);
        let tight = resonance(&self::column(&instrument, open, &[]));
        let true_resonance = resonance(&column);
        let cents = step.common_cents + PLAYER_SD_CENTS * dice.normal();
        Note {
            hz: shift_by_cents(true_resonance.hz, cents),
            column,
            strength: (true_resonance.magnitude / tight.magnitude).min(1.0),
            attack_s: 0.06 + 0.06 * dice.even(),
            release_s: 0.08 + 0.04 * dice.even(),
            drift_phases: [TAU * dice.even(), TAU * dice.even()],
        }
    }

    /// Levels of the partials as the microphone hears them, relative to the strongest.
    ///
    /// The flow of the reed meets the column's impedance; what leaves an open end reaches the air with a
    /// rise of 6 dB an octave.
    fn partials(&self) -> Vec<f64> {
        let count = (HIGHEST_PARTIAL_HZ / self.hz) as usize;
        let mut levels: Vec<f64> = (1..=count)
            .map(|n| {
                let hz = n as f64 * self.hz;
                let impedance = self.column.input_impedance(hz).norm() / self.column.top_impedance();
                let reed = 1.0 / (n as f64 * (1.0 + (hz / REED_DARK_HZ).powi(2)));
                let radiated = n as f64;
                (impedance + BETWEEN_RESONANCES) * reed * radiated * microphone(hz)
            })
            .collect();
        let strongest = levels.iter().copied().fold(f64::MIN_POSITIVE, f64::max);
        levels.iter_mut().for_each(|level| *level /= strongest);
        levels
    }

    /// The tone with its undertones in silence.
    fn tone(&self, name: &str, dice: &mut Dice) -> Vec<f64> {
        // Thirds of the note: (number of the third, level, phase).
        let mut lines: Vec<(usize, f64, f64)> = self
            .partials()
            .into_iter()
            .enumerate()
            .map(|(i, level)| (3 * (i + 1), level, TAU * dice.even()))
            .collect();
        if let Some((_, db)) = UNDERTONES_DB.iter().find(|(note, _)| *note == name) {
            lines.push((1, from_db(*db), TAU * dice.even()));
            lines.push((2, from_db(db + TWO_THIRDS_DB), TAU * dice.even()));
        }
        let power: f64 = lines.iter().map(|(_, level, _)| 0.5 * level * level).sum();
        let level_db = 1.0 * dice.normal();
        let scale = NOTE_RMS * self.strength * from_db(level_db) / power.sqrt();
        let rate_hz = f64::from(RATE_HZ);
        let mut cycles = 0.0;
        (0..((NOTE_S + 2.0 * SILENCE_S) * rate_hz) as usize)
            .map(|i| {
                let at_s = i as f64 / rate_hz - SILENCE_S;
                cycles += shift_by_cents(self.hz, self.bend_cents(at_s)) / rate_hz;
                let gain = scale * self.envelope(at_s);
                if gain == 0.0 {
                    return 0.0;
                }
                // The undertone is locked: all lines turn with one third of the note.
                let third = TAU * cycles / 3.0;
                let sum: f64 =
                    lines.iter().map(|(n, level, phase)| level * (*n as f64 * third + phase).sin()).sum();
                gain * sum
            })
            .collect()
    }

    /// Cents that the note is off its steady pitch.
    fn bend_cents(&self, at_s: f64) -> f64 {
        let [slow, slower] = self.drift_phases;
        let drift = DRIFT_CENTS * (0.6 * (TAU * 1.5 * at_s + slow).sin() + 0.4 * (TAU * at_s + slower).sin());
        drift - ATTACK_BEND_CENTS * (-at_s.max(0.0) / ATTACK_BEND_S).exp()
    }

    /// Loudness through time, 0 to 1.
    fn envelope(&self, at_s: f64) -> f64 {
        let ramp = |share: f64| 0.5 - 0.5 * (0.5 * TAU * share.clamp(0.0, 1.0)).cos();
        ramp(at_s / self.attack_s) * ramp((NOTE_S - at_s) / self.release_s)
    }
}

/// Breath, with the note and louder the more leaks away.
fn add_breath(samples: &mut [f64], note: &Note, dice: &mut Dice) {
    let rate_hz = f64::from(RATE_HZ);
    let rms = BREATH_RMS / note.strength;
    let mut low = OnePole::new(300.0);
    let mut high = OnePole::new(3000.0);
    for (i, sample) in samples.iter_mut().enumerate() {
        let white = dice.normal();
        let band = high.next(white) - low.next(white);
        // The band from 300 to 3000 Hz holds this share of white noise's amplitude.
        *sample += rms * note.envelope(i as f64 / rate_hz - SILENCE_S) * band / 0.52;
    }
}

/// The room's noise, from before the note to the end: 3 dB more an octave downwards, heard by the microphone.
fn add_room(samples: &mut [f64], dice: &mut Dice) {
    let mut slopes = ROOM_CORNERS_HZ.map(|hz| ((ROOM_CORNERS_HZ[0] / hz).sqrt(), OnePole::new(hz)));
    let mut microphone = LowCut::new(MICROPHONE_LOW_HZ);
    let noise: Vec<f64> = samples
        .iter()
        .map(|_| {
            let white = dice.normal();
            microphone.next(slopes.iter_mut().map(|(level, pole)| *level * pole.next(white)).sum())
        })
        .collect();
    let rms = (noise.iter().map(|value| value * value).sum::<f64>() / noise.len() as f64).sqrt();
    for (sample, value) in samples.iter_mut().zip(noise) {
        *sample += ROOM_RMS / rms * value;
    }
}

/// A microphone's low end: second-order Butterworth high pass (textbook form, from memory).
fn microphone(hz: f64) -> f64 {
    let square = (hz / MICROPHONE_LOW_HZ).powi(2);
    square / (1.0 + square * square).sqrt()
}

fn from_db(db: f64) -> f64 {
    10_f64.powf(db / 20.0)
}

/// A first-order low pass.
struct OnePole {
    share: f64,
    value: f64,
}

impl OnePole {
    fn new(corner_hz: f64) -> OnePole {
        OnePole { share: 1.0 - (-TAU * corner_hz / f64::from(RATE_HZ)).exp(), value: 0.0 }
    }

    fn next(&mut self, input: f64) -> f64 {
        self.value += self.share * (input - self.value);
        self.value
    }
}

/// What [`microphone`] does, sample by sample: the same filter by the bilinear transform (textbook form, from
/// memory).
struct LowCut {
    gain: f64,
    back: [f64; 2],
    inputs: [f64; 2],
    outputs: [f64; 2],
}

impl LowCut {
    fn new(corner_hz: f64) -> LowCut {
        let k = (0.5 * TAU * corner_hz / f64::from(RATE_HZ)).tan();
        let norm = 1.0 + std::f64::consts::SQRT_2 * k + k * k;
        let back = [2.0 * (k * k - 1.0) / norm, (1.0 - std::f64::consts::SQRT_2 * k + k * k) / norm];
        LowCut { gain: 1.0 / norm, back, inputs: [0.0; 2], outputs: [0.0; 2] }
    }

    fn next(&mut self, input: f64) -> f64 {
        let [last, before] = self.inputs;
        let output = self.gain * (input - 2.0 * last + before)
            - self.back[0] * self.outputs[0]
            - self.back[1] * self.outputs[1];
        self.inputs = [input, last];
        self.outputs = [output, self.outputs[0]];
        output
    }
}

/// Random numbers that are the same on every machine: splitmix64 (S. Vigna, public domain; from memory),
/// seeded by a text through FNV-1a (from memory).
struct Dice {
    state: u64,
}

impl Dice {
    fn new(seed: &str) -> Dice {
        let state = seed.bytes().fold(0xcbf2_9ce4_8422_2325, |hash: u64, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
        });
        Dice { state }
    }

    /// Evenly from 0 up to, but not including, 1.
    fn even(&mut self) -> f64 {
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^= z >> 31;
        (z >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Normal with mean 0 and standard deviation 1 (Box and Muller, Ann. Math. Stat. 29 (1958) 610).
    fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.even()).ln()).sqrt();
        radius * (TAU * self.even()).cos()
    }
}
