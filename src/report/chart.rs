//! Charts as SVG: axes, series, keys and colours, for every chart that the program draws.
//!
//! Legible on paper in grey, on a dark screen and without telling colours apart: series differ by shape
//! and dash as well, and the colours are those that M. Okabe & K. Ito chose for all kinds of sight
//! ("Color Universal Design", 2008; from memory). Must not know what is charted, and computes nothing.

use plotters::prelude::*;

use crate::report::figure::{Axis, Figure, Form, Ink, Layer, NARROW, Panel, Sign, Stroke};
use crate::report::layout::lines;
use crate::report::lettering::{fitted, letters};
use crate::report::printable::isolated;

/// On paper, on a light screen, on a dark one; the first is what stands in the drawing itself.
const COLOURS: [(Ink, RGBColor, &str); 5] = [
    (Ink::Plain, RGBColor(0x22, 0x22, 0x22), "#E6E6E6"),
    (Ink::Faint, RGBColor(0x77, 0x77, 0x77), "#9A9A9A"),
    (Ink::First, RGBColor(0x00, 0x72, 0xB2), "#56B4E9"),
    (Ink::Second, RGBColor(0xD5, 0x5E, 0x00), "#FF9E4A"),
    (Ink::Third, RGBColor(0x00, 0x9E, 0x73), "#3CD3A5"),
];
const PAPER: (RGBColor, &str) = (RGBColor(0xFF, 0xFF, 0xFF), "#16181A");
const GRID: (RGBColor, &str) = (RGBColor(0xE1, 0xE1, 0xE1), "#3A3D40");

/// Size of a chart that stands alone, beside the figure's measure: its letters are as large as a page's.
const SHOWN: f64 = 0.66;
/// Font sizes in the figure's measure.
const TITLE_SIZE: f64 = 34.0;
const TEXT_SIZE: f64 = 30.0;
const LINE_HEIGHT: i32 = 30;
/// From one line of the title to the next, and what is left free above and below the title.
const TITLE_LINE: u32 = 40;
const TITLE_ROUND: u32 = 24;
/// From one line of the key to the next, and the first one's place under the panel's top, with a title there and without.
const KEY_LINE: i32 = 38;
const KEY_TOP: i32 = 64;
const KEY_TOP_ALONE: i32 = 24;
/// From the middle of the key's last line to what is drawn, and from there to the panel's end: the axis and its words.
const KEY_BELOW: i32 = 28;
const AXIS_HEIGHT: u32 = 84;
const BELOW: u32 = 14;
/// The sign of a series in the key, and the space after its words.
const KEY_SIGN: i32 = 52;
const KEY_GAP: i32 = 36;
/// Mean width of a letter beside the size of the font (sans serif, estimated).
const LETTER_WIDTH: f64 = 0.43;
/// Left of the axis' own words, and from there to the axis.
const MARGIN: u32 = 20;
const LEFT: u32 = 116;
const RIGHT: u32 = 40;
/// A label for each so much of the upright and the level axis.
const TICK_EVERY: u32 = 128;
/// A name at an axis is at most as wide as so many letters.
const LONGEST_NAME: f64 = 16.0;
/// A sign keeps words off as a word of this height above its middle and this half width would.
const SIGN_TOP: i32 = 12;
const SIGN_HALF: i32 = 10;
/// So many marks are few enough to stagger their words.
const FEW: usize = 10;

/// A chart that can't be drawn.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the chart can't be drawn: {0}")]
pub struct ChartError(String);

fn drawing<E: std::fmt::Display>(error: E) -> ChartError {
    ChartError(error.to_string())
}

fn colour_of(ink: Ink) -> RGBColor {
    COLOURS.iter().find(|(known, ..)| *known == ink).map_or(BLACK, |(_, colour, _)| *colour)
}

