//! The instrument from the side, to scale: bore, holes, chimneys, pads, leak sites; the suspects and the
//! next cut marked by words and by shape. Computes nothing but where things stand on the sheet.

use super::html::{figure, name, section, table, text};
use crate::diagnosis::check::Check;
use crate::diagnosis::findings::Kind;
use crate::instrument::model::{Hole, Instrument};
use crate::report::check_words::told;
use crate::report::layout::shortened;

/// The sheet in its own units; letters are 24 high.
const WIDTH: f64 = 800.0;
const LEFT: f64 = 46.0;
const RIGHT: f64 = 20.0;
const LETTER: f64 = 14.0;
const LINE: f64 = 30.0;
/// From the tube's side to the first line of words.
const CLEAR: f64 = 34.0;
/// So many of the leading causes are marked, and so many letters of a name are shown.
const MOST_MARKED: usize = 2;
const LONGEST_NAME: usize = 14;
/// The bar that shows the scale, mm.
const SCALE_MM: f64 = 100.0;

/// A place on the tube with its words.
struct Label {
    x: f64,
    words: String,
    suspect: bool,
    cut: bool,
}

/// Which places are marked.
struct Marks<'a> {
    suspects: Vec<&'a str>,
    cut: Option<&'a str>,
}

impl Marks<'_> {
    fn label(&self, name: &str, x: f64, more: &[&str]) -> Label {
        let suspect = self.suspects.contains(&name);
        let cut = self.cut == Some(name);
        let mut words = vec![shortened(name, LONGEST_NAME)];
        words.extend(more.iter().map(|word| (*word).to_string()));
        if suspect {
            words.push("suspect".to_string());
        }
        if cut {
            words.push("next cut".to_string());
        }
        Label { x, words: words.join(", "), suspect, cut }
    }
}

fn marks(check: &Check) -> Marks<'_> {
    let pitch = |kind: Kind| matches!(kind, Kind::Hole | Kind::Leak | Kind::Pad | Kind::Vent);
    let leading = told(check, MOST_MARKED);
    let all = leading.iter().flat_map(|finding| std::iter::once(&finding.suspect).chain(&finding.group));
    let suspects = all.filter(|suspect| pitch(suspect.kind)).filter_map(|suspect| suspect.place.as_deref());
    Marks { suspects: suspects.collect(), cut: check.cuts.first().and_then(|cut| cut.place.as_deref()) }
}

/// The section: the drawing, and the same as a table.
pub(super) fn instrument(instrument: &Instrument, check: &Check) -> String {
    let drawn = drawing(instrument, check);
    let caption = "From the side and to scale; the bar is 100 mm. Holes and pads above, posts and joints below. \
                   A ring marks a suspect, a wedge the next cut.";
    let figure = figure(&drawn, caption).replace("<figure>", "<figure class=\"whole\">");
    let details = format!(
        "<details><summary>The holes in numbers</summary>\n{}</details>\n",
        holes(instrument, &marks(check))
    );
    section("instrument", "The instrument", &format!("{figure}{details}"))
}

/// The drawing as SVG for a page that brings the style.
pub(super) fn drawing(instrument: &Instrument, check: &Check) -> String {
    let marks = marks(check);
    let length = instrument.length_mm().max(1.0);
    let scale = (WIDTH - LEFT - RIGHT) / length;
    let x_of = |mm: f64| LEFT + scale * mm.clamp(0.0, length);
    let above: Vec<Label> = instrument
        .holes
        .iter()
        .map(|hole| {
            let vent = if hole.vent { "vent" } else { "" };
            let planned = if hole.drilled { "" } else { "planned" };
            let more: Vec<&str> = [vent, planned].into_iter().filter(|word| !word.is_empty()).collect();
            marks.label(&hole.name, x_of(hole.at_mm), &more)
        })
        .collect();
    let below: Vec<Label> =
        instrument.leak_sites.iter().map(|site| marks.label(&site.name, x_of(site.at_mm), &[])).collect();
    let (rows_above, count_above) = rows(&above);
    let (rows_below, count_below) = rows(&below);
    let widest = instrument.bore.iter().map(|point| point.diameter_mm).fold(0.0, f64::max);
    let highest = instrument.holes.iter().map(height_mm).fold(0.0, f64::max);
    let half = 0.5 * scale * widest;
    let wall = scale * instrument.wall.thickness_mm;
    let top = LINE * count_above as f64 + CLEAR + scale * highest.max(instrument.wall.thickness_mm);
    let middle = top + half;
    let bottom = middle + half + wall;
    let height = bottom + CLEAR + LINE * count_below as f64 + 2.0 * LINE;
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH:.0} {height:.0}\" role=\"img\" \
         aria-labelledby=\"drawing-title drawing-words\">\n<title id=\"drawing-title\">{} {} from the side, to \
         scale</title>\n<desc id=\"drawing-words\">{}</desc>\n",
        text(&instrument.name),
        text(&instrument.prototype),
        text(&in_words(instrument, &above, &below)),
    );
    out.push_str(&tube(instrument, middle, scale, wall, &x_of));
    for hole in &instrument.holes {
        let surface = middle - 0.5 * scale * instrument.bore_at_mm(hole.at_mm);
        out.push_str(&hole_drawn(hole, x_of(hole.at_mm), surface, scale));
    }
    for site in &instrument.leak_sites {
        let (x, side) = (x_of(site.at_mm), middle + 0.5 * scale * instrument.bore_at_mm(site.at_mm));
        let end = side + wall.max(3.0);
        out.push_str(&format!("<path class=\"drawn-line\" d=\"M{x:.1} {side:.1}V{end:.1}\"/>\n"));
    }
    let head = top - scale * highest - 6.0;
    for (label, row) in above.iter().zip(rows_above) {
        let y = head - 14.0 - LINE * row as f64;
        out.push_str(&label_drawn(label, y, y + 6.0, middle - half - wall));
    }
    for (label, row) in below.iter().zip(rows_below) {
        let y = bottom + CLEAR + LINE * row as f64;
        out.push_str(&label_drawn(label, y, bottom + 4.0, y - 22.0));
    }
    out.push_str(&scale_bar(length, scale, height));
    out.push_str("</svg>");
    out
}

