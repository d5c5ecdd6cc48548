//! What a chart shows, as plain data: panels, axes, series and their signs.
//!
//! Must not know how charts are drawn, and computes nothing.

/// Width of a chart that stands alone. Everything is drawn at about twice the size it is shown at, because
/// coordinates are whole numbers.
pub const WIDE: u32 = 1600;
/// Width of a chart that stays legible on a phone: its letters are as large beside it as they can be while its key
/// and axes still have room.
pub const NARROW: u32 = 640;
/// Height between the axes of a panel with numbers on both.
pub const PANEL_HEIGHT: u32 = 400;

/// One drawing with panels below each other.
pub struct Figure<'a> {
    /// A word of letters and digits, different for each figure of a page.
    pub id: &'a str,
    /// What it shows, in a line.
    pub title: &'a str,
    /// The same for people who don't see it: what is to be read off it.
    pub description: &'a str,
    /// [`WIDE`] or [`NARROW`].
    pub width: u32,
    /// From the top down.
    pub panels: &'a [Panel],
}

/// One pair of axes with what is drawn on them.
pub struct Panel {
    /// A line above it; may be empty.
    pub title: String,
    /// Between the ends of the upright axis, without title, key and words; see [`WIDE`] for the measure.
    pub height: u32,
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
    /// Of an axis of names (upright ones only): each name and its place. Empty: an axis of numbers.
    pub names: Vec<(f64, String)>,
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
    /// Level bars from one place to another, at a height: how far each value may be off.
    Bars(Vec<(f64, f64, f64)>),
    /// A shaded rectangle from corner to corner.
    Shade((f64, f64), (f64, f64)),
}

impl Form {
    /// Whether there is nothing to draw.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        match self {
            Form::Line(points, _) => points.is_empty(),
            Form::Marks(marks, _) => marks.is_empty(),
            Form::Bars(bars) => bars.is_empty(),
            Form::Shade(..) => false,
        }
    }
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
