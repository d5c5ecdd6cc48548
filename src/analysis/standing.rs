//! How the lines between the partials stand to their note and to each other.
//!
//! A reed that beats only every second or third time puts lines at all multiples of a half or a third of
//! the pitch, exactly. Another resonance that sounds along at `f₁` puts lines at `f₁` and, since the reed
//! mixes the two, at `m f₀ ± f₁`. Both are families whose lines lie equally far from the nearest
//! partial, so that all lines of a family tell together where it stands. Must not know how the lines
//! were found.

use super::measurement::{Undertone, UndertoneKind};

/// A line that stands out.
#[derive(Debug, Clone, Copy)]
pub struct Line {
    /// Frequency over the note's.
    pub order: f64,
    /// Standard uncertainty of the order.
    pub order_sd: f64,
    /// Amplitude.
    pub amplitude: f64,
    /// Whether it moves with the note's pitch.
    pub follows: Option<bool>,
}

/// Denominators of locked lines: period doubling and tripling, and doubling twice.
const DENOMINATORS: [u32; 3] = [2, 3, 4];
/// Nearer than this it is locked, cents: players' pitch is not steadier.
const LOCKED_CENTS: f64 = 3.0;
/// Two standard uncertainties: what lies within may be the same.
const SAME_SDS: f64 = 2.0;
/// Lines whose places are known far better than this may still be one family, orders.
const SAME_LEAST: f64 = 5e-4;

/// Lines that lie equally far from their nearest partials.
struct Family<'a> {
    lines: Vec<&'a Line>,
    /// That distance, orders: 0 to 1/2.
    distance: f64,
    distance_sd: f64,
}

/// The undertones of a note at `hz` whose strongest partial has the amplitude `strongest`.
#[must_use]
pub fn of_lines(lines: &[Line], hz: f64, strongest: f64) -> Vec<Undertone> {
    families(lines)
        .iter()
        .flat_map(|family| {
            let (kind, denominator) = family.kind();
            family.lines.iter().map(move |line| Undertone {
                hz: line.order * hz,
                ratio: denominator.map(|under| ((line.order * f64::from(under)).round() as u32, under)),
                db: 20.0 * (line.amplitude / strongest).log10(),
                kind,
                follows: line.follows,
                family: denominator.filter(|_| family.is_told()).map(|under| (1, under)),
                mixed_with_hz: family.root().filter(|_| denominator.is_none()).map(|root| root.order * hz),
            })
        })
        .collect()
}

fn distance(line: &Line) -> f64 {
    (line.order - line.order.round()).abs()
}

/// Gathers the lines, strongest first, into families.
fn families(lines: &[Line]) -> Vec<Family<'_>> {
    let mut sorted: Vec<&Line> = lines.iter().collect();
    sorted.sort_by(|a, b| b.amplitude.total_cmp(&a.amplitude));
    let mut families: Vec<Family<'_>> = Vec::new();
    for line in sorted {
        let (place, sd) = (distance(line), line.order_sd);
        let fits = |family: &&mut Family<'_>| {
            (family.distance - place).abs() < SAME_SDS * family.distance_sd.hypot(sd) + SAME_LEAST
        };
        match families.iter_mut().find(fits) {
            Some(family) => family.take_in(line),
            None => families.push(Family { lines: vec![line], distance: place, distance_sd: sd }),
        }
    }
    families
}

impl<'a> Family<'a> {
    fn take_in(&mut self, line: &'a Line) {
        let (mine, theirs) = (self.distance_sd.powi(-2), line.order_sd.powi(-2));
        self.distance = (self.distance * mine + distance(line) * theirs) / (mine + theirs);
        self.distance_sd = (mine + theirs).sqrt().recip();
        self.lines.push(line);
    }

    fn lowest(&self) -> f64 {
        self.lines.iter().fold(f64::INFINITY, |least, line| least.min(line.order))
    }

    /// Locked, free or unclear, and the denominator when it is not free.
    fn kind(&self) -> (UndertoneKind, Option<u32>) {
        // Three cents of the lowest line, in orders.
        let tolerance = self.lowest() * LOCKED_CENTS * std::f64::consts::LN_2 / 1200.0;
        let unsure = SAME_SDS * self.distance_sd;
        let near = |under: &u32| (self.distance - 1.0 / f64::from(*under)).abs() < tolerance + unsure;
        let stands_still = self.lines.iter().any(|line| line.follows == Some(false));
        match DENOMINATORS.into_iter().find(near) {
            Some(_) if stands_still => (UndertoneKind::Free, None),
            Some(under) if unsure > 2.0 * tolerance => (UndertoneKind::Unclear, Some(under)),
            Some(under) => (UndertoneKind::Locked, Some(under)),
            None => (UndertoneKind::Free, None),
        }
    }

    /// One line above the note may be a resonance that happens to lie there; two, or one below the note,
    /// mean that the sound repeats only every second or third time.
    fn is_told(&self) -> bool {
        self.lines.len() > 1 || self.lowest() < 1.0
    }

    /// The line that the others are mixed from: the lowest, when there are others.
    fn root(&self) -> Option<&'a Line> {
        let lowest = self.lines.iter().min_by(|a, b| a.order.total_cmp(&b.order)).copied();
        lowest.filter(|_| self.lines.len() > 1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(order: f64, order_sd: f64) -> Line {
        Line { order, order_sd, amplitude: 0.1, follows: None }
    }

    #[test]
    fn lines_between_the_partials_show_together_that_the_reed_beats_every_second_time() {
        let found = of_lines(&[line(1.5001, 1e-4), line(2.4999, 1e-4)], 20.0, 1.0);
        assert!(found.iter().all(|u| u.kind == UndertoneKind::Locked && u.family == Some((1, 2))));
        assert_eq!(found.iter().filter_map(|u| u.ratio).collect::<Vec<_>>(), [(3, 2), (5, 2)]);
    }

    #[test]
    fn a_line_whose_place_is_hardly_known_is_made_sure_by_others_of_its_family() {
        let alone = of_lines(&[line(0.501, 1.5e-3)], 20.0, 1.0);
        assert_eq!(alone[0].kind, UndertoneKind::Unclear);
        let among = of_lines(&[line(0.501, 1.5e-3), line(1.5, 2e-4), line(2.5, 2e-4)], 20.0, 1.0);
        assert!(among.iter().all(|u| u.kind == UndertoneKind::Locked));
    }

    #[test]
    fn a_resonance_near_a_half_is_free_and_its_mixtures_with_the_note_are_known() {
        let found = of_lines(&[line(0.508, 4e-4), line(1.508, 4e-4), line(2.492, 4e-4)], 100.0, 1.0);
        for undertone in &found {
            assert_eq!((undertone.kind, undertone.ratio), (UndertoneKind::Free, None));
            assert!((undertone.mixed_with_hz.unwrap() - 50.8).abs() < 1e-9);
        }
    }

    #[test]
    fn one_line_above_the_note_does_not_speak_for_the_reed() {
        let found = of_lines(&[line(5.0 / 3.0, 1e-4)], 100.0, 1.0);
        assert_eq!((found[0].ratio, found[0].family), (Some((5, 3)), None));
    }
}
