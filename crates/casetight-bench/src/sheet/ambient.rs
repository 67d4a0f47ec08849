//! `[ambient]`: the surroundings of a session.

use uom::si::ratio::ratio;
use uom::si::temperature_interval::kelvin;

use super::document::Table;
use super::error::{Problem, SheetError};
use super::keys::declare::table;
use super::keys::form::{NotNegative, Word};
use super::keys::rule::{Optional, Usual};
use super::keys::valued::Unstated;
use super::keys::valued::Valued;
use super::usual::{HUMIDITY_UNCERTAINTY, PRESSURE_UNCERTAINTY, TEMPERATURE_UNCERTAINTY};
use casetight::gas::{Gas, GasError, GasState};
use casetight::measured::{Evaluation, Measured};
use casetight::quantity::{
    AbsolutePressure, Ratio, TemperatureDrift, TemperatureInterval, ThermodynamicTemperature,
    TradeUnits,
};
use casetight::readings::Touched;

table! {
    /// The surroundings.
    pub struct Ambient, after check {
        /// Barometer, absolute, 30 to 120 kPa.
        pub pressure: Measured<AbsolutePressure> = Valued(Unstated::Usual(PRESSURE_UNCERTAINTY)), like "1013 hPa";
        /// Temperature of the case's wall, and so of the gas, -60 to 100 C.
        pub temperature: Measured<ThermodynamicTemperature> = Valued(Unstated::Usual(TEMPERATURE_UNCERTAINTY)), like "21 C";
        /// Relative humidity of the air, at this pressure and temperature; not with `[gas]`.
        pub humidity: Option<Measured<Ratio>> = Optional(Valued(Unstated::Usual(HUMIDITY_UNCERTAINTY))), like "60 %", else "dry air";
        /// Standard uncertainty of an unknown steady drift of the wall's temperature.
        pub drift_allowance: TemperatureDrift = Usual(NotNegative, || TemperatureDrift::USUAL);
        /// What the thermometer touched whose temperatures a trace has beside its readings: the `"wall"` of the case, the `"gas"` inside, the
        /// air of the `"room"`, or something `"nearby"`, which tells least.
        pub thermometer: Touched = Usual(Word(Touched::WORDS), Touched::default);
    }
}

/// Ambient pressures where people live and work \[Pa\], with room to spare: a slip of the unit falls outside.
const PASCALS: (f64, f64) = (30e3, 120e3);

/// Temperatures that a case is tested at \[K\], with room to spare.
const KELVINS: (f64, f64) = (213.15, 373.15);

impl Ambient {
    /// The air around: dry, or as humid as is stated.
    ///
    /// # Errors
    /// As [`Gas::humid_air`].
    pub fn air(&self) -> Result<Gas, GasError> {
        match &self.humidity {
            Some(humidity) => self.air_of(humidity.value()),
            None => Ok(Gas::dry_air()),
        }
    }

    fn air_of(&self, humidity: Ratio) -> Result<Gas, GasError> {
        let state = GasState {
            pressure: self.pressure.value(),
            temperature: self.temperature.value(),
        };
        Gas::humid_air(humidity, state)
    }

    /// The temperature of a run in the air around, as well as it counts: a leak's area goes with R T, so that an R which the humidity
    /// leaves open is a temperature left open in the same proportion.
    ///
    /// # Errors
    /// [`Problem::Gas`] as [`Ambient::air`], [`Problem::Measured`] for an uncertainty that is not valid.
    pub(super) fn temperature_in_air(&self) -> Result<Measured<ThermodynamicTemperature>, Problem> {
        let Some(humidity) = &self.humidity else {
            return Ok(self.temperature.clone());
        };
        let (h, u) = (
            humidity.value().value,
            humidity.standard_uncertainty().value,
        );
        let r = |h: f64| -> Result<f64, GasError> {
            let of = Ratio::new::<ratio>(h.clamp(0.0, 1.0));
            Ok(self.air_of(of)?.specific_gas_constant())
        };
        // R hardly bends with the humidity, and half the way between the ends is as much as a step from the middle.
        let open = 0.5 * (r(h + u)? - r(h - u)?) / r(h)?;
        let temperature = &self.temperature;
        let kelvins = temperature.standard_uncertainty().value;
        let both = kelvins.hypot(open * temperature.value().si_value());
        let both = TemperatureInterval::new::<kelvin>(both);
        let measured = Measured::new(temperature.value(), both, Evaluation::Combined)?;
        Ok(measured.with_source(temperature.source().to_owned()))
    }
}

fn check(ambient: &Ambient, table: &Table<'_>) -> Result<(), SheetError> {
    let pressure = ambient.pressure.value().si_value();
    let temperature = ambient.temperature.value().si_value();
    for (key, value, (low, high), range) in [
        (
            "pressure",
            pressure,
            PASCALS,
            "30 to 120 kPa; is the unit right, and the pressure absolute?",
        ),
        (
            "temperature",
            temperature,
            KELVINS,
            "-60 to 100 C; is the unit right?",
        ),
    ] {
        if !(low..=high).contains(&value) {
            let got = table
                .get(key)
                .map_or("", |item| item.as_written())
                .to_owned();
            return Err(table.error_at(key, Problem::Range { got, range }));
        }
    }
    table.of("humidity", ambient.air()).map(drop)
}
