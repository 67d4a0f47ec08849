//! Quantities from plain numbers, as tests write them.
#![allow(
    dead_code,
    reason = "each test program that shares this file uses its own part"
)]
#![allow(clippy::unwrap_used, reason = "test code")]

use casetight::gas::GasState;
use casetight::leak::EffectiveArea;
use casetight::quantity::{
    AbsolutePressure, GaugePressure, Pressure, ThermodynamicTemperature, Time, TradeUnits, Volume,
};

/// A quantity from its value in a unit of the trade.
#[track_caller]
pub(crate) fn of<Q: TradeUnits>(value: f64, unit: &str) -> Q {
    Q::from_value_in(value, unit).unwrap()
}

/// A difference of pressure [Pa].
#[track_caller]
pub(crate) fn pascals(value: f64) -> Pressure {
    of(value, "Pa")
}

/// An absolute pressure [Pa].
#[track_caller]
pub(crate) fn absolute(value: f64) -> AbsolutePressure {
    of(value, "Pa")
}

/// A gauge pressure [Pa].
#[track_caller]
pub(crate) fn gauge(value: f64) -> GaugePressure {
    of(value, "Pa")
}

/// A temperature [K].
#[track_caller]
pub(crate) fn kelvins(value: f64) -> ThermodynamicTemperature {
    of(value, "K")
}

/// A time [s].
#[track_caller]
pub(crate) fn seconds(value: f64) -> Time {
    of(value, "s")
}

/// A volume [m3].
#[track_caller]
pub(crate) fn cubic_meters(value: f64) -> Volume {
    of(value, "m3")
}

/// An effective area [m2].
#[track_caller]
pub(crate) fn area(square_meters: f64) -> EffectiveArea {
    EffectiveArea::from_square_meters(square_meters).unwrap()
}

/// Gas at a pressure [Pa] and a temperature [K].
#[track_caller]
pub(crate) fn state(pressure: f64, temperature: f64) -> GasState {
    GasState {
        pressure: absolute(pressure),
        temperature: kelvins(temperature),
    }
}

/// Fails unless `got` lies within a part of `want`.
#[track_caller]
pub(crate) fn assert_close(what: &str, got: f64, want: f64, relative: f64) {
    assert!(
        (got - want).abs() <= relative * want.abs(),
        "{what}: {got} is not within {relative} of {want}"
    );
}

/// A time [s] that need not be a number.
pub(crate) fn seconds_of_any(value: f64) -> Time {
    <Time as casetight::measured::Measurable>::spread_from_si(value)
}
