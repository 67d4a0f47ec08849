//! What keeps a test from being planned.

use crate::pump::PumpError;
use casetight::gauge::GaugeError;
use casetight::leak::LeakError;
use casetight::limit::LimitError;
use casetight::quantity::QuantityError;
use casetight::vessel::VesselError;

/// What can be wrong with a plan.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PlanError {
    /// A plan proposes no pressure above the caution limit.
    #[error(
        "a plan proposes no pressure above {most} Pa, and {target} Pa gauge was asked for: seals can leave their seats and blanks can fly"
    )]
    AboveCaution {
        /// What was asked for, gauge pressure in pascals.
        target: f64,
        /// The caution limit in pascals.
        most: f64,
    },
    /// Hold and pace of readings are finite and above zero.
    #[error("the {what} is {got} s; it must be finite and above zero")]
    NotPositive {
        /// Which one.
        what: &'static str,
        /// What was given, in seconds.
        got: f64,
    },
    /// Two readings need a hold as long as the pace.
    #[error(
        "one reading each {every} s leaves a hold of {hold} s with a single reading; read more often or hold longer"
    )]
    OneReading {
        /// Pace in seconds.
        every: f64,
        /// Hold in seconds.
        hold: f64,
    },
    /// The target is no larger than what the gauge reads.
    #[error("a gauge read in steps of {step} Pa can't show a fall from {target} Pa")]
    StepTooCoarse {
        /// Step in pascals.
        step: f64,
        /// Size of the target in pascals.
        target: f64,
    },
    /// The uncertainty of a run of this plan can't be told: the gauge or the drift allowance is out of all proportion.
    #[error("no uncertainty can be foretold for this gauge, pressure and hold")]
    NoForecast,
    /// The rig is part of the volume under test.
    #[error("the rig's volume of {rig} m3 is not smaller than the {volume} m3 under test")]
    Rig {
        /// The rig in cubic meters.
        rig: f64,
        /// The volume under test in cubic meters.
        volume: f64,
    },
    /// The pump.
    #[error(transparent)]
    Pump(#[from] PumpError),
    /// A limit.
    #[error(transparent)]
    Limit(#[from] LimitError),
    /// The volume or the heat.
    #[error(transparent)]
    Vessel(#[from] VesselError),
    /// The discharge coefficient.
    #[error(transparent)]
    Leak(#[from] LeakError),
    /// A pressure.
    #[error(transparent)]
    Quantity(#[from] QuantityError),
    /// A gauge.
    #[error(transparent)]
    Gauge(#[from] GaugeError),
}
