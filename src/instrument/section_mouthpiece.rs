//! Reads the mouthpiece: of a reed, or the embouchure of an air jet.
//!
//! Must not know bores, holes or air columns.

use super::entries::{Kind, Table};
use super::keys::MOUTHPIECE;
use super::model::{Drive, Mouthpiece};
use super::problem::{Problems, plain};
use super::reader::{Limits, Reader};
use super::sections::{BORE_DIAMETER, table};

// Limits: what no instrument can exceed (common practice, no source).
pub(crate) const CHAMBER: Limits = Limits::between("the water that a mouthpiece holds", 0.0, 1000.0, "ml");
pub(crate) const REED: Limits = Limits::between("the give of a reed", 0.0, 200.0, "ml");
pub(crate) const EMBOUCHURE: Limits =
    Limits::between("the length of bore that an embouchure stands for", 0.0, 2000.0, "mm");

/// Keys that only a mouthpiece with a reed has.
const REED_KEYS: [&str; 3] = ["chamber_ml", "suits_bore_mm", "reed_ml"];

/// Reads `[mouthpiece]`: the mouthpiece of a reed, or an air jet's end correction in mm.
pub(crate) fn read(
    root: &Table,
    drive: Drive,
    problems: &mut Problems<'_>,
) -> (Option<Mouthpiece>, Option<f64>) {
    let Some((table, head)) = table(root, "mouthpiece", MOUTHPIECE, problems) else {
        if root.get("mouthpiece").is_none() && drive == Drive::Reed {
            problems.add(
                &root.place_in_table("instrument", "drive"),
                "a reed needs a mouthpiece, but the table [mouthpiece] is missing",
                "Add [mouthpiece] with chamber_ml, the water it holds; 0 for a bare closed tube. A flute has \
                 drive = \"air-jet\".",
            );
        }
        return (None, None);
    };
    let mut reader = Reader::new(table, head.clone(), MOUTHPIECE, "[mouthpiece]".to_string(), problems);
    if drive == Drive::AirJet {
        if REED_KEYS.iter().any(|key| reader.given(key).is_some()) {
            reader.problem(
                &head,
                "drive is \"air-jet\", and an air jet has no mouthpiece with a reed",
                "Keep embouchure_mm at most, or write drive = \"reed\".",
            );
        }
        return (None, reader.number_if_given("embouchure_mm", &EMBOUCHURE));
    }
    if let Some(value) = reader.given("embouchure_mm") {
        let what = "embouchure_mm is for an air jet, and drive is \"reed\"";
        reader.problem(&value.span, what, "Delete it, or write drive = \"air-jet\".");
    }
    let mouthpiece = Mouthpiece {
        chamber_ml: reader.number("chamber_ml", &CHAMBER),
        suits_bore_mm: read_suited_bores(&mut reader),
        reed_ml: reader.number_if_given("reed_ml", &REED),
    };
    (Some(mouthpiece), None)
}

fn read_suited_bores(reader: &mut Reader<'_, '_>) -> Option<[f64; 2]> {
    const KEY: &str = "suits_bore_mm";
    let example = "Write the narrowest and the widest, like suits_bore_mm = [18.0, 22.0].";
    let value = reader.given(KEY)?;
    let items = reader.list(KEY, "[18.0, 22.0]");
    let [narrowest, widest] = items else {
        if matches!(value.kind, Kind::List(_)) {
            let what = format!("{KEY} holds two numbers, but there are {}", items.len());
            reader.problem(&value.span, what, format!("{example} The decimal sign is a point."));
        }
        return None;
    };
    let pair =
        [reader.number_of(narrowest, KEY, &BORE_DIAMETER), reader.number_of(widest, KEY, &BORE_DIAMETER)];
    if pair[0] > pair[1] {
        let what = format!("{KEY} goes from {} down to {} mm", plain(pair[0]), plain(pair[1]));
        reader.problem(&value.span, what, example);
    }
    Some(pair)
}
