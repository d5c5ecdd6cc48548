//! Turns the partials of a note down to rest: what turns on is what the note did beside its known phase.
//!
//! Must not know how that phase was found.

use std::f64::consts::TAU;

use num_complex::Complex64;

use super::band::sum_of_products;
use super::track::Voice;

/// Each voice turned down to rest by the note's phase at each sample, cycles,
/// which rises evenly within half a block: its complex amplitude in each block (Hann window, half overlap). Half a
/// block at a time, so that what is worked on stays close at hand.
pub(super) fn turned_down(
    samples: &[f64],
    cycles: &[f64],
    voices: &[Voice],
    half: usize,
) -> Vec<Vec<Complex64>> {
    let rising: Vec<f64> = (0..half)
        .map(|i| 0.5 - 0.5 * (std::f64::consts::PI * (i as f64 + 0.5) / half as f64).cos())
        .collect();
    let falling: Vec<f64> = rising.iter().map(|w| 1.0 - w).collect();
    let mut halves: Vec<Vec<HalfSum>> = vec![Vec::new(); voices.len()];
    for (samples, cycles) in samples.chunks_exact(half).zip(cycles.chunks_exact(half)) {
        let turn = Turning::even(cycles);
        let twice = turn.squared();
        let mut sound = Turning { re: samples.to_vec(), im: vec![0.0; half] };
        let mut at = 0;
        for (voice, sums) in voices.iter().zip(&mut halves) {
            while at < voice.n {
                let step = if at + 2 <= voice.n { 2 } else { 1 };
                sound.turn_by(if step == 2 { &twice } else { &turn });
                at += step;
            }
            sums.push(sound.sums(&rising, &falling));
        }
    }
    // A sine of amplitude a gives a/2 times the window's sum, which is `half`.
    let blocks = |sums: &Vec<HalfSum>| -> Vec<Complex64> {
        sums.windows(2).map(|w| (w[0].rising + w[1].falling) * (2.0 / half as f64)).collect()
    };
    halves.iter().map(blocks).collect()
}

/// Sums over half a block under either half of the window.
#[derive(Clone, Copy)]
struct HalfSum {
    rising: Complex64,
    falling: Complex64,
}

/// Complex values, their parts apart so that the processor takes several at once.
struct Turning {
    re: Vec<f64>,
    im: Vec<f64>,
}

impl Turning {
    fn new(values: impl Iterator<Item = (f64, f64)>) -> Turning {
        let (re, im) = values.unzip();
        Turning { re, im }
    }

    /// Turns back by each of these phases, cycles, which rise evenly: one turn after the other, for sines
    /// and cosines of each took a fifth of all time.
    fn even(cycles: &[f64]) -> Turning {
        let (first, second) = match cycles {
            [first, second, ..] => (*first, *second),
            _ => (0.0, 0.0),
        };
        let step = Complex64::from_polar(1.0, -TAU * (second - first));
        let mut value = Complex64::from_polar(1.0, -TAU * first);
        Turning::new(cycles.iter().map(|_| {
            let now = (value.re, value.im);
            value *= step;
            now
        }))
    }

    fn squared(&self) -> Turning {
        Turning::new(self.re.iter().zip(&self.im).map(|(re, im)| (re * re - im * im, 2.0 * re * im)))
    }

    fn turn_by(&mut self, turn: &Turning) {
        for (((a, b), c), s) in self.re.iter_mut().zip(&mut self.im).zip(&turn.re).zip(&turn.im) {
            (*a, *b) = (*a * c - *b * s, *a * s + *b * c);
        }
    }

    fn sums(&self, rising: &[f64], falling: &[f64]) -> HalfSum {
        HalfSum {
            rising: Complex64::new(sum_of_products(&self.re, rising), sum_of_products(&self.im, rising)),
            falling: Complex64::new(sum_of_products(&self.re, falling), sum_of_products(&self.im, falling)),
        }
    }
}
