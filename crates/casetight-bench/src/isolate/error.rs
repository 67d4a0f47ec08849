//! What can be wrong with what was seen.

use crate::pump::PumpError;
use casetight::leak::EffectiveArea;
use casetight::quantity::QuantityError;
use casetight::vessel::VesselError;

/// What can be wrong with the evidence.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum IsolateError {
    /// Nothing was measured.
    #[error("no run is given: the sites are told apart by runs with different blanks")]
    NoRuns,
    /// An area is finite.
    #[error("effective area {got} m2 is not a finite number")]
    Area {
        /// What was given, in square meters.
        got: f64,
    },
    /// A standard uncertainty is finite and above zero.
    #[error("standard uncertainty {got} m2 of an effective area is not a finite number above zero")]
    Uncertainty {
        /// What was given, in square meters.
        got: f64,
    },
    /// The shared relative uncertainty lies between 0 and 0.5.
    #[error(
        "shared relative uncertainty {got} is outside 0 to 0.5; a volume is known to a few hundredths"
    )]
    SharedUncertainty {
        /// What was given.
        got: f64,
    },
    /// The level of an interval lies between 0.5 and 0.9999.
    #[error("confidence level {got} is outside 0.5 to 0.9999; 0.95 is usual")]
    Level {
        /// What was given.
        got: f64,
    },
    /// There are more unknown areas than can be weighed.
    #[error(
        "{got} unknown areas (sites, those before a repair, rig) are more than {most}: leave out the sites that are known to be tight"
    )]
    TooManySpots {
        /// How many there are.
        got: usize,
        /// How many there may be.
        most: usize,
    },
    /// A site was sprayed that no run had exposed.
    #[error(
        "{site} was sprayed, but was blanked in every run (or not exposed at that stage): list it as exposed in the run that it was sprayed in"
    )]
    SprayedUnexposed {
        /// The site.
        site: String,
    },
    /// Soap was sprayed under vacuum.
    #[error(
        "soap shows nothing at {got} Pa: under vacuum it is drawn in; spray under pressure, above zero"
    )]
    NoOverpressure {
        /// Gauge pressure in pascals.
        got: f64,
    },
    /// A pressure is not valid.
    #[error(transparent)]
    Quantity(#[from] QuantityError),
    /// A stall is not valid.
    #[error(transparent)]
    Pump(#[from] PumpError),
    /// A leak law that an area is moved to another pressure by.
    #[error(transparent)]
    Vessel(#[from] VesselError),
}

/// An area that is finite and not below zero by construction.
pub(super) fn area(square_meters: f64) -> Result<EffectiveArea, IsolateError> {
    EffectiveArea::from_square_meters(square_meters)
        .map_err(|_| IsolateError::Area { got: square_meters })
}
