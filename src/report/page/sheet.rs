//! The check as one page: what to do, why, the instrument, the notes, the cuts, and how it was computed.
//!
//! One file that needs no network, no script and no other file. Computes nothing.

use super::history::{BookSheet, history};
use super::html::{name, plain, text};
use super::style::{COLOURS, DRAWN, PAGE};
use super::takes::{TakeSheet, takes};
use super::{drawing, foot, notes, undertones, why, work};
use crate::diagnosis::check::Check;
use crate::instrument::model::Instrument;
use crate::report::chart::ChartError;

/// What the page is made of.
pub struct Sheet<'a> {
    /// The geometry that was checked.
    pub instrument: &'a Instrument,
    /// What was found.
    pub check: &'a Check,
    /// The takes in the order in which they were checked; none when they are not to be shown one by one.
    pub takes: &'a [TakeSheet],
    /// The book's history and this step's place in it, where there is a book.
    pub book: Option<BookSheet<'a>>,
    /// A line about this step, where one is known: what was done, when.
    pub story: Option<&'a str>,
    /// The program's version.
    pub version: &'a str,
}

/// The page as an HTML document.
///
/// # Errors
/// [`ChartError`] when a chart can't be drawn.
pub fn page(sheet: &Sheet<'_>) -> Result<String, ChartError> {
    let (instrument, check) = (sheet.instrument, sheet.check);
    let count: usize = check.notes.iter().map(|note| note.takes.len()).sum();
    let mut out = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'; media-src data:\">\n\
         <title>{title}</title>\n<style>{COLOURS}{PAGE}{DRAWN}</style>\n</head>\n<body>\n<header>\n<h1>{name} {prototype}</h1>\n\
         <p class=\"faint\">Fingerings: {fingerings}. Takes: {count}.</p>\n",
        title = plain(&format!("{} {}: check", instrument.name, instrument.prototype)),
        name = name(&instrument.name),
        prototype = name(&instrument.prototype),
        fingerings = check.notes.len(),
    );
    let told = sheet.book.and_then(|book| book.step()).map(|step| step.note.what.as_str());
    if let Some(story) = sheet.story.or(told) {
        out.push_str(&format!("<p>{}</p>\n", text(story)));
    }
    out.push_str("</header>\n<main>\n");
    out.push_str(&work::next(instrument, check));
    out.push_str(&why::why(instrument, check)?);
    out.push_str(&drawing::instrument(instrument, check));
    out.push_str(&notes::notes(instrument, check)?);
    out.push_str(&undertones::undertones(instrument, check)?);
    out.push_str(&takes(instrument, check, sheet.takes)?);
    out.push_str(&work::cuts(instrument, check));
    out.push_str(&foot::also(sheet));
    if let Some(book) = &sheet.book {
        out.push_str(&history(instrument, check, book)?);
    }
    out.push_str("</main>\n<footer>\n");
    out.push_str(&foot::how(sheet));
    out.push_str("</footer>\n</body>\n</html>\n");
    Ok(out)
}
