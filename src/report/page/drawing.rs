//! The instrument from the side, to scale, in strips like the lines of a text: bore, holes, chimneys, pads,
//! leak sites; the suspects and the next cut marked by words and by shape. Computes nothing but where things
//! stand on the sheet.

use std::ops::Range;

use super::flags::{Flag, Rows, Sign, overhang};
use super::html::{Last, name, plain, section, table, whole_figure};
use super::style::{COLOURS, DRAWN};
use crate::diagnosis::check::Check;
use crate::diagnosis::findings::ranking::Kind;
use crate::diagnosis::work::cuts::CutKind;
use crate::instrument::model::{Hole, Instrument};
use crate::report::check_words::told;
use crate::report::layout::shortened;

/// The sheet in its own units.
const WIDTH: f64 = 640.0;
const LEFT: f64 = 44.0;
const RIGHT: f64 = 26.0;
/// A strip shows about so much of the tube, mm, and there are no more strips than this.
const STRIP_MM: f64 = 420.0;
const MOST_STRIPS: f64 = 6.0;
/// Between the tube and the words, and between strips.
const CLEAR: f64 = 8.0;
const BETWEEN_STRIPS: f64 = 26.0;
/// The rule under each strip: its height, a mark every so many mm.
const RULE: f64 = 40.0;
const RULE_MM: f64 = 100.0;
/// A pad is drawn so thick, mm; a post's screw reaches so far out of the tube, in units.
const PAD_MM: f64 = 2.0;
const SCREW: f64 = 9.0;
/// So many of the leading causes are marked, and so many letters of a name are shown.
const MOST_MARKED: usize = 2;
const LONGEST_NAME: usize = 14;

/// Which places are marked.
struct Marks<'a> {
    suspects: Vec<&'a str>,
    cut: Option<&'a str>,
    end_is_cut: bool,
}

impl Marks<'_> {
    fn of(&self, place: &str) -> Vec<(Sign, &'static str)> {
        let suspect = self.suspects.contains(&place).then_some((Sign::Ring, "suspect"));
        let cut = (self.cut == Some(place)).then_some((Sign::Wedge, "next cut"));
        suspect.into_iter().chain(cut).collect()
    }
}

fn marks(check: &Check) -> Marks<'_> {
    let pitch = |kind: Kind| matches!(kind, Kind::Hole | Kind::Leak | Kind::Pad | Kind::Vent);
    let leading = told(check, MOST_MARKED);
    let all = leading.iter().flat_map(|finding| std::iter::once(&finding.suspect).chain(&finding.group));
    let suspects = all.filter(|suspect| pitch(suspect.kind)).filter_map(|suspect| suspect.place.as_deref());
    let first = check.cuts.first();
    Marks {
        suspects: suspects.collect(),
        cut: first.and_then(|cut| cut.place.as_deref()),
        end_is_cut: first.is_some_and(|cut| cut.kind == CutKind::TrimEnd),
    }
}

/// The section: the drawing, and the same as a table.
pub(super) fn instrument(instrument: &Instrument, check: &Check) -> String {
    let bends = if instrument.bends.is_empty() { "" } else { " Bends are drawn straight." };
    let caption = format!(
        "From the side and to scale, the mouthpiece end first; each strip goes on where the one above ends. Holes \
         and pads above, posts and joints below; the rule counts mm from the mouthpiece end. A ring marks a \
         suspect, a wedge the next cut.{bends}"
    );
    let marks = marks(check);
    let strips = Strips::of(instrument, &marks);
    // A drawing for each strip, so that a page of paper can end between two.
    let drawn: String = (0..strips.count).map(|i| strips.drawing(instrument, &marks, i..i + 1)).collect();
    let figure = whole_figure(&drawn, &caption);
    let details = if instrument.holes.is_empty() && instrument.leak_sites.is_empty() {
        String::new()
    } else {
        let table = holes(instrument, &marks);
        format!("<details><summary>The holes in numbers</summary>\n{table}</details>\n")
    };
    section("instrument", "The instrument", &format!("{figure}{details}"))
}

