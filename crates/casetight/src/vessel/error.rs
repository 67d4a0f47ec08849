//! What can be wrong with a vessel.

use crate::leak::LeakError;
use crate::quantity::{QuantityError, Volume, told};

/// What can be wrong with a vessel.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum VesselError {
    /// The tested volume must be finite and above zero.
    #[error("tested volume {} is not a finite number above zero", told::<Volume>(*got))]
    Volume {
        /// What was given, in cubic meters.
        got: f64,
    },
    /// The temperature must be finite and above absolute zero.
    #[error("gas temperature {got} K is not a finite number above zero")]
    Temperature {
        /// What was given, in kelvins.
        got: f64,
    },
    /// A test starts above or below ambient.
    #[error("the start gauge pressure is zero: nothing drives a leak")]
    NoPressure,
    /// A thermal conductance must be a number and not below zero.
    #[error(
        "thermal conductance {got} W/K is not a number of at least zero (infinite is isothermal)"
    )]
    Conductance {
        /// What was given, in watts per kelvin.
        got: f64,
    },
    /// A settling time before the first reading must be finite and not below zero.
    #[error("the gas was left to settle for {got} s; it must be a finite time of at least zero")]
    SettledFor {
        /// What was given, in seconds.
        got: f64,
    },
    /// Gas that settles at once has the wall's temperature.
    #[error(
        "gas at {got} K can't start off the wall's temperature where the conductance is infinite"
    )]
    SettledAtOnce {
        /// What was given, in kelvins.
        got: f64,
    },
    /// A compliance must be finite, not below zero, and leave a volume.
    #[error(
        "compliance {got} m3/Pa is not a finite number of at least zero that leaves a volume at the start pressure"
    )]
    Compliance {
        /// What was given, in cubic meters per pascal.
        got: f64,
    },
    /// A time must be finite and not before the start.
    #[error("time {got} s at place {place} (from 0) is not a finite number of at least zero")]
    Time {
        /// Which of the times.
        place: usize,
        /// What was given, in seconds.
        got: f64,
    },
    /// The law has no flow for this gas.
    #[error(
        "the law \"{law}\" gives a mass flow of {got} kg/s; it may need the viscosity of a gas that has none"
    )]
    Flow {
        /// The law's name.
        law: &'static str,
        /// What it gave, in kilograms per second.
        got: f64,
    },
    /// The equations can't be followed further.
    #[error("the vessel's equations can't be followed beyond {seconds} s")]
    Integration {
        /// How far they were followed, in seconds.
        seconds: f64,
    },
    /// The pressure is out of reach.
    #[error(transparent)]
    Quantity(#[from] QuantityError),
    /// The law's own number is not valid.
    #[error(transparent)]
    Leak(#[from] LeakError),
}
