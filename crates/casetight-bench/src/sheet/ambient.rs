//! `[ambient]`: the surroundings of a session.

use super::document::Table;
use super::error::{Problem, SheetError};
use super::keys::declare::table;
use super::keys::form::NotNegative;
use super::keys::rule::Usual;
use super::keys::valued::Unstated;
use super::keys::valued::Valued;
use super::usual::{PRESSURE_UNCERTAINTY, TEMPERATURE_UNCERTAINTY};
use casetight::measured::Measured;
use casetight::quantity::{
    AbsolutePressure, TemperatureDrift, ThermodynamicTemperature, TradeUnits,
};

table! {
    /// The surroundings.
    pub struct Ambient, after check {
        /// Barometer, absolute, 30 to 120 kPa.
        pub pressure: Measured<AbsolutePressure> = Valued(Unstated::Usual(PRESSURE_UNCERTAINTY)), like "1013 hPa";
        /// Temperature of the case's wall, and so of the gas, -60 to 100 C.
        pub temperature: Measured<ThermodynamicTemperature> = Valued(Unstated::Usual(TEMPERATURE_UNCERTAINTY)), like "21 C";
        /// Standard uncertainty of an unknown steady drift of the wall's temperature.
        pub drift_allowance: TemperatureDrift = Usual(NotNegative, || TemperatureDrift::USUAL);
    }
}

/// Ambient pressures where people live and work \[Pa\], with room to spare: a slip of the unit falls outside.
const PASCALS: (f64, f64) = (30e3, 120e3);

/// Temperatures that a case is tested at \[K\], with room to spare.
const KELVINS: (f64, f64) = (213.15, 373.15);

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
    Ok(())
}
