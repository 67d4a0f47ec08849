//! Any error of this crate, for a caller that hands them all on.

use crate::fit::FitError;
use crate::gas::GasError;
use crate::gauge::GaugeError;
use crate::leak::LeakError;
use crate::limit::LimitError;
use crate::measured::{MeasuredError, ParseMeasuredError};
use crate::quantity::{ParseQuantityError, QuantityError};
use crate::readings::{CourseError, ReadingsError};
use crate::vessel::VesselError;
use crate::volume::{PistonError, VolumeError};

/// What a step of the way from readings to a leak failed with. Each function has a narrower error of its own; `?` makes this of any.
///
/// ```
/// use casetight::prelude::*;
///
/// fn area(gauges_pa: &[f64]) -> Result<Area, casetight::Error> {
///     let bench = Bench::new(
///         Measured::parse("250 cm3", "10 cm3")?,
///         AbsolutePressure::parse("1013 hPa")?,
///         ThermodynamicTemperature::parse("20 C")?,
///         Gauge::digital(Pressure::parse("0.1 kPa")?)?,
///     )?;
///     let readings = Readings::from_si(&[0.0, 30.0, 60.0], gauges_pa, bench.ambient_pressure.value())?;
///     Ok(fit(&readings, &bench, 0.95)?.area.value)
/// }
/// assert!(area(&[48_300.0, 45_100.0, 42_300.0])? > Area::parse("0 mm2")?);
/// let wrong = area(&[48_300.0, f64::NAN, 42_300.0]).unwrap_err();
/// assert!(wrong.to_string().contains("reading 2"), "{wrong}");
/// assert!(matches!(wrong, casetight::Error::Readings(_)));
/// # Ok::<(), casetight::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Error {
    /// The value of a quantity.
    #[error(transparent)]
    Quantity(#[from] QuantityError),
    /// A quantity as text.
    #[error(transparent)]
    ParseQuantity(#[from] ParseQuantityError),
    /// A value with its uncertainty.
    #[error(transparent)]
    Measured(#[from] MeasuredError),
    /// A value with its uncertainty as text.
    #[error(transparent)]
    ParseMeasured(#[from] ParseMeasuredError),
    /// A gas.
    #[error(transparent)]
    Gas(#[from] GasError),
    /// A leak law.
    #[error(transparent)]
    Leak(#[from] LeakError),
    /// The volume under test.
    #[error(transparent)]
    Volume(#[from] VolumeError),
    /// The piston's position.
    #[error(transparent)]
    Piston(#[from] PistonError),
    /// The vessel that is followed.
    #[error(transparent)]
    Vessel(#[from] VesselError),
    /// The gauge.
    #[error(transparent)]
    Gauge(#[from] GaugeError),
    /// The readings.
    #[error(transparent)]
    Readings(#[from] ReadingsError),
    /// The temperature beside the readings.
    #[error(transparent)]
    Course(#[from] CourseError),
    /// The fit.
    #[error(transparent)]
    Fit(#[from] FitError),
    /// A limit.
    #[error(transparent)]
    Limit(#[from] LimitError),
}