/// The whole drawing as an SVG document of its own.
pub(super) fn alone(instrument: &Instrument, check: &Check) -> String {
    let marks = marks(check);
    let strips = Strips::of(instrument, &marks);
    let drawn = strips.drawing(instrument, &marks, 0..strips.count);
    let (head, body) = drawn.split_once('>').unwrap_or((&drawn, ""));
    format!("{head}><style>{COLOURS}{DRAWN}</style>{body}")
}

/// How the tube is divided into strips.
struct Strips {
    count: usize,
    mm: f64,
    /// Units a mm.
    scale: f64,
}

impl Strips {
    fn of(instrument: &Instrument, marks: &Marks<'_>) -> Strips {
        let length = instrument.length_mm().max(1.0);
        let count = (length / STRIP_MM).ceil().clamp(1.0, MOST_STRIPS);
        let mm = length / count;
        let widest = Strips { count: count as usize, mm, scale: (WIDTH - LEFT - RIGHT) / mm };
        // Room for the words at the right edge; they come nearer to the left as the scale shrinks.
        let flags = (0..widest.count).flat_map(|strip| {
            let mut flags = widest.flags_above(instrument, marks, strip);
            flags.extend(widest.flags_below(instrument, marks, strip));
            flags
        });
        let over = overhang(&flags.collect::<Vec<_>>(), WIDTH);
        Strips { scale: (WIDTH - LEFT - RIGHT - over) / mm, ..widest }
    }