/// The figure as an SVG document, which may also stand inside a page.
///
/// # Errors
/// [`ChartError`] when the drawing library refuses.
pub fn svg(figure: &Figure) -> Result<String, ChartError> {
    let room = f64::from(figure.width - 2 * MARGIN) / (TITLE_SIZE * LETTER_WIDTH);
    let title = lines(figure.title, room as usize);
    let title_height = TITLE_ROUND + TITLE_LINE * title.len() as u32;
    let height_of = |panel: &Panel| key(panel, figure.width).1 + panel.height + AXIS_HEIGHT + BELOW;
    let height = title_height + figure.panels.iter().map(height_of).sum::<u32>();
    let mut drawn = String::new();
    {
        let root = SVGBackend::with_string(&mut drawn, (figure.width, height)).into_drawing_area();
        root.fill(&PAPER.0).map_err(drawing)?;
        for (line, top) in
            title.iter().map(|line| fitted(line, room)).zip((12..).step_by(TITLE_LINE as usize))
        {
            root.draw_text(&isolated(&line), &text(TITLE_SIZE), (MARGIN as i32, top)).map_err(drawing)?;
        }
        let (_, mut rest) = root.split_vertically(title_height);
        for panel in figure.panels {
            let (area, below) = rest.split_vertically(height_of(panel));
            draw(&area, panel)?;
            rest = below;
        }
        root.present().map_err(drawing)?;
    }
    Ok(with_words(figure, &drawn, height))
}

type Area<'a> = DrawingArea<SVGBackend<'a>, plotters::coord::Shift>;

fn text(size: f64) -> TextStyle<'static> {
    ("sans-serif", size).into_font().color(&colour_of(Ink::Plain))
}

