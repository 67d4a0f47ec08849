//! What a leak does to the mixture while the engine runs: an estimate, from the pressure in the crankcase over one turn.
//!
//! While the case lies below ambient, air that no carburetor has seen is drawn in through the leak; while it lies above,
//! mixture is blown out. The leak is the one that the tests measured; the pressure in the running case is a model
//! ([`CasePressure`]) with assumptions that are listed with every result ([`ASSUMPTIONS`]) and whose stated ranges go into
//! its interval. No result of this module is a measurement.

mod case_pressure;
mod conditions;
#[cfg(feature = "serde")]
pub mod document;
mod error;
mod lean_shift;
mod numbers;
#[cfg(test)]
mod tests;

pub use case_pressure::CasePressure;
pub use conditions::{Conditions, Load, Ports, TYPICAL, typical};
pub use error::RunningError;
pub use lean_shift::{LeakRange, LeanShift, SMALL_IS_NOT_HARMLESS, SMALL_SHIFT, Share};

/// What every result of this module takes for granted, a sentence each.
pub const ASSUMPTIONS: &[&str] = &[
    "Estimate, not a measurement: the pressure in the running case is computed, not read.",
    "The case is at ambient pressure when the transfer ports close; the mixture of a turn comes in evenly over the crank angle \
     while the intake is open, and leaves evenly while the transfers are open.",
    "Between, the gas follows a polytrope of the stated exponent. Pressure waves in intake and exhaust are left out, and a \
     reed valve is taken as a port that is open from the stated angle to the stated angle.",
    "The leak passes at each moment what it would pass at a steady pressure difference, air in at ambient temperature and \
     mixture out at the same; it is too small to change the pressure in the case.",
    "The carburetor gives the fuel for the air that goes through it. Air that leaks in gets none; mixture that leaks out \
     takes its fuel with it, and so makes nothing leaner.",
    "The seals leak when running as they did in the test: no allowance for heat, wear while turning, or oil.",
];
