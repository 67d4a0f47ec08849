//! Quantities at the door of the crate: `uom` types by their short names, and what `uom` lacks.
//!
//! - [`AbsolutePressure`] and [`GaugePressure`], the two kinds of pressure that a bench confuses, as types that do not
//!   mix. A plain [`Pressure`] stands for a difference or a size of pressure: a drop, a division, a noise.
//! - [`Throughput`], [`SonicConductance`], [`TemperatureDrift`], [`Stretch`], and the [`ReferenceConditions`] without which
//!   a flow in sccm means nothing.
//! - [`TradeUnits`], which reads and writes all of them the way the trade does: "7 psi", "0.3 mm", "250 cm3".
//!
//! # Example
//! ```
//! use casetight::quantity::{AbsolutePressure, GaugePressure, TradeUnits};
//!
//! let barometer = AbsolutePressure::parse("1013.25 hPa")?;
//! let reading: GaugePressure = "7 psi".parse()?;
//! assert_eq!(reading.to_string(), "48.26 kPa gauge");
//! assert_eq!(reading.absolute(barometer)?.to_string(), "149.6 kPa absolute");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod drift;
mod number;
mod pressure;
mod reference;
#[cfg(test)]
mod spelling_tests;
mod stretch;
#[cfg(test)]
mod tests;
pub(crate) mod text;
mod throughput;
mod told;
mod unit;
mod units;
#[cfg(feature = "serde")]
pub mod written;

pub use drift::TemperatureDrift;
pub use pressure::{AbsolutePressure, GaugePressure};
pub use reference::ReferenceConditions;
pub use stretch::Stretch;
pub use text::{InUnit, ParseQuantityError, TradeUnits};
pub use throughput::{
    MolarGasConstant, MolarRate, SonicConductance, SpecificGasConstant, Throughput,
};
#[doc(hidden)]
pub use told::told;
pub use unit::Unit;
use unit::significant;
#[doc(hidden)]
pub use unit::{KILOPASCAL, pressure_in};
#[cfg(feature = "serde")]
pub use written::Written;

pub use uom::si::f64::{
    Angle, Area, DynamicViscosity, Frequency, Length, Mass, MassDensity, MassRate, MolarMass,
    Pressure, Ratio, TemperatureInterval, ThermalConductance, ThermodynamicTemperature, Time,
    Volume, VolumeRate,
};

/// What can be wrong with the value of a quantity.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum QuantityError {
    /// An absolute pressure must be finite and above zero.
    #[error("absolute pressure {} is not a finite number above zero", in_kilopascals(*got))]
    AbsolutePressure {
        /// What was given, in pascals.
        got: f64,
    },
    /// A gauge pressure must be finite.
    #[error("gauge pressure {} is not a finite number", in_kilopascals(*got))]
    GaugePressure {
        /// What was given, in pascals.
        got: f64,
    },
    /// A vacuum can't go below zero absolute.
    #[error("{}", beyond_vacuum(*gauge, *ambient, &KILOPASCAL))]
    BeyondVacuum {
        /// The gauge pressure in pascals.
        gauge: f64,
        /// The ambient absolute pressure in pascals.
        ambient: f64,
    },
    /// A thermodynamic temperature must be finite and above absolute zero.
    #[error("temperature {} is not a finite number above absolute zero, -273.15 C", celsius(*got))]
    Temperature {
        /// What was given, in kelvins.
        got: f64,
    },
    /// A sonic conductance must be finite and not below zero.
    #[error("sonic conductance {got} m3/(s Pa) is not a finite number, zero or above")]
    SonicConductance {
        /// What was given, in m3/(s Pa).
        got: f64,
    },
    /// A gas constant must be finite and above zero.
    #[error("gas constant {got} (SI) is not a finite number above zero")]
    GasConstant {
        /// What was given, in J/(kg K) or J/(mol K).
        got: f64,
    },
    /// Any other quantity must be finite.
    #[error("{dimension} {got} (SI) is not a finite number")]
    NotFinite {
        /// Which kind of quantity.
        dimension: &'static str,
        /// What was given or came out, in the SI unit.
        got: f64,
    },
}

impl QuantityError {
    /// The message with its pressures in a unit.
    #[must_use]
    pub fn words(&self, unit: &Unit) -> String {
        match self {
            Self::BeyondVacuum { gauge, ambient } => beyond_vacuum(*gauge, *ambient, unit),
            Self::AbsolutePressure { got } => {
                format!(
                    "absolute pressure {} is not a finite number above zero",
                    pressure_in(unit, *got)
                )
            }
            other => other.to_string(),
        }
    }
}

fn in_kilopascals(pascals: f64) -> String {
    pressure_in(&KILOPASCAL, pascals)
}

fn beyond_vacuum(gauge: f64, ambient: f64, unit: &Unit) -> String {
    format!(
        "gauge pressure {} lies below a perfect vacuum at an ambient of {}",
        pressure_in(unit, gauge),
        pressure_in(unit, ambient)
    )
}

/// A temperature \[K\], possible or not, in degrees Celsius.
fn celsius(kelvins: f64) -> String {
    format!("{} C", significant(kelvins - 273.15, 4))
}

/// Lets a finite value pass, whatever its sign.
fn finite(dimension: &'static str, got: f64) -> Result<f64, QuantityError> {
    if got.is_finite() {
        Ok(got)
    } else {
        Err(QuantityError::NotFinite { dimension, got })
    }
}

/// The value in kelvins of a temperature that a gas can have.
fn kelvins(temperature: ThermodynamicTemperature) -> Result<f64, QuantityError> {
    let got = temperature.get::<uom::si::thermodynamic_temperature::kelvin>();
    if got.is_finite() && got > 0.0 {
        Ok(got)
    } else {
        Err(QuantityError::Temperature { got })
    }
}
