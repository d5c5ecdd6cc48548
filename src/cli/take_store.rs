//! Where takes are kept: never overwritten, never half written under their own name.

use std::fs::File;
use std::path::{Path, PathBuf};

use super::failure::Failure;
use crate::audio::encode::{Depth, write_wav};
use crate::audio::take::Take;
use crate::instrument::model::Instrument;
use crate::instrument::take_names::{TakeOf, take_of};

/// A folder of takes.
pub struct TakeStore {
    folder: PathBuf,
}

impl TakeStore {
    /// Makes the folder where it is not there yet.
    ///
    /// # Errors
    /// [`Failure::File`] when it can't be made.
    pub fn open(folder: PathBuf) -> Result<TakeStore, Failure> {
        std::fs::create_dir_all(&folder).map_err(at(&folder))?;
        Ok(TakeStore { folder })
    }

    /// Writes a take of the fingering `index` beside its future name, safe on the disk.
    ///
    /// # Errors
    /// [`Failure`] when it can't be written.
    pub fn write(&self, instrument: &Instrument, index: usize, take: &Take) -> Result<Offered, Failure> {
        let path = self.free_name(instrument, index);
        let aside = path.with_extension("wav.part");
        write_wav(&aside, &take.samples, take.rate_hz as u32, Depth::Bits24)?;
        File::open(&aside).and_then(|file| file.sync_all()).map_err(at(&aside))?;
        Ok(Offered { path, aside })
    }

    /// `D2.wav`, or `D2-2.wav` and so on where that is taken or would belong to another fingering.
    fn free_name(&self, instrument: &Instrument, index: usize) -> PathBuf {
        let name = &instrument.fingerings[index].name;
        let mut number = 1;
        loop {
            let stem = if number == 1 { name.clone() } else { format!("{name}-{number}") };
            let path = self.folder.join(format!("{stem}.wav"));
            let is_own = take_of(&stem, &instrument.fingerings) == TakeOf::Fingering(index);
            if is_own && path.symlink_metadata().is_err() {
                return path;
            }
            number += 1;
        }
    }
}

/// A take that is written but not yet kept.
#[must_use]
pub struct Offered {
    path: PathBuf,
    aside: PathBuf,
}

impl Offered {
    /// The name that it will have.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Gives it its name.
    ///
    /// # Errors
    /// [`Failure::File`] when the name has been taken meanwhile or the disk refuses; the take stays
    /// where it is.
    pub fn keep(self) -> Result<(), Failure> {
        if self.path.symlink_metadata().is_ok() {
            return Err(Failure::Occupied { path: self.path });
        }
        std::fs::rename(&self.aside, &self.path).map_err(at(&self.aside))
    }

    /// Deletes it: the maker plays it again.
    ///
    /// # Errors
    /// [`Failure::File`] when the disk refuses.
    pub fn discard(self) -> Result<(), Failure> {
        std::fs::remove_file(&self.aside).map_err(at(&self.aside))
    }
}

fn at(path: &Path) -> impl Fn(std::io::Error) -> Failure {
    let path = path.to_path_buf();
    move |source| Failure::File { path: path.clone(), source }
}
