//! Notes that the maker wrote into, and damaged ones: what can be read is added to and keeps every line, what can't is
//! refused and left alone.

use borescribe::book::folder::Book;
use borescribe::book::note::StepNote;
use borescribe::instrument::template::plain_tube;

use crate::attack::dice::Dice;
use crate::logs::damaged;
use crate::note_text::{holds, holds_as_test};

const NOTES: [&str; 3] = [
    "# What was done.\nwhat = \"drilled\"\nwhen = \"2026-11-25T14:03:00Z\"\nroom_c = 18.5 # cold\nreed = 'no. 2' # \
     chipped\n# rain all day\nstool = \"low\"\nfound = [\n  \"v:leaks\", # heard it\n]\n\n[weather]\nrain = true # all \
     day\n",
    "\u{feff}what = 'x'\r\nnote = \"\"\"\r\nroom_c = 3\r\n# no comment\r\n\"\"\"\r\nfound = [\"D2:hissy\", 'E2:slow']\r\n",
    "found = \"v:leaks\" # heard it\ntouched = []\nwhat = \"\"",
];
const TEST: &str =
    "# A test.\nchanges = [\"leak.v=0\"] # with a cork\nwhen = \"2026-11-25T14:03:00Z\"\nroom_c = 19\n";

#[test]
fn whatever_happens_to_a_note_no_line_of_the_makers_own_is_lost() {
    let folder = tempfile::tempdir().unwrap();
    let mut dice = Dice::new(8);
    for note in NOTES {
        holds(note.as_bytes(), folder.path());
        for _ in 0..60 {
            let bytes = damaged(note.as_bytes(), &mut |limit| dice.below(limit as u64) as usize);
            holds(&bytes, folder.path());
        }
    }
}

#[test]
fn whatever_happens_to_a_tests_file_it_is_read_or_refused_and_left_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let note = StepNote { what: "start".into(), ..StepNote::default() };
    let (book, _) = Book::create(&folder.path().join("book"), &plain_tube("x"), &note).unwrap();
    let mut dice = Dice::new(9);
    for _ in 0..500 {
        let bytes = damaged(TEST.as_bytes(), &mut |limit| dice.below(limit as u64) as usize);
        holds_as_test(&bytes, &book);
    }
}
