//! A cut in the maker's words, in one line. Computes nothing.

use crate::diagnosis::work::cuts::{Cut, CutKind};

/// What is done, in one line; the whole sentence is in the JSON output.
#[must_use]
pub fn work(cut: &Cut) -> String {
    let place = cut.place.as_deref().unwrap_or_default();
    let value = |change: &str| change.split_once('=').map_or_else(String::new, |(_, mm)| mm.to_string());
    let (first, full, tool) = (value(&cut.change), value(&cut.full), &cut.tool);
    match cut.kind {
        CutKind::Enlarge if cut.change.contains("+=") => {
            format!("open {place} by {first} mm ({tool}), and at most by {full} mm in all")
        }
        CutKind::Enlarge if first == full => format!("{place} to {full} mm ({tool})"),
        CutKind::Enlarge => format!("{place} to {first} mm ({tool}), then {full} mm"),
        CutKind::Shrink => format!("fill the upper edge of {place} until it acts {full} mm smaller"),
        CutKind::RaisePad => format!("pad of {place} up to {full} mm"),
        CutKind::ShortenChimney => format!("chimney of {place} down to {first} mm, then {full} mm"),
        CutKind::Move => format!("on the next body, {place} at {full} mm"),
        CutKind::TrimEnd if full.starts_with('-') => {
            format!("a ring of {} mm on the open end", full.trim_start_matches('-'))
        }
        CutKind::TrimEnd if first == full => format!("{full} mm off the open end"),
        CutKind::TrimEnd => format!("{first} mm off the open end, then {full} mm in all"),
    }
}
