//! What must hold of any bytes as a book's log. Shared with the fuzz targets.

use std::path::Path;

use borescribe::book::log::{LOG, Log, Row};

/// Reads `bytes` as the log of the book in `folder`, mends it and adds a row: nothing that could be read before is
/// lost or altered, and what is no log is left alone.
pub fn holds(bytes: &[u8], folder: &Path) {
    let path = folder.join(LOG);
    std::fs::write(&path, bytes).unwrap();
    let log = Log::of(folder);
    let row =
        Row { prototype: "P1".to_string(), fingering: "D2".to_string(), hz: Some(73.5), ..Row::default() };
    let Ok(before) = log.read() else {
        assert!(log.append(&[row]).is_err(), "a row is added to what is no log");
        assert_eq!(std::fs::read(&path).unwrap(), bytes, "what is no log was altered");
        return;
    };
    let is_torn = log.repair().unwrap();
    assert_eq!(is_torn, before.torn);
    log.append(std::slice::from_ref(&row)).unwrap();
    let after = log.read().unwrap();
    assert!(!after.torn);
    assert_eq!(after.bad_lines, before.bad_lines);
    let (last, earlier) = after.rows.split_last().unwrap();
    assert!(*last == row && *earlier == before.rows, "{before:?} became {after:?}");
}