fn draw(area: &Area, panel: &Panel) -> Result<(), ChartError> {
    let width = area.dim_in_pixel().0;
    area.draw_text(&isolated(&panel.title), &text(TEXT_SIZE), (words_left(width), 6)).map_err(drawing)?;
    let (key, key_bottom) = key(panel, width);
    for (layer, x, y) in key {
        draw_key_sign(area, layer, x, y)?;
        area.draw_text(&isolated(&layer.key), &text(TEXT_SIZE), (x + KEY_SIGN, y - 16)).map_err(drawing)?;
    }
    let longest = panel.y.names.iter().map(|(_, name)| letters(&named(name))).fold(0.0, f64::max);
    let left = if panel.y.names.is_empty() { LEFT } else { (longest * TEXT_SIZE * LETTER_WIDTH) as u32 + 24 };
    let (x, y) = (range(&panel.x), range(&panel.y));
    let mut chart = ChartBuilder::on(area)
        .margin_top(key_bottom)
        .margin_right(RIGHT)
        .margin_left(MARGIN)
        .margin_bottom(BELOW)
        .x_label_area_size(AXIS_HEIGHT)
        .y_label_area_size(left)
        .build_cartesian_2d(x.clone(), y.clone())
        .map_err(drawing)?;
    let mut mesh = chart.configure_mesh();
    if !panel.y.names.is_empty() {
        mesh.disable_y_mesh();
    }
    mesh.light_line_style(TRANSPARENT)
        .bold_line_style(GRID.0.stroke_width(2))
        .axis_style(colour_of(Ink::Plain).stroke_width(2))
        .label_style(text(TEXT_SIZE))
        .axis_desc_style(text(TEXT_SIZE))
        .y_desc(isolated(&panel.y.label))
        .x_labels((width / TICK_EVERY) as usize)
        .y_labels(if panel.y.names.is_empty() { 7 } else { 0 })
        .x_label_formatter(&|value| tick(*value, x.end - x.start))
        .y_label_formatter(&|value| tick(*value, y.end - y.start))
        .draw()
        .map_err(drawing)?;
    // Under the middle of the axis, but never off the drawing, however short the axis is.
    let ends = [x.start, x.end].map(|end| at_in(area, chart.backend_coord(&(end, y.start))).0);
    let words = (letters(&panel.x.label) * TEXT_SIZE * LETTER_WIDTH) as i32;
    let words_left =
        ((ends[0] + ends[1] - words) / 2).min(width as i32 - MARGIN as i32 - words).max(MARGIN as i32);
    let words_top = (area.dim_in_pixel().1 - BELOW) as i32 - LINE_HEIGHT;
    area.draw_text(&isolated(&panel.x.label), &text(TEXT_SIZE), (words_left, words_top)).map_err(drawing)?;
    for (at, name) in &panel.y.names {
        let (axis, row) = at_in(area, chart.backend_coord(&(x.start, *at)));
        let end = at_in(area, chart.backend_coord(&(x.end, *at))).0;
        area.draw(&PathElement::new([(axis, row), (end, row)], GRID.0.stroke_width(2))).map_err(drawing)?;
        area.draw_text(&named(name), &text(TEXT_SIZE), (MARGIN as i32, row - 16)).map_err(drawing)?;
    }
    let shown = |at: &f64, value: &f64| x.contains(at) && y.contains(value);
    let marks = panel.layers.iter().filter_map(|layer| match &layer.form {
        Form::Marks(marks, _) => Some(marks),
        _ => None,
    });
    let signs = marks.flatten().filter(|(at, value, _)| shown(at, value));
    let mut taken: Vec<Taken> = signs
        .map(|(at, value, _)| at_in(area, chart.backend_coord(&(*at, *value))))
        .map(|(x, y)| (x, y - SIGN_TOP, SIGN_HALF))
        .collect();
    for layer in &panel.layers {
        let colour = colour_of(layer.ink);
        match &layer.form {
            Form::Shade(a, b) => {
                let corners = [inside(*a, &x, &y), inside(*b, &x, &y)];
                chart.draw_series([Rectangle::new(corners, colour.mix(0.18).filled())]).map_err(drawing)?;
                // A light shade alone doesn't stand out from the ground enough for every eye; its edge does.
                chart.draw_series([Rectangle::new(corners, colour.stroke_width(2))]).map_err(drawing)?;
            }
            Form::Line(points, stroke) => {
                for run in runs(points, &y) {
                    match stroke {
                        Stroke::Dashed => {
                            let dashed = DashedLineSeries::new(run, 14, 10, colour.stroke_width(3));
                            chart.draw_series(dashed).map_err(drawing)?;
                        }
                        Stroke::Thin => {
                            let line = LineSeries::new(run, colour.stroke_width(2));
                            chart.draw_series(line).map_err(drawing)?;
                        }
                        Stroke::Thick => {
                            let line = LineSeries::new(run, colour.stroke_width(5));
                            chart.draw_series(line).map_err(drawing)?;
                        }
                    }
                }
            }
            Form::Bars(bars) => {
                for (from, to, at) in bars {
                    let ends = [(*from, *at), (*to, *at)].map(|end| inside(end, &x, &y));
                    let [start, end] = ends.map(|end| at_in(area, chart.backend_coord(&end)));
                    draw_bar(area, start, end, colour)?;
                }
            }
            Form::Marks(marks, sign) => {
                let places: Vec<((i32, i32), &str)> = marks
                    .iter()
                    .filter(|(at, value, _)| shown(at, value))
                    .map(|(at, value, word)| {
                        (at_in(area, chart.backend_coord(&(*at, *value))), word.as_str())
                    })
                    .collect();
                draw_marks(area, &places, &mut taken, (*sign, colour))?;
            }
        }
    }
    Ok(())
}

/// What keeps words off: its middle, its top, half its width; as high as a word.
type Taken = (i32, i32, i32);

