//! How the folders of a book are called: a number of two digits or more, then words.
//!
//! Must not know what is in them.

use std::path::Path;

/// `02-trimmed-opened`: the number and the words of what was done, as a name for a folder.
pub(super) fn step_name(number: u32, what: &str) -> String {
    const LONGEST: usize = 40;
    let mut name = format!("{number:02}");
    for word in what.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty()) {
        if name.chars().count() + 1 + word.chars().count() > LONGEST {
            break;
        }
        name.push('-');
        name.extend(word.chars().flat_map(char::to_lowercase));
    }
    name
}

/// The number that a step's folder begins with.
pub(super) fn number_of(name: &str) -> Option<u32> {
    let digits = name.split('-').next()?;
    (digits.len() >= 2).then(|| digits.parse().ok()).flatten()
}

/// The numbered folders in a folder, in the order of their numbers.
pub(super) fn numbered(folder: &Path) -> Vec<String> {
    let mut numbered: Vec<(u32, String)> =
        subfolders(folder).into_iter().filter_map(|name| Some((number_of(&name)?, name))).collect();
    numbered.sort();
    numbered.into_iter().map(|(_, name)| name).collect()
}

/// The folders in a folder that are not hidden, in no order.
pub(super) fn subfolders(folder: &Path) -> Vec<String> {
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let folders = entries.flatten().filter(|entry| entry.path().is_dir());
    folders
        .filter_map(|entry| entry.file_name().into_string().ok())
        .filter(|name| !name.starts_with('.'))
        .collect()
}

/// Folders that hold steps, in the order of their names, numbers counted as numbers.
pub(super) fn prototype_folders(root: &Path) -> Vec<String> {
    let mut names: Vec<String> =
        subfolders(root).into_iter().filter(|name| !numbered(&root.join(name)).is_empty()).collect();
    names.sort_by_key(|name| {
        let digits: String = name.chars().filter(char::is_ascii_digit).collect();
        (digits.parse::<u64>().unwrap_or(0), name.clone())
    });
    names
}

/// What a prototype may be called.
pub(super) const A_PROTOTYPES_NAME: &str = "Use letters, digits, - and _, like P2.";

/// Whether this names a folder of the book, and none outside of it or hidden.
pub(super) fn is_name_of_a_folder(name: &str) -> bool {
    !name.starts_with('.') && !name.contains(['/', '\\', ':']) && !name.chars().any(char::is_control)
}
