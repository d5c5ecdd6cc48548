//! What is said of a take as soon as it is recorded. Computes nothing.

use crate::analysis::measurement::Measurement;
use crate::report::layout::{paragraph, signed, visible};
use crate::units::cents_between;

/// Pitch beside target and prediction, then the troubles, a line each.
#[must_use]
pub fn text(file: &str, take: &Measurement, target_hz: f64, predicted_hz: Option<f64>) -> String {
    let file = visible(file);
    let mut out = match take.pitch_hz {
        Some(hz) => {
            let from_predicted = predicted_hz.map(|predicted_hz| cents_between(hz, predicted_hz));
            format!(
                "{file}: {hz:.2} Hz, {} cents from target, {} from predicted\n",
                signed(Some(cents_between(hz, target_hz))),
                signed(from_predicted)
            )
        }
        None => format!("{file}: no note found\n"),
    };
    for trouble in &take.troubles {
        out.push_str(&paragraph("  ! ", &trouble.text));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_take_is_told_in_one_line() {
        let take = Measurement { pitch_hz: Some(110.0), ..Measurement::default() };
        assert_eq!(
            text("A2.wav", &take, 110.0, Some(55.0)),
            "A2.wav: 110.00 Hz, +0.0 cents from target, +1200.0 from predicted\n"
        );
        assert_eq!(text("A2.wav", &Measurement::default(), 110.0, None), "A2.wav: no note found\n");
    }
}
