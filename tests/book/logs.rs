//! Logs that were damaged in any way: nothing that can be read is lost.

use crate::attack::dice::Dice;
use crate::log_text::holds;

const SEED: &str = "prototype,step,fingering,file,hz,sd_cents,level,undertone,troubles,room_c,when\n\
    P1,01-start,C#2,P1/01-start/takes/C#2.wav,69.0000,0.100,-12.8,1/3 -18.2; 2/3 -27.0,,19.0,2026-11-26T11:36:27Z\n\
    P1,01-start,\"a \"\"b\"\", é\",P1/x.wav,,,,,silent too-quiet,,\n\
    P2,02-next,F2,P2/02-next/takes/F2-2.wav,86.5,0.2,-9.1,,cut-off,-3.5,2026-11-27T00:00:00Z\n";

/// Damage that files really get, and some that they don't.
pub fn damaged(seed: &[u8], dice: &mut impl FnMut(usize) -> usize) -> Vec<u8> {
    let mut bytes = seed.to_vec();
    for _ in 0..1 + dice(4) {
        let at = dice(bytes.len() + 1);
        match dice(7) {
            0 => bytes.truncate(at),
            1 => bytes.insert(at, b"\n\r\",;\0\xff \t"[dice(9)]),
            2 if at < bytes.len() => bytes[at] = dice(256) as u8,
            3 if at < bytes.len() => drop(bytes.remove(at)),
            4 => bytes.extend_from_within(at..),
            5 => bytes.extend(vec![0; dice(40)]),
            _ => bytes.extend_from_slice("\u{feff}P1,x\r\n".as_bytes()),
        }
    }
    bytes
}

#[test]
fn whatever_happens_to_a_log_no_row_that_can_be_read_is_lost() {
    let folder = tempfile::tempdir().unwrap();
    // The same damage every time.
    let mut dice = Dice::new(7);
    let mut dice = |limit: usize| dice.below(limit as u64) as usize;
    for cut in 0..=SEED.len() {
        holds(&SEED.as_bytes()[..cut], folder.path());
    }
    for _ in 0..3000 {
        holds(&damaged(SEED.as_bytes(), &mut dice), folder.path());
    }
}
