//! `[ambient]`: the surroundings of a session.

use uom::si::length::meter;
use uom::si::pressure::pascal;
use uom::si::ratio::ratio;
use uom::si::temperature_interval::kelvin;

use super::document::Table;
use super::error::{Problem, SheetError};
use super::keys::declare::table;
use super::keys::form::{NotNegative, Word};
use super::keys::rule::{Optional, Usual};
use super::keys::valued::Unstated;
use super::keys::valued::Valued;
use super::usual::{
    ALTITUDE_UNCERTAINTY, COLUMN_K, HUMIDITY_UNCERTAINTY, PRESSURE_UNCERTAINTY,
    TEMPERATURE_UNCERTAINTY, WEATHER_PA,
};
use crate::plausible::{STANDARD_KELVINS_AT_SEA_LEVEL, STANDARD_SCALE_HEIGHT_M, standard_part};
use casetight::below::unit_of;
use casetight::constants::STANDARD_ATMOSPHERE_PA;
use casetight::gas::{Gas, GasError, GasState};
use casetight::measured::{Evaluation, Measured};
use casetight::quantity::{
    AbsolutePressure, Length, Pressure, Ratio, TemperatureDrift, TemperatureInterval,
    ThermodynamicTemperature, TradeUnits,
};
use casetight::readings::Touched;

/// Where the air has a stated pressure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum PressureAt {
    /// At the bench, as a barometer there shows it.
    #[default]
    Bench,
    /// At sea level: what a weather report or a barometer that was set by one tells of a place, whatever its altitude.
    SeaLevel,
}

const PRESSURE_AT: &[(&str, PressureAt)] = &[
    ("bench", PressureAt::Bench),
    ("sea level", PressureAt::SeaLevel),
];

/// Source of an ambient pressure that an altitude alone tells.
const BY_ALTITUDE: &str = "the standard atmosphere at the altitude, within the weather";

