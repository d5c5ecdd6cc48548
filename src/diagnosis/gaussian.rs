//! One multivariate normal distribution: the only place here that solves linear systems.
//!
//! Must not know what the numbers mean.

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

/// A zero-mean normal distribution of `n` values, ready to whiten.
pub struct Gaussian {
    factor: Cholesky<f64, Dyn>,
    covariance: Vec<Vec<f64>>,
}

impl Gaussian {
    /// From an `n × n` covariance (symmetric, positive definite). `None` when it is not.
    #[must_use]
    pub fn new(covariance: Vec<Vec<f64>>) -> Option<Gaussian> {
        let n = covariance.len();
        let matrix = DMatrix::from_fn(n, n, |row, column| covariance[row][column]);
        Cholesky::new(matrix).map(|factor| Gaussian { factor, covariance })
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

    /// Standard deviation of each value.
    #[must_use]
    pub fn standard_deviations(&self) -> Vec<f64> {
        (0..self.covariance.len()).map(|i| self.covariance[i][i].sqrt()).collect()
    }
}
