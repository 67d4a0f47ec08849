//! The linear statistics of a fit, from the Jacobian at the solution.

use nalgebra::{DMatrix, DVector};

use super::algebra::{DEPENDENT, divide, dot, orthonormalize, reciprocal_condition};
use super::error::LeastSquaresError;

/// The linear statistics of a fit: what the residuals, of unit variance each, tell about the parameters.
///
/// From `J S^-1 = Q R` with the columns scaled to length 1 by `S`, the covariance is `S^-1 R^-1 R^-T S^-1`. It is
/// not scaled by the scatter of the residuals: multiply it by `sum r^2 / (m - n)` where their variance is unknown.
#[derive(Debug, Clone)]
pub struct LinearizedFit {
    q: DMatrix<f64>,
    /// `S^-1 R^-1`.
    inverse: DMatrix<f64>,
    reciprocal_condition: f64,
}

impl LinearizedFit {
    /// From a Jacobian given row by row.
    ///
    /// # Errors
    /// [`LeastSquaresError::Inseparable`] if the columns are dependent, with the parameters concerned;
    /// [`LeastSquaresError::TooFewResiduals`] and [`LeastSquaresError::NotFinite`] as they say.
    pub fn new(jacobian: &[f64], parameters: usize) -> Result<Self, LeastSquaresError> {
        if parameters == 0 {
            return Err(LeastSquaresError::ParameterCount { got: 0 });
        }
        let residuals = jacobian.len() / parameters;
        if residuals < parameters {
            return Err(LeastSquaresError::TooFewResiduals {
                residuals,
                parameters,
            });
        }
        if !jacobian.iter().all(|slope| slope.is_finite()) {
            return Err(LeastSquaresError::NotFinite);
        }
        let mut q = DMatrix::from_row_iterator(residuals, parameters, jacobian.iter().copied());
        let columns = q.as_mut_slice();
        let mut inverse = DMatrix::identity(parameters, parameters);
        // Each row of the inverse belongs to a column of the Jacobian.
        let mut scale = DVector::zeros(parameters);
        for (column, scale) in columns.chunks_exact_mut(residuals).zip(&mut scale) {
            *scale = dot(column, column).sqrt();
            divide(column, *scale);
        }
        let r = orthonormalize(columns, residuals);
        let is_regular = r.solve_upper_triangular_mut(&mut inverse);
        let reciprocal_condition = reciprocal_condition(is_regular.then_some(&inverse));
        if reciprocal_condition < DEPENDENT {
            return Err(inseparable(r));
        }
        for (mut row, norm) in inverse.row_iter_mut().zip(&scale) {
            row /= *norm;
        }
        Ok(Self {
            q,
            inverse,
            reciprocal_condition,
        })
    }

    /// Covariance of the parameters for residuals of unit variance.
    pub fn covariance(&self) -> DMatrix<f64> {
        &self.inverse * self.inverse.transpose()
    }

    /// ln det(J^T J), the logarithm of the information about the parameters.
    pub fn ln_information(&self) -> f64 {
        // The inverse is triangular, and so is its determinant's product.
        -2.0 * self
            .inverse
            .diagonal()
            .iter()
            .map(|d| d.abs().ln())
            .sum::<f64>()
    }

    /// Standard deviations of the parameters for residuals of unit variance.
    pub fn standard_errors(&self) -> Vec<f64> {
        self.inverse.row_iter().map(|row| row.norm()).collect()
    }

    /// Correlations of the parameters.
    pub fn correlation(&self) -> DMatrix<f64> {
        let mut rows = self.inverse.clone();
        for mut row in rows.row_iter_mut() {
            let norm = row.norm();
            row /= norm;
        }
        let mut correlation = &rows * rows.transpose();
        correlation.fill_diagonal(1.0);
        correlation
    }

    /// Condition number of the column-scaled Jacobian, in the Frobenius norm: between the spectral one and
    /// `parameters` times that. Digits of the parameters lost to correlation: its decimal logarithm.
    pub fn condition(&self) -> f64 {
        self.reciprocal_condition.recip()
    }

    /// Row `j` of the pseudo-inverse `J^+ = R^-1 Q^T`: how parameter `j` follows a change of each residual,
    /// `d theta_j = -sum_i (J^+)_ji d r_i`. Its squares are the shares of the residuals in the variance.
    /// `None` if there is no such parameter.
    pub fn pseudo_inverse_row(&self, j: usize) -> Option<Vec<f64>> {
        let row = self.inverse.row_iter().nth(j)?;
        Some((&self.q * row.transpose()).data.into())
    }

    /// What of a column, given beside the Jacobian's, the parameters can't take: c - Q Q^T c. None unless it has an entry for each
    /// residual.
    pub fn beside(&self, column: &[f64]) -> Option<Vec<f64>> {
        if column.len() != self.q.nrows() {
            return None;
        }
        let column = DVector::from_column_slice(column);
        let taken = self.q.tr_mul(&column);
        Some((column - &self.q * taken).data.into())
    }

    /// Number of parameters.
    pub fn parameters(&self) -> usize {
        self.inverse.nrows()
    }
}

/// Which parameters a singular triangle leaves undetermined.
fn inseparable(r: DMatrix<f64>) -> LeastSquaresError {
    /// Weight in a null direction that counts as taking part.
    const SHARE: f64 = 0.05;
    let parameters = r.ncols();
    let svd = r.svd(false, true);
    let largest = svd.singular_values.max();
    // The condition has told that at least one is undetermined.
    let rank = svd
        .singular_values
        .iter()
        .filter(|value| **value > DEPENDENT * largest)
        .count()
        .min(parameters - 1);
    let mut concerned = vec![false; parameters];
    if let Some(directions) = svd.v_t {
        for direction in directions.row_iter().skip(rank) {
            for (concerned, weight) in concerned.iter_mut().zip(&direction) {
                *concerned |= weight.abs() > SHARE;
            }
        }
    }
    let parameters = (0..parameters)
        .zip(concerned)
        .filter_map(|(j, hit)| hit.then_some(j))
        .collect();
    LeastSquaresError::Inseparable { rank, parameters }
}
