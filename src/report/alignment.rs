//! Which heard note was taken as which fingering, for the maker to confirm or correct: as a table and
//! as JSON. Computes nothing.

use serde_json::{Value, json};

use crate::diagnosis::takes::alignment::{AlignedNote, Alignment, Order, Place};
use crate::instrument::model::Instrument;
use crate::report::layout::{hanging, left, right, shortened, signed, visible};

/// Where a heard note comes from.
#[derive(Debug, Clone, PartialEq)]
pub struct Source {
    /// The file's name.
    pub file: String,
    /// Where in it the note sounds, seconds, when the file holds several notes.
    pub span_s: Option<(f64, f64)>,
    /// Pitch, hertz.
    pub hz: Option<f64>,
}

/// The word in `--notes` for a note that is left out.
pub const SKIP: &str = "skip";

/// Widths of the columns.
const NUMBER: usize = 3;
const LENGTH: usize = 6;
const HERTZ: usize = 8;
const CENTS: usize = 7;
/// Names of files and fingerings are shortened to this.
const WIDEST_FILE: usize = 24;
const WIDEST_NAME: usize = 16;

/// The table, and how to correct it.
#[must_use]
pub fn text(instrument: &Instrument, alignment: &Alignment, sources: &[Source]) -> String {
    let names: Vec<&str> =
        alignment.notes.iter().map(|note| fingering_name(instrument, note.fingering)).collect();
    let wide = names.iter().map(|name| name.chars().count()).max().unwrap_or(0).clamp(8, WIDEST_NAME);
    let places: Vec<String> = sources.iter().map(place).collect();
    let place_wide = places.iter().map(|place| place.chars().count()).max().unwrap_or(0).max(4);
    let mut out = hanging("", &heading(alignment, sources), 2);
    let head = format!(
        "{} {} {} {} {} {}",
        right("", NUMBER),
        left(if is_one_file(sources) { "at" } else { "file" }, place_wide),
        right("lasts", if is_one_file(sources) { LENGTH } else { 0 }),
        right("Hz", HERTZ),
        left("taken as", wide),
        "cents off predicted",
    );
    out.push_str(head.trim_end());
    out.push('\n');
    for (i, ((note, source), place)) in alignment.notes.iter().zip(sources).zip(&places).enumerate() {
        let length = source.span_s.map_or_else(String::new, |(from, to)| format!("{:.1} s", to - from));
        let row = format!(
            "{} {} {} {} {} {}",
            right(&format!("{}", i + 1), NUMBER),
            left(place, place_wide),
            right(&length, if is_one_file(sources) { LENGTH } else { 0 }),
            right(&source.hz.map_or_else(|| "–".to_string(), |hz| format!("{hz:.2}")), HERTZ),
            left(&shortened(names.get(i).copied().unwrap_or_default(), WIDEST_NAME), wide),
            right(&signed(note.cents_from_predicted), CENTS),
        );
        let words = remark(instrument, note);
        let indent = row.chars().count() + 2;
        out.push_str(hanging(&format!("{row}  "), &words, indent.min(44)).trim_end());
        out.push('\n');
    }
    if !alignment.missing.is_empty() {
        out.push_str(&hanging("Not heard: ", &list(instrument, &alignment.missing), 11));
    }
    if alignment.order != Order::Said {
        let how =
            "Is each note what you played? If not, give the names in this order, skip for one to leave out:";
        out.push_str(&hanging("", how, 0));
        out.push_str(&format!("  --notes \"{}\"\n", notes_option(instrument, alignment)));
    }
    out
}

fn is_one_file(sources: &[Source]) -> bool {
    sources.iter().any(|source| source.span_s.is_some())
}

fn heading(alignment: &Alignment, sources: &[Source]) -> String {
    let what = match sources.first().filter(|source| source.span_s.is_some()) {
        Some(source) => format!("{}: {} notes heard", visible(&source.file), sources.len()),
        None => format!("{} files", sources.len()),
    };
    format!(
        "{what}, taken {}; together {} cents off what the file predicts",
        order_words(alignment.order),
        signed(Some(alignment.common_cents))
    )
}