table! {
    /// The surroundings.
    pub struct Ambient, after check {
        /// Barometer, absolute, 30 to 120 kPa.
        pub pressure: Option<Measured<AbsolutePressure>> = Optional(Valued(Unstated::Usual(PRESSURE_UNCERTAINTY))), like "1013 hPa", else "by `altitude`: the standard atmosphere's, within 1.2 kPa for the weather";
        /// Where the air has that pressure: `bench`, as a barometer there shows it, or `sea level`, as weather reports have it.
        pub pressure_at: PressureAt = Usual(Word(PRESSURE_AT), PressureAt::default), beside pressure "1013 hPa";
        /// Altitude of the bench above sea level, -500 to 6000 m.
        pub altitude: Option<Measured<Length>> = Optional(Valued(Unstated::Usual(ALTITUDE_UNCERTAINTY))), like "350 m";
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

/// Altitudes that the formula is used at \[m\]: from the lowest land, with room to spare, to the highest that people live at.
const METERS: (f64, f64) = (-500.0, 6000.0);

impl Ambient {
    /// The ambient pressure at the bench with its uncertainty: as stated, or by the standard atmosphere at the altitude, from the pressure
    /// at sea level where that is stated. Source of the atmosphere: `[ISO2533]`.
    ///
    /// # Errors
    /// [`Problem::Missing`] where neither pressure nor altitude is stated, or an altitude is needed; [`Problem::Measured`] for numbers that
    /// are not finite.
    pub fn pressure_at_bench(&self) -> Result<Measured<AbsolutePressure>, Problem> {
        let missing = |example: &str| Problem::Missing {
            example: example.to_owned(),
        };
        let altitude = || {
            self.altitude
                .as_ref()
                .ok_or_else(|| missing("altitude = \"350 m\""))
        };
        let (at_sea_level, uncertainty, source, altitude) = match (&self.pressure, self.pressure_at)
        {
            (Some(stated), PressureAt::Bench) => return Ok(stated.clone()),
            (Some(stated), PressureAt::SeaLevel) => {
                let u = stated.standard_uncertainty().get::<pascal>();
                (stated.value().pascals(), u, stated.source(), altitude()?)
            }
            (None, _) => {
                let pressure = || missing("pressure = \"1013 hPa\"");
                let altitude = self.altitude.as_ref().ok_or_else(pressure)?;
                let standard = STANDARD_ATMOSPHERE_PA.value();
                (standard, WEATHER_PA, BY_ALTITUDE, altitude)
            }
        };
        let height = altitude.value().get::<meter>();
        let part = standard_part(height);
        let here = at_sea_level * part;
        let by_height = here / STANDARD_SCALE_HEIGHT_M;
        let of_column = by_height * height * COLUMN_K / STANDARD_KELVINS_AT_SEA_LEVEL;
        let of_altitude = by_height * altitude.standard_uncertainty().get::<meter>();
        let u = (part * uncertainty).hypot(of_column).hypot(of_altitude);
        let pressure = AbsolutePressure::from_pascals(here)?;
        let measured = Measured::new(pressure, Pressure::new::<pascal>(u), Evaluation::Combined)?;
        Ok(measured.with_source(source.to_owned()))
    }

    /// The altitude where a stated pressure is that at the bench, so that the one can be held against the other.
    pub(crate) fn altitude_beside_barometer(&self) -> Option<f64> {
        self.altitude.as_ref().map(|h| h.value().get::<meter>())
    }

    /// Whether the ambient pressure is what a barometer at the bench shows, so that it may have been reduced by mistake.
    pub(crate) fn is_read_at_bench(&self) -> bool {
        self.pressure.is_some() && self.pressure_at == PressureAt::Bench
    }

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
        // A sheet without a pressure is refused for that.
        let Ok(pressure) = self.pressure_at_bench() else {
            return Ok(Gas::dry_air());
        };
        let state = GasState {
            pressure: pressure.value(),
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
    let pressure = ambient.pressure_at_bench().map_err(|problem| {
        let needs_altitude = ambient.pressure.is_some();
        table.error_at(
            if needs_altitude {
                "altitude"
            } else {
                "pressure"
            },
            problem,
        )
    })?;
    let altitude = ambient.altitude.as_ref().map(|h| h.value().get::<meter>());
    let stated = ambient.pressure.as_ref().unwrap_or(&pressure);
    let temperature = ambient.temperature.value().si_value();
    for (key, value, (low, high), advice) in [
        (
            "pressure",
            stated.value().si_value(),
            PASCALS,
            "; is the unit right, and the pressure absolute?",
        ),
        ("temperature", temperature, KELVINS, "; is the unit right?"),
        (
            "altitude",
            altitude.unwrap_or(0.0),
            METERS,
            " above sea level; is the unit right?",
        ),
    ] {
        if !(low..=high).contains(&value) {
            let got = table
                .get(key)
                .map_or("", |item| item.as_written())
                .to_owned();
            let (low, high) = match key {
                "pressure" => ends::<AbsolutePressure>(&got, (low, high), "kPa"),
                "temperature" => ends::<ThermodynamicTemperature>(&got, (low, high), "C"),
                _ => ends::<Length>(&got, (low, high), "m"),
            };
            let range = format!("{low} to {high}{advice}").into();
            return Err(table.error_at(key, Problem::Range { got, range }));
        }
    }
    table.of("humidity", ambient.air()).map(drop)
}

/// The ends of a range in the unit that a value is written in, or else in a usual one.
fn ends<Q: TradeUnits>(written: &str, (low, high): (f64, f64), usual: &str) -> (String, String) {
    let written = unit_of::<Q>(written.trim_matches(['"', '\'']));
    let unit = written.or_else(|| Q::unit(usual).ok());
    let shown = |si: f64| unit.map_or_else(|| si.to_string(), |unit| unit.shown(si, 3));
    let low = shown(low);
    let number = unit.and_then(|unit| low.strip_suffix(unit.symbol()));
    (
        number.map_or(low.clone(), |number| number.trim().to_owned()),
        shown(high),
    )
}
