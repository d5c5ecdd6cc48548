//! Any bytes as a book's log: read or refused, and mended and added to without losing a row.
#![no_main]

#[path = "../../tests/common/log_text.rs"]
mod log_text;

use std::path::PathBuf;
use std::sync::OnceLock;

use libfuzzer_sys::fuzz_target;

/// A folder of this process alone.
fn folder() -> &'static PathBuf {
    static FOLDER: OnceLock<PathBuf> = OnceLock::new();
    FOLDER.get_or_init(|| {
        let folder = std::env::temp_dir().join(format!("borescribe-log-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        folder
    })
}

fuzz_target!(|bytes: &[u8]| log_text::holds(bytes, folder()));
