//! No resonance is lost.

use borescribe::acoustics::circuit::Circuit;
use borescribe::acoustics::resonance::resonances;
use borescribe::units::cents_between;

use crate::columns::{fourth_mode_hz, random_column};

/// Every rising zero below `highest_hz` in steps of half a cent, from far below the lowest mode.
fn by_brute_force(circuit: &Circuit, lowest_hz: f64, highest_hz: f64) -> Vec<f64> {
    let ratio = (0.5_f64 / 1200.0).exp2();
    let mut found = Vec::new();
    let mut hz = lowest_hz;
    let mut before = circuit.driven_load(hz).im;
    while hz < highest_hz {
        hz *= ratio;
        let here = circuit.driven_load(hz).im;
        if before < 0.0 && here >= 0.0 {
            found.push(hz);
        }
        before = here;
    }
    found
}

#[test]
fn no_resonance_of_a_random_column_is_lost() {
    let cases: u64 = std::env::var("CASES").map_or(40, |text| text.parse().unwrap());
    let mut missed = 0;
    let seeds: Vec<u64> = std::env::var("SEEDS").map_or((0..cases).collect(), |t| t.split(' ').map(|s| s.parse().unwrap()).collect());
    for seed in seeds {
        let column = random_column(seed);
        let circuit = Circuit::new(&column);
        let highest_hz = fourth_mode_hz(&column);
        let expected = by_brute_force(&circuit, 0.02 * highest_hz, highest_hz);
        let found = resonances(&column, 50, highest_hz);
        let same = found.len() == expected.len()
            && found.iter().zip(&expected).all(|(f, e)| cents_between(f.hz, *e).abs() <= 0.51);
        if !same {
            missed += 1;
            println!(
                "seed {seed}: {:?}\n   {:?}",
                found.iter().map(|r| r.hz).collect::<Vec<_>>(),
                expected
            );
        }
    }
    assert!(missed == 0, "{missed} of {cases}");
}
