//! What every valid instrument must give: finite numbers everywhere. Shared with the fuzz targets.

use borescribe::instrument::change::Target;
use borescribe::instrument::forecast::forecast;
use borescribe::instrument::model::Instrument;
use borescribe::instrument::sensitivity::{Parameter, parameters, sensitivities};
use borescribe::report::predict::{json, text};

/// Larger instruments only cost time.
const MOST_HOLES: usize = 12;
const MOST_FINGERINGS: usize = 3;
/// Sensitivities to this many parameters, chosen by the instrument itself.
const MOST_PARAMETERS: usize = 6;

/// Predicts everything of `instrument` and asserts that every number is one.
pub fn assert_finite(instrument: &Instrument) {
    let points = instrument.bore.len() + instrument.bends.len() + instrument.leak_sites.len();
    if instrument.fingerings.len() > MOST_FINGERINGS || instrument.holes.len() > MOST_HOLES || points > 40 {
        return;
    }
    let told = forecast(instrument);
    assert_eq!(told.notes.len(), instrument.fingerings.len());
    let positive = |number: f64| number.is_finite() && number > 0.0;
    for note in &told.notes {
        assert!(positive(note.target_hz), "{note:?}");
        assert!(note.predicted_hz.is_none_or(positive), "{note:?}");
        for resonance in &note.resonances {
            assert!(positive(resonance.hz) && positive(resonance.magnitude), "{note:?}");
            assert!(resonance.q.is_finite(), "{note:?}");
        }
        let silent = note.predicted_hz.is_none();
        assert!(!silent || told.warnings.iter().any(|warning| warning.code == "no-resonance"));
    }
    assert!(told.cutoffs_hz.iter().flatten().all(|hz| positive(*hz)), "{:?}", told.cutoffs_hz);
    assert!(told.twelfths.iter().all(|twelfth| twelfth.cents.is_finite()));
    for vent in &told.vents {
        assert!(vent.ratio.is_finite() && vent.height_share.is_finite(), "{vent:?}");
        assert!(vent.place_share.is_none_or(f64::is_finite), "{vent:?}");
    }
    assert!(told.top.chamber_mm.is_finite() && told.top.reed_mm.is_finite(), "{:?}", told.top);
    // Numbers that are none become null in JSON, where the library has `Some`; texts would show them.
    let shown = text(instrument, &told).to_lowercase();
    let named = instrument.name.to_lowercase();
    if !named.contains("nan") && !named.contains("inf") && instrument.holes.iter().all(|h| h.name.len() < 4) {
        assert!(!shown.contains(" nan ") && !shown.contains(" inf "), "{shown}");
    }
    let _ = json(instrument, &told);
    let all = parameters(instrument);
    let step = all.len().div_ceil(MOST_PARAMETERS).max(1);
    let some: Vec<Parameter> = all.into_iter().step_by(step).collect();
    let hz: Vec<Option<f64>> = told.notes.iter().map(|note| note.predicted_hz).collect();
    let table = sensitivities(instrument, some, &hz);
    for (parameter, row) in table.parameters.iter().zip(&table.cents) {
        assert!(row.iter().flatten().all(|cents| cents.is_finite()), "{parameter:?} {row:?}");
        let trims = matches!(parameter, Parameter::Measure(Target::EndTrim | Target::TopTrim));
        assert!(row.len() == hz.len() || trims);
    }
}
