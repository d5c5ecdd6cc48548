//! One multivariate normal distribution: the only place here that solves linear systems.
//!
//! Must not know what the numbers mean.

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

/// A zero-mean normal distribution of `n` values, ready to whiten.
pub struct Gaussian {
    factor: Cholesky<f64, Dyn>,
}

impl Gaussian {
    /// From an `n × n` covariance (symmetric, positive definite). `None` when it is not.
    #[must_use]
    pub fn new(covariance: &[Vec<f64>]) -> Option<Gaussian> {
        let n = covariance.len();
        let matrix = DMatrix::from_fn(n, n, |row, column| covariance[row][column]);
        Cholesky::new(matrix).map(|factor| Gaussian { factor })
    }

    /// `L⁻¹ v`: independent unit normals when `v` is drawn from the distribution.
    #[must_use]
    pub fn whiten(&self, values: &[f64]) -> Vec<f64> {
        let vector = DVector::from_column_slice(values);
        self.factor
            .l()
            .solve_lower_triangular(&vector)
            .map_or_else(|| values.to_vec(), |v| v.as_slice().to_vec())
    }

    /// Mean of one part of the noise given the whole: `K Σ⁻¹ v`, `part` being K (`n × n`).
    #[must_use]
    pub fn conditional_mean(&self, part: &[Vec<f64>], values: &[f64]) -> Vec<f64> {
        let solved = self.factor.solve(&DVector::from_column_slice(values));
        part.iter().map(|row| row.iter().zip(solved.iter()).map(|(k, s)| k * s).sum()).collect()
    }

    /// Standard deviation that is left of one part of the noise once the whole is known:
    /// `√diag(K − K Σ⁻¹ K)`.
    #[must_use]
    pub fn conditional_sd(&self, part: &[Vec<f64>]) -> Vec<f64> {
        part.iter()
            .enumerate()
            .map(|(i, row)| {
                let known: f64 = self.whiten(row).iter().map(|z| z * z).sum();
                (row[i] - known).max(0.0).sqrt()
            })
            .collect()
    }

    /// Log density of `values`, up to the constant that only their count fixes.
    #[must_use]
    pub fn log_density(&self, values: &[f64]) -> f64 {
        let squares: f64 = self.whiten(values).iter().map(|z| z * z).sum();
        let log_volume: f64 = (0..values.len()).map(|i| self.factor.l_dirty()[(i, i)].ln()).sum();
        -0.5 * squares - log_volume
    }
}
