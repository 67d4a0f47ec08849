//! What can go wrong in a fit.

use crate::quantity::QuantityError;
use crate::readings::EffectsError;
use crate::vessel::VesselError;

/// What can go wrong in a fit.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FitError {
    /// The level of an interval lies between 0.5 and 0.9999.
    #[error("confidence level {got} is outside 0.5 to 0.9999; 0.95 is usual")]
    Level {
        /// What was given.
        got: f64,
    },
    /// Volume or temperature is not valid.
    #[error(transparent)]
    Vessel(#[from] VesselError),
    /// What the bench is said to do of itself is not valid.
    #[error(transparent)]
    Effects(#[from] EffectsError),
    /// A pressure is not valid.
    #[error(transparent)]
    Quantity(#[from] QuantityError),
    /// No rate and start pressure explain the readings.
    #[error(
        "no leak rate and start pressure explain these readings; are the gauge's unit, step and noise right?"
    )]
    NoFit,
}
