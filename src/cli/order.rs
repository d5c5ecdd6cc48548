//! The order in which recordings with names that say nothing were made.

use std::path::{Path, PathBuf};

use super::failure::Failure;
use super::takes::{entries, is_recording};
use crate::audio::made::{Made, made};
use crate::audio::spool::Spool;
use crate::instrument::take_names::{TakeOf, take_of};

/// Recordings in the order in which they were made, as well as that can be known, and what the maker should know of it.
///
/// A folder's are put in order, and a list in the order of letters, in which a shell's `*` puts 10 before 2. A list in
/// any other order is the maker's own and stays.
///
/// # Errors
/// [`Failure`] for files that are not there and folders without recordings.
pub fn files_in_order(paths: &[PathBuf]) -> Result<(Vec<PathBuf>, Vec<String>), Failure> {
    let mut files = Vec::new();
    let mut told = Vec::new();
    for path in paths {
        if path.is_dir() {
            let mut found = entries(path)?;
            found.files.retain(|entry| is_recording(entry));
            if found.files.is_empty() {
                return Err(Failure::NoTakes { path: path.clone(), example: "1".to_string() });
            }
            told.extend(found.told);
            files.extend(found.files);
        } else {
            let lost = |source| Failure::File { path: path.clone(), source };
            path.metadata().map_err(lost)?;
            files.push(path.clone());
        }
    }
    if files.len() < 2 || !(files.is_sorted() || paths.iter().any(|path| path.is_dir())) {
        return Ok((files, told));
    }
    let given = files.clone();
    files.sort_by_cached_key(|file| by_name(file));
    if by_time(&mut files) {
        told.push(
            "the files are taken in the order of the times of recording that all of them tell".to_string(),
        );
    } else if files != given {
        told.push(
            "the files are taken by the numbers in their names (none, then 2, then 10), not letter by letter"
                .to_string(),
        );
    }
    Ok((files, told))
}

/// Puts the files in the order in which they were recorded, when every one tells a time of its own by the same clock;
/// the silent room may stand anywhere. False when they stay as they are.
fn by_time(files: &mut Vec<PathBuf>) -> bool {
    let time = |file: &PathBuf| {
        let spool = Spool::of_file(file, &std::env::temp_dir()).ok()?;
        made(&spool).ok().flatten()
    };
    let (rooms, takes): (Vec<PathBuf>, Vec<PathBuf>) = files.iter().cloned().partition(|file| is_room(file));
    // A pipe has no heading that could be read twice.
    if !takes.iter().all(|file| file.is_file()) {
        return false;
    }
    let Some(mut timed) =
        takes.into_iter().map(|file| Some((time(&file)?, file))).collect::<Option<Vec<_>>>()
    else {
        return false;
    };
    timed.sort();
    let is_one_clock = timed.iter().all(|(made, _)| matches!(made, Made::Universal(_)))
        || timed.iter().all(|(made, _)| matches!(made, Made::OnTheWall(_)));
    if timed.len() < 2 || !is_one_clock || timed.windows(2).any(|pair| pair[0].0 == pair[1].0) {
        return false;
    }
    *files = rooms.into_iter().chain(timed.into_iter().map(|(_, file)| file)).collect();
    true
}

/// Whether a recording is of the silent room.
pub fn is_room(path: &Path) -> bool {
    let stem = path.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
    take_of(&stem, &[]) == TakeOf::Room
}

/// A name in pieces, so that numbers compare as numbers and "New Recording" comes before "New Recording 2".
fn by_name(path: &Path) -> (Option<PathBuf>, Vec<(String, u64)>, PathBuf) {
    let mut pieces: Vec<(String, u64)> = vec![(String::new(), 0)];
    let mut in_number = false;
    let stem = path.file_stem().unwrap_or_default().to_string_lossy().to_lowercase();
    for letter in stem.trim().chars() {
        if !letter.is_ascii_digit() && in_number {
            pieces.push((String::new(), 0));
        }
        in_number = letter.is_ascii_digit();
        if let Some((text, number)) = pieces.last_mut() {
            match letter.to_digit(10).filter(|_| in_number) {
                Some(digit) => *number = number.saturating_mul(10).saturating_add(u64::from(digit)),
                None => text.push(letter),
            }
        }
    }
    (path.parent().map(Path::to_path_buf), pieces, path.to_path_buf())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_without_a_number_come_first_and_numbers_count() {
        let right = [
            "New Recording.m4a",
            "New Recording 2.m4a",
            "New Recording 10.m4a",
            "New Recording 12.m4a",
            "REC 9.wav",
            "rec 10.wav",
        ];
        let mut names: Vec<PathBuf> = right.iter().rev().map(PathBuf::from).collect();
        names.sort_by_cached_key(|name| by_name(name));
        assert_eq!(names, right.map(PathBuf::from));
    }
}
