//! Recordings of any length, without holding more than the parts that are wanted.
//!
//! A short recording is held whole. A long one streams by: once for how loud it is through time,
//! from which others choose the parts, and again to hold these, one after the other. Must not know which
//! parts are wanted or why.

use std::collections::VecDeque;

use super::decode::{AudioError, Decoding, MOST_HELD};
use super::kept::Kept;
use super::loudness::Loudness;
use super::spool::Spool;
use super::take::{Origin, Take};

/// Samples of all channels together up to which a recording is held whole: three minutes of one channel at
/// 48 kHz, 64 MB.
const HELD_WHOLE: usize = 1 << 23;

/// A recording that has been gone through once.
#[derive(Debug)]
pub enum Recording {
    /// Short enough to be held.
    Whole(Take),
    /// Longer; its parts are read with [`Extracts`].
    Long(Outline),
}

/// What is known of a long recording without holding it.
#[derive(Debug, Clone)]
pub struct Outline {
    /// How loud it is through time.
    pub loudness: Loudness,
    /// Its length, seconds.
    pub seconds: f64,
    /// Where it came from and what was lost; the peak is not told.
    pub origin: Origin,
}

impl Recording {
    /// Goes through a recording. `gone_through` is called from time to time with the seconds that were read.
    ///
    /// # Errors
    /// [`AudioError`] when it is of a kind that can't be read, or without sound. What is cut off or damaged is read
    /// as far as it goes, with [`Origin::damage`] set.
    pub fn open(spool: &Spool, gone_through: &mut dyn FnMut(f64)) -> Result<Recording, AudioError> {
        Recording::holding(spool, HELD_WHOLE, gone_through)
    }

    fn holding(
        spool: &Spool,
        most: usize,
        gone_through: &mut dyn FnMut(f64),
    ) -> Result<Recording, AudioError> {
        let mut decoding = Decoding::open(spool)?;
        let mut kept = Kept::default();
        while let Some(block) = decoding.next()? {
            kept.add(&block);
            if kept.samples_held() >= most {
                drop(kept);
                return Outline::of(spool, gone_through).map(Recording::Long);
            }
        }
        Ok(Recording::Whole(kept.into_take(decoding.origin()?)))
    }
}

impl Outline {
    fn of(spool: &Spool, gone_through: &mut dyn FnMut(f64)) -> Result<Outline, AudioError> {
        let mut decoding = Decoding::open(spool)?;
        let mut loudness = Loudness::default();
        while let Some(block) = decoding.next()? {
            loudness.hear(&block);
            gone_through(decoding.seconds());
        }
        Ok(Outline { loudness, seconds: decoding.seconds(), origin: decoding.origin()? })
    }
}

/// Parts of a recording, one after the other.
pub struct Extracts {
    decoding: Decoding,
    /// Those that are still to come or being read: seconds, and what is kept of each so far.
    waiting: VecDeque<((f64, f64), Kept)>,
    decoded_s: f64,
}

impl Extracts {
    /// The parts of the recording between the times of each span, seconds, in rising order of their beginnings
    /// and of their ends. A part of more than 23 minutes is held that far.
    ///
    /// # Errors
    /// [`AudioError`] when it can't be opened any more.
    pub fn open(spool: &Spool, spans: &[(f64, f64)]) -> Result<Extracts, AudioError> {
        let waiting = spans.iter().map(|span| (*span, Kept::default())).collect();
        Ok(Extracts { decoding: Decoding::open(spool)?, waiting, decoded_s: 0.0 })
    }

    /// Decodes until the next part is whole.
    fn read_next(&mut self) -> Result<Option<Take>, AudioError> {
        while let Some(((_, to_s), _)) = self.waiting.front() {
            if self.decoded_s >= *to_s {
                break;
            }
            let first_s = self.decoded_s;
            let Some(block) = self.decoding.next()? else { break };
            self.decoded_s = self.decoding.seconds();
            for ((from_s, to_s), kept) in &mut self.waiting {
                if *from_s < self.decoded_s && *to_s > first_s && kept.samples_held() < MOST_HELD {
                    kept.add_between(&block, first_s, *from_s, *to_s);
                }
            }
        }
        let Some((_, kept)) = self.waiting.pop_front() else { return Ok(None) };
        // What was lost is told of the recording as a whole, once.
        Ok(Some(kept.into_take(Origin { damage: None, ..self.decoding.origin()? })))
    }
}

impl Iterator for Extracts {
    type Item = Result<Take, AudioError>;

    fn next(&mut self) -> Option<Self::Item> {
        self.read_next().transpose()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audio::encode::{Depth, write_wav};

    #[test]
    fn parts_of_a_long_recording_are_the_same_samples_as_those_of_the_whole() {
        let folder = tempfile::TempDir::new().unwrap();
        let path = folder.path().join("long.wav");
        let samples: Vec<f64> = (0..50_000).map(|i| 0.5 * (0.01 * f64::from(i)).sin()).collect();
        write_wav(&path, &samples, 8_000, Depth::Bits24).unwrap();
        let spool = Spool::of_file(&path, folder.path()).unwrap();
        let Recording::Whole(whole) = Recording::holding(&spool, 60_000, &mut |_| ()).unwrap() else {
            panic!("long")
        };
        let mut told_s = 0.0;
        let Recording::Long(outline) = Recording::holding(&spool, 40_000, &mut |s| told_s = s).unwrap()
        else {
            panic!("short")
        };
        assert_eq!(told_s, outline.seconds);
        assert!((outline.seconds - 6.25).abs() < 1e-9 && outline.loudness.power().len() == 625);
        let spans = [(0.5, 2.0), (1.0, 3.0), (5.0, 99.0), (100.0, 101.0)];
        let parts: Vec<Take> = Extracts::open(&spool, &spans).unwrap().map(Result::unwrap).collect();
        assert_eq!(parts.len(), 4);
        for (part, (from_s, to_s)) in parts.iter().zip(spans).take(3) {
            assert_eq!(part.begins_s, from_s);
            assert_eq!(part.samples, whole.part(from_s, to_s));
            assert_eq!(part.part(1.5, 1.75), if from_s < 5.0 { whole.part(1.5, 1.75) } else { &[] });
        }
        assert!(parts[3].samples.is_empty());
    }
}
