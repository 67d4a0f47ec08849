//! The circumstances of a session.

use crate::gas::{Gas, GasState};
use crate::gauge::Gauge;
use crate::measured::Measured;
use crate::quantity::{
    AbsolutePressure, GaugePressure, QuantityError, TemperatureDrift, ThermodynamicTemperature,
    Volume,
};
use crate::vessel::{Direction, Heat};

/// What all runs of a session share: volume under test, ambient, gauge, gas.
#[derive(Debug, Clone, PartialEq)]
pub struct Bench {
    /// The volume under test, rig included.
    pub volume: Measured<Volume>,
    /// Ambient (barometer) absolute pressure.
    pub ambient_pressure: Measured<AbsolutePressure>,
    /// Temperature of the gas, that of the case's wall.
    pub temperature: Measured<ThermodynamicTemperature>,
    /// Standard uncertainty of an unknown steady drift of the wall's, and so the gas's, temperature during a run.
    pub drift_allowance: TemperatureDrift,
    /// What is known of the heat that gas and wall exchange.
    pub heat: Heat,
    /// The gauge.
    pub gauge: Gauge,
    /// The gas.
    pub gas: Gas,
}

impl Bench {
    /// The ambient gas.
    #[must_use]
    pub fn ambient(&self) -> GasState {
        GasState {
            pressure: self.ambient_pressure.value(),
            temperature: self.temperature.value(),
        }
    }
}

/// The gas that flows and the pressure that it flows to, at a gauge pressure in the case.
pub(crate) fn sides(
    gauge: GaugePressure,
    direction: Direction,
    ambient: GasState,
) -> Result<(GasState, AbsolutePressure), QuantityError> {
    let inside = gauge.absolute(ambient.pressure)?;
    Ok(match direction {
        Direction::Pressure => (
            GasState {
                pressure: inside,
                ..ambient
            },
            ambient.pressure,
        ),
        Direction::Vacuum => (ambient, inside),
    })
}
