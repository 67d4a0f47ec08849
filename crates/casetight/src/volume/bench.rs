//! What the tests of the methods share: short words for measured values, and the Monte Carlo check.

use uom::si::f64::Angle;
use uom::si::{angle, length, mass, pressure, ratio, time, volume};
use uom::si::{temperature_interval, thermodynamic_temperature};

use super::{Settling, TestedVolume};
use crate::measured::{Distribution, Dual, Evaluation, Input, Measured, monte_carlo_slice};
use crate::quantity::{
    AbsolutePressure, GaugePressure, Length, Mass, Pressure, Ratio, TemperatureInterval,
    ThermodynamicTemperature, Time, Volume,
};

pub(super) const NORMAL: Evaluation = Evaluation::TypeB(Distribution::Normal);

const TRIALS: usize = 40_000;

/// By how much the mean of the trials may lie off, in standard uncertainties: the curvature of the models and the trials'
/// own scatter (0.005).
const OFF_CENTER: f64 = 0.06;

/// By how much the spread of the trials may differ, relatively: as above (0.004).
const SPREAD: f64 = 0.03;

pub(super) fn agrees_with_monte_carlo(
    tested: &TestedVolume,
    inputs: &[Input],
    model: impl Fn(&[Dual]) -> Dual,
) {
    let value = tested.volume().value().value;
    let u = tested.volume().standard_uncertainty().value;
    let trials = monte_carlo_slice(inputs, None, TRIALS, 20, model).unwrap();
    let off = (trials.mean() - value) / u;
    let spread = trials.standard_uncertainty() / u - 1.0;
    assert!(
        off.abs() < OFF_CENTER && spread.abs() < SPREAD,
        "{off} {spread}"
    );
}

pub(super) fn gauge(pascals: f64, u: f64) -> Measured<GaugePressure> {
    let reading = GaugePressure::from_pascals(pascals).unwrap();
    Measured::new(reading, Pressure::new::<pressure::pascal>(u), NORMAL).unwrap()
}

pub(super) fn fall(pascals: f64, u: f64) -> Measured<Pressure> {
    let pa = Pressure::new::<pressure::pascal>;
    Measured::new(pa(pascals), pa(u), NORMAL).unwrap()
}

pub(super) fn ambient(pascals: f64, u: f64) -> Measured<AbsolutePressure> {
    let ambient = AbsolutePressure::from_pascals(pascals).unwrap();
    Measured::new(ambient, Pressure::new::<pressure::pascal>(u), NORMAL).unwrap()
}

pub(super) fn cm3(value: f64, u: f64) -> Measured<Volume> {
    let cm3 = Volume::new::<volume::cubic_centimeter>;
    Measured::new(cm3(value), cm3(u), NORMAL).unwrap()
}

pub(super) fn mm(value: f64, u: f64) -> Measured<Length> {
    let mm = Length::new::<length::millimeter>;
    Measured::new(mm(value), mm(u), NORMAL).unwrap()
}

pub(super) fn deg(value: f64, u: f64) -> Measured<Angle> {
    let deg = Angle::new::<angle::degree>;
    Measured::new(deg(value), deg(u), NORMAL).unwrap()
}

pub(super) fn grams(value: f64, u: f64) -> Measured<Mass> {
    let g = Mass::new::<mass::gram>;
    Measured::new(g(value), g(u), NORMAL).unwrap()
}

pub(super) fn seconds(value: f64, u: f64) -> Measured<Time> {
    let s = Time::new::<time::second>;
    Measured::new(s(value), s(u), NORMAL).unwrap()
}

pub(super) fn number(value: f64, u: f64) -> Measured<Ratio> {
    let number = Ratio::new::<ratio::ratio>;
    Measured::new(number(value), number(u), NORMAL).unwrap()
}

/// A scale that is right to within u.
pub(super) fn one(u: f64) -> Measured<Ratio> {
    number(1.0, u)
}

pub(super) fn kelvins(value: f64, u: f64) -> Measured<ThermodynamicTemperature> {
    let temperature = ThermodynamicTemperature::new::<thermodynamic_temperature::kelvin>(value);
    let u = TemperatureInterval::new::<temperature_interval::kelvin>(u);
    Measured::new(temperature, u, NORMAL).unwrap()
}

/// Gas by this much warmer at the later reading.
pub(super) fn excess(value: f64, u: f64) -> Settling {
    let k = TemperatureInterval::new::<temperature_interval::kelvin>;
    let excess = Measured::new(k(value), k(u), NORMAL).unwrap();
    Settling::new(kelvins(293.15, 1.0), excess).unwrap()
}
