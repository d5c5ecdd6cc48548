//! The chart of one take: spectrum with partials and undertones, and the pitch through time. Computes
//! nothing but where the axes end.

use crate::analysis::measurement::{Measurement, Undertone};
use crate::analysis::portrait::Portrait;
use crate::report::chart::{ChartError, svg};
use crate::report::figure::{Axis, Figure, Form, Ink, Layer, PANEL_HEIGHT, Panel, Sign, Stroke};
use crate::report::layout::shortened;
use crate::units::Note;

/// The spectrum is shown down to this level, dB.
const FLOOR_DB: f64 = -90.0;
/// Room above the strongest partial for the words, dB.
const ABOVE_DB: f64 = 12.0;
/// Room before 0 Hz for the words of low undertones, as a part of the axis.
const BEFORE_NOUGHT: f64 = 0.04;
/// The pitch axis shows so many times the note's own spread, and at least so much, cents.
const SPREADS: f64 = 6.0;
const LEAST_CENTS: f64 = 5.0;
/// Of a file's name the title shows so many letters.
const LONGEST_NAME: usize = 36;

/// The chart as SVG, [`WIDE`](crate::report::figure::WIDE) or [`NARROW`](crate::report::figure::NARROW); `id` is a
/// word of letters and digits, different for each chart of a page.
///
/// # Errors
/// [`ChartError`] when it can't be drawn.
pub fn take_chart(
    (id, width): (&str, u32),
    file: &str,
    take: &Measurement,
    portrait: &Portrait,
    a4_hz: f64,
) -> Result<String, ChartError> {
    let words = words(take, a4_hz);
    // A line of the title may end after the file's name, not within what was measured.
    let title = format!("{}: {}", shortened(file, LONGEST_NAME), words.replace(' ', "\u{a0}"));
    let undertones: Vec<String> = take.undertones.iter().map(undertone_words).collect();
    let description = format!(
        "{file}: {words}. Above, the spectrum of the steady part with {} partials and {}. Below, the pitch through time \
         in cents from its mean, with the steady part shaded.",
        take.partials.len(),
        if undertones.is_empty() { "no undertones".to_string() } else { undertones.join(", ") },
    );
    svg(&Figure {
        id,
        title: &title,
        description: &description,
        width,
        panels: &[spectrum_panel(take, portrait), pitch_panel(take, portrait)],
    })
}

fn words(take: &Measurement, a4_hz: f64) -> String {
    let Some(hz) = take.pitch_hz else { return "no note".to_string() };
    let (note, cents) = Note::nearest(hz, a4_hz);
    let sd = take.sd_cents.map_or_else(String::new, |sd| format!(" ± {sd:.2} cents"));
    format!("{hz:.3} Hz{sd} ({note} {cents:+.1})")
}

fn undertone_words(undertone: &Undertone) -> String {
    let hz = undertone.hz;
    match undertone.ratio {
        Some((over, under)) => format!("an undertone at {over}/{under} of the note ({hz:.1} Hz)"),
        None => format!("an undertone at {hz:.1} Hz"),
    }
}

fn spectrum_panel(take: &Measurement, portrait: &Portrait) -> Panel {
    let line = portrait.spectrum.iter().map(|(hz, db)| (*hz, Some(db.max(FLOOR_DB)))).collect();
    let mut layers = vec![Layer {
        key: "spectrum of the steady part".into(),
        ink: Ink::Faint,
        form: Form::Line(line, Stroke::Thin),
    }];
    let hum: Vec<_> = portrait.hum_hz.iter().map(|hz| (*hz, FLOOR_DB + 3.0, String::new())).collect();
    let partials = take.partials.iter().map(|p| (p.hz, p.db, p.n.to_string())).collect();
    let mut undertones: Vec<_> = take
        .undertones
        .iter()
        .map(|undertone| {
            let ratio = undertone.ratio.map(|(over, under)| format!("{over}/{under}"));
            (undertone.hz, undertone.db, ratio.unwrap_or_default())
        })
        .collect();
    undertones.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut marks = |key: &str, ink, marks: Vec<_>, sign| {
        layers.push(Layer { key: key.into(), ink, form: Form::Marks(marks, sign) });
    };
    marks("mains hum, taken out", Ink::Third, hum, Sign::Cross);
    marks("partials, by number", Ink::First, partials, Sign::Dot);
    marks("undertones, by ratio", Ink::Second, undertones, Sign::Triangle);
    let top_hz = portrait.spectrum.last().map_or(1.0, |last| last.0);
    Panel {
        title: "Spectrum".into(),
        height: PANEL_HEIGHT,
        x: Axis {
            label: "frequency (Hz)".into(),
            from: -BEFORE_NOUGHT * top_hz,
            to: top_hz,
            names: Vec::new(),
        },
        y: Axis {
            label: "dB from the strongest partial".into(),
            from: FLOOR_DB,
            to: ABOVE_DB,
            names: Vec::new(),
        },
        layers,
    }
}

fn pitch_panel(take: &Measurement, portrait: &Portrait) -> Panel {
    let sd = take.sd_cents.unwrap_or(0.0);
    let reach = (SPREADS * take.wander_cents.unwrap_or(0.0)).max(3.0 * sd).max(LEAST_CENTS);
    let first = portrait.track.first().map_or(0.0, |first| first.0);
    let last = portrait.track.last().map_or(1.0, |last| last.0);
    let (from, to) = take.steady_s.unwrap_or((first, last));
    let smooth = portrait.steady_track.iter().map(|(s, cents)| (*s, Some(*cents))).collect();
    let layers = vec![
        Layer { key: "steady part".into(), ink: Ink::Faint, form: Form::Shade((from, -reach), (to, reach)) },
        Layer {
            key: format!("mean, sure to ± {sd:.2} cents"),
            ink: Ink::Second,
            form: Form::Shade((from, -sd), (to, sd)),
        },
        Layer {
            key: String::new(),
            ink: Ink::Second,
            form: Form::Line(vec![(from, Some(0.0)), (to, Some(0.0))], Stroke::Dashed),
        },
        Layer {
            key: "moment by moment".into(),
            ink: Ink::Plain,
            form: Form::Line(portrait.track.clone(), Stroke::Thin),
        },
        Layer { key: "smoothed".into(), ink: Ink::First, form: Form::Line(smooth, Stroke::Thick) },
    ];
    Panel {
        title: "Pitch".into(),
        height: PANEL_HEIGHT,
        x: Axis { label: "time in the file (s)".into(), from: first, to: last, names: Vec::new() },
        y: Axis { label: "cents from the mean".into(), from: -reach, to: reach, names: Vec::new() },
        layers,
    }
}
