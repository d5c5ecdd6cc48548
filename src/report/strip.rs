//! The layout as paper strips at full size, to wrap round the tube and punch through: SVG pages in millimetres.
//! Computes nothing but where things stand on the sheet: places down the page, angles round the tube across it. Printed side
//! out and the mouthpiece at the top, clockwise seen from the mouthpiece is to the left.

use super::page::html::plain;
use crate::instrument::bench_limits::apart_mm;
use crate::instrument::model::{Hole, Instrument};
use crate::placing::limits::Reach;
use crate::placing::place::Placed;
use crate::report::layout::shortened;

/// A sheet of paper.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Paper {
    /// For file names.
    pub name: &'static str,
    /// Width, mm.
    pub width_mm: f64,
    /// Height, mm.
    pub height_mm: f64,
}

/// ISO 216 A4, and US Letter (8.5 by 11 inches).
pub const PAPERS: [Paper; 2] = [
    Paper { name: "a4", width_mm: 210.0, height_mm: 297.0 },
    Paper { name: "letter", width_mm: 215.9, height_mm: 279.4 },
];

/// What printers leave white, mm.
const MARGIN_MM: f64 = 12.0;
/// Height of the words and the ruler above the strip, mm.
const HEAD_MM: f64 = 40.0;
/// So much of each page is printed again on the next, mm.
const OVERLAP_MM: f64 = 10.0;
/// The ruler that shows whether the printer kept the size, mm.
const RULER_MM: f64 = 100.0;
/// Paper beyond the end of the tube, mm.
const BEYOND_MM: f64 = 5.0;
/// From the strip's edge to the first bracket, mm: room for the words beside holes.
const BRACKETS_MM: f64 = 12.0;
/// Letters, mm high.
const LETTER_MM: f64 = 3.2;
const LONGEST_NAME: usize = 18;

/// The pages for one kind of paper, from the datum down, with a bracket for each of `reaches`.
#[must_use]
pub fn strip(placed: &Placed, reaches: &[Reach], paper: Paper) -> Vec<String> {
    let instrument = &placed.after;
    let shown_mm = paper.height_mm - 2.0 * MARGIN_MM - HEAD_MM;
    let fresh_mm = shown_mm - OVERLAP_MM;
    let whole_mm = instrument.length_mm() + BEYOND_MM;
    let pages = ((whole_mm - OVERLAP_MM).max(1.0) / fresh_mm).ceil() as usize;
    (0..pages)
        .map(|page| {
            let from_mm = fresh_mm * page as f64;
            let to_mm = (from_mm + shown_mm).min(whole_mm);
            Sheet { placed, reaches, paper, from_mm, to_mm, fresh_mm, page, pages }.drawn()
        })
        .collect()
}

/// One page.
struct Sheet<'a> {
    placed: &'a Placed,
    reaches: &'a [Reach],
    paper: Paper,
    from_mm: f64,
    to_mm: f64,
    /// What no page before shows, mm.
    fresh_mm: f64,
    page: usize,
    pages: usize,
}

