//! Quantities at the door of the crate: `uom` types by their short names, and the two kinds of pressure that a bench
//! confuses, [`AbsolutePressure`] and [`GaugePressure`], as types that do not mix.
//!
//! A plain [`Pressure`] stands for a difference or a size of pressure: a drop, a division, a noise.

use uom::si::pressure::pascal;

pub use uom::si::f64::{
    Area, DynamicViscosity, Frequency, Length, Mass, MassDensity, MassRate, Pressure, Ratio,
    TemperatureInterval, ThermalConductance, ThermodynamicTemperature, Time, Volume, VolumeRate,
};

/// What can be wrong with a quantity.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum QuantityError {
    /// An absolute pressure must be finite and above zero.
    #[error("absolute pressure {got} Pa is not a finite number above zero")]
    AbsolutePressure {
        /// What was given, in pascals.
        got: f64,
    },
    /// A gauge pressure must be finite.
    #[error("gauge pressure {got} Pa is not a finite number")]
    GaugePressure {
        /// What was given, in pascals.
        got: f64,
    },
    /// A vacuum can't go below zero absolute.
    #[error("gauge pressure {gauge} Pa lies below a perfect vacuum at an ambient of {ambient} Pa")]
    BeyondVacuum {
        /// The gauge pressure in pascals.
        gauge: f64,
        /// The ambient absolute pressure in pascals.
        ambient: f64,
    },
}

/// Absolute pressure p: above zero and finite.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct AbsolutePressure(Pressure);

/// Gauge pressure p - p_a: above zero in a pressure test, below zero in a vacuum test; finite.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct GaugePressure(Pressure);

impl AbsolutePressure {
    /// # Errors
    /// [`QuantityError::AbsolutePressure`] unless the value is finite and above zero.
    pub fn new(pressure: Pressure) -> Result<Self, QuantityError> {
        let got = pressure.get::<pascal>();
        if got.is_finite() && got > 0.0 {
            Ok(Self(pressure))
        } else {
            Err(QuantityError::AbsolutePressure { got })
        }
    }

    /// # Errors
    /// As [`AbsolutePressure::new`].
    pub fn from_pascals(pascals: f64) -> Result<Self, QuantityError> {
        Self::new(Pressure::new::<pascal>(pascals))
    }

    /// The value in pascals.
    #[must_use]
    pub fn pascals(self) -> f64 {
        self.0.get::<pascal>()
    }

    /// What a perfect gauge would show at this ambient pressure.
    #[must_use]
    pub fn gauge(self, ambient: AbsolutePressure) -> GaugePressure {
        GaugePressure(self.0 - ambient.0)
    }
}

impl GaugePressure {
    /// # Errors
    /// [`QuantityError::GaugePressure`] unless the value is finite.
    pub fn new(pressure: Pressure) -> Result<Self, QuantityError> {
        let got = pressure.get::<pascal>();
        if got.is_finite() {
            Ok(Self(pressure))
        } else {
            Err(QuantityError::GaugePressure { got })
        }
    }

    /// # Errors
    /// As [`GaugePressure::new`].
    pub fn from_pascals(pascals: f64) -> Result<Self, QuantityError> {
        Self::new(Pressure::new::<pascal>(pascals))
    }

    /// The value in pascals.
    #[must_use]
    pub fn pascals(self) -> f64 {
        self.0.get::<pascal>()
    }

    /// The absolute pressure behind this gauge reading.
    ///
    /// # Errors
    /// [`QuantityError::BeyondVacuum`] where the sum is not above zero.
    pub fn absolute(self, ambient: AbsolutePressure) -> Result<AbsolutePressure, QuantityError> {
        AbsolutePressure::new(self.0 + ambient.0).map_err(|_| QuantityError::BeyondVacuum {
            gauge: self.pascals(),
            ambient: ambient.pascals(),
        })
    }
}