    /// Some strips below each other as SVG for a page that brings the style.
    fn drawing(&self, instrument: &Instrument, marks: &Marks<'_>, shown: Range<usize>) -> String {
        let mut height = 4.0;
        let mut drawn = String::new();
        let mut told = Vec::new();
        let id = format!("drawing{}x", shown.start + 1);
        let (from_mm, to_mm) = (self.span(shown.start).0, self.mm * shown.end as f64);
        for strip in shown {
            let (svg, below) = self.drawn(instrument, marks, strip, height);
            drawn.push_str(&svg);
            told.extend(self.flags_above(instrument, marks, strip).iter().map(Flag::words));
            told.extend(self.flags_below(instrument, marks, strip).iter().map(Flag::words));
            height = below + BETWEEN_STRIPS;
        }
        let height = height - BETWEEN_STRIPS + 6.0;
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"drawn\" viewBox=\"0 0 {WIDTH:.0} {height:.0}\" \
             role=\"img\" aria-labelledby=\"{id}-title {id}-words\">\n<title id=\"{id}-title\">{} {} from the side, to \
             scale: {from_mm:.0} to {to_mm:.0} mm of {:.0} mm</title>\n<desc id=\"{id}-words\">From the mouthpiece end \
             down: {}.</desc>\n{drawn}</svg>\n",
            plain(&instrument.name),
            plain(&instrument.prototype),
            instrument.length_mm(),
            plain(&if told.is_empty() { "nothing but the tube".to_string() } else { told.join("; ") }),
        )
    }

    /// From where to where a strip goes, mm.
    fn span(&self, strip: usize) -> (f64, f64) {
        (self.mm * strip as f64, self.mm * (strip + 1) as f64)
    }

    /// Whether a place is drawn in this strip; what lies beyond the ends is drawn at the ends.
    fn holds(&self, strip: usize, at_mm: f64) -> bool {
        ((at_mm / self.mm).floor().max(0.0) as usize).min(self.count - 1) == strip
    }

    fn x(&self, strip: usize, at_mm: f64) -> f64 {
        let (from, to) = self.span(strip);
        LEFT + self.scale * (at_mm.clamp(from, to) - from)
    }

    fn flags_above(&self, instrument: &Instrument, marks: &Marks<'_>, strip: usize) -> Vec<Flag> {
        let here = instrument.holes.iter().filter(|hole| self.holds(strip, hole.at_mm));
        here.map(|hole| {
            let kind = if hole.vent { ", vent" } else { "" };
            let planned = if hole.drilled { "" } else { ", planned" };
            Flag {
                x: self.x(strip, hole.at_mm),
                foot: -self.scale * (0.5 * instrument.bore_at_mm(hole.at_mm) + height_mm(hole)),
                name: format!("{}{kind}{planned}", shortened(&hole.name, LONGEST_NAME)),
                marks: marks.of(&hole.name),
            }
        })
        .collect()
    }

    fn flags_below(&self, instrument: &Instrument, marks: &Marks<'_>, strip: usize) -> Vec<Flag> {
        let side =
            |at_mm: f64| self.scale * (0.5 * instrument.bore_at_mm(at_mm) + instrument.wall.thickness_mm);
        let here = instrument.leak_sites.iter().filter(|site| self.holds(strip, site.at_mm));
        let mut flags: Vec<Flag> = here
            .map(|site| Flag {
                x: self.x(strip, site.at_mm),
                foot: side(site.at_mm) + SCREW,
                name: shortened(&site.name, LONGEST_NAME),
                marks: marks.of(&site.name),
            })
            .collect();
        if marks.end_is_cut && strip + 1 == self.count {
            let end_mm = instrument.length_mm();
            flags.push(Flag {
                x: self.x(strip, end_mm),
                foot: side(end_mm),
                name: "open end".to_string(),
                marks: vec![(Sign::Wedge, "next cut")],
            });
        }
        flags
    }

    /// One strip whose top lies at `top`, and where it ends.
    fn drawn(&self, instrument: &Instrument, marks: &Marks<'_>, strip: usize, top: f64) -> (String, f64) {
        let (mut above, mut below) =
            (self.flags_above(instrument, marks, strip), self.flags_below(instrument, marks, strip));
        let widest = instrument.bore.iter().map(|point| point.diameter_mm).fold(0.0, f64::max);
        let half = self.scale * (0.5 * widest + instrument.wall.thickness_mm);
        let over = above.iter().map(|flag| -flag.foot).fold(half, f64::max);
        let under = below.iter().map(|flag| flag.foot).fold(half, f64::max);
        let middle = top + Rows::of(&above).height() + CLEAR + over;
        above.iter_mut().chain(&mut below).for_each(|flag| flag.foot += middle);
        let mut out = self.tube(instrument, strip, middle);
        for hole in instrument.holes.iter().filter(|hole| self.holds(strip, hole.at_mm)) {
            let surface = middle - 0.5 * self.scale * instrument.bore_at_mm(hole.at_mm);
            out.push_str(&hole_drawn(hole, self.x(strip, hole.at_mm), surface, self.scale));
        }
        for site in instrument.leak_sites.iter().filter(|site| self.holds(strip, site.at_mm)) {
            let x = self.x(strip, site.at_mm);
            let from = middle + 0.5 * self.scale * instrument.bore_at_mm(site.at_mm);
            let to = from + self.scale * instrument.wall.thickness_mm + SCREW;
            out.push_str(&format!("<path class=\"drawn-line\" d=\"M{x:.1} {from:.1}V{to:.1}m-5 0h10\"/>\n"));
        }
        out.push_str(&Rows::of(&above).drawn(middle - over - CLEAR, true));
        let rows = Rows::of(&below);
        out.push_str(&rows.drawn(middle + under, false));
        let rule = middle + under + rows.height() + CLEAR + 8.0;
        out.push_str(&self.rule(strip, rule));
        (out, rule + RULE)
    }

    /// Bore and wall of one strip; before the first the mouthpiece, in dashes.
    fn tube(&self, instrument: &Instrument, strip: usize, middle: f64) -> String {
        let (from, to) = self.span(strip);
        let mut points = vec![(from, instrument.bore_at_mm(from))];
        let inner = instrument.bore.iter().filter(|point| point.at_mm > from && point.at_mm < to);
        points.extend(inner.map(|point| (point.at_mm, point.diameter_mm)));
        points.push((to, instrument.bore_at_mm(to)));
        let wall = self.scale * instrument.wall.thickness_mm;
        let side = |sign: f64, more: f64| -> Vec<String> {
            let y = |d: f64| middle + sign * (0.5 * self.scale * d + more);
            points.iter().map(|(at, d)| format!("{:.1} {:.1}", self.x(strip, *at), y(*d))).collect()
        };
        let mut out = String::new();
        for sign in [-1.0, 1.0] {
            let mut outline = side(sign, 0.0);
            outline.extend(side(sign, wall).into_iter().rev());
            out.push_str(&format!("<path class=\"drawn-wall\" d=\"M{}Z\"/>\n", outline.join("L")));
        }
        if strip == 0 && instrument.mouthpiece.is_some() {
            let half = 0.5 * self.scale * instrument.bore_at_mm(0.0) + wall;
            out.push_str(&format!(
                "<path class=\"drawn-pole\" d=\"M{LEFT:.1} {:.1}L5 {:.1}V{:.1}H{LEFT:.1}\"/>\n",
                middle - half,
                middle + 0.4 * half,
                middle + half,
            ));
        }
        out
    }

    /// A rule with its marks in mm from the mouthpiece end.
    fn rule(&self, strip: usize, y: f64) -> String {
        let (from, to) = self.span(strip);
        let mut out = format!("<path class=\"drawn-line\" d=\"M{LEFT:.1} {y:.1}H{:.1}", self.x(strip, to));
        let mut words = String::new();
        let mut at = (from / RULE_MM).ceil() * RULE_MM;
        while at <= to {
            let x = self.x(strip, at);
            out.push_str(&format!("M{x:.1} {y:.1}v8"));
            let unit = if words.is_empty() { " mm" } else { "" };
            words.push_str(&format!(
                "<text class=\"drawn-word\" text-anchor=\"middle\" x=\"{x:.1}\" y=\"{:.1}\">{at:.0}{unit}</text>\n",
                y + 30.0
            ));
            at += RULE_MM;
        }
        out.push_str("\"/>\n");
        out + &words
    }
}

