//! What is left when a hole can't be opened farther: its chimney made shorter.
//!
//! Must not know the order of work, causes, files or the terminal.

use crate::diagnosis::beliefs::work::{CUT_PRICE_MINUTES, LEAST_STANDING_MM, LEAST_WORTH_MM, STEP_MM};
use crate::diagnosis::words::trimmed;
use crate::diagnosis::work::cuts::{Cut, CutKind, Plan, round_to};
use crate::instrument::model::{Hole, Instrument};

/// The shortest that a chimney that stands free may become, mm; `None` for one that is the tube's own wall.
fn shortest_mm(instrument: &Instrument, hole: &Hole) -> Option<f64> {
    let shortest_mm = instrument.wall.thickness_mm + LEAST_STANDING_MM;
    (hole.chimney_mm - shortest_mm >= LEAST_WORTH_MM).then_some(shortest_mm)
}

impl Plan {
    /// Files the chimney down when that brings at least `share` of the `wanted` cents; `why` the hole can't be opened.
    pub(in crate::diagnosis) fn shorten_chimney(
        &mut self,
        fingering: usize,
        hole: usize,
        off: f64,
        wanted: f64,
        share: f64,
        why: &str,
    ) -> Option<Cut> {
        let before = self.instrument.holes[hole].clone();
        let shortest_mm = shortest_mm(&self.instrument, &before)?;
        let as_high = move |mm: f64| move |changed: &mut Instrument| changed.holes[hole].chimney_mm = mm;
        if self.gain(fingering, as_high(shortest_mm))? < share * wanted {
            return None;
        }
        let chimney_mm = before.chimney_mm;
        let solved_mm = Self::solve(chimney_mm, shortest_mm, wanted, |mm| self.gain(fingering, as_high(mm)));
        let served_mm = self.serving(chimney_mm, solved_mm, CUT_PRICE_MINUTES, as_high)?;
        let full_mm = round_to(served_mm, STEP_MM).max(shortest_mm);
        let full_gain = self.gain(fingering, as_high(full_mm))?;
        let first_gain = self.first_gain(fingering, off, full_gain);
        let safe_mm = Self::solve(chimney_mm, full_mm, first_gain, |mm| self.gain(fingering, as_high(mm)));
        let first_mm = round_to(safe_mm, STEP_MM).clamp(full_mm, chimney_mm - STEP_MM);
        let first_gain = self.gain(fingering, as_high(first_mm))?;
        let told = self.told_off(off);
        let (name, note) = (before.name, self.instrument.fingerings[fingering].name.clone());
        let effects = self.carry_out(&format!("{name}.chimney={}", trimmed(full_mm)));
        let short = -off - full_gain;
        let rest = if short > self.aim.within_cents {
            format!(" It stays about {short:.0} cents flat; the rest is for the next body.")
        } else {
            String::new()
        };
        let seat = if before.pad.is_some() {
            " Keep the rim level, and set the pad and its lift again before you play."
        } else {
            " Keep the rim level."
        };
        let (first, full) = (trimmed(first_mm), trimmed(full_mm));
        Some(Cut {
            place: Some(name.clone()),
            kind: CutKind::ShortenChimney,
            fingering,
            change: format!("{name}.chimney={first}"),
            full: format!("{name}.chimney={full}"),
            tool: "fine file or abrasive paper on a flat block".to_string(),
            undo: false,
            stand_in: None,
            effects,
            text: format!(
                "{note} is {told}, and {name} can't be opened far enough: {why}. Take its chimney down from {} mm: first to \
                 {first} mm ({first_gain:+.0} cents), play, then to {full} mm ({full_gain:+.0} cents).{seat}{rest}",
                trimmed(chimney_mm)
            ),
        })
    }
}
