//! What is found: the best point, and why the iteration stopped.

use super::error::LeastSquaresError;
use super::linearized::LinearizedFit;

/// Why the iteration stopped.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Termination {
    /// The residuals are orthogonal to every column of the Jacobian, or zero.
    ByGradient,
    /// The steps became negligible.
    ByStep,
    /// The sum of squares can be lowered no further.
    ByReduction,
    /// Converged, but to a point where the columns of the Jacobian are dependent: other points are as good.
    Singular,
    /// No step lowers the sum of squares, though its slope is not zero: the Jacobian does not belong to the
    /// residuals, or they are rounded too coarsely.
    Stalled,
    /// The start, or everything around the best point in the direction of descent, is not defined or not finite.
    NotFinite,
    /// The steps allowed were used up.
    IterationCap,
}

impl Termination {
    /// Whether the solution is a unique least-squares estimate.
    pub fn converged(self) -> bool {
        matches!(self, Self::ByGradient | Self::ByStep | Self::ByReduction)
    }
}

/// The best point found, and how it was found.
#[derive(Debug, Clone, PartialEq)]
pub struct Solution {
    /// Parameters.
    pub theta: Vec<f64>,
    /// Residuals there.
    pub residuals: Vec<f64>,
    /// Jacobian there, row by row.
    pub jacobian: Vec<f64>,
    /// Full sum of squares, `sum r_i^2` (no factor 1/2); NaN if the start was not defined.
    pub sum_of_squares: f64,
    /// Steps tried.
    pub iterations: u64,
    /// Calls of `Residuals::evaluate`.
    pub evaluations: u64,
    /// Why the iteration stopped.
    pub termination: Termination,
}

impl Solution {
    /// The linear statistics at the solution.
    ///
    /// # Errors
    /// As [`LinearizedFit::new`].
    pub fn linearized(&self) -> Result<LinearizedFit, LeastSquaresError> {
        LinearizedFit::new(&self.jacobian, self.theta.len())
    }
}
