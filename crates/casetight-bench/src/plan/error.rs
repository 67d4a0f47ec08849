//! What keeps a test from being planned.

use crate::pump::PumpError;
use casetight::below::{KILOPASCAL, pressure_in, told};
use casetight::gauge::GaugeError;
use casetight::leak::LeakError;
use casetight::limit::LimitError;
use casetight::quantity::{QuantityError, Unit, Volume};
use casetight::vessel::VesselError;

/// What can be wrong with a plan.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PlanError {
    /// A plan proposes no pressure above the caution limit.
    #[error("{}", above_caution(*most, *target, &KILOPASCAL))]
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
    #[error("{}", too_coarse(*step, *target, &KILOPASCAL))]
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
    #[error("the rig's volume of {} is not smaller than the {} under test", told::<Volume>(*rig), told::<Volume>(*volume))]
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

impl PlanError {
    /// The message with its pressures in the unit that the gauge shows.
    #[must_use]
    pub fn words(&self, unit: &Unit) -> String {
        match self {
            Self::AboveCaution { target, most } => above_caution(*most, *target, unit),
            Self::StepTooCoarse { step, target } => too_coarse(*step, *target, unit),
            Self::Pump(error) => error.words(unit),
            Self::Limit(error) => error.words(unit),
            Self::Quantity(error) => error.words(unit),
            Self::Gauge(error) => error.words(unit),
            other => other.to_string(),
        }
    }
}

fn above_caution(most: f64, target: f64, unit: &Unit) -> String {
    format!(
        "a plan proposes no pressure above {}, and {} gauge was asked for: seals can leave their seats and blanks can fly",
        pressure_in(unit, most),
        pressure_in(unit, target)
    )
}

fn too_coarse(step: f64, target: f64, unit: &Unit) -> String {
    format!(
        "a gauge read in steps of {} can't show a fall from {}",
        pressure_in(unit, step),
        pressure_in(unit, target)
    )
}
