//! The drills that a maker may have by the name of their series, in millimetres.
//!
//! Must not know holes.

/// Names of the series that [`series_mm`] knows.
pub const SERIES: [&str; 3] = ["metric-0.5", "inch-64ths", "number"];

/// Millimetres in an inch, exact by definition.
const MM_PER_INCH: f64 = 25.4;

/// Number drills in thousandths of an inch from #80 (smallest) to #1: ASME B94.11M, from a public
/// drill list that agrees with memory; the standard itself was not read.
const NUMBER_DRILLS_THOU: [f64; 80] = [
    13.5, 14.5, 16.0, 18.0, 20.0, 21.0, 22.5, 24.0, 25.0, 26.0, 28.0, 29.2, 31.0, 32.0, 33.0, 35.0, 36.0,
    37.0, 38.0, 39.0, 40.0, 41.0, 42.0, 43.0, 46.5, 52.0, 55.0, 59.5, 63.5, 67.0, 70.0, 73.0, 76.0, 78.5,
    81.0, 82.0, 86.0, 89.0, 93.5, 96.0, 98.0, 99.5, 101.5, 104.0, 106.5, 110.0, 111.0, 113.0, 116.0, 120.0,
    128.5, 136.0, 140.5, 144.0, 147.0, 149.5, 152.0, 154.0, 157.0, 159.0, 161.0, 166.0, 169.5, 173.0, 177.0,
    180.0, 182.0, 185.0, 189.0, 191.0, 193.5, 196.0, 199.0, 201.0, 204.0, 205.5, 209.0, 213.0, 221.0, 228.0,
];

/// Diameters in mm of the drills of a series, rising; `None` for an unknown name.
///
/// - `metric-0.5`: 0.5 to 25 mm by 0.5. Home sets end at 13 (common practice, no source); single
///   drills are stocked on to 25 (BS 328 as an encyclopedia gives it).
/// - `inch-64ths`: 1/64 in to 1 in by 1/64, from `n/64 · 25.4`.
/// - `number`: #80 to #1, see the table's source.
#[must_use]
pub fn series_mm(name: &str) -> Option<Vec<f64>> {
    match name {
        "metric-0.5" => Some((1..=50).map(|halves| f64::from(halves) * 0.5).collect()),
        "inch-64ths" => Some((1..=64).map(|n| f64::from(n) / 64.0 * MM_PER_INCH).collect()),
        "number" => Some(NUMBER_DRILLS_THOU.iter().map(|thou| thou / 1000.0 * MM_PER_INCH).collect()),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_series_rises() {
        for name in SERIES {
            let drills = series_mm(name).unwrap();
            assert!(drills.windows(2).all(|pair| pair[0] < pair[1]), "{name}");
        }
    }

    #[test]
    fn drills_have_their_listed_diameters() {
        let has = |name: &str, mm: f64| series_mm(name).unwrap().iter().any(|d| (d - mm).abs() < 0.0006);
        for mm in [0.5, 6.5, 13.0, 25.0] {
            assert!(has("metric-0.5", mm), "{mm}");
        }
        for mm in [0.396875, 1.588, 9.525, 25.4] {
            assert!(has("inch-64ths", mm), "{mm}");
        }
        for mm in [0.343, 1.016, 2.375, 4.216, 5.791] {
            assert!(has("number", mm), "{mm}");
        }
        assert_eq!(series_mm("number").unwrap().len(), 80);
        assert_eq!(series_mm("letter"), None);
    }
}
