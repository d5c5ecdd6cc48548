//! Note frequencies and intervals.

use borescribe::units::{Note, STANDARD_A4_HZ, cents_between};

/// ISO 16:1975: A in the treble stave is 440 Hz (from memory). Equal temperament from it: the frequencies
/// to four decimals as in any published table (from memory).
#[test]
fn notes_sound_at_the_frequencies_of_the_standard_scale() {
    for (name, hz) in
        [("A4", 440.0), ("C4", 261.6256), ("A0", 27.5), ("C0", 16.3516), ("Bb-1", 14.5676), ("E2", 82.4069)]
    {
        let note: Note = name.parse().unwrap();
        assert!((note.hz(STANDARD_A4_HZ) - hz).abs() < 5e-5, "{name}");
    }
}

/// Just intervals in cents, 1200 log2(ratio): textbook values (from memory).
#[test]
fn just_intervals_have_their_textbook_cents() {
    for (ratio, cents) in [(3.0 / 2.0, 701.955), (5.0 / 4.0, 386.314), (3.0, 1901.955), (9.0 / 8.0, 203.910)]
    {
        assert!((cents_between(ratio, 1.0) - cents).abs() < 5e-4);
    }
}
