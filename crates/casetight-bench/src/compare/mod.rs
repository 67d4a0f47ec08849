//! Before and after: did a repair change the leak, by how much, and could it be chance? And over many tests of one
//! machine: does the leak grow?
//!
//! Two effective areas are compared as their ratio. Much of what makes an area uncertain is the same in both tests, a
//! volume that is off by 5 % is off by 5 % both times, and cancels in the ratio; [`Shared`] says what the tests have in
//! common. What they don't share counts twice.
//!
//! - [`Test`] is what one run tells of the leak, a value with its interval or a bound, and how it would answer to what
//!   may be shared;
//! - [`compare`] gives the [`Comparison`] of two, [`trend`] the [`Trend`] of many;
//! - `compare_sheets` matches the runs of two bench sheets, finds out what they share, and says whether the engine is
//!   repaired; `trend_of_sheets` does so for many.

mod distribution;
#[cfg(feature = "sheet")]
pub mod document;
mod ratio;
#[cfg(feature = "sheet")]
mod sheets;
mod test;
#[cfg(test)]
mod tests;
mod trend;
mod words;

pub use ratio::{Change, Comparison, Note, compare};
#[cfg(feature = "sheet")]
pub use sheets::{
    Pair, Repair, RunOfSheet, SheetTrend, SheetsComparison, SheetsError, SheetsNote,
    compare_sheets, trend_of_sheets,
};
pub use test::{Known, Shared, SharedVolume, Test};
pub use trend::{Course, Trend, TrendPoint, Unit, trend};

use crate::pump::PumpError;
use casetight::fit::FitError;
use casetight::quantity::{GaugePressure, QuantityError};
use casetight::readings::ReadingsError;
use casetight::vessel::{Direction, VesselError};

/// What can go wrong in a comparison.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CompareError {
    /// The level of an interval lies between 0.5 and 0.9999.
    #[error("confidence level {got} is outside 0.5 to 0.9999; 0.95 is usual")]
    Level {
        /// What was given.
        got: f64,
    },
    /// What is shared is not valid.
    #[error(
        "the relative uncertainty of a ratio of volumes is {got}; it must be finite and not below zero"
    )]
    VolumeRatio {
        /// What was given.
        got: f64,
    },
    /// A trend needs this many tests.
    #[error("a trend needs three tests or more, not {got}; two are a comparison")]
    TooFewTests {
        /// How many were given.
        got: usize,
    },
    /// A place in time must be finite.
    #[error("test {index}: its place in time is {got}, not a finite number")]
    Position {
        /// Which test, from 1.
        index: usize,
        /// What was given.
        got: f64,
    },
    /// All tests at one time show no course of time.
    #[error(
        "all tests that tell a leak's size have one date: there is no time between them for a trend"
    )]
    OneDate,
    /// The fit of a run.
    #[error(transparent)]
    Fit(#[from] FitError),
    /// Its readings.
    #[error(transparent)]
    Readings(#[from] ReadingsError),
    /// The pump.
    #[error(transparent)]
    Pump(#[from] PumpError),
    /// A test in one direction tells nothing of the other.
    #[error("a {direction} test does not tell the leak's area at {} Pa gauge, on the other side of ambient", got.pascals())]
    OtherSide {
        /// The test's.
        direction: Direction,
        /// The pressure asked for.
        got: GaugePressure,
    },
    /// A leak law, or the case.
    #[error(transparent)]
    Vessel(#[from] VesselError),
    /// A pressure.
    #[error(transparent)]
    Quantity(#[from] QuantityError),
}

/// The level of an interval, checked.
fn check_level(level: f64) -> Result<f64, CompareError> {
    if (0.5..=0.9999).contains(&level) {
        Ok(level)
    } else {
        Err(CompareError::Level { got: level })
    }
}
