//! The program is killed (SIGKILL, which nothing can catch) at random moments of everything that writes into a book.
//! No accepted take, row, frozen file, note or reason may be lost or altered, and the next command goes on.
//! `scripts/attack.rs` does the same for ten minutes.

use crate::attack::{Deed, Evening, unharmed};
use crate::maker::Maker;

/// Kills a test, spread over books so that none grows slow.
const BOOKS: u64 = 2;
const KILLS_A_BOOK: usize = 6;

/// Kills these commands in turn. Kills that all come before the writing, or all after it, say nothing.
#[track_caller]
fn killed(first_seed: u64, deeds: &[Deed]) {
    let (mut done, mut untouched) = (0, 0);
    for seed in first_seed..first_seed + BOOKS {
        let mut evening = Evening::new(Maker::new(), seed);
        for kill in 0..KILLS_A_BOOK {
            let event = evening.kill(deeds[kill % deeds.len()]);
            unharmed(&event, seed);
            done += usize::from(event.was_done);
            untouched += usize::from(!event.was_begun);
        }
        unharmed(&evening.close(), seed);
    }
    let all = BOOKS as usize * KILLS_A_BOOK;
    eprintln!("{all} kills, {untouched} before anything was written, {done} after all was");
    assert!(untouched < all && done < all, "the kills all fell on one side");
}

#[test]
fn killed_while_recording_no_accepted_take_or_row_is_lost_or_altered() {
    killed(100, &[Deed::Record, Deed::RecordTest]);
}

#[test]
fn killed_while_listening_no_kept_take_or_row_is_lost_or_altered() {
    killed(200, &[Deed::Listen]);
}

#[test]
fn killed_while_checking_no_row_is_lost_or_doubled() {
    killed(300, &[Deed::Check]);
}

#[test]
fn killed_while_takes_are_copied_in_each_is_there_once_after_the_next_time() {
    killed(400, &[Deed::CopyIn, Deed::CopyTest]);
}

#[test]
fn killed_while_the_notes_of_a_long_recording_are_kept_each_is_there_once_after_the_next_time() {
    killed(500, &[Deed::OneTake]);
}

#[test]
fn killed_while_opening_a_step_or_noting_a_find_the_book_is_as_before_or_as_asked() {
    killed(600, &[Deed::Step, Deed::Found]);
}

#[test]
fn killed_while_better_measures_are_written_every_step_has_the_old_file_or_the_new_one_and_the_rest_follows()
{
    killed(700, &[Deed::Measured]);
}

#[test]
fn killed_while_a_take_is_set_aside_it_is_never_without_its_reason() {
    killed(800, &[Deed::SetAside]);
}

#[test]
fn killed_while_a_book_or_a_prototype_is_begun_it_is_begun_by_the_same_command_again() {
    killed(900, &[Deed::NewBook, Deed::NewPrototype]);
}
