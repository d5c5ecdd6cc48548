//! What earlier takes teach of player, mouthpiece and reed: the part of measured minus predicted that all notes share
//! and that comes again on the next body, with how surely it is known. Recomputed whenever it is needed.
//!
//! One normal distribution over the notes of both bodies: they share what lasts (player, tuning standard, reed and
//! chamber, the model's own error), and each keeps for itself the day, the ruler and the single note. The notes that were
//! played condition those that are expected (C. E. Rasmussen & C. K. I. Williams, *Gaussian Processes for Machine
//! Learning*, 2006, eq. 2.22 to 2.24, from memory). The reed's give alone is not told: beside an offset and an error that
//! drifts over the range, its mark on a scale is too much like theirs (on the sample's eighteen notes the give stays as
//! unsure as it was, 0.41 ml after 0.42). What all of them do together is well known. Must not know files, books or the
//! terminal.

use crate::diagnosis::beliefs::expectation::{LEAST_NOTES, SAME_CHAMBER_SHARE};
use crate::diagnosis::beliefs::findings::LIKELIER_THAN_NOT;
use crate::diagnosis::beliefs::takes::PLAYER_SPREAD_CENTS;
use crate::diagnosis::causes::catalogue::Cause;
use crate::diagnosis::causes::effect::{Candidate, candidates};
use crate::diagnosis::expectation::gaussian::Gaussian;
use crate::diagnosis::expectation::noise::{Noise, expected_noise, lasting_covariance, shared_patterns};
use crate::diagnosis::expectation::speaking::{Speaking, TriedNote};
use crate::diagnosis::findings::cause_names::cause_name;
use crate::diagnosis::takes::condition::Bench;
use crate::diagnosis::takes::evidence::{Evidence, NoteEvidence};
use crate::diagnosis::weigh::explain::evenings;
use crate::diagnosis::weigh::lists::{mean, minus};
use crate::diagnosis::weigh::posterior::weigh;
use crate::instrument::model::{Drive, Instrument};
use crate::instrument::prediction::{PredictedNote, predict};

/// A body as it was played.
#[derive(Debug, Clone, PartialEq)]
pub struct PlayedBody {
    /// How the maker knows it: `bittern, P2/02-trimmed`.
    pub source: String,
    /// Its geometry, in the air of that day.
    pub instrument: Instrument,
    /// The notes that were measured.
    pub notes: Vec<PlayedNote>,
}

/// One note of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlayedNote {
    /// Index into its [`Instrument::fingerings`].
    pub fingering: usize,
    /// Measured, hertz.
    pub hz: f64,
    /// Takes that this rests on, at least 1.
    pub takes: usize,
}

/// Why nothing can be learnt.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LearnError {
    /// Nothing was played.
    #[error(
        "no note was measured yet, or only in the step that is being checked. Record takes there and check them first"
    )]
    NoTakes,
    /// Not enough of it.
    #[error(
        "only {notes} of its notes were measured; {LEAST_NOTES} are needed. Record more of them there and check"
    )]
    TooFewNotes {
        /// How many.
        notes: usize,
    },
    /// A flute teaches nothing of a reed.
    #[error("it is about {theirs}, and this instrument is played with {own}: nothing can be carried over")]
    OtherDrive {
        /// What made the learnt notes sound.
        theirs: &'static str,
        /// What is to make these sound.
        own: &'static str,
    },
}

/// What was learnt.
pub struct Learned {
    source: String,
    body: Instrument,
    /// Fingering and predicted hertz of each note that taught.
    fingerings: Vec<usize>,
    base_hz: Vec<f64>,
    drawn_cents: Vec<f64>,
    /// How likely they were blown as usual, not softly.
    usual: f64,
    /// What the notes were off beyond what the body's own faults explain, cents.
    offsets_cents: Vec<f64>,
    gaussian: Gaussian,
    fault: Option<Cause>,
}

/// What another body's notes are expected to do besides what its geometry predicts.
#[derive(Debug, Clone, PartialEq)]
pub struct Expectation {
    /// Where it was learnt.
    pub source: String,
    /// How many notes taught it.
    pub taught_by: usize,
    /// One entry a fingering, in the file's order; `None` without a predicted pitch.
    pub notes: Vec<Option<ExpectedOffset>>,
    /// The mean over those notes.
    pub mean: ExpectedOffset,
    /// The uncertainty of that mean when nothing is learnt, cents.
    pub unlearnt_sd_cents: f64,
    /// Whether this body has the mouthpiece and the reed that taught, so that their mark on the notes was carried over.
    pub same_top: bool,
    /// A fault of the body that taught which was more likely than not, and was taken out first, by its name.
    pub taken_out: Option<String>,
}

