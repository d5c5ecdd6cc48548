//! A recording that can be read as often as is needed: a file, or what came through a pipe, kept meanwhile in
//! a file without a name. So a pipe of any length takes no more memory than a file does.
//!
//! Must not know how sound is coded.

use std::fs::File;
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use super::decode::{AudioError, refuse_head};

/// Bytes kept of a pipe: as many as a WAV can hold, three hours of two channels of 32 bits at 48 kHz.
const MOST_PIPED: u64 = 1 << 32;
/// Bytes of a pipe looked at before the rest is waited for: headers are shorter, and a pipe that is no sound may
/// never end.
const HEAD: u64 = 1 << 20;
/// Bytes moved at a time.
const PIECE: usize = 1 << 16;

/// A recording that can be read again and again.
#[derive(Debug, Clone)]
pub struct Spool {
    place: Place,
    /// More came through the pipe than could be kept.
    pub(super) unfinished: bool,
}

#[derive(Debug, Clone)]
enum Place {
    Named(PathBuf),
    /// The system deletes it when it is closed, also when the program is killed.
    Unnamed(Arc<Mutex<File>>),
}

/// What a recording's bytes can do: a file, or memory.
pub(super) trait Bytes: Read + Seek + Send + Sync {}
impl<T: Read + Seek + Send + Sync> Bytes for T {}

impl Spool {
    /// A file; a pipe or a device is read to its end and kept in `folder`.
    ///
    /// # Errors
    /// [`AudioError`] when it can't be read, or there is no room to keep a pipe's bytes.
    pub fn of_file(path: &Path, folder: &Path) -> Result<Spool, AudioError> {
        let file = File::open(path)?;
        let kind = file.metadata()?;
        if kind.is_dir() {
            return Err(AudioError::Folder);
        }
        if kind.is_file() {
            return Ok(Spool { place: Place::Named(path.to_path_buf()), unfinished: false });
        }
        Spool::of_pipe(file, folder)
    }

    /// All that comes through a pipe, kept in `folder` until the spool is dropped.
    ///
    /// # Errors
    /// [`AudioError`] when the pipe breaks or doesn't begin as sound does, or there is no room for its bytes.
    pub fn of_pipe(mut pipe: impl Read, folder: &Path) -> Result<Spool, AudioError> {
        let mut head = Vec::new();
        pipe.by_ref().take(HEAD).read_to_end(&mut head)?;
        let mut kept = head.len() as u64;
        if kept == HEAD {
            refuse_head(&head)?;
        }
        let mut file = tempfile::tempfile_in(folder).map_err(|error| full(folder, &error))?;
        file.write_all(&head).map_err(|error| full(folder, &error))?;
        let mut pipe = pipe.take(MOST_PIPED - kept);
        let mut piece = vec![0; PIECE];
        loop {
            let count = match pipe.read(&mut piece) {
                Ok(0) => break,
                Ok(count) => count,
                Err(error) if error.kind() == std::io::ErrorKind::Interrupted => continue,
                Err(error) => return Err(error.into()),
            };
            file.write_all(piece.get(..count).unwrap_or_default()).map_err(|error| full(folder, &error))?;
            kept += count as u64;
        }
        Ok(Spool { place: Place::Unnamed(Arc::new(Mutex::new(file))), unfinished: kept >= MOST_PIPED })
    }

    /// The bytes from the first on.
    pub(super) fn bytes(&self) -> std::io::Result<Box<dyn Bytes>> {
        Ok(match &self.place {
            Place::Named(path) => Box::new(File::open(path)?),
            Place::Unnamed(file) => Box::new(Reader { file: Arc::clone(file), at: 0 }),
        })
    }

    /// The ending of the file's name; empty when there is none.
    pub(super) fn extension(&self) -> &str {
        match &self.place {
            Place::Named(path) => path.extension().and_then(|ending| ending.to_str()).unwrap_or_default(),
            Place::Unnamed(_) => "",
        }
    }
}

fn full(folder: &Path, error: &std::io::Error) -> AudioError {
    AudioError::NoRoom { folder: folder.display().to_string(), reason: error.to_string() }
}

/// One of several readers of a file that can't be opened twice: each keeps its own place.
struct Reader {
    file: Arc<Mutex<File>>,
    at: u64,
}

impl Read for Reader {
    fn read(&mut self, to: &mut [u8]) -> std::io::Result<usize> {
        let mut file = self.file.lock().unwrap_or_else(PoisonError::into_inner);
        file.seek(SeekFrom::Start(self.at))?;
        let count = file.read(to)?;
        self.at += count as u64;
        Ok(count)
    }
}

impl Seek for Reader {
    fn seek(&mut self, to: SeekFrom) -> std::io::Result<u64> {
        let mut file = self.file.lock().unwrap_or_else(PoisonError::into_inner);
        if let SeekFrom::Current(_) = to {
            file.seek(SeekFrom::Start(self.at))?;
        }
        self.at = file.seek(to)?;
        Ok(self.at)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_came_through_a_pipe_is_read_from_any_place_by_several_readers() {
        let folder = tempfile::tempdir().unwrap();
        // As long as a head and more, after a mark of sound.
        let sent: Vec<u8> =
            b"RIFF".iter().copied().chain((0..1_200_000_u32).map(|i| (i % 251) as u8)).collect();
        let spool = Spool::of_pipe(&sent[..], folder.path()).unwrap();
        assert!(!spool.unfinished);
        let (mut one, mut other) = (spool.bytes().unwrap(), spool.bytes().unwrap());
        other.seek(SeekFrom::End(-10)).unwrap();
        let (mut all, mut end) = (Vec::new(), Vec::new());
        one.by_ref().take(1000).read_to_end(&mut all).unwrap();
        other.seek(SeekFrom::Current(-5)).unwrap();
        other.read_to_end(&mut end).unwrap();
        one.read_to_end(&mut all).unwrap();
        assert_eq!((all, &end[..]), (sent.clone(), &sent[sent.len() - 15..]));
        assert_eq!(
            std::fs::read_dir(folder.path()).unwrap().count(),
            0,
            "nothing is left if the program dies"
        );
    }

    #[test]
    fn a_pipe_without_end_that_is_no_sound_is_refused_at_its_beginning() {
        let folder = tempfile::tempdir().unwrap();
        let (mut state, text) = (1_u32, "yes, yes\n".as_bytes());
        let noise: Vec<u8> = std::iter::repeat_with(|| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 24) as u8
        })
        .take(2 * HEAD as usize)
        .collect();
        let endless: [Box<dyn Read>; 3] = [
            Box::new(std::io::repeat(0)),
            Box::new(text.chain(std::io::repeat(b'y'))),
            Box::new(noise.chain(std::io::repeat(0x55))),
        ];
        for pipe in endless {
            let told = Spool::of_pipe(pipe, folder.path()).unwrap_err();
            assert!(matches!(told, AudioError::Refused(_)), "{told}");
        }
    }

    #[test]
    fn a_folder_without_room_for_a_pipe_is_named() {
        let missing = Path::new("no such folder");
        let told = Spool::of_pipe(&b"RIFF"[..], missing).unwrap_err().to_string();
        assert!(told.contains("no such folder"), "{told}");
    }
}
