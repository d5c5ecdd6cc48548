//! Charts as SVG: axes, series, keys and colours, for every chart that the program draws.
//!
//! Legible on paper in grey, on a dark screen and without telling colours apart: series differ by shape
//! and dash as well, and the colours are those that M. Okabe & K. Ito chose for all kinds of sight
//! ("Color Universal Design", 2008; from memory). Must not know what is charted, and computes nothing.

use plotters::prelude::*;

/// One drawing with panels below each other.
pub struct Figure<'a> {
    /// A word of letters and digits, different for each figure of a page.
    pub id: &'a str,
    /// What it shows, in a line.
    pub title: &'a str,
    /// The same for people who don't see it: what is to be read off it.
    pub description: &'a str,
    /// From the top down.
    pub panels: &'a [Panel],
}

/// One pair of axes with what is drawn on them.
pub struct Panel {
    /// A line above it.
    pub title: String,
    /// Left to right.
    pub x: Axis,
    /// Bottom to top.
    pub y: Axis,
    /// From the back to the front.
    pub layers: Vec<Layer>,
}

/// One axis.
pub struct Axis {
    /// What it is, and its unit.
    pub label: String,
    /// Where it begins and ends; widened when there is nothing between.
    pub from: f64,
    /// See [`Axis::from`].
    pub to: f64,
}

/// One series, with the words that explain it in the key (none, when empty).
pub struct Layer {
    /// For the key.
    pub key: String,
    /// Its colour.
    pub ink: Ink,
    /// Its form.
    pub form: Form,
}

/// How a series is drawn.
pub enum Form {
    /// A line; a gap where there is no value.
    Line(Vec<(f64, Option<f64>)>, Stroke),
    /// Signs with a word above each, as far as there is room for the words.
    Marks(Vec<(f64, f64, String)>, Sign),
    /// A shaded rectangle from corner to corner.
    Shade((f64, f64), (f64, f64)),
}

/// Thickness and dash of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stroke {
    /// For data in the background.
    Thin,
    /// For data that matter.
    Thick,
    /// For references.
    Dashed,
}

/// Signs that differ without colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sign {
    /// A filled circle.
    Dot,
    /// A filled triangle.
    Triangle,
    /// A cross.
    Cross,
}

/// Colours by their role.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ink {
    /// Text, axes, plain data.
    Plain,
    /// Data in the background.
    Faint,
    /// First colour (blue).
    First,
    /// Second colour (vermilion).
    Second,
    /// Third colour (bluish green).
    Third,
}

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

/// Drawn at twice the size it is shown at, because coordinates are whole numbers.
const WIDTH: u32 = 1600;
const PANEL_HEIGHT: u32 = 620;
const TITLE_HEIGHT: u32 = 70;
/// Font sizes in the same measure.
const TITLE_SIZE: f64 = 38.0;
const TEXT_SIZE: f64 = 30.0;
const LINE_HEIGHT: i32 = 30;
/// Mean width of a letter beside the size of the font (sans serif, estimated).
const LETTER_WIDTH: f64 = 0.43;
/// Left of the axis' own words, and from there to the axis.
const MARGIN: u32 = 20;
const LEFT: u32 = 116;
const RIGHT: u32 = 40;
const LONGEST_TITLE: usize = 90;
/// So many marks are few enough to stagger their words.
const FEW: usize = 10;

/// A chart that can't be drawn.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the chart can't be drawn: {0}")]
pub struct ChartError(String);

fn drawing<E: std::fmt::Display>(error: E) -> ChartError {
    ChartError(error.to_string())
}

impl Ink {
    fn colour(self) -> RGBColor {
        COLOURS.iter().find(|(ink, ..)| *ink == self).map_or(BLACK, |(_, colour, _)| *colour)
    }
}

/// The figure as an SVG document, which may also stand inside a page.
///
/// # Errors
/// [`ChartError`] when the drawing library refuses.
pub fn svg(figure: &Figure) -> Result<String, ChartError> {
    let height = TITLE_HEIGHT + PANEL_HEIGHT * figure.panels.len() as u32;
    let mut drawn = String::new();
    {
        let root = SVGBackend::with_string(&mut drawn, (WIDTH, height)).into_drawing_area();
        root.fill(&PAPER.0).map_err(drawing)?;
        let style = text(TITLE_SIZE);
        let title = shortened(&printable(figure.title));
        root.draw_text(&title, &style, (MARGIN as i32, 18)).map_err(drawing)?;
        let (_, mut rest) = root.split_vertically(TITLE_HEIGHT);
        for panel in figure.panels {
            let (area, below) = rest.split_vertically(PANEL_HEIGHT);
            draw(&area, panel)?;
            rest = below;
        }
        root.present().map_err(drawing)?;
    }
    Ok(with_words(figure, &drawn, height))
}

type Area<'a> = DrawingArea<SVGBackend<'a>, plotters::coord::Shift>;

fn text(size: f64) -> TextStyle<'static> {
    ("sans-serif", size).into_font().color(&Ink::Plain.colour())
}