/// Measured minus predicted, as it is expected.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExpectedOffset {
    /// Cents above the prediction.
    pub cents: f64,
    /// Standard uncertainty of what the notes share, cents; a note's own errors (ruler, single take) come on top.
    pub sd_cents: f64,
}

impl Learned {
    /// Learns from a body that was played.
    ///
    /// # Errors
    /// [`LearnError`] for too few notes.
    pub fn from(played: &PlayedBody) -> Result<Learned, LearnError> {
        if played.notes.is_empty() {
            return Err(LearnError::NoTakes);
        }
        let too_few = |notes: usize| LearnError::TooFewNotes { notes };
        let body = &played.instrument;
        let predicted = predict(body);
        let bench = Bench::new(body, &predicted, &[]);
        let noise = noise_of(&bench, &played.notes);
        if noise.fingerings.len() < LEAST_NOTES {
            return Err(too_few(noise.fingerings.len()));
        }
        let spread = PLAYER_SPREAD_CENTS;
        let gaussian = Gaussian::new(&noise.covariance(spread)).ok_or(too_few(noise.fingerings.len()))?;
        let base_hz: Vec<f64> =
            noise.fingerings.iter().filter_map(|&fingering| predicted[fingering].predicted_hz).collect();
        let (offsets_cents, fault, usual) = without_faults(&bench, &noise, &base_hz);
        Ok(Learned {
            source: played.source.clone(),
            body: body.clone(),
            fingerings: noise.fingerings,
            base_hz,
            drawn_cents: noise.drawn_cents,
            usual,
            offsets_cents,
            gaussian,
            fault,
        })
    }

    /// What is expected of all notes of `instrument`.
    ///
    /// # Errors
    /// [`LearnError::OtherDrive`].
    pub fn expectation(
        &self,
        instrument: &Instrument,
        predicted: &[PredictedNote],
    ) -> Result<Expectation, LearnError> {
        let all: Vec<PlayedNote> = predicted
            .iter()
            .filter_map(|note| {
                Some(PlayedNote { fingering: note.fingering, hz: note.predicted_hz?, takes: 1 })
            })
            .collect();
        let mut noise = noise_of(&Bench::new(instrument, predicted, &[]), &all);
        let unlearnt_sd_cents = sd_of_mean(&noise.common);
        let same_top = self.teach(&mut noise, instrument, predicted)?;
        let expected = noise.expected_cents(self.usual);
        let mut notes = vec![None; predicted.len()];
        for (i, &fingering) in noise.fingerings.iter().enumerate() {
            let sd_cents = noise.common[i][i].max(0.0).sqrt();
            notes[fingering] = Some(ExpectedOffset { cents: expected[i], sd_cents });
        }
        let mean_cents = mean(&expected);
        Ok(Expectation {
            source: self.source.clone(),
            taught_by: self.fingerings.len(),
            notes,
            mean: ExpectedOffset { cents: mean_cents, sd_cents: sd_of_mean(&noise.common) },
            unlearnt_sd_cents,
            same_top,
            taken_out: self.fault.map(|cause| cause_name(&self.body, cause)),
        })
    }

    /// Moves what is expected of a body's notes, and narrows how far they may differ from it together. True when its
    /// mouthpiece and reed are the ones that taught.
    ///
    /// # Errors
    /// [`LearnError::OtherDrive`].
    pub fn teach(
        &self,
        noise: &mut Noise,
        instrument: &Instrument,
        predicted: &[PredictedNote],
    ) -> Result<bool, LearnError> {
        if instrument.drive != self.body.drive {
            let words = |drive: Drive| match drive {
                Drive::Reed => "a reed",
                Drive::AirJet => "an air jet",
            };
            return Err(LearnError::OtherDrive {
                theirs: words(self.body.drive),
                own: words(instrument.drive),
            });
        }
        let base: Vec<f64> = noise
            .fingerings
            .iter()
            .map(|&fingering| predicted[fingering].predicted_hz.unwrap_or(predicted[fingering].target_hz))
            .collect();
        let same_top = same_top(&self.body, instrument);
        let own = shared_patterns(instrument, &noise.fingerings, &base, &noise.drawn_cents);
        let taught = shared_patterns(&self.body, &self.fingerings, &self.base_hz, &self.drawn_cents);
        let register = |of: &Instrument, fingering: usize| of.fingerings[fingering].register;
        // Covariance of each expected note with each that taught.
        let cross: Vec<Vec<f64>> = (0..base.len())
            .map(|i| {
                let here = (register(instrument, noise.fingerings[i]), base[i]);
                (0..self.base_hz.len())
                    .map(|j| {
                        let there = (register(&self.body, self.fingerings[j]), self.base_hz[j]);
                        let patterns = own.iter().zip(&taught).skip(if same_top { 0 } else { TOPS });
                        lasting_covariance(here, there)
                            + patterns.map(|(own, taught)| own[i] * taught[j]).sum::<f64>()
                    })
                    .collect()
            })
            .collect();
        let means = self.gaussian.conditional_mean(&cross, &self.offsets_cents);
        let whitened: Vec<Vec<f64>> = cross.iter().map(|row| self.gaussian.whiten(row)).collect();
        for i in 0..base.len() {
            for j in 0..base.len() {
                let known: f64 = whitened[i].iter().zip(&whitened[j]).map(|(a, b)| a * b).sum();
                noise.common[i][j] -= known;
                noise.instrument[i][j] -= known;
            }
            noise.learnt_cents[i] += means[i];
        }
        Ok(same_top)
    }
}