fn order_words(order: Order) -> &'static str {
    match order {
        Order::File => "in the order of the instrument file",
        Order::FileBackward => "in the order of the instrument file, backward",
        Order::LowestFirst => "from the lowest up",
        Order::HighestFirst => "from the highest down",
        Order::Said => "as you said",
    }
}

/// `0:13.9` in one long recording, the file's name otherwise.
fn place(source: &Source) -> String {
    match source.span_s {
        Some((from_s, _)) => clock(from_s),
        None => shortened(&visible(&source.file), WIDEST_FILE),
    }
}

/// Minutes and seconds.
#[must_use]
pub fn clock(seconds: f64) -> String {
    let tenths = (10.0 * seconds).round().max(0.0) as u64;
    format!("{}:{:02}.{}", tenths / 600, tenths / 10 % 60, tenths % 10)
}

fn fingering_name(instrument: &Instrument, fingering: Option<usize>) -> &str {
    fingering.and_then(|f| instrument.fingerings.get(f)).map_or("–", |fingering| fingering.name.as_str())
}

fn list(instrument: &Instrument, fingerings: &[usize]) -> String {
    let names: Vec<&str> = fingerings.iter().map(|&f| fingering_name(instrument, Some(f))).collect();
    names.join(", ")
}

fn remark(instrument: &Instrument, note: &AlignedNote) -> String {
    let mut words = Vec::new();
    match note.place {
        Place::Next => {}
        Place::Repeat => words.push("repeat".to_string()),
        Place::Back => words.push("went back".to_string()),
        Place::FalseStart => words.push("false start, left out".to_string()),
        Place::Stray => words.push("fits no fingering here, left out".to_string()),
        Place::NoNote => {
            words.push(if note.fingering.is_some() { "no note" } else { "no note, left out" }.to_string());
        }
        Place::SaidLeftOut => words.push("left out, as you said".to_string()),
    }
    if let Some(register) = note.register {
        words.push(format!("resonance {register} sounded"));
    }
    if !note.skipped.is_empty() {
        words.push(format!("skipped: {}", list(instrument, &note.skipped)));
    }
    if let Some(other) = note.or_else {
        words.push(format!("not sure, perhaps {}", fingering_name(instrument, Some(other))));
    }
    words.join("; ")
}

/// What to give with `--notes` to get the same.
fn notes_option(instrument: &Instrument, alignment: &Alignment) -> String {
    let word = |note: &AlignedNote| match note.fingering {
        Some(_) => fingering_name(instrument, note.fingering),
        None => SKIP,
    };
    alignment.notes.iter().map(word).collect::<Vec<_>>().join(", ")
}

/// The object `alignment` of the JSON output.
#[must_use]
pub fn json(instrument: &Instrument, alignment: &Alignment, sources: &[Source]) -> Value {
    let name = |fingering: Option<usize>| {
        fingering.and_then(|f| instrument.fingerings.get(f)).map(|fingering| fingering.name.clone())
    };
    let names = |fingerings: &[usize]| -> Vec<_> { fingerings.iter().map(|&f| name(Some(f))).collect() };
    let notes: Vec<Value> = alignment
        .notes
        .iter()
        .zip(sources)
        .map(|(note, source)| {
            json!({
                "file": source.file,
                "from_s": source.span_s.map(|span| span.0),
                "to_s": source.span_s.map(|span| span.1),
                "pitch_hz": source.hz,
                "fingering": name(note.fingering),
                "cents_from_predicted": note.cents_from_predicted,
                "sounded_register": note.register,
                "skipped": names(&note.skipped),
                "perhaps": name(note.or_else),
                "note": remark(instrument, note),
            })
        })
        .collect();
    json!({
        "order": order_words(alignment.order),
        "common_cents": alignment.common_cents,
        "notes": notes,
        "not_heard": names(&alignment.missing),
        "notes_option": notes_option(instrument, alignment),
    })
}
