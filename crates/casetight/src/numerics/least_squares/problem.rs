//! What is asked: the residuals as a function of the parameters, and when to stop.

use super::algebra::dot;

/// Residuals and their Jacobian as functions of the parameters.
pub trait Residuals {
    /// Number of parameters.
    fn parameters(&self) -> usize;

    /// Number of residuals.
    fn residuals(&self) -> usize;

    /// Writes the residuals at `theta` and their Jacobian, row by row: one row of `parameters()` slopes for each
    /// residual, `jacobian[i * parameters() + j] = dr_i/dtheta_j`.
    ///
    /// False means: not defined there. So does a value that is not finite. The step to it is then rejected and a
    /// shorter one tried.
    fn evaluate(&mut self, theta: &[f64], residuals: &mut [f64], jacobian: &mut [f64]) -> bool;
}

/// Part of the way down to a rival that a step must promise, whatever the weight: where each leaves half of what can be won, the end lies
/// far above.
const OF_THE_WAY: f64 = 0.01;

/// When to stop.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Options {
    /// Largest cosine of the angle between the residuals and a column of the Jacobian.
    pub gradient_tolerance: f64,
    /// Relative size of a step, in the scale of the columns.
    pub step_tolerance: f64,
    /// Relative reduction of the sum of squares, both predicted and actual.
    pub reduction_tolerance: f64,
    /// Reduction of the sum of squares by a full step that is not worth taking. Of residuals in standard uncertainties, a
    /// reduction by d^2 moves no parameter by more than d of its own.
    pub negligible_reduction: f64,
    /// The best fit of the same residuals so far, which the fit is weighed against: the worse it is, the less its last digits count.
    pub rival: Rival,
    /// Steps tried, the rejected ones included.
    pub max_iterations: u64,
    /// Bound of the first step, in multiples of the start point's size `|D theta|` or of the residuals' `|r|`, the larger.
    pub first_radius: f64,
}

/// Another fit of the same residuals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rival {
    /// Its sum of squares.
    pub sum_of_squares: f64,
    /// What a sum of squares is divided by where fits are weighed: exp(-sum/(2 tempered)).
    pub tempered: f64,
}

impl Rival {
    /// There is no other.
    pub const NONE: Self = Self {
        sum_of_squares: f64::INFINITY,
        tempered: 1.0,
    };

    /// The reduction that is not worth taking at a sum of squares, from that of a fit by itself: it moves the parameters by as many of
    /// their uncertainties as its root, so that it may be as large as the weight is small, squared.
    pub(super) fn negligible(&self, reduction: f64, sum_of_squares: f64) -> f64 {
        let beaten_by = (sum_of_squares - self.sum_of_squares).max(0.0);
        let by_weight = reduction * (beaten_by / self.tempered).exp();
        by_weight.min(OF_THE_WAY * beaten_by).max(reduction)
    }
}

impl Default for Options {
    fn default() -> Self {
        Self {
            gradient_tolerance: 1e-12,
            step_tolerance: 1e-13,
            reduction_tolerance: 1e-14,
            negligible_reduction: 0.0,
            rival: Rival::NONE,
            max_iterations: 1000,
            first_radius: 100.0,
        }
    }
}

/// A residual vector with its Jacobian, row by row.
#[derive(Debug, Default)]
pub(super) struct Linearization {
    pub(super) residuals: Vec<f64>,
    pub(super) jacobian: Vec<f64>,
}

impl Linearization {
    pub(super) fn zeros(residuals: usize, parameters: usize) -> Self {
        Self {
            residuals: vec![0.0; residuals],
            jacobian: vec![0.0; residuals * parameters],
        }
    }

    /// Sum of squares at `theta`, if everything there is finite.
    pub(super) fn evaluate(&mut self, problem: &mut dyn Residuals, theta: &[f64]) -> Option<f64> {
        let defined = problem.evaluate(theta, &mut self.residuals, &mut self.jacobian);
        let sum = dot(&self.residuals, &self.residuals);
        (defined && sum.is_finite() && self.jacobian.iter().all(|slope| slope.is_finite()))
            .then_some(sum)
    }
}
