//! One multivariate normal distribution: the only place here that solves linear systems.
//!
//! Must not know what the numbers mean.

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

/// A zero-mean normal distribution of `n` values, ready to whiten.
pub struct Gaussian {
    covariance: DMatrix<f64>,
    factor: Cholesky<f64, Dyn>,
}

impl Gaussian {
    /// From an `n × n` covariance (symmetric, positive definite). `None` when it is not.
    #[must_use]
    pub fn new(covariance: &[Vec<f64>]) -> Option<Gaussian> {
        let n = covariance.len();
        Gaussian::of(DMatrix::from_fn(n, n, |row, column| covariance[row][column]))
    }

    fn of(covariance: DMatrix<f64>) -> Option<Gaussian> {
        Cholesky::new(covariance.clone()).map(|factor| Gaussian { covariance, factor })
    }

    /// The same distribution when each figure scatters by `scales` (one standard deviation) besides. `None` when that is
    /// no distribution.
    #[must_use]
    pub fn with_scatter(&self, scales: &[f64]) -> Option<Gaussian> {
        let mut covariance = self.covariance.clone();
        for (i, scale) in scales.iter().enumerate() {
            covariance[(i, i)] += scale * scale;
        }
        Gaussian::of(covariance)
    }

    /// `L⁻¹ v`: independent unit normals when `v` is drawn from the distribution.
    #[must_use]
    pub fn whiten(&self, values: &[f64]) -> Vec<f64> {
        let vector = DVector::from_column_slice(values);
        // Only the lower triangle is read, so that the factor need not be copied without its upper one.
        self.factor
            .l_dirty()
            .solve_lower_triangular(&vector)
            .map_or_else(|| values.to_vec(), |v| v.as_slice().to_vec())
    }

    /// `L⁻ᵀ z`: from whitened values `z = L⁻¹ v` on to `Σ⁻¹ v`.
    #[must_use]
    pub fn unwhiten(&self, whitened: &[f64]) -> Vec<f64> {
        let vector = DVector::from_column_slice(whitened);
        self.factor
            .l_dirty()
            .tr_solve_lower_triangular(&vector)
            .map_or_else(|| whitened.to_vec(), |v| v.as_slice().to_vec())
    }

    /// `L z`: a draw from the distribution when `z` are independent unit normals.
    #[must_use]
    pub fn colour(&self, normals: &[f64]) -> Vec<f64> {
        (self.factor.l() * DVector::from_column_slice(normals)).as_slice().to_vec()
    }

    /// Diagonal of the inverse covariance: one over each value's variance when all others are known.
    #[must_use]
    pub fn precision_diagonal(&self) -> Vec<f64> {
        let inverse = self.factor.inverse();
        inverse.diagonal().iter().copied().collect()
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

    /// The symmetric root of the inverse covariance, `n` rows of `n`: whitens as [`Gaussian::whiten`] does, but each
    /// figure stays as near to its own value as can be (A. Kessy, A. Lewin & K. Strimmer, The American Statistician
    /// 72 (2018) 309, from memory).
    #[must_use]
    pub fn inverse_root(&self) -> Vec<Vec<f64>> {
        let eigen = self.covariance.clone().symmetric_eigen();
        let roots = DMatrix::from_diagonal(
            &eigen.eigenvalues.map(|value| value.max(f64::MIN_POSITIVE).sqrt().recip()),
        );
        let root = &eigen.eigenvectors * roots * eigen.eigenvectors.transpose();
        root.row_iter().map(|row| row.iter().copied().collect()).collect()
    }

    /// Half the log of the covariance's determinant.
    #[must_use]
    pub fn log_volume(&self) -> f64 {
        let lower = self.factor.l_dirty();
        (0..lower.nrows()).map(|i| lower[(i, i)].ln()).sum()
    }

    /// Log density of `values`, up to the constant that only their count fixes.
    #[must_use]
    pub fn log_density(&self, values: &[f64]) -> f64 {
        let squares: f64 = self.whiten(values).iter().map(|z| z * z).sum();
        -0.5 * squares - self.log_volume()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_ways_of_whitening_measure_the_same_distance() {
        let gaussian =
            Gaussian::new(&[vec![9.0, 4.0, 1.0], vec![4.0, 6.0, 2.0], vec![1.0, 2.0, 3.0]]).unwrap();
        let values = [1.5, -2.0, 0.7];
        let square = |values: &[f64]| values.iter().map(|v| v * v).sum::<f64>();
        let rooted: Vec<f64> = gaussian
            .inverse_root()
            .iter()
            .map(|row| row.iter().zip(&values).map(|(a, b)| a * b).sum())
            .collect();
        assert!((square(&gaussian.whiten(&values)) - square(&rooted)).abs() < 1e-9);
    }
}
