//! The circumstances of a session.

use std::borrow::Cow;

use crate::gas::{Gas, GasState};
use crate::gauge::Gauge;
use crate::measured::{IntoMeasured, Measured, MeasuredError};
use crate::quantity::{
    AbsolutePressure, GaugePressure, QuantityError, TemperatureDrift, ThermodynamicTemperature,
    Volume,
};
use crate::vessel::{Conductance, Direction, Heat, HeatPrior};

use super::course::Touched;
use super::effects::Effects;
use super::readings::Readings;

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
    /// What the bench does of itself.
    pub effects: Effects,
    /// What is known of the heat that gas and wall exchange.
    pub heat: Heat,
    /// The gauge.
    pub gauge: Gauge,
    /// The gas.
    pub gas: Gas,
}

impl Bench {
    /// A usual bench: dry air in a case that exchanges heat as cases do, whose wall has stood in the room for hours
    /// ([`TemperatureDrift::USUAL`]), hose and blanks that nobody has looked at ([`Effects::usual`]). Values are given with their
    /// uncertainty, or as exact ones.
    ///
    /// ```
    /// use casetight::prelude::*;
    ///
    /// let bench = Bench::new(
    ///     Measured::parse("250 cm3", "+- 10 cm3")?,
    ///     AbsolutePressure::parse("1013 hPa")?,
    ///     ThermodynamicTemperature::parse("20 C")?,
    ///     Gauge::digital(Pressure::parse("0.1 kPa")?)?,
    /// )?;
    /// assert_eq!(bench.ambient_pressure.standard_uncertainty(), Pressure::parse("0 Pa")?);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// [`MeasuredError`] for a value that is not finite.
    pub fn new(
        volume: impl IntoMeasured<Volume>,
        ambient_pressure: impl IntoMeasured<AbsolutePressure>,
        temperature: impl IntoMeasured<ThermodynamicTemperature>,
        gauge: Gauge,
    ) -> Result<Self, MeasuredError> {
        Ok(Self {
            volume: volume.into_measured()?,
            ambient_pressure: ambient_pressure.into_measured()?,
            temperature: temperature.into_measured()?,
            drift_allowance: TemperatureDrift::USUAL,
            effects: Effects::usual()?,
            heat: Heat::default(),
            gauge,
            gas: Gas::dry_air(),
        })
    }

    /// Relative standard uncertainty of the volume under test at this gauge pressure, what it stretches by included.
    ///
    /// Of a volume V (1 + c g) a leak empties V (1 + c (p_a + 2 g)); under vacuum, where the two take each other back, the larger p_a + g
    /// stands for it.
    #[must_use]
    pub fn volume_uncertainty(&self, start: GaugePressure) -> f64 {
        let gauge = start.pascals();
        let emptied = self.ambient_pressure.value().pascals() + gauge.max(2.0 * gauge);
        let stretch = self.effects.stretch.as_ref();
        let per_pascal = stretch.map_or(0.0, |c| c.standard_uncertainty().per_pascal());
        let of_volume = self.volume.relative().unwrap_or(0.0);
        of_volume.hypot(per_pascal * emptied)
    }

    /// Relative standard uncertainty that an area has beyond its rate's: that of volume and temperature.
    #[must_use]
    pub fn size_uncertainty(&self, start: GaugePressure) -> f64 {
        self.volume_uncertainty(start)
            .hypot(0.5 * self.temperature.relative().unwrap_or(0.0))
    }

    /// The bench of readings beside which its temperature may have been logged, which tells more than what is usual.
    pub(crate) fn beside(&self, readings: &Readings) -> Cow<'_, Self> {
        let course = readings.temperature();
        let told = readings.drift().is_some()
            || course.is_some_and(|course| course.touched().is_of_engine());
        let of_gas = course.is_some_and(|course| course.touched() == Touched::Gas);
        if !of_gas && (!told || self.effects.warmth.is_none()) {
            return Cow::Borrowed(self);
        }
        let mut logged = self.clone();
        logged.effects.warmth = self.effects.warmth.clone().filter(|_| !told);
        if of_gas {
            // What it exchanged with the wall is in its temperature.
            logged.heat.conductance = Conductance::Infinite;
        }
        Cow::Owned(logged)
    }

    /// The ambient gas.
    #[must_use]
    pub fn ambient(&self) -> GasState {
        GasState {
            pressure: self.ambient_pressure.value(),
            temperature: self.temperature.value(),
        }
    }

    /// What is known of the heat in a run between these gauge pressures, its first and its last \[Pa\].
    pub(crate) fn heat_between(&self, (first, last): (f64, f64)) -> HeatPrior {
        let ambient = self.ambient();
        let p_a = ambient.pressure.pascals();
        // A pressure beyond a perfect vacuum is a noisy reading of one.
        let [y, end] = [first, last].map(|gauge| (gauge / p_a).max(-0.99));
        let mean = p_a * (1.0 + 0.5 * (y + end));
        let volume = self.volume.value();
        (self.heat).prior_over(volume, ambient, &self.gas, (y, mean))
    }
}

/// The gas that flows and the pressure that it flows to, at a gauge pressure in the case.
///
/// # Errors
/// A gauge pressure below a perfect vacuum.
pub fn sides(
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
