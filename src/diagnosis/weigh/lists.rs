//! Sums over lists of figures, one for each note.
//!
//! Must not know what the figures mean.

/// `a - b`, figure by figure.
pub(in crate::diagnosis) fn minus(a: &[f64], b: &[f64]) -> Vec<f64> {
    a.iter().zip(b).map(|(a, b)| a - b).collect()
}

/// Arithmetic mean; 0 of nothing.
pub(in crate::diagnosis) fn mean(values: &[f64]) -> f64 {
    if values.is_empty() { 0.0 } else { values.iter().sum::<f64>() / values.len() as f64 }
}