/// How far a hole with its pad stands above the bore, mm.
fn height_mm(hole: &Hole) -> f64 {
    hole.chimney_mm + hole.pad.map_or(0.0, |pad| pad.lift_mm + PAD_MM)
}

/// Chimney and, where there is one, the pad above it. A hole that is only planned is dashed.
fn hole_drawn(hole: &Hole, x: f64, surface: f64, scale: f64) -> String {
    let half = 0.5 * scale * hole.diameter_mm;
    let rim = surface - scale * hole.chimney_mm;
    let dash = if hole.drilled { "" } else { " stroke-dasharray=\"3 3\"" };
    let mut out = format!(
        "<rect class=\"drawn-paper\" x=\"{:.1}\" y=\"{rim:.1}\" width=\"{:.1}\" height=\"{:.1}\"/>\
         <path class=\"drawn-line\"{dash} d=\"M{:.1} {surface:.1}V{rim:.1}M{:.1} {surface:.1}V{rim:.1}\"/>\n",
        x - half,
        2.0 * half,
        surface - rim + 1.0,
        x - half,
        x + half
    );
    if let Some(pad) = hole.pad {
        let (half, under) = (0.5 * scale * pad.diameter_mm, rim - scale * pad.lift_mm);
        out.push_str(&format!(
            "<rect class=\"drawn-wall\" x=\"{:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{:.1}\"/>\n",
            x - half,
            under - PAD_MM * scale,
            2.0 * half,
            PAD_MM * scale
        ));
    }
    out
}

fn holes(instrument: &Instrument, marks: &Marks<'_>) -> String {
    let head = ["place", "at, mm", "diameter, mm", "chimney, mm", "pad, mm", "lift, mm", "marked"];
    let millimetres = |mm: f64| format!("{mm:.1}");
    let none = || "–".to_string();
    let marked =
        |place: &str| marks.of(place).into_iter().map(|(_, word)| word).collect::<Vec<_>>().join(", ");
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
    table("Holes, vents, posts and joints as the file has them", Last::Words, &head, &rows)
}
