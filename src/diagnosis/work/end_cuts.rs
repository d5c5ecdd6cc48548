//! What can be done to the open end, for the lowest note.
//!
//! Must not know the order of work, causes, files or the terminal.

use crate::diagnosis::beliefs::CUT_MINUTES;
use crate::diagnosis::beliefs::work::{CUT_PRICE_MINUTES, FARTHEST_SHARE, SPARE_SHARE, STAY_FLAT_CENTS};
use crate::diagnosis::words::trimmed;
use crate::diagnosis::work::cuts::{Cut, CutKind, Plan, round_to};
use crate::instrument::alter::trim_end;
use crate::instrument::model::Instrument;
use crate::instrument::stand_in::collar_on_end;

impl Plan {
    /// The open end, for the lowest note.
    pub(in crate::diagnosis) fn end_cut(&mut self, fingering: usize, off: f64) -> Option<Cut> {
        let shorter = |mm: f64| move |changed: &mut Instrument| trim_end(changed, mm);
        let last_hole_mm =
            self.instrument.holes.iter().map(|hole| hole.at_mm + hole.diameter_mm).fold(0.0, f64::max);
        let spare_mm = (self.instrument.length_mm() - last_hole_mm).max(0.0);
        let note = self.instrument.fingerings[fingering].name.clone();
        let flat = off < 0.0;
        let wanted = if flat { -off - STAY_FLAT_CENTS } else { off };
        let far = if flat { SPARE_SHARE * spare_mm } else { -FARTHEST_SHARE * self.instrument.length_mm() };
        let own_mm = Self::solve(0.0, far, wanted, |mm| self.gain(fingering, shorter(mm)));
        let price_minutes = if flat { CUT_PRICE_MINUTES } else { CUT_MINUTES };
        let full_mm = round_to(self.serving(0.0, own_mm, price_minutes, shorter)?, 0.5);
        if full_mm == 0.0 {
            return None;
        }
        let gain = self.gain(fingering, shorter(full_mm))?;
        let first_gain = if flat { self.first_gain(fingering, off, gain) } else { gain };
        let safe_mm = Self::solve(0.0, full_mm, first_gain, |mm| self.gain(fingering, shorter(mm)));
        let first_mm = match round_to(safe_mm, 0.5) {
            0.0 => full_mm,
            mm => mm,
        };
        let collar_cents = self.gain(fingering, shorter(-first_mm));
        let told = self.told_off(off);
        let full = format!("end.trim={}", trimmed(full_mm));
        let effects = self.carry_out(&full);
        let text = if flat {
            let first = if first_mm < full_mm {
                format!("; {first_mm:.1} mm first, then play")
            } else {
                String::new()
            };
            format!(
                "{note}, the lowest note, is {told}. Take {full_mm:.1} mm off the open end ({gain:+.0} cents){first}."
            )
        } else {
            format!(
                "{note}, the lowest note, is {told}. Lengthen the open end by {:.1} mm with a ring of the same bore \
                 ({gain:+.0} cents).",
                -full_mm
            )
        };
        Some(Cut {
            place: None,
            kind: CutKind::TrimEnd,
            fingering,
            change: format!("end.trim={}", trimmed(first_mm)),
            full,
            tool: if flat { "fine saw and file, square" } else { "ring or collar" }.to_string(),
            undo: !flat,
            stand_in: collar_cents.filter(|_| flat).map(|cents| {
                format!("{} The cut does the opposite.", collar_on_end(&trimmed(first_mm), &note, cents))
            }),
            effects,
            text,
        })
    }
}
