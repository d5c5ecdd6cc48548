//! The sample instrument inside the program: files and simulated takes of three bench steps.
//!
//! The folder `samples/` holds them as a maker would keep them; they are made by `scripts/make_samples.rs`.
//! Must not know what is found in them.

use rayon::prelude::*;

use super::failure::Failure;
use super::takes::{filed, settings_for};
use crate::analysis::measure::measure;
use crate::audio::decode;
use crate::audio::take::Take;
use crate::diagnosis::takes::evidence::FiledTake;
use crate::instrument::file::parse;
use crate::instrument::model::Instrument;
use crate::instrument::prediction::predict;
use crate::instrument::problem::FileError;
use crate::instrument::take_names::{TakeOf, take_of};

/// One bench step of the sample.
pub struct Step {
    /// What was done, for the reader.
    pub story: &'static str,
    /// Path of the instrument file in the project.
    pub file: &'static str,
    /// The instrument file.
    text: &'static str,
    /// Takes: name of the fingering and the WAV file.
    takes: &'static [(&'static str, &'static [u8])],
}

/// A step with the files of `samples/bittern/P2/<folder>`.
macro_rules! step {
    ($folder:literal, $story:literal) => {
        step!($folder, $story,
            "A2" "A3" "A4" "B2" "B3" "C2" "C3" "C4" "D2" "D3" "D4" "E2" "E4" "F#4" "F2" "G2" "G3" "G4")
    };
    ($folder:literal, $story:literal, $($name:literal)*) => {
        Step {
            story: $story,
            file: concat!("samples/bittern/P2/", $folder, "/instrument.toml"),
            text: include_str!(concat!("../../samples/bittern/P2/", $folder, "/instrument.toml")),
            takes: &[$((
                $name,
                include_bytes!(concat!("../../samples/bittern/P2/", $folder, "/takes/", $name, ".wav")),
            )),*],
        }
    };
}

/// The steps, in their order.
pub static STEPS: [Step; 3] = [
    step!("01-drilled", "All holes drilled 1.5 mm under size, the tube left 8 mm long. First sounding."),
    step!("02-trimmed-opened", "The tube trimmed to length, all holes opened to size, pads set again."),
    step!("03-p3-sealed", "The screw hole of post p3 sealed with wax. h5 drilled again, to clean it up."),
];

impl Step {
    /// The step's instrument and its measured takes, in the order of the files' names.
    ///
    /// # Errors
    /// [`Failure::Instrument`] when the built-in file is wrong; a test keeps it right.
    pub fn read(&self) -> Result<(Instrument, Vec<FiledTake>), Failure> {
        let instrument =
            parse(self.text).map_err(|problems| FileError::Wrong { path: self.file.into(), problems })?;
        let predicted = predict(&instrument);
        let takes = self
            .takes
            .par_iter()
            .filter_map(|&(name, wav)| {
                let TakeOf::Fingering(fingering) = take_of(name, &instrument.fingerings) else { return None };
                let settings = settings_for(fingering, &predicted);
                let measured = decode::read_bytes(wav, "wav").map(|take| measure(&take, &settings, None));
                Some(filed(format!("{name}.wav"), fingering, measured))
            })
            .collect();
        Ok((instrument, takes))
    }

    /// The sound of the take that is called `file`.
    #[must_use]
    pub fn sound(&self, file: &str) -> Option<Take> {
        let (_, wav) = self.takes.iter().find(|(name, _)| file.strip_suffix(".wav") == Some(*name))?;
        decode::read_bytes(*wav, "wav").ok()
    }
}
