//! What can be done to the two ends of the tube: the open end for the lowest note, the top for all notes.
//!
//! Must not know the order of work, causes, files or the terminal.

use crate::diagnosis::words::{sharp_or_flat, trimmed};
use crate::diagnosis::work::cuts::{Cut, CutKind, Plan, STAY_FLAT_CENTS, round_to};
use crate::instrument::alter::{trim_end, trim_top};
use crate::instrument::model::Instrument;
use crate::instrument::stand_in::collar_on_end;

/// Of what can be spared below the last hole, no more than this share is cut off.
const SPARE_SHARE: f64 = 0.8;
/// An end is never moved farther than this share of the tube.
const FARTHEST_SHARE: f64 = 0.1;
/// First of a cut that can't be put back, as a share of the whole (common practice: half to two thirds; no
/// source).
const FIRST_SHARE: f64 = 0.6;

impl Plan<'_> {
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
        let full_mm = round_to(Self::solve(0.0, far, wanted, |mm| self.gain(fingering, shorter(mm))), 0.5);
        if full_mm == 0.0 {
            return None;
        }
        let gain = self.gain(fingering, shorter(full_mm))?;
        let first_mm = round_to(FIRST_SHARE * full_mm, 0.5);
        let collar_cents = self.gain(fingering, shorter(-first_mm));
        let told = self.told_off(off);
        let effects = self.carry_out(shorter(full_mm));
        let text = if flat {
            format!(
                "{note}, the lowest note, is {told}. Take {full_mm:.1} mm off the open end ({gain:+.0} cents); \
                 {first_mm:.1} mm first, then play. It moves hardly any other note."
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
            change: format!("end.trim={}", trimmed(first_mm)),
            full: format!("end.trim={}", trimmed(full_mm)),
            tool: if flat { "fine saw and file, square" } else { "ring or collar" }.to_string(),
            undo: !flat,
            stand_in: collar_cents.filter(|_| flat).map(|cents| {
                format!("{} The cut does the opposite.", collar_on_end(&trimmed(first_mm), &note, cents))
            }),
            effects,
            text,
        })
    }

    /// The top, for what all notes share. `notes` are those that were played, first register.
    pub(in crate::diagnosis) fn top_cut(&mut self, notes: &[usize]) -> Option<Cut> {
        let shared_cents = self.shared_cents;
        let shorter = |mm: f64| move |changed: &mut Instrument| trim_top(changed, mm);
        let mean_gain = |mm: f64| -> Option<f64> {
            let gains: Option<Vec<f64>> = notes.iter().map(|&f| self.gain(f, shorter(mm))).collect();
            let gains = gains.filter(|gains| !gains.is_empty())?;
            Some(gains.iter().sum::<f64>() / gains.len() as f64)
        };
        let first_hole_mm = self
            .instrument
            .holes
            .iter()
            .map(|hole| hole.at_mm - hole.diameter_mm)
            .fold(self.instrument.length_mm(), f64::min);
        let flat = shared_cents < 0.0;
        let farthest = FARTHEST_SHARE * self.instrument.length_mm();
        let far = if flat { farthest.min(SPARE_SHARE * first_hole_mm) } else { -farthest };
        let full_mm = round_to(Self::solve(0.0, far, shared_cents, mean_gain), 0.5);
        let gain = mean_gain(full_mm)?;
        if full_mm == 0.0 {
            return None;
        }
        let effects = self.carry_out(shorter(full_mm));
        self.shared_cents += gain;
        let first_mm = if flat { round_to(FIRST_SHARE * full_mm, 0.5) } else { full_mm };
        let all = sharp_or_flat(shared_cents);
        let (tool, text) = if flat {
            (
                "shorter barrel; saw only when another evening says the same",
                format!(
                    "All notes are about {all}, more than the geometry explains: player, reed and air do that too, so \
                     cut no hole for it. Push the mouthpiece in or put a barrel on that is {full_mm:.1} mm shorter \
                     ({gain:+.0} cents). Saw only when another evening says the same."
                ),
            )
        } else {
            (
                "ring of the same bore",
                format!(
                    "All notes are about {all}, more than the geometry explains: player, reed and air do that too, so \
                     fill no hole for it. Pull the mouthpiece out by {:.1} mm and fill the gap with a ring of the same \
                     bore ({gain:+.0} cents).",
                    -full_mm
                ),
            )
        };
        Some(Cut {
            place: None,
            kind: CutKind::TrimTop,
            change: format!("top.trim={}", trimmed(first_mm)),
            full: format!("top.trim={}", trimmed(full_mm)),
            tool: tool.to_string(),
            undo: !flat,
            stand_in: flat.then(|| {
                format!("Push the mouthpiece in by {first_mm:.1} mm, if its socket lets it: all notes should rise.")
            }),
            effects,
            text,
        })
    }
}
