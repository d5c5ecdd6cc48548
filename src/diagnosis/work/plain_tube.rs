//! What a plain tube tells of mouthpiece and reed: for how much more of bore they stand than the file says. One or two notes
//! can't part the chamber from the reed's give, nor from the air or a tube that was measured wrong; all of them together
//! are that one length.
//!
//! The length is the least-squares one under the noise that is expected of the notes (Gauss and Markov), the reed's and
//! the chamber's own uncertainty in it: what it is beyond its own uncertainty, the file as it stands does not explain. Must
//! not know words, files or the terminal.

use crate::diagnosis::beliefs::decisions::TUBE_DISAGREES_SDS;
use crate::diagnosis::expectation::gaussian::Gaussian;
use crate::diagnosis::expectation::noise::Noise;
use crate::diagnosis::weigh::lists::minus;
use crate::diagnosis::work::adjust::cents_a_mm;
use crate::instrument::column::reed_give_at_ml;
use crate::instrument::drilling::has_tone_holes;
use crate::instrument::model::Instrument;
use crate::instrument::prediction::PredictedNote;

/// The length of bore that mouthpiece and reed stand for, beside the file's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TopLength {
    /// More than the file says, mm; negative: less.
    pub more_mm: f64,
    /// One standard uncertainty, mm.
    pub sd_mm: f64,
    /// The reed's give that would make up for it, ml; `None` where no give is so small.
    pub reed_ml: Option<f64>,
}

impl TopLength {
    /// Whether it is more than the notes' own uncertainty makes, so that the file can't be right.
    #[must_use]
    pub fn disagrees(&self) -> bool {
        self.more_mm.abs() > TUBE_DISAGREES_SDS * self.sd_mm
    }
}

/// What the notes of a tube without tone holes tell; `None` for any other, without a mouthpiece, and without a note.
/// `usual` is how likely the notes were blown as usual.
#[must_use]
pub fn top_length(
    instrument: &Instrument,
    predicted: &[PredictedNote],
    noise: &Noise,
    spread_cents: f64,
    usual: f64,
) -> Option<TopLength> {
    if has_tone_holes(instrument) || instrument.mouthpiece.is_none() {
        return None;
    }
    let ordinary = noise.ordinary();
    let slopes: Vec<f64> = noise.fingerings[..ordinary]
        .iter()
        .map(|&fingering| cents_a_mm(instrument, predicted.get(fingering)?))
        .collect::<Option<_>>()?;
    let covariance: Vec<Vec<f64>> = noise
        .covariance(spread_cents)
        .into_iter()
        .take(ordinary)
        .map(|row| row[..ordinary].to_vec())
        .collect();
    let gaussian = Gaussian::new(&covariance)?;
    let offsets = minus(&noise.offsets_cents[..ordinary], &noise.expected_cents(usual)[..ordinary]);
    let (slopes, offsets) = (gaussian.whiten(&slopes), gaussian.whiten(&offsets));
    let squares: f64 = slopes.iter().map(|slope| slope * slope).sum();
    if squares <= 0.0 {
        return None;
    }
    let more_mm = slopes.iter().zip(&offsets).map(|(slope, offset)| slope * offset).sum::<f64>() / squares;
    let reed_ml = Some(reed_give_at_ml(instrument, more_mm)).filter(|ml| *ml > 0.0);
    Some(TopLength { more_mm, sd_mm: squares.sqrt().recip(), reed_ml })
}
