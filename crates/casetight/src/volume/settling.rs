//! Whether the gas had its first temperature again when the later reading was taken.

use uom::si::thermodynamic_temperature::kelvin;

use super::error::{UNSETTLED, VolumeError, check_positive};
use crate::measured::{Distribution, Dual, Input, Measured};
use crate::quantity::{TemperatureInterval, ThermodynamicTemperature, told};

/// How much warmer the gas still was at a later reading than at the first.
///
/// Gas that was pressed together is warm, gas that has expanded is cold, and either creeps back to the wall's temperature
/// in seconds. 1 K at 293 K is 0.34 % of the *absolute* pressure, which is several percent of a small gauge pressure: it is
/// often what a volume by gas owes most of its uncertainty to.
///
/// ```
/// use casetight::measured::Measured;
/// use casetight::quantity::{TemperatureInterval, ThermodynamicTemperature};
/// use casetight::volume::Settling;
/// use uom::si::{temperature_interval, thermodynamic_temperature::degree_celsius};
///
/// let room = Measured::exact(ThermodynamicTemperature::new::<degree_celsius>(20.0))?;
/// let settled = Settling::within(room, TemperatureInterval::new::<temperature_interval::kelvin>(0.2))?;
/// assert!((settled.excess().standard_uncertainty().value - 0.2 / 3.0_f64.sqrt()).abs() < 1e-12);
/// # Ok::<(), casetight::volume::VolumeError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Settling {
    temperature: Measured<ThermodynamicTemperature>,
    excess: Measured<TemperatureInterval>,
}

impl Settling {
    /// Gas of this temperature at the first reading, and by `excess` warmer at the later one.
    ///
    /// # Errors
    /// [`VolumeError::Input`] unless both temperatures are above absolute zero.
    pub fn new(
        temperature: Measured<ThermodynamicTemperature>,
        excess: Measured<TemperatureInterval>,
    ) -> Result<Self, VolumeError> {
        check_positive("gas temperature", &temperature)?;
        let got = temperature.value().get::<kelvin>() + excess.value().value;
        if got <= 0.0 {
            let name = "gas temperature at the later reading";
            let shown = told::<ThermodynamicTemperature>(got);
            return Err(VolumeError::Input { name, got, shown });
        }
        Ok(Self {
            temperature,
            excess,
        })
    }

    /// Gas that was left until it surely had its first temperature again, to within `half_width` (rectangular).
    ///
    /// # Errors
    /// As [`Settling::new`]; [`VolumeError::Measured`] for a half-width below zero or not finite.
    pub fn within(
        temperature: Measured<ThermodynamicTemperature>,
        half_width: TemperatureInterval,
    ) -> Result<Self, VolumeError> {
        let none = TemperatureInterval::new::<uom::si::temperature_interval::kelvin>(0.0);
        let excess = Measured::from_half_width(none, half_width, Distribution::Rectangular)?;
        Self::new(temperature, excess)
    }

    /// Temperature of the gas at the first reading.
    #[must_use]
    pub fn temperature(&self) -> &Measured<ThermodynamicTemperature> {
        &self.temperature
    }

    /// How much warmer it was at the later reading.
    #[must_use]
    pub fn excess(&self) -> &Measured<TemperatureInterval> {
        &self.excess
    }

    pub(super) fn inputs(&self) -> [Input; 2] {
        [
            self.temperature.input("gas temperature"),
            self.excess.input(UNSETTLED),
        ]
    }
}

/// What a gauge pressure would have become, had the gas come back to its first temperature: `p T/(T + excess) - p_a`, written
/// so that gas without excess keeps its reading to the last digit.
pub(super) fn settled(gauge: Dual, ambient: Dual, temperature: Dual, excess: Dual) -> Dual {
    gauge - (gauge + ambient) * excess / (temperature + excess)
}
