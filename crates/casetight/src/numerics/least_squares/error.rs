//! Why there is no result.

use thiserror::Error;

/// Most parameters a fit may have: a leak's rate and start and the eight terms that its readings share. The largest certified problem of
/// the test suite (ENSO) has nine.
pub const MAX_PARAMETERS: usize = 10;

/// Why there is no result.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum LeastSquaresError {
    /// Too many parameters, or none.
    #[error("a fit has 1 to {MAX_PARAMETERS} parameters, not {got}")]
    ParameterCount {
        /// Number given.
        got: usize,
    },
    /// The start point does not fit the problem.
    #[error("{got} start values were given for {expected} parameters")]
    StartLength {
        /// Number given.
        got: usize,
        /// Number of parameters.
        expected: usize,
    },
    /// Fewer residuals than parameters.
    #[error("{residuals} residuals cannot determine {parameters} parameters")]
    TooFewResiduals {
        /// Number of residuals.
        residuals: usize,
        /// Number of parameters.
        parameters: usize,
    },
    /// The Jacobian holds NaN or infinity.
    #[error("the Jacobian is not finite")]
    NotFinite,
    /// Some parameters change the residuals in the same way.
    #[error(
        "only {rank} combinations of the parameters are determined; those at {parameters:?} cannot be told apart"
    )]
    Inseparable {
        /// Number of independent combinations.
        rank: usize,
        /// Positions of the parameters that take part in an undetermined combination.
        parameters: Vec<usize>,
    },
    /// The iteration loop gave up.
    #[error("the iteration loop gave up")]
    Loop,
}