/// How far a hole with its pad stands above the bore, mm.
fn height_mm(hole: &Hole) -> f64 {
    hole.chimney_mm + hole.pad.map_or(0.0, |pad| pad.lift_mm + 2.0)
}

/// Bore and wall; the mouthpiece's side to the left.
fn tube(instrument: &Instrument, middle: f64, scale: f64, wall: f64, x_of: &impl Fn(f64) -> f64) -> String {
    let side = |sign: f64, more: f64| -> Vec<String> {
        let at = |d: f64| middle + sign * (0.5 * scale * d + more);
        instrument
            .bore
            .iter()
            .map(|point| format!("{:.1} {:.1}", x_of(point.at_mm), at(point.diameter_mm)))
            .collect()
    };
    let mut out = String::new();
    for sign in [-1.0, 1.0] {
        let mut outline = side(sign, 0.0);
        outline.extend(side(sign, wall).into_iter().rev());
        out.push_str(&format!("<path class=\"drawn-wall\" d=\"M{}Z\"/>\n", outline.join("L")));
    }
    let half = 0.5 * scale * instrument.bore.first().map_or(0.0, |point| point.diameter_mm) + wall;
    out.push_str(&format!(
        "<path class=\"drawn-lead\" d=\"M{LEFT:.1} {:.1}L6 {:.1}V{:.1}L{LEFT:.1} {:.1}\"/>\n",
        middle - half,
        middle - 0.4 * half,
        middle + half,
        middle + half
    ));
    out
}

/// Chimney and, where there is one, the pad above it.
fn hole_drawn(hole: &Hole, x: f64, surface: f64, scale: f64) -> String {
    let half = 0.5 * scale * hole.diameter_mm;
    let rim = surface - scale * hole.chimney_mm;
    let dash = if hole.drilled { "" } else { " stroke-dasharray=\"3 3\"" };
    let mut out = format!(
        "<rect fill=\"var(--paper)\" x=\"{:.1}\" y=\"{rim:.1}\" width=\"{:.1}\" height=\"{:.1}\"/>\
         <path class=\"drawn-line\"{dash} d=\"M{:.1} {surface:.1}V{rim:.1}M{:.1} {surface:.1}V{rim:.1}\"/>\n",
        x - half,
        2.0 * half,
        surface - rim,
        x - half,
        x + half
    );
    if let Some(pad) = hole.pad {
        let (half, under) = (0.5 * scale * pad.diameter_mm, rim - scale * pad.lift_mm);
        out.push_str(&format!(
            "<rect class=\"drawn-wall\" x=\"{:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{:.1}\"/>\n",
            x - half,
            under - 2.0 * scale,
            2.0 * half,
            2.0 * scale
        ));
    }
    out
}

/// Rows of labels that don't touch, counted from the tube; a row for each label, and how many there are.
fn rows(labels: &[Label]) -> (Vec<usize>, usize) {
    let mut order: Vec<usize> = (0..labels.len()).collect();
    order.sort_by(|&a, &b| labels[a].x.total_cmp(&labels[b].x));
    let mut ends: Vec<f64> = Vec::new();
    let mut rows = vec![0; labels.len()];
    for i in order {
        let (start, end) = extent(&labels[i]);
        let row = ends.iter().position(|known| known + LETTER < start).unwrap_or(ends.len());
        match ends.get_mut(row) {
            Some(known) => *known = end,
            None => ends.push(end),
        }
        rows[i] = row;
    }
    (rows, ends.len())
}

