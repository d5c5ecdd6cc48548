//! Turns the partials of a note down to rest: what turns on is what the note did beside its known phase.
//!
//! Must not know how that phase was found.

use std::f64::consts::TAU;

use num_complex::Complex64;

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
    let rising = lanes(&rising);
    let mut halves: Vec<Vec<HalfSum>> = vec![Vec::new(); voices.len()];
    for (samples, cycles) in samples.chunks_exact(half).zip(cycles.chunks_exact(half)) {
        let turn = Turning::even(cycles);
        let twice = turn.squared();
        let mut sound = Turning { im: vec![[0.0; LANES]; rising.len()], re: lanes(samples) };
        let mut at = 0;
        for (voice, sums) in voices.iter().zip(&mut halves) {
            let mut sum = HalfSum::default();
            while at < voice.n {
                let step = if at + 2 <= voice.n { 2 } else { 1 };
                sum = sound.turned_by(if step == 2 { &twice } else { &turn }, &rising);
                at += step;
            }
            sums.push(sum);
        }
    }
    // A sine of amplitude a gives a/2 times the window's sum, which is `half`.
    let blocks = |sums: &Vec<HalfSum>| -> Vec<Complex64> {
        sums.windows(2).map(|w| (w[0].rising + w[1].all - w[1].rising) * (2.0 / half as f64)).collect()
    };
    halves.iter().map(blocks).collect()
}

/// Sums over half a block: under the rising half of the window, and without it. The falling half is what it
/// lacks to one.
#[derive(Clone, Copy, Default)]
struct HalfSum {
    rising: Complex64,
    all: Complex64,
}

/// Values worked on side by side, so that the processor takes several at once and no sum waits for itself.
const LANES: usize = 4;

/// Values in lanes, the last ones filled up with noughts.
fn lanes(values: &[f64]) -> Vec<[f64; LANES]> {
    let (whole, rest) = values.as_chunks();
    let mut last = [0.0; LANES];
    last.iter_mut().zip(rest).for_each(|(slot, value)| *slot = *value);
    whole.iter().copied().chain((!rest.is_empty()).then_some(last)).collect()
}

/// Complex values, their parts apart.
struct Turning {
    re: Vec<[f64; LANES]>,
    im: Vec<[f64; LANES]>,
}

impl Turning {
    /// Turns back by each of these phases, cycles, which rise evenly: one turn after the other, for sines
    /// and cosines of each took a fifth of all time.
    fn even(cycles: &[f64]) -> Turning {
        let (first, second) = match cycles {
            [first, second, ..] => (*first, *second),
            _ => (0.0, 0.0),
        };
        let step = Complex64::from_polar(1.0, -TAU * (second - first));
        let mut value = Complex64::from_polar(1.0, -TAU * first);
        let (re, im): (Vec<f64>, Vec<f64>) = cycles
            .iter()
            .map(|_| {
                let now = (value.re, value.im);
                value *= step;
                now
            })
            .unzip();
        Turning { re: lanes(&re), im: lanes(&im) }
    }

    fn squared(&self) -> Turning {
        let square = |(re, im): (&[f64; LANES], &[f64; LANES])| -> ([f64; LANES], [f64; LANES]) {
            let of = |k: usize| (re[k] * re[k] - im[k] * im[k], 2.0 * re[k] * im[k]);
            (std::array::from_fn(|k| of(k).0), std::array::from_fn(|k| of(k).1))
        };
        let (re, im) = self.re.iter().zip(&self.im).map(square).unzip();
        Turning { re, im }
    }

    /// Turns each value on and sums them up, in one go: each value is fetched once.
    fn turned_by(&mut self, turn: &Turning, rising: &[[f64; LANES]]) -> HalfSum {
        let (mut up_re, mut up_im, mut all_re, mut all_im) =
            ([0.0; LANES], [0.0; LANES], [0.0; LANES], [0.0; LANES]);
        let values = self.re.iter_mut().zip(&mut self.im);
        for (((re, im), (c, s)), weight) in values.zip(turn.re.iter().zip(&turn.im)).zip(rising) {
            for k in 0..LANES {
                let (a, b) = (re[k] * c[k] - im[k] * s[k], re[k] * s[k] + im[k] * c[k]);
                (re[k], im[k]) = (a, b);
                all_re[k] += a;
                all_im[k] += b;
                up_re[k] += weight[k] * a;
                up_im[k] += weight[k] * b;
            }
        }
        let sum = |lanes: [f64; LANES]| lanes.iter().sum::<f64>();
        HalfSum {
            rising: Complex64::new(sum(up_re), sum(up_im)),
            all: Complex64::new(sum(all_re), sum(all_im)),
        }
    }
}