fn draw(area: &Area, panel: &Panel) -> Result<(), ChartError> {
    area.draw_text(&printable(&panel.title), &text(TEXT_SIZE), ((MARGIN + LEFT) as i32, 6))
        .map_err(drawing)?;
    draw_key(area, &panel.layers)?;
    let (x, y) = (range(&panel.x), range(&panel.y));
    let mut chart = ChartBuilder::on(area)
        .margin_top(92)
        .margin_right(RIGHT)
        .margin_left(MARGIN)
        .margin_bottom(14)
        .x_label_area_size(84)
        .y_label_area_size(LEFT)
        .build_cartesian_2d(x.clone(), y.clone())
        .map_err(drawing)?;
    chart
        .configure_mesh()
        .light_line_style(TRANSPARENT)
        .bold_line_style(GRID.0.stroke_width(2))
        .axis_style(Ink::Plain.colour().stroke_width(2))
        .label_style(text(TEXT_SIZE))
        .axis_desc_style(text(TEXT_SIZE))
        .x_desc(printable(&panel.x.label))
        .y_desc(printable(&panel.y.label))
        .x_labels(10)
        .y_labels(7)
        .x_label_formatter(&|value| tick(*value, x.end - x.start))
        .y_label_formatter(&|value| tick(*value, y.end - y.start))
        .draw()
        .map_err(drawing)?;
    for layer in &panel.layers {
        let colour = layer.ink.colour();
        match &layer.form {
            Form::Shade(a, b) => {
                let corners = [inside(*a, &x, &y), inside(*b, &x, &y)];
                chart.draw_series([Rectangle::new(corners, colour.mix(0.18).filled())]).map_err(drawing)?;
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
            Form::Marks(marks, sign) => {
                let shown = marks.iter().filter(|(at, value, _)| x.contains(at) && y.contains(value));
                let places: Vec<((i32, i32), &str)> = shown
                    .map(|(at, value, word)| {
                        (at_in(area, chart.backend_coord(&(*at, *value))), word.as_str())
                    })
                    .collect();
                draw_marks(area, &places, *sign, colour)?;
            }
        }
    }
    Ok(())
}

/// Signs, each with its word above it where there is room; of a few, a word that finds none goes higher.
fn draw_marks(
    area: &Area,
    places: &[((i32, i32), &str)],
    sign: Sign,
    colour: RGBColor,
) -> Result<(), ChartError> {
    let style = ("sans-serif", TEXT_SIZE).into_font().color(&colour);
    let heights: &[i32] = if places.len() <= FEW { &[44, 78, 112] } else { &[44] };
    let mut words: Vec<(i32, i32, i32)> = Vec::new();
    for &(at, word) in places {
        draw_sign(area, at, sign, colour)?;
        let half = (letters(word) * TEXT_SIZE * LETTER_WIDTH / 2.0) as i32;
        let covers = |top: i32, (x, y, other): &(i32, i32, i32)| {
            (at.0 - x).abs() < half + other + 8 && (top - y).abs() < LINE_HEIGHT
        };
        let free =
            heights.iter().map(|height| at.1 - height).find(|top| !words.iter().any(|w| covers(*top, w)));
        if let Some(top) = free.filter(|_| !word.is_empty()) {
            area.draw_text(&printable(word), &style, (at.0 - half, top)).map_err(drawing)?;
            words.push((at.0, top, half));
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

/// One line under the panel's title: the sign of each series and its words.
fn draw_key(area: &Area, layers: &[Layer]) -> Result<(), ChartError> {
    let y = 64;
    let mut x = (MARGIN + LEFT) as i32;
    for layer in layers.iter().filter(|layer| !layer.key.is_empty()) {
        let colour = layer.ink.colour();
        match &layer.form {
            Form::Shade(..) => {
                let corners = [(x, y - 12), (x + 40, y + 12)];
                area.draw(&Rectangle::new(corners, colour.mix(0.18).filled())).map_err(drawing)?;
            }
            Form::Line(_, stroke) => {
                let (width, dashes) = match stroke {
                    Stroke::Thin => (2, 1),
                    Stroke::Thick => (5, 1),
                    Stroke::Dashed => (3, 2),
                };
                for dash in 0..dashes {
                    let (from, to) =
                        (x + 40 * dash / dashes, x + 40 * (dash + 1) / dashes - 8 * (dashes - 1));
                    let line = PathElement::new([(from, y), (to, y)], colour.stroke_width(width));
                    area.draw(&line).map_err(drawing)?;
                }
            }
            Form::Marks(_, sign) => draw_sign(area, (x + 20, y), *sign, colour)?,
        }
        area.draw_text(&printable(&layer.key), &text(TEXT_SIZE), (x + 52, y - 16)).map_err(drawing)?;
        x += 52 + (letters(&layer.key) * TEXT_SIZE * LETTER_WIDTH) as i32 + 36;
    }
    Ok(())
}

fn letters(word: &str) -> f64 {
    word.chars().count() as f64
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

/// Text that any XML may hold: control characters and the two that are no characters stand as "�".
fn printable(text: &str) -> String {
    text.chars()
        .map(|c| if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') { '�' } else { c })
        .collect()
}

fn shortened(title: &str) -> String {
    crate::report::layout::shortened(title, LONGEST_TITLE)
}

fn escaped(text: &str) -> String {
    printable(text).replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

/// The drawing with title, description and colours for dark screens and for paper, without a fixed size.
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
    let id = figure.id;
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"bore-chart\" viewBox=\"0 0 {WIDTH} {height}\" \
         role=\"img\" aria-labelledby=\"{id}-title {id}-words\">\n\
         <title id=\"{id}-title\">{}</title>\n<desc id=\"{id}-words\">{}</desc>\n\
         <style>@media screen and (prefers-color-scheme: dark){{{dark}}}</style>{body}",
        escaped(figure.title),
        escaped(figure.description),
    )
}
