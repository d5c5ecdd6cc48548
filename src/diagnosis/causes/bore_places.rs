//! Places where the bore may be wider or narrower than the file says: joints, posts and fixed steps between them.
//!
//! A short wide or narrow place moves each note up or down as it lies nearer to a still point or to a swinging point of
//! its standing wave, so the registers disagree with changing signs. Must not know what was measured.

use crate::diagnosis::beliefs::causes::{PLACE_LENGTH_MM, PLACES};
use crate::instrument::model::{BorePoint, Instrument};

/// One place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BorePlace {
    /// Its middle, mm from where the mouthpiece ends.
    pub at_mm: f64,
    /// The leak site there: a joint or a post is where a bore is seldom smooth.
    pub site: Option<usize>,
}

impl BorePlace {
    /// The leak site's name, or the distance.
    #[must_use]
    pub fn name(self, instrument: &Instrument) -> String {
        let site = self.site.and_then(|site| instrument.leak_sites.get(site));
        site.map_or_else(|| format!("{:.0} mm", self.at_mm), |site| site.name.clone())
    }
}

/// All places, from the mouthpiece down: one in each of equal parts of the tube, at its leak site when it has one.
#[must_use]
pub fn bore_places(instrument: &Instrument) -> Vec<BorePlace> {
    let length_mm = instrument.length_mm();
    let part_mm = length_mm / PLACES as f64;
    (0..PLACES)
        .map(|part| {
            let middle_mm = (part as f64 + 0.5) * part_mm;
            let off_mm = |site: &usize| (instrument.leak_sites[*site].at_mm - middle_mm).abs();
            let sites = (0..instrument.leak_sites.len()).filter(|site| off_mm(site) <= 0.5 * part_mm);
            let site = sites.min_by(|a, b| off_mm(a).total_cmp(&off_mm(b)));
            let at_mm = site.map_or(middle_mm, |site| instrument.leak_sites[site].at_mm);
            // The whole of it has to lie in the tube.
            let at_mm = at_mm.clamp(PLACE_LENGTH_MM, (length_mm - PLACE_LENGTH_MM).max(PLACE_LENGTH_MM));
            BorePlace { at_mm, site }
        })
        .collect()
}

/// Makes the bore wider (or, below 0, narrower) by `wider_mm` at a place, over [`PLACE_LENGTH_MM`].
pub fn widen(instrument: &mut Instrument, place: BorePlace, wider_mm: f64) {
    let [from_mm, to_mm] = [-0.5, 0.5].map(|half| place.at_mm + half * PLACE_LENGTH_MM);
    let (first_mm, last_mm) = (instrument.bore_at_mm(from_mm), instrument.bore_at_mm(to_mm));
    let point = |at_mm: f64, diameter_mm: f64| BorePoint { at_mm, diameter_mm };
    let least_mm = 0.2 * first_mm.min(last_mm);
    let changed = |diameter_mm: f64| (diameter_mm + wider_mm).max(least_mm);
    let mut bore: Vec<BorePoint> =
        instrument.bore.iter().copied().filter(|point| point.at_mm < from_mm).collect();
    bore.extend([
        point(from_mm, first_mm),
        point(from_mm, changed(first_mm)),
        point(to_mm, changed(last_mm)),
        point(to_mm, last_mm),
    ]);
    bore.extend(instrument.bore.iter().copied().filter(|point| point.at_mm > to_mm));
    instrument.bore = bore;
}