/// Signs, each with its word above it where neither another word nor another sign of the panel is in the way; of a
/// few, a word that finds no room goes below its sign, or higher.
fn draw_marks(
    area: &Area,
    places: &[((i32, i32), &str)],
    taken: &mut Vec<Taken>,
    (sign, colour): (Sign, RGBColor),
) -> Result<(), ChartError> {
    // Not in the sign's colour: small words need more contrast than signs.
    let style = text(TEXT_SIZE);
    let heights: &[i32] = if places.len() <= FEW { &[44, -20, 78, 112] } else { &[44] };
    for &(at, word) in places {
        draw_sign(area, at, sign, colour)?;
        let half = (letters(word) * TEXT_SIZE * LETTER_WIDTH / 2.0) as i32;
        let covers = |top: i32, (x, y, other): &Taken| {
            (at.0 - x).abs() < half + other + 8 && (top - y).abs() < LINE_HEIGHT
        };
        let free = heights
            .iter()
            .map(|height| at.1 - height)
            .find(|top| !taken.iter().any(|other| covers(*top, other)));
        if let Some(top) = free.filter(|_| !word.is_empty()) {
            // No line of data runs through the word.
            let ground = [(at.0 - half, top), (at.0 + half, top + LINE_HEIGHT - 4)];
            area.draw(&Rectangle::new(ground, PAPER.0.filled())).map_err(drawing)?;
            area.draw_text(&isolated(word), &style, (at.0 - half, top)).map_err(drawing)?;
            taken.push((at.0, top, half));
        }
    }
    Ok(())
}

/// From places of the whole drawing to places in one area of it.
fn at_in(area: &Area, (x, y): (i32, i32)) -> (i32, i32) {
    let (left, top) = area.get_base_pixel();
    (x - left, y - top)
}

fn draw_sign(area: &Area, at: (i32, i32), sign: Sign, colour: RGBColor) -> Result<(), ChartError> {
    match sign {
        Sign::Dot => area.draw(&Circle::new(at, 7, colour.filled())),
        Sign::Triangle => area.draw(&TriangleMarker::new(at, 13, colour.filled())),
        Sign::Cross => area.draw(&Cross::new(at, 9, colour.stroke_width(4))),
    }
    .map_err(drawing)
}

/// A level bar with its ends marked.
fn draw_bar(area: &Area, from: (i32, i32), to: (i32, i32), colour: RGBColor) -> Result<(), ChartError> {
    area.draw(&PathElement::new([from, to], colour.stroke_width(3))).map_err(drawing)?;
    for (x, y) in [from, to] {
        area.draw(&PathElement::new([(x, y - 8), (x, y + 8)], colour.stroke_width(3))).map_err(drawing)?;
    }
    Ok(())
}

/// Where the words above a chart begin: over its axis, or at the edge where there is little room.
fn words_left(width: u32) -> i32 {
    (if width > NARROW { MARGIN + LEFT } else { MARGIN }) as i32
}

/// Under the panel's title: where the sign of each series and its words stand, in as many lines as they need; and
/// where the chart may begin.
fn key(panel: &Panel, width: u32) -> (Vec<(&Layer, i32, i32)>, u32) {
    let start = words_left(width);
    let (mut x, mut y) = (start, if panel.title.is_empty() { KEY_TOP_ALONE } else { KEY_TOP });
    let mut places = Vec::new();
    for layer in panel.layers.iter().filter(|layer| !layer.key.is_empty() && !layer.form.is_empty()) {
        let words = (letters(&layer.key) * TEXT_SIZE * LETTER_WIDTH) as i32;
        if x > start && x + KEY_SIGN + words > width as i32 {
            (x, y) = (start, y + KEY_LINE);
        }
        places.push((layer, x, y));
        x += KEY_SIGN + words + KEY_GAP;
    }
    (places, (y + KEY_BELOW) as u32)
}

