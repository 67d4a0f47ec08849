//! What can be wrong with an estimate.

use casetight::measured::MeasuredError;
use casetight::quantity::QuantityError;
use casetight::volume::VolumeError;

/// What can be wrong with an estimate of the running engine.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum RunningError {
    /// The ports must open in their order, over the whole of their stated ranges.
    #[error(
        "intake closes {intake_closes} deg and exhaust opens {exhaust_opens} deg, transfers {transfer_opens} deg after top, intake opens {intake_opens} deg before top: intake must be shut before the transfers open, exhaust open before them, and none past bottom"
    )]
    Ports {
        /// After top, in degrees.
        exhaust_opens: f64,
        /// After top, in degrees.
        transfer_opens: f64,
        /// Before top, in degrees.
        intake_opens: f64,
        /// After top, in degrees.
        intake_closes: f64,
    },
    /// A number outside its range, over the whole of its stated range.
    #[error("the {what} is {got}, which is outside {least} to {most}")]
    Range {
        /// Which one.
        what: &'static str,
        /// What was given, or the end of its range.
        got: f64,
        /// Least that is taken.
        least: f64,
        /// Most that is taken.
        most: f64,
    },
    /// A speed is finite and above zero.
    #[error("the speed is {got} Hz; it must be finite and above zero")]
    Speed {
        /// What was given, in hertz.
        got: f64,
    },
    /// The law gives no flow.
    #[error(
        "the leak law \"{law}\" gives no flow; it may need the viscosity of a gas that has none"
    )]
    NoFlow {
        /// The law.
        law: &'static str,
    },
    /// The engine.
    #[error(transparent)]
    Volume(#[from] VolumeError),
    /// A range.
    #[error(transparent)]
    Measured(#[from] MeasuredError),
    /// A pressure.
    #[error(transparent)]
    Quantity(#[from] QuantityError),
}