impl Sheet<'_> {
    fn drawn(&self) -> String {
        let Paper { width_mm, height_mm, .. } = self.paper;
        let instrument = &self.placed.after;
        let mut out = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width_mm}mm\" height=\"{height_mm}mm\" viewBox=\"0 0 \
             {width_mm} {height_mm}\" font-family=\"sans-serif\" font-size=\"{LETTER_MM}\">\n<title>{} {}, strip \
             {} of {}</title>\n<style>@page{{size:{width_mm}mm {height_mm}mm;margin:0}}path,circle{{fill:none;stroke:#000;\
             stroke-width:.2}}.dash{{stroke-dasharray:2 1.5}}.line{{stroke:#888}}</style>\n<rect width=\"100%\" height=\"100%\" \
             fill=\"#fff\"/>\n",
            plain(&instrument.name),
            plain(&instrument.prototype),
            self.page + 1,
            self.pages
        );
        out.push_str(&self.head());
        out.push_str(&self.edges());
        out.push_str(&self.lines());
        for (column, reach) in self.reaches.iter().enumerate() {
            out.push_str(&self.bracket(column, reach));
        }
        for (index, hole) in instrument.holes.iter().enumerate() {
            // A hole whose centre is off the sheet would lie over the words or the rulers.
            if (self.from_mm..=self.to_mm).contains(&hole.at_mm) {
                let own = self.page_of(hole);
                let drawn = if own == self.page { self.hole(index, hole) } else { self.elsewhere(hole, own) };
                out.push_str(&drawn);
            }
        }
        out.push_str("</svg>\n");
        out
    }

    /// What it is, how to use it, and the ruler.
    fn head(&self) -> String {
        let instrument = &self.placed.after;
        let words = [
            format!(
                "{} {}: strip {} of {}, {:.0} to {:.0} mm from the datum (where the mouthpiece ends).",
                shortened(&instrument.name, 40),
                shortened(&instrument.prototype, 12),
                self.page + 1,
                self.pages,
                self.from_mm,
                self.to_mm
            ),
            "Print at 100 %, not fitted to the page. Lay a steel rule on both lines below: each must be 100 mm long."
                .to_string(),
            format!(
                "Lay the pages over each other where they repeat, tape them, and wrap the strip round the tube ({:.1} mm \
                 outside).",
                self.outside_mm()
            ),
            if self.angles_deg().len() == 1 {
                "Holes stand in one line; turn one aside round the tube at the same height where fingers or keys need it."
                    .to_string()
            } else {
                "Lines are named by their angle round the tube; + is clockwise seen from the mouthpiece. This side faces out."
                    .to_string()
            },
            "Clamp the tube over a dowel before you drill; goggles and mask on, no gloves. Labels and local rules come \
             first."
                .to_string(),
        ];
        let mut out = String::new();
        for (row, line) in words.iter().enumerate() {
            let y = MARGIN_MM + 4.0 + 4.6 * row as f64;
            out.push_str(&format!("<text x=\"{MARGIN_MM}\" y=\"{y:.1}\">{}</text>\n", plain(line)));
        }
        let (x, y) = (MARGIN_MM, MARGIN_MM + 30.0);
        out.push_str(&format!("<path d=\"M{x} {y}h{RULER_MM}{}\"/>\n", ticks(x, y, true)));
        out.push_str(&format!("<text x=\"{:.1}\" y=\"{:.1}\">100 mm</text>\n", x + RULER_MM + 2.0, y + 1.0));
        let (x, y) = (self.paper.width_mm - MARGIN_MM - 3.0, MARGIN_MM + HEAD_MM);
        out.push_str(&format!("<path d=\"M{x} {y}v{RULER_MM}{}\"/>\n", ticks(x, y, false)));
        out.push_str(&format!("<text x=\"{:.1}\" y=\"{:.1}\">100 mm</text>\n", x - 8.0, y + RULER_MM + 4.0));
        out
    }

    /// Where to cut the paper: round the tube, the datum, the open end.
    fn edges(&self) -> String {
        let half_mm = self.half_mm();
        let (left, right) = (self.middle() - half_mm, self.middle() + half_mm);
        let (top, bottom) = (self.y(self.from_mm), self.y(self.to_mm));
        let mut out = format!(
            "<path class=\"dash\" d=\"M{left:.2} {top:.2}V{bottom:.2}M{right:.2} {top:.2}V{bottom:.2}\"/>\n"
        );
        for (mm, words) in
            [(0.0, "datum: where the mouthpiece ends"), (self.placed.after.length_mm(), "open end")]
        {
            if (self.from_mm..=self.to_mm).contains(&mm) {
                let y = self.y(mm);
                out.push_str(&format!("<path d=\"M{left:.2} {y:.2}H{right:.2}\"/>\n"));
                out.push_str(&format!(
                    "<text x=\"{:.2}\" y=\"{:.2}\">{words}, {mm:.1} mm</text>\n",
                    left + 2.0,
                    y - 1.0
                ));
            }
        }
        if self.page + 1 < self.pages {
            let y = self.y(self.to_mm - OVERLAP_MM);
            out.push_str(&format!("<path class=\"dash\" d=\"M{left:.2} {y:.2}H{right:.2}\"/>\n"));
            let (x, y) = (left + 12.0, y - 1.0);
            out.push_str(&format!(
                "<text x=\"{x:.2}\" y=\"{y:.2}\">strip {} begins here</text>\n",
                self.page + 2
            ));
        }
        if self.page > 0 {
            out.push_str(&format!("<path d=\"M{left:.2} {top:.2}H{right:.2}\"/>\n"));
        }
        let first_tick = (self.from_mm / 10.0).floor() as usize + 1;
        let last_tick = (self.to_mm / 10.0).floor() as usize;
        for tick in first_tick..=last_tick {
            let y = self.y(10.0 * tick as f64);
            let long = if tick % 5 == 0 { 4.0 } else { 2.0 };
            out.push_str(&format!("<path d=\"M{left:.2} {y:.2}h{long}\"/>\n"));
            // The names of lines stand at the top, and one may lie at the left edge.
            if tick % 5 == 0 && (self.angles_deg().len() == 1 || y > top + 11.0) {
                out.push_str(&format!(
                    "<text x=\"{:.2}\" y=\"{:.2}\">{}</text>\n",
                    left + 5.0,
                    y + 1.1,
                    10 * tick
                ));
            }
        }
        out
    }

    /// The lines along the tube that holes stand on, from the left: the line of the finger holes (0) and every other.
    fn angles_deg(&self) -> Vec<f64> {
        let mut angles: Vec<f64> = self.placed.after.holes.iter().map(|hole| hole.angle_deg).collect();
        angles.push(0.0);
        angles.sort_by(|a, b| b.total_cmp(a));
        angles.dedup_by(|a, b| *a == *b);
        angles
    }

    /// Each line along the tube; named where there is more than one.
    fn lines(&self) -> String {
        let (top, bottom) = (self.y(self.from_mm), self.y(self.to_mm));
        let angles = self.angles_deg();
        let mut out = String::new();
        for (place, &angle_deg) in angles.iter().enumerate().filter(|(_, angle)| self.is_on_sheet(**angle)) {
            let x = self.x(angle_deg);
            out.push_str(&format!("<path class=\"line\" d=\"M{x:.2} {top:.2}V{bottom:.2}\"/>\n"));
            if angles.len() > 1 {
                // Neighbours at two heights, or near lines would hide each other's names.
                let y = top + 5.0 + 4.0 * (place % 2) as f64;
                let sign = if angle_deg > 0.0 { "+" } else { "" };
                out.push_str(&format!(
                    "<text class=\"angle\" x=\"{:.2}\" y=\"{y:.2}\">{sign}{angle_deg}°</text>\n",
                    x + 0.8
                ));
            }
        }
        out
    }

    /// How far apart two holes of one hand may lie, and do: a bracket beside the strip, cut where the page ends.
    fn bracket(&self, column: usize, reach: &Reach) -> String {
        let holes = &self.placed.after.holes;
        let (Some(from), Some(to)) = (holes.get(reach.from), holes.get(reach.to)) else {
            return String::new();
        };
        let (upper, lower) = if from.at_mm <= to.at_mm { (from, to) } else { (to, from) };
        let (top_mm, bottom_mm) = (upper.at_mm.max(self.from_mm), lower.at_mm.min(self.to_mm));
        if top_mm >= bottom_mm {
            return String::new();
        }
        let x = self.bracket_x(column);
        let arm = |at_mm: f64, here: bool| {
            if here { format!("M{x:.2} {:.2}h-3", self.y(at_mm)) } else { String::new() }
        };
        let ends =
            arm(upper.at_mm, upper.at_mm >= self.from_mm) + &arm(lower.at_mm, lower.at_mm <= self.to_mm);
        let words = format!(
            "{} to {}: {:.1} mm, reach {}",
            shortened(&upper.name, LONGEST_NAME),
            shortened(&lower.name, LONGEST_NAME),
            apart_mm(&self.placed.after, upper, lower),
            reach.most_mm
        );
        // On a short piece the words are longer than it; they stay on the page.
        let half_mm = 0.25 * LETTER_MM * words.chars().count() as f64;
        let (words_x, middle) = (x + 1.5, self.y(0.5 * (top_mm + bottom_mm)));
        let words_y = middle.min(self.y(self.to_mm) - half_mm).max(self.y(self.from_mm) + half_mm);
        format!(
            "<path class=\"reach\" d=\"M{x:.2} {:.2}V{:.2}{ends}\"/>\n<text x=\"{words_x:.2}\" y=\"{words_y:.2}\" \
             transform=\"rotate(90 {words_x:.2} {words_y:.2})\" text-anchor=\"middle\">{}</text>\n",
            self.y(top_mm),
            self.y(bottom_mm),
            plain(&words)
        )
    }

    /// Right of the strip and of the words beside its holes, one beside the other; on wide tubes as far right as there is room.
    fn bracket_x(&self, column: usize) -> f64 {
        let most = self.paper.width_mm - MARGIN_MM - 16.0;
        let x = self.middle() + self.half_mm() + BRACKETS_MM + 6.0 * column as f64;
        x.min(most)
    }

    /// The page that a hole is punched on. Pages repeat a few millimetres, and paper shrinks: two crosses for one hole
    /// would not meet.
    fn page_of(&self, hole: &Hole) -> usize {
        ((hole.at_mm.max(0.0) / self.fresh_mm) as usize).min(self.pages - 1)
    }

    /// A hole that is punched on another page: its outline, without a cross.
    fn elsewhere(&self, hole: &Hole, page: usize) -> String {
        let (x, y, last) = (self.x(hole.angle_deg), self.y(hole.at_mm), 0.5 * hole.diameter_mm);
        if !self.is_on_sheet(hole.angle_deg) {
            return String::new();
        }
        format!(
            "<circle class=\"dash\" cx=\"{x:.2}\" cy=\"{y:.2}\" r=\"{last:.2}\"/>\n<text x=\"{:.2}\" y=\"{:.2}\">{}: \
             punch on strip {}</text>\n",
            x + last + 3.5,
            y + 1.1,
            plain(&shortened(&hole.name, LONGEST_NAME)),
            page + 1
        )
    }

    /// A cross at the centre; the first drill as a line, the last size dashed.
    fn hole(&self, index: usize, hole: &Hole) -> String {
        let (x, y) = (self.x(hole.angle_deg), self.y(hole.at_mm));
        let last = 0.5 * hole.diameter_mm;
        if !self.is_on_sheet(hole.angle_deg) {
            return self.beside_the_sheet(hole);
        }
        let arm = last + 2.0;
        let first_mm = self.placed.first_drills_mm.get(index).copied().flatten();
        let mut out = format!(
            "<path class=\"cross\" d=\"M{:.2} {y:.2}h{:.2}M{x:.2} {:.2}v{:.2}\"/>\n",
            x - arm,
            2.0 * arm,
            y - arm,
            2.0 * arm
        );
        let kept = self.placed.kept.contains(&index);
        let sizes = match first_mm {
            Some(first_mm) => {
                out.push_str(&format!("<circle cx=\"{x:.2}\" cy=\"{y:.2}\" r=\"{:.2}\"/>\n", 0.5 * first_mm));
                format!("drill {first_mm:.1}, then {:.1}", hole.diameter_mm)
            }
            None if kept => format!("{:.1}, kept", hole.diameter_mm),
            None => format!("{:.1}", hole.diameter_mm),
        };
        out.push_str(&format!("<circle class=\"dash\" cx=\"{x:.2}\" cy=\"{y:.2}\" r=\"{last:.2}\"/>\n"));
        let (words_x, name) = (x + arm + 1.5, plain(&shortened(&hole.name, LONGEST_NAME)));
        out.push_str(&format!(
            "<text x=\"{words_x:.2}\" y=\"{:.2}\">{name} at {:.1}</text>\n<text x=\"{words_x:.2}\" \
             y=\"{:.2}\">{sizes}</text>\n",
            y - 0.8,
            hole.at_mm,
            y + 3.2
        ));
        out
    }

    /// A hole farther round the tube than the sheet is wide, in words.
    fn beside_the_sheet(&self, hole: &Hole) -> String {
        let way = if hole.angle_deg > 0.0 { "left" } else { "right" };
        format!(
            "<text x=\"{:.2}\" y=\"{:.2}\">{} at {:.1}, {:.1} mm: {:.1} mm {way} of the line 0°, beside this sheet</text>\n",
            self.middle() + 2.0,
            self.y(hole.at_mm) + 1.1,
            plain(&shortened(&hole.name, LONGEST_NAME)),
            hole.at_mm,
            hole.diameter_mm,
            (self.x(hole.angle_deg) - self.middle()).abs()
        )
    }

    /// Where a line along the tube stands across the page.
    fn x(&self, angle_deg: f64) -> f64 {
        self.middle() - std::f64::consts::PI * self.outside_mm() * angle_deg / 360.0
    }

    fn is_on_sheet(&self, angle_deg: f64) -> bool {
        (self.x(angle_deg) - self.middle()).abs() <= self.half_mm() + 1e-9
    }

    /// The line of the finger holes, 0°: nearer the left, so that there is room for the words.
    fn middle(&self) -> f64 {
        let room_mm = self.paper.width_mm - 2.0 * MARGIN_MM - 8.0;
        MARGIN_MM + (0.5 * room_mm).min(self.half_mm())
    }

    /// Half the paper's width round the tube; no more than the sheet has.
    fn half_mm(&self) -> f64 {
        let room_mm = self.paper.width_mm - 2.0 * MARGIN_MM - 8.0;
        (0.5 * std::f64::consts::PI * self.outside_mm()).min(0.5 * room_mm)
    }

    fn outside_mm(&self) -> f64 {
        let instrument: &Instrument = &self.placed.after;
        let widest = instrument.bore.iter().map(|point| point.diameter_mm).fold(0.0, f64::max);
        widest + 2.0 * instrument.wall.thickness_mm
    }

    fn y(&self, at_mm: f64) -> f64 {
        MARGIN_MM + HEAD_MM + at_mm - self.from_mm
    }
}

/// A tick every 10 mm.
fn ticks(x: f64, y: f64, level: bool) -> String {
    let count = (RULER_MM / 10.0) as usize;
    (0..=count)
        .map(|tick| {
            let along = 10.0 * tick as f64;
            if level {
                format!("M{:.2} {:.2}v3", x + along, y - 1.5)
            } else {
                format!("M{:.2} {:.2}h3", x - 1.5, y + along)
            }
        })
        .collect()
}