fn draw_key_sign(area: &Area, layer: &Layer, x: i32, y: i32) -> Result<(), ChartError> {
    let colour = colour_of(layer.ink);
    match &layer.form {
        Form::Shade(..) => {
            let corners = [(x, y - 12), (x + 40, y + 12)];
            area.draw(&Rectangle::new(corners, colour.mix(0.18).filled())).map_err(drawing)?;
            area.draw(&Rectangle::new(corners, colour.stroke_width(2))).map_err(drawing)
        }
        Form::Line(_, stroke) => {
            let (width, dashes) = match stroke {
                Stroke::Thin => (2, 1),
                Stroke::Thick => (5, 1),
                Stroke::Dashed => (3, 2),
            };
            for dash in 0..dashes {
                let (from, to) = (x + 40 * dash / dashes, x + 40 * (dash + 1) / dashes - 8 * (dashes - 1));
                let line = PathElement::new([(from, y), (to, y)], colour.stroke_width(width));
                area.draw(&line).map_err(drawing)?;
            }
            Ok(())
        }
        Form::Bars(_) => draw_bar(area, (x, y), (x + 40, y), colour),
        Form::Marks(_, sign) => draw_sign(area, (x + 20, y), *sign, colour),
    }
}

fn named(name: &str) -> String {
    isolated(&fitted(name, LONGEST_NAME))
}

/// The axis, widened when there is nothing between its ends.
fn range(axis: &Axis) -> std::ops::Range<f64> {
    let (from, to) = (axis.from, axis.to);
    if from.is_finite() && to.is_finite() && to > from { from..to } else { 0.0..1.0 }
}

fn inside((a, b): (f64, f64), x: &std::ops::Range<f64>, y: &std::ops::Range<f64>) -> (f64, f64) {
    (a.clamp(x.start, x.end), b.clamp(y.start, y.end))
}

/// The parts of a line without a gap; a value off the chart is a gap.
fn runs(points: &[(f64, Option<f64>)], y: &std::ops::Range<f64>) -> Vec<Vec<(f64, f64)>> {
    let mut runs: Vec<Vec<(f64, f64)>> = vec![Vec::new()];
    for (at, value) in points {
        match value.filter(|value| *value >= y.start && *value <= y.end) {
            Some(value) => runs.last_mut().into_iter().for_each(|run| run.push((*at, value))),
            None if runs.last().is_some_and(|run| !run.is_empty()) => runs.push(Vec::new()),
            None => {}
        }
    }
    runs.retain(|run| run.len() > 1);
    runs
}

/// A number at an axis: as many digits as its span needs.
fn tick(value: f64, span: f64) -> String {
    let digits = (0.85 - span.log10()).ceil().clamp(0.0, 4.0) as usize;
    let text = format!("{value:.digits$}");
    // No minus before nought.
    if text.trim_start_matches('-').chars().all(|c| matches!(c, '0' | '.')) {
        text.trim_start_matches('-').to_string()
    } else {
        text
    }
}

fn escaped(text: &str) -> String {
    isolated(text).replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

/// The drawing with title, description and colours for dark screens and for paper. Its size counts only where no page
/// gives it one.
fn with_words(figure: &Figure, drawn: &str, height: u32) -> String {
    let body = drawn.split_once("<svg").and_then(|(_, rest)| rest.split_once('>')).map_or(drawn, |(_, b)| b);
    let hex = |colour: RGBColor| format!("#{:02X}{:02X}{:02X}", colour.0, colour.1, colour.2);
    let mut dark = String::new();
    let all = COLOURS.iter().map(|(_, light, dark)| (*light, *dark)).chain([PAPER, GRID]);
    for (light, on_dark) in all {
        let light = hex(light);
        dark.push_str(&format!(
            ".bore-chart [stroke=\"{light}\"]{{stroke:{on_dark}}}.bore-chart [fill=\"{light}\"]{{fill:{on_dark}}}"
        ));
    }
    let (id, width) = (figure.id, figure.width);
    let [own_width, own_height] = [width, height].map(|size| (SHOWN * f64::from(size)).round());
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"bore-chart\" width=\"{own_width}\" height=\"{own_height}\" viewBox=\"0 0 {width} {height}\" \
         role=\"img\" aria-labelledby=\"{id}-title {id}-words\">\n\
         <title id=\"{id}-title\">{}</title>\n<desc id=\"{id}-words\">{}</desc>\n\
         <style>@media screen and (prefers-color-scheme: dark){{{dark}}}</style>{body}",
        escaped(figure.title),
        escaped(figure.description),
    )
}
