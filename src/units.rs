//! Notes, hertz and cents: the arithmetic of pitch.
//!
//! Frequencies are `f64` in names that end in `_hz`, intervals in names that end in `_cents`.
//! Must not know anything else of the program.

use std::fmt;
use std::str::FromStr;

/// A4 when the instrument file gives none. ISO 16:1975 (standard tuning frequency; from memory).
pub const STANDARD_A4_HZ: f64 = 440.0;

/// MIDI number of A4; C4 is 60.
const A4_MIDI: i32 = 69;

/// Interval from `reference_hz` up to `hz` in cents: `1200 log2(hz / reference_hz)`.
#[must_use]
pub fn cents_between(hz: f64, reference_hz: f64) -> f64 {
    1200.0 * (hz / reference_hz).log2()
}

/// The frequency `cents` above `hz`.
#[must_use]
pub fn shift_by_cents(hz: f64, cents: f64) -> f64 {
    hz * (cents / 1200.0).exp2()
}

/// A note of the twelve-tone scale in scientific pitch notation (C4 is middle C).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Note {
    /// Semitones above C-1 (the MIDI number); negative below it.
    pub midi: i32,
}

/// Text that is no note name.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{0}\" is no note name; write a letter, sharp or flat, and the octave, like D2, F#2 or Bb-1")]
pub struct NoteError(pub String);

impl Note {
    /// Equal-tempered frequency in hertz when A4 sounds at `a4_hz`: `a4 · 2^((m − 69)/12)`.
    ///
    /// Source: equal temperament on the tuning frequency of ISO 16:1975 (from memory).
    #[must_use]
    pub fn hz(self, a4_hz: f64) -> f64 {
        a4_hz * (f64::from(self.midi - A4_MIDI) / 12.0).exp2()
    }

    /// The note nearest to `hz` (which must be positive), and how many cents `hz` lies above it.
    #[must_use]
    pub fn nearest(hz: f64, a4_hz: f64) -> (Note, f64) {
        let semitones = 12.0 * (hz / a4_hz).log2();
        let midi = A4_MIDI + semitones.round() as i32;
        let note = Note { midi };
        (note, cents_between(hz, note.hz(a4_hz)))
    }
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        const NAMES: [&str; 12] = ["C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"];
        let class = self.midi.rem_euclid(12) as usize;
        write!(f, "{}{}", NAMES[class], self.midi.div_euclid(12) - 1)
    }
}

impl FromStr for Note {
    type Err = NoteError;

    /// Reads `D2`, `F#2`, `F♯2`, `Fs2`, `Bb-1`, `B♭-1` (letter in either case).
    fn from_str(text: &str) -> Result<Note, NoteError> {
        let refuse = || NoteError(text.to_string());
        let mut rest = text.trim().chars();
        let class = match rest.next().map(|c| c.to_ascii_uppercase()) {
            Some('C') => 0,
            Some('D') => 2,
            Some('E') => 4,
            Some('F') => 5,
            Some('G') => 7,
            Some('A') => 9,
            Some('B') => 11,
            _ => return Err(refuse()),
        };
        let after_letter = rest.as_str();
        let accidental = match rest.next() {
            Some('#' | '♯' | 's' | 'S') => 1,
            Some('b' | 'B' | '♭') => -1,
            _ => 0,
        };
        let octave_text = if accidental == 0 { after_letter } else { rest.as_str() };
        let octave_text = octave_text.replace('−', "-");
        let octave: i32 = octave_text.parse().map_err(|_| refuse())?;
        if !(-3..=12).contains(&octave) || octave_text.starts_with('+') {
            return Err(refuse());
        }
        Ok(Note { midi: (octave + 1) * 12 + class + accidental })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_note_name_reads_back_as_itself() {
        for midi in 0..120 {
            let note = Note { midi };
            assert_eq!(note.to_string().parse::<Note>(), Ok(note));
        }
    }

    #[test]
    fn sharps_and_flats_may_be_written_in_every_usual_way() {
        for (text, midi) in
            [("F#2", 42), ("f♯2", 42), ("Fs2", 42), ("Bb-1", 10), ("B♭−1", 10), ("bb2", 46), ("b2", 47)]
        {
            assert_eq!(text.parse::<Note>(), Ok(Note { midi }), "{text}");
        }
    }

    #[test]
    fn text_that_is_no_note_is_refused() {
        for text in ["", "H2", "D", "D2x", "D+2", "room", "♯2", "D99"] {
            assert!(text.parse::<Note>().is_err(), "{text}");
        }
    }

    #[test]
    fn nearest_note_tells_the_cents_above_it() {
        let (note, cents) = Note::nearest(shift_by_cents(73.4162, 12.0), STANDARD_A4_HZ);
        assert_eq!(note.to_string(), "D2");
        assert!((cents - 12.0).abs() < 0.01);
    }
}
