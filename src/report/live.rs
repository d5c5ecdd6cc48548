//! The line that is shown while a note sounds: words and numbers. Computes nothing but cents.

use crate::analysis::measurement::Undertone;
use crate::units::{Note, cents_between};

/// What is known of the note that sounds now.
#[derive(Debug, Clone, PartialEq)]
pub struct Sounding<'a> {
    /// Its pitch, hertz.
    pub hz: f64,
    /// The fingering that is nearest: name, target and predicted pitch, hertz.
    pub fingering: Option<(&'a str, f64, Option<f64>)>,
    /// The strongest undertone.
    pub undertone: Option<&'a Undertone>,
}

/// `G2 · 12 sharp of target · 3 sharp of prediction · undertone 1/3`
#[must_use]
pub fn line(now: &Sounding<'_>, a4_hz: f64) -> String {
    let mut parts = match now.fingering {
        Some((name, target_hz, predicted_hz)) => {
            let off = |hz: f64, what: &str| format!("{} {what}", apart(cents_between(now.hz, hz)));
            let mut parts = vec![name.to_string(), off(target_hz, "target")];
            parts.extend(predicted_hz.map(|hz| off(hz, "prediction")));
            parts
        }
        None => {
            let (note, cents) = Note::nearest(now.hz, a4_hz);
            // A tenth of a hertz is 10 cents at 16 Hz.
            let digits = if now.hz < 100.0 { 2 } else { 1 };
            vec![format!("{:.digits$} Hz, no fingering of yours", now.hz), format!("{} {note}", apart(cents))]
        }
    };
    parts.extend(now.undertone.map(|undertone| match undertone.ratio {
        Some((over, under)) => format!("undertone {over}/{under}"),
        None => format!("undertone {:.1} Hz", undertone.hz),
    }));
    parts.join(" · ")
}

/// `12 sharp of`, `3 flat of`, `on`: whole cents.
fn apart(cents: f64) -> String {
    match cents.round() as i64 {
        0 => "on".to_string(),
        sharp @ 1.. => format!("{sharp} sharp of"),
        flat => format!("{} flat of", -flat),
    }
}

/// `-18 dB`, with a word where the level is no good. `peak` is the largest sample, full scale 1.
#[must_use]
pub fn level(level_dbfs: f64, peak: f64) -> String {
    let word = match peak {
        peak if peak >= 0.999 => ", clipping: turn the input down",
        // The loudest note should peak 6 to 12 dB under full scale (common practice).
        peak if peak > 0.71 => ", nearly too loud",
        peak if peak < 0.03 => ", very quiet: turn the input up or go nearer",
        _ => "",
    };
    format!("{level_dbfs:.0} dB{word}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::measurement::UndertoneKind;
    use crate::units::shift_by_cents;

    #[test]
    fn a_note_is_told_in_words_and_numbers() {
        let undertone = Undertone {
            hz: 33.0,
            ratio: Some((1, 3)),
            db: -20.0,
            kind: UndertoneKind::Locked,
            follows: None,
            family: None,
            mixed_with_hz: None,
        };
        let hz = shift_by_cents(98.0, 12.0);
        let fingering = Some(("G2", 98.0, Some(shift_by_cents(hz, -3.0))));
        let now = Sounding { hz, fingering, undertone: Some(&undertone) };
        assert_eq!(line(&now, 440.0), "G2 · 12 sharp of target · 3 sharp of prediction · undertone 1/3");
        let now = Sounding { hz: 98.0, fingering: Some(("G2", 98.01, None)), undertone: None };
        assert_eq!(line(&now, 440.0), "G2 · on target");
        let now = Sounding { hz: 439.0, fingering: None, undertone: None };
        assert_eq!(line(&now, 440.0), "439.0 Hz, no fingering of yours · 4 flat of A4");
    }

    #[test]
    fn a_level_that_spoils_the_take_is_told_with_what_to_do() {
        assert_eq!(level(-18.2, 0.3), "-18 dB");
        assert!(level(-3.0, 1.0).contains("clipping"));
        assert!(level(-60.0, 0.005).contains("quiet"));
    }
}
