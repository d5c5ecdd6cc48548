//! Any bytes as a step's note: refused and left alone, or added to without losing a line of the maker's own. The same
//! bytes as a test's file: read or refused.
#![no_main]

#[path = "../../tests/common/note_text.rs"]
mod note_text;

use std::sync::OnceLock;

use borescribe::book::folder::Book;
use borescribe::book::note::StepNote;
use borescribe::instrument::template::plain_tube;
use libfuzzer_sys::fuzz_target;

/// A book of this process alone.
fn book() -> &'static Book {
    static BOOK: OnceLock<Book> = OnceLock::new();
    BOOK.get_or_init(|| {
        let folder = std::env::temp_dir().join(format!("borescribe-note-{}", std::process::id()));
        let note = StepNote { what: "start".into(), ..StepNote::default() };
        Book::create(&folder, &plain_tube("x"), &note).unwrap().0
    })
}

fuzz_target!(|bytes: &[u8]| {
    note_text::holds(bytes, book().root());
    note_text::holds_as_test(bytes, book());
});