/// Where the words of a label begin and end: round its place, within the sheet.
fn extent(label: &Label) -> (f64, f64) {
    let sign = if label.suspect || label.cut { 30.0 } else { 0.0 };
    let width = LETTER * label.words.chars().count() as f64 + sign;
    let start = (label.x - 0.5 * width).clamp(2.0, (WIDTH - width - 2.0).max(2.0));
    (start, start + width)
}

/// The words, a dashed lead to the tube, and the shape of what it is marked as.
fn label_drawn(label: &Label, y: f64, lead_from: f64, lead_to: f64) -> String {
    let (start, _) = extent(label);
    let x = label.x;
    let mut out = format!("<path class=\"drawn-lead\" d=\"M{x:.1} {lead_from:.1}V{lead_to:.1}\"/>\n");
    let mut words_at = start;
    if label.suspect {
        out.push_str(&format!(
            "<circle class=\"drawn-suspect\" cx=\"{:.1}\" cy=\"{:.1}\" r=\"9\"/>\n",
            start + 11.0,
            y - 8.0
        ));
        words_at += 30.0;
    } else if label.cut {
        let (left, top) = (start + 2.0, y - 17.0);
        out.push_str(&format!("<path class=\"drawn-cut\" d=\"M{left:.1} {top:.1}h18l-9 18Z\"/>\n"));
        words_at += 30.0;
    }
    let class = if label.suspect || label.cut { "drawn-word strong" } else { "drawn-word" };
    out.push_str(&format!(
        "<text class=\"{class}\" x=\"{words_at:.1}\" y=\"{y:.1}\">{}</text>\n",
        text(&label.words)
    ));
    out
}

fn scale_bar(length_mm: f64, scale: f64, height: f64) -> String {
    let bar = SCALE_MM.min(length_mm);
    let (x, y) = (WIDTH - RIGHT - scale * bar, height - 14.0);
    format!(
        "<path class=\"drawn-line\" d=\"M{x:.1} {:.1}v10m0 -5h{:.1}m0 -5v10\"/>\n\
         <text class=\"drawn-word\" x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{bar:.0} mm</text>\n\
         <text class=\"drawn-word\" x=\"2\" y=\"{:.1}\">mouthpiece to the left</text>\n",
        y - 5.0,
        scale * bar,
        x - 10.0,
        y + 8.0,
        y + 8.0
    )
}

fn in_words(instrument: &Instrument, above: &[Label], below: &[Label]) -> String {
    let list =
        |labels: &[Label]| labels.iter().map(|label| label.words.clone()).collect::<Vec<_>>().join("; ");
    let mut words = format!("A tube of {:.0} mm.", instrument.length_mm());
    if !above.is_empty() {
        words.push_str(&format!(" Holes: {}.", list(above)));
    }
    if !below.is_empty() {
        words.push_str(&format!(" Posts and joints: {}.", list(below)));
    }
    words
}

fn holes(instrument: &Instrument, marks: &Marks<'_>) -> String {
    let head = ["place", "at, mm", "diameter, mm", "chimney, mm", "pad, mm", "lift, mm", "marked"];
    let millimetres = |mm: f64| format!("{mm:.1}");
    let none = || "–".to_string();
    let marked = |place: &str| {
        let suspect = if marks.suspects.contains(&place) { "suspect" } else { "" };
        let cut = if marks.cut == Some(place) { "next cut" } else { "" };
        [suspect, cut].into_iter().filter(|word| !word.is_empty()).collect::<Vec<_>>().join(", ")
    };
    let mut rows: Vec<Vec<String>> = Vec::new();
    for hole in &instrument.holes {
        rows.push(vec![
            name(&hole.name),
            millimetres(hole.at_mm),
            millimetres(hole.diameter_mm),
            millimetres(hole.chimney_mm),
            hole.pad.map_or_else(none, |pad| millimetres(pad.diameter_mm)),
            hole.pad.map_or_else(none, |pad| millimetres(pad.lift_mm)),
            marked(&hole.name),
        ]);
    }
    for site in &instrument.leak_sites {
        let mut row = vec![name(&site.name), millimetres(site.at_mm)];
        row.extend([none(), none(), none(), none(), marked(&site.name)]);
        rows.push(row);
    }
    table("Holes, vents, posts and joints as the file has them", &head, &rows)
}
