//! What must hold of any bytes as a step's note, and as a test's. Shared with the fuzz targets.

use std::ops::Range;
use std::path::Path;

use borescribe::book::folder::Book;
use borescribe::book::note::{self, NOTE, StepNote};
use borescribe::book::test::{TEST, tests_of};
use toml_edit::{Document, Item};

/// Keys that are written anew below.
const WRITTEN: [&str; 3] = ["room_c", "reed", "found"];

/// Reads `bytes` as the note in `folder` and writes more into it: every line of the maker's own stays, in its order, and
/// what can't be read is left alone.
pub fn holds(bytes: &[u8], folder: &Path) {
    let path = folder.join(NOTE);
    std::fs::write(&path, bytes).unwrap();
    let said = StepNote {
        room_c: Some(21.5),
        reed: Some("no. 3 \"old\" \\".into()),
        found: vec!["D2:hissy".into()],
        ..StepNote::default()
    };
    let Ok(before) = note::read(folder) else {
        // Commands read first; one that would not must lose nothing either.
        if note::write(folder, &said).is_err() {
            assert_eq!(std::fs::read(&path).unwrap(), bytes, "what can't be read was altered");
        }
        return;
    };
    let wanted = before.overlaid(&said);
    if note::write(folder, &wanted).is_err() {
        assert_eq!(std::fs::read(&path).unwrap(), bytes, "what was refused was altered");
        return;
    }
    assert_eq!(note::read(folder).unwrap(), wanted);
    let (old, new) = (String::from_utf8_lossy(bytes), std::fs::read_to_string(&path).unwrap());
    let mut after = new.lines();
    for line in own_lines(&old) {
        assert!(after.any(|other| other == line), "{line:?} is lost or has moved:\n{old}\nbecame\n{new}");
    }
    for comment in comments(&old) {
        assert!(new.contains(comment), "{comment:?} is lost:\n{old}\nbecame\n{new}");
    }
    note::write(folder, &wanted).unwrap();
    assert_eq!(std::fs::read_to_string(&path).unwrap(), new, "writing the same again changes it");
}

/// Reads `bytes` as the `test.toml` of a test of the book's open step: told or refused, and left as it is.
pub fn holds_as_test(bytes: &[u8], book: &Book) {
    let step = book.open_step().unwrap();
    let folder = step.tests().join("01");
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join(TEST), bytes).unwrap();
    match tests_of(&step) {
        Ok(tests) => assert!(!tests[0].note().changes.is_empty()),
        Err(error) => assert!(!error.to_string().is_empty()),
    }
    assert_eq!(std::fs::read(folder.join(TEST)).unwrap(), bytes);
}

/// From the key to the end of its value, for the keys that are written.
fn written_spans(text: &str) -> Vec<Range<usize>> {
    let plain = text.strip_prefix('\u{feff}').unwrap_or(text);
    let shift = text.len() - plain.len();
    let document = Document::parse(plain).unwrap();
    let spans = document.iter().filter(|(key, _)| WRITTEN.contains(key)).filter_map(|(key, item)| {
        let start = document.key(key)?.span()?.start;
        let end = Item::span(item)?.end;
        Some(start + shift..end + shift)
    });
    spans.collect()
}

/// Lines that no written key has a part in.
fn own_lines(text: &str) -> Vec<&str> {
    let spans = written_spans(text);
    let mut start = 0;
    let mut own = Vec::new();
    for line in text.split_inclusive('\n') {
        let end = start + line.len();
        if !spans.iter().any(|span| span.start < end && start < span.end) {
            let line = line.strip_suffix('\n').unwrap_or(line);
            own.push(line.strip_suffix('\r').unwrap_or(line));
        }
        start = end;
    }
    own
}

/// Comments behind the values of written keys.
fn comments(text: &str) -> Vec<&str> {
    let rest = |span: &Range<usize>| text[span.end..].lines().next().unwrap_or_default().trim();
    written_spans(text).iter().map(rest).filter(|rest| rest.starts_with('#')).collect()
}