/// How many of the shared patterns are the mouthpiece's.
const TOPS: usize = 2;

/// Whether both bodies are played with the same mouthpiece and a reed of the same give.
fn same_top(a: &Instrument, b: &Instrument) -> bool {
    let (Some(a), Some(b)) = (a.mouthpiece, b.mouthpiece) else { return false };
    let apart = (a.chamber_ml - b.chamber_ml).abs();
    apart <= SAME_CHAMBER_SHARE * a.chamber_ml.max(b.chamber_ml) && a.reed_ml == b.reed_ml
}

/// What the notes are off when the likely faults of the body itself are taken out (the mean of all explanations), the
/// fault that is more likely than not, and how likely they were blown as usual. Air and top are no such faults: they are
/// what is to be learnt.
fn without_faults(bench: &Bench<'_>, noise: &Noise, base_hz: &[f64]) -> (Vec<f64>, Option<Cause>, f64) {
    let tried = noise.fingerings.iter().zip(base_hz).map(|(&fingering, &base_hz)| TriedNote {
        fingering,
        condition: 0,
        register: bench.instrument.fingerings[fingering].register,
        base_hz,
        spoke: true,
        tone_over_noise_db: None,
        heard_badly: false,
    });
    let speaking = Speaking::new(tried.collect());
    let own: Vec<Candidate> = candidates(bench, &speaking, None)
        .all
        .into_iter()
        .filter(|candidate| !matches!(candidate.cause, Cause::Air | Cause::Top))
        .collect();
    let evenings = evenings(noise, &[(PLAYER_SPREAD_CENTS, 1.0)]);
    let posterior = weigh(&evenings, &noise.takes, speaking.log_chance_healthy(), &own);
    let unexplained = minus(&noise.offsets_cents, &noise.expected_cents(posterior.usual));
    let left = minus(&unexplained, &posterior.caused_cents);
    let heaviest = (0..own.len()).max_by(|&a, &b| posterior.weights[a].total_cmp(&posterior.weights[b]));
    let fault = heaviest.filter(|&i| posterior.weights[i] > LIKELIER_THAN_NOT).map(|i| own[i].cause);
    (left, fault, posterior.usual)
}

/// The noise of notes of given pitch.
fn noise_of(bench: &Bench<'_>, notes: &[PlayedNote]) -> Noise {
    let notes = (0..bench.predicted.len())
        .map(|fingering| {
            let played = notes.iter().find(|note| note.fingering == fingering);
            NoteEvidence {
                fingering,
                condition: 0,
                takes: Vec::new(),
                measured_hz: played.map(|note| note.hz),
                sd_cents: played.map(|note| PLAYER_SPREAD_CENTS / (note.takes.max(1) as f64).sqrt()),
                tone_over_noise_db: None,
                used: played.map_or(0, |note| note.takes),
                evening_shares: vec![1.0],
                sounded_register: None,
            }
        })
        .collect();
    let evidence = Evidence {
        notes,
        tests: Vec::new(),
        player_spread_cents: PLAYER_SPREAD_CENTS,
        spread_from_repeats: false,
        evenings: 1,
    };
    expected_noise(bench, &evidence)
}

/// Standard deviation of the mean of all notes, cents.
fn sd_of_mean(covariance: &[Vec<f64>]) -> f64 {
    let count = covariance.len().max(1) as f64;
    covariance.iter().flatten().sum::<f64>().max(0.0).sqrt() / count
}
