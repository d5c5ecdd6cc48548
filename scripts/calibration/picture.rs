//! The reliability picture: what happened against what was said, with its intervals.

use borescribe::report::chart::{ChartError, svg};
use borescribe::report::figure::{Axis, Figure, Form, Ink, Layer, NARROW, Panel, Sign, Stroke};

use super::simulation::tally::Band;

/// Height between the axes, in the figure's measure: about as high as wide.
const HEIGHT: u32 = 440;

/// One panel for the first check, one for after the tests.
pub fn drawn(first: &[Band], last: &[Band], sessions: usize) -> Result<String, ChartError> {
    let panels = [panel("First check", first), panel("After the tests asked for", last)];
    svg(&Figure {
        id: "calibration",
        title: "Said and happened",
        description: &format!(
            "Findings of {sessions} simulated sessions in bands of their weight. Upward: the weight that was said, in \
             percent. To the right: how often it was so, in percent, with a bar for its 95 % interval. On the dashed line \
             both agree."
        ),
        width: NARROW,
        panels: &panels,
    })
}

fn panel(title: &str, bands: &[Band]) -> Panel {
    let percent = |value: f64| 100.0 * value;
    let axis = |label: &str| Axis { label: label.to_string(), from: 0.0, to: 100.0, names: Vec::new() };
    let layer = |key: &str, ink: Ink, form: Form| Layer { key: key.to_string(), ink, form };
    let ideal = vec![(0.0, Some(0.0)), (100.0, Some(100.0))];
    let intervals = bands.iter().map(|b| (percent(b.interval.0), percent(b.interval.1), percent(b.said)));
    let marks = bands.iter().map(|b| (percent(b.happened), percent(b.said), b.count.to_string()));
    Panel {
        title: title.to_string(),
        height: HEIGHT,
        x: axis("was so, %"),
        y: axis("said, %"),
        layers: vec![
            layer("agree", Ink::Faint, Form::Line(ideal, Stroke::Dashed)),
            layer("95 %", Ink::Second, Form::Bars(intervals.collect())),
            layer("findings", Ink::First, Form::Marks(marks.collect(), Sign::Dot)),
        ],
    }
}
