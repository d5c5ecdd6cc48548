//! Notes of whole instruments: their order, how they are found again, and what a larger hole does.

use borescribe::acoustics::resonance::{Resonance, follow, resonances};
use borescribe::instrument::column::{column, highest_hz, playing_hz};
use borescribe::units::{cents_between, shift_by_cents};
use proptest::prelude::*;

use crate::valid;

proptest! {
    #![proptest_config(ProptestConfig { cases: 128, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn resonances_rise(instrument in valid::instrument(), mask in 0_u8..128) {
        let column = column(&instrument, &valid::opened(&instrument, mask), &[]);
        let found = resonances(&column, 6, highest_hz(&column));
        prop_assert!(found.windows(2).all(|pair| pair[0].hz < pair[1].hz), "{found:?}");
        prop_assert!(found.iter().all(|r| r.hz > 0.0 && r.magnitude > 0.0 && r.q.is_finite()), "{found:?}");
    }

    #[test]
    fn a_resonance_is_found_again_from_a_fifth_of_a_semitone_away(
        instrument in valid::instrument(), first in 0_usize..8,
    ) {
        let column = column(&instrument, &valid::opened_from(&instrument, first), &[]);
        // One more than is followed, so that the last one's neighbour above is known too.
        let found = resonances(&column, 5, highest_hz(&column));
        // A note: a peak that a reed can hold, with no other resonance within two semitones, nor one five times as high
        // within four, as far as is looked. Where two nearly merge, or a peak hardly stands out on another's flank, the
        // way to it may lead across the other (seen once in some thousand columns: 217 cents from one 7 times as high).
        let alone = |it: &Resonance| {
            found.iter().filter(|other| other.hz != it.hz).all(|other| {
                let away = cents_between(other.hz, it.hz).abs();
                away > 400.0 || (away > 200.0 && other.magnitude < 5.0 * it.magnitude)
            })
        };
        for resonance in found.iter().take(4).filter(|resonance| resonance.magnitude > 10.0 && alone(resonance)) {
            for away_cents in [-20.0, 20.0] {
                let again = follow(&column, shift_by_cents(resonance.hz, away_cents));
                let off = again.map(|hz| cents_between(hz, resonance.hz).abs());
                prop_assert!(off.is_some_and(|off| off < 1e-3), "{off:?} from {resonance:?} in {found:?}");
            }
        }
    }

    // True where what is open below the hole still acts as a mass: the next opening within a quarter wave.
    // A longer tail acts as a spring and may pull its note up; then a larger hole frees the note from the
    // tail and lowers it, as on a tube with one hole and 1.8 m below it at 86 Hz.
    #[test]
    fn a_larger_hole_never_flattens_its_own_note(
        instrument in valid::instrument(), index in 0_usize..7, share in 0.01..1.0,
    ) {
        let Some(index) = index.checked_rem(instrument.holes.len()) else { return Ok(()) };
        let mut enlarged = instrument.clone();
        let hole = &mut enlarged.holes[index];
        let bore_mm = instrument.bore_at_mm(hole.at_mm);
        let widest_mm = (0.8 * bore_mm - hole.undercut_mm).min(hole.pad.map_or(bore_mm, |pad| pad.diameter_mm));
        hole.diameter_mm += share * (widest_mm - hole.diameter_mm).max(0.0);
        // The hole and all below it are open: its own note, and no fork.
        let open = valid::opened_from(&instrument, index);
        let before = playing_hz(&instrument, &open, 1, &[]);
        let after = playing_hz(&enlarged, &open, 1, &[]);
        if let (Some(before_hz), Some(after_hz)) = (before, after) {
            let at_mm = instrument.holes[index].at_mm;
            let below = open.iter().map(|&hole| instrument.holes[hole].at_mm).filter(|&other| other > at_mm);
            let tail_mm = below.fold(instrument.length_mm(), f64::min) - at_mm;
            let quarter_wave_mm = 250.0 * column(&instrument, &open, &[]).air.speed / before_hz;
            if tail_mm > quarter_wave_mm {
                return Ok(());
            }
            let rise = cents_between(after_hz, before_hz);
            prop_assert!(rise > -1e-5, "{rise} cents, hole {:?}", instrument.holes[index]);
        }
    }
}
