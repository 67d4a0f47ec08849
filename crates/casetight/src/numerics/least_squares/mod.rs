//! Weighted nonlinear least squares for a handful of parameters, and the linear statistics at the solution.
//!
//! [`minimize`] finds `theta` with the least `S = sum r_i(theta)^2`. A weight is the caller's: divide each
//! residual, and its row of the Jacobian, by its standard uncertainty.
//!
//! The method is Levenberg-Marquardt as a trust region, after `[More1978]`: the step `p` minimizes `|J p + r|` with
//! `|D p| <= Delta`, where `D` holds the norms of the columns of `J`, so that the unit of a parameter does not
//! matter. `J` is reduced once an iteration by Householder reflections, `J = Q R`; each damping tried after that
//! costs only a small triangular problem. `J^T J` is never formed: it squares the condition number.
//!
//! Why no crate's solver alone: DEVELOPERS.md, "Ours, and why".
//!
//! One file each: what is asked (`problem`), what is found (`solution`), why there is no result (`error`), the solver, the
//! statistics at the solution, and the algebra under both.

mod algebra;
#[cfg(test)]
mod cases;
mod error;
mod levenberg_marquardt;
mod linearized;
mod problem;
mod solution;
#[cfg(test)]
mod tests;

pub use error::{LeastSquaresError, MAX_PARAMETERS};
pub use linearized::LinearizedFit;
pub use problem::{Options, Residuals, Rival};
pub use solution::Solution;
#[cfg(test)]
pub use solution::Termination;

use levenberg_marquardt::LevenbergMarquardt;

/// Fits up to this size run with the smaller fixed-size algebra.
const FEW_PARAMETERS: usize = 4;

/// Least-squares estimate from `start`.
///
/// # Errors
/// [`LeastSquaresError`] when the numbers of parameters, start values and residuals do not fit together. How the
/// iteration ended is part of the [`Solution`].
pub fn minimize(
    problem: &mut dyn Residuals,
    start: &[f64],
    options: &Options,
) -> Result<Solution, LeastSquaresError> {
    let parameters = problem.parameters();
    let residuals = problem.residuals();
    if !(1..=MAX_PARAMETERS).contains(&parameters) {
        return Err(LeastSquaresError::ParameterCount { got: parameters });
    }
    if start.len() != parameters {
        return Err(LeastSquaresError::StartLength {
            got: start.len(),
            expected: parameters,
        });
    }
    if residuals < parameters {
        return Err(LeastSquaresError::TooFewResiduals {
            residuals,
            parameters,
        });
    }
    if parameters <= FEW_PARAMETERS {
        LevenbergMarquardt::<FEW_PARAMETERS>::new(start, residuals, *options).run(problem)
    } else {
        LevenbergMarquardt::<MAX_PARAMETERS>::new(start, residuals, *options).run(problem)
    }
}
